/** What the page reads of the service's answers. The service's OpenAPI document is the whole. */

export type Point = [number, number];

export interface Measure {
  value: number;
  unit: string;
  shown: string;
}

export interface At {
  junction: string | null;
  pipe: string | null;
  station: Measure | null; // null on a pipe whose length is not stated, where the plug is marked by a point
  from_junction: string | null;
  element: string | null;
}

export type Outcome = "holds" | "broken" | "undecided" | "does not apply" | "waived" | "fault";

/** An element of the layout. */
export interface Named {
  kind: string;
  id: string;
}

export interface Finding {
  id: string;
  rule: string;
  severity: string;
  gravity: string;
  subject: Named & { elements?: Named[] };
  outcome: Outcome;
  reason: string;
  says: string;
  measured: Measure | null;
  required: Measure | null;
  where: At | null;
  way: At[];
  concerns: Named[];
  missing: string[];
  assumed: string[];
  todo: string;
  changes: Action[]; // each of which alone would mend it
  waiver: { reason: string; by: string; until: string } | null;
}

export interface Stretch {
  pipe: string;
  from_junction: string;
  start: Measure;
  end: Measure;
}

export interface ShutStretch extends Stretch {
  rules: string[];
}

export interface Move {
  pipe: string;
  from_junction: string;
  station: Measure;
  tape: Measure;
  travel: Measure;
  room: Measure;
  remaining: Remaining[];
  drain: Measure | null;
}

export interface Remaining {
  id: string;
  rule: string;
  outcome: Outcome;
  says: string;
  missing: string[];
}

export interface Span {
  low: Measure;
  likely: Measure;
  high: Measure;
}

export interface PlugPart {
  id: string;
  at: At;
  jacket: Measure;
  size: string;
  coolant: string;
  well_placed: boolean;
  clear_by: Measure | null;
  nearest: Move | null;
  keeping: Move | null; // the nearest place that keeps the water back, where the very nearest does not
  holds_back: boolean;
  place: "stays" | "moves" | "no place" | "not known";
  no_place: boolean;
  isolates: boolean;
  freeze: Freeze;
  clear: Stretch[];
  shut_out: ShutStretch[];
}

/** left_out: the broken rules of flow and place; while there are any, no estimate is shown. */
export interface Freeze {
  outcome: string;
  reason: string;
  missing: string[];
  time_to_plug: Span | null;
  coolant: { on_hand: Measure; comes_in: string } | null;
  left_out: string[];
}

export type Verdict = "compliant" | "not compliant" | "undecided" | "fault";

export interface Report {
  version: string;
  verdict: Verdict;
  layout: { name: string; note: string; digest: string };
  pack: { name: string; digest: string };
  basis: string;
  judged_on: string | null;
  counts: Record<"holds" | "broken" | "undecided" | "does_not_apply" | "waived" | "fault", number>;
  actions: ActionPart[]; // only of a whole check
  findings: Finding[];
  plugs: PlugPart[];
  drain: { volume: Measure | null; at_least: Measure | null; missing: string[] } | null;
  assumptions: string[];
  cautions: string[];
  deference: string;
  mending: Mending | null;
}

/** One thing to do before the next check; they come in order, the gravest first. */
export interface ActionPart {
  number: number;
  what: string;
  why: string;
  settles: string[];
}

/** How all plugs can pass together; only a whole check makes it. */
export interface Mending {
  status: "moves" | "addition" | "impossible" | "not settled";
  says: string;
  why: string[];
  moves: TogetherMove[];
  actions: Action[];
  drain_before: Measure | null;
  drain_after: Measure | null;
  cut_off: string[];
  remaining: Remaining[];
  ways: { source: string; pipes: { pipe: string; rules: string[] }[] }[];
}

export interface TogetherMove {
  plug: string;
  added: boolean;
  pipe: string;
  jacket: Measure;
  size: string;
  coolant: string;
  from_junction: string;
  station: Measure;
  tape: Measure;
  travel: Measure;
}

/** What is done besides moving plugs. */
export interface Action {
  kind: string;
  id: string;
}

interface MarkBase {
  role: string;
  subject: string | null;
}

export interface Stroke extends MarkBase {
  kind: "stroke";
  points: Point[];
  closed: boolean;
  pipe: string | null;
  start: number | null;
  end: number | null;
  note: string;
}

export interface Glyph extends MarkBase {
  kind: "glyph";
  form: string;
  at: Point;
  angle: number;
  size: number;
  note: string;
}

export interface Words extends MarkBase {
  kind: "words";
  text: string;
  at: Point;
  size: number;
  anchor: "start" | "middle" | "end";
  bold: boolean;
  box: [number, number, number, number];
}

export type Mark = Stroke | Glyph | Words;

export interface Shape {
  points: Point[];
  closed: boolean;
  radius: number | null;
  fill: "ink" | "paper" | "none";
}

export interface ScreenPath {
  from_junction: string;
  length: number;
  length_known: boolean; // where it is not, length is the least that it can be
  points: Point[];
  stations: number[];
}

export interface Drawing {
  scene: {
    name: string;
    sheets: { width: number; height: number; panels: { marks: Mark[] }[] }[];
    glyphs: Record<string, Shape[]>;
    left_out: number;
  };
  paths: Record<string, ScreenPath>;
  junctions: Record<string, Point>;
  sleeve: number;
  lane: number;
  arranged: boolean;
  key: KeyEntry[];
}

/** A line of the drawing's key, as on the print. */
export interface KeyEntry {
  role: string;
  form: string | null;
  words: string;
}

/** A fact that the layout does not state: where it goes ('*' for an element's id), and who waits for it. */
export interface Blank {
  what: string;
  rules: string[];
  elements: string[];
  example: string;
  field: string;
}

export interface RequestFault {
  pointer: string;
  found: string;
  problem: string;
  example: string;
}

export interface Problem {
  title: string;
  status: number;
  detail: string;
  faults?: RequestFault[];
}

export interface Manual {
  name: string;
  severity: string;
  waivable: boolean;
  summary: string;
  parts: { heading: string; text: string }[];
  figures: { key: string; built_in: string; in_force: string; meaning: string; source: string }[];
}
