/** What a phone is given for one freeze, as the service makes it of a compliant layout. */

export type StepKind = "inject" | "wait" | "plug expected" | "inject further" | "wait further" | "plug due" | "top-up" | "hold ends";

/** One line of the schedule: s from the first injection, s, kg. */
export interface Step {
  start: number;
  duration: number;
  kind: StepKind;
  mass: number;
}

/** One case of a freeze over time: s, m, K. */
export interface Course {
  case: string;
  times: number[];
  frost: number[];
  surface: number[];
}

export interface Tick {
  text: string;
  why: string;
}

export interface Group {
  title: string;
  ticks: Tick[];
}

/** Times are s from the first injection of the job. */
export interface PlanPlug {
  id: string;
  pipe: string;
  size: string;
  room: string;
  jacket: string;
  coolant: string;
  towards: [string, string];
  steps: Step[];
  interval: number;
  expected: number;
  due: number;
  give_up: number;
  ends: number;
  plug: [number, number, number];
  courses: Course[];
  loss: string;
  holds_back: string;
  bleeds: string[];
}

/** Coolant on site as stated, and in one container, kg. */
export interface Stock {
  coolant: string;
  mass: number;
  container: number;
}

export interface Limits {
  minute: number;
  frost_off: number;
  surface_off: number;
  carbon_dioxide: number;
  oxygen_least: number;
  oxygen_most: number;
}

/** One line of the log, as `layoutcheck log` reads it. */
export interface LogRow {
  plug: string | null;
  number: number;
  what: string;
  planned_at: string;
  planned_for: string;
  planned_coolant: string;
  began: string | null;
  ended: string | null;
  coolant: string | null;
  frost: string | null;
  surface: string | null;
  by: string;
  note: string;
}

export interface Log {
  format: string;
  sheet: string;
  rows: LogRow[];
}

export interface Plan {
  format: string;
  version: string;
  verdict: string;
  may_start: boolean;
  headline: string;
  layout: { name: string; note: string; digest: string };
  pack: { name: string; digest: string };
  sheet: string;
  units: "imperial" | "metric";
  work: string[];
  actions: { number: number; what: string; why: string }[];
  before: Group[];
  order: Group[];
  plugs: PlanPlug[];
  stock: Stock[];
  limits: Limits;
  orders: { alarm: string; water: string; if_a_plug_goes: string; signs: [string, string][]; good_signs: [string, string][] };
  log: Log | null;
  no_permit: string;
  cautions: string[];
  deference: string;
}
