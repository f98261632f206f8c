/** The log out: the lines that `layoutcheck log` reads, with the columns of the paper log. */

import { si, written } from "./entries.ts";
import type { Quantity } from "./entries.ts";
import type { Fed, Jacket, State, Told } from "./fold.ts";
import { narrower } from "./fold.ts";
import type { Log, LogRow, Plan } from "./plan.ts";

/** A look within this of a planned one fills its line, ms (own choice). */
const NEAR = 300_000;
const COLUMNS = ["plug", "number", "what", "planned_at", "planned_for", "planned_coolant", "began", "ended", "coolant", "frost", "surface", "by", "note"] as const;

/** A moment as the log writes it, by the clock on site as it was when the watch began. */
export function clockText(at: number, zone: number): string {
  return new Date(Math.floor(at / 1000) * 1000 + zone * 60_000).toISOString().slice(0, 19).replace("T", " ");
}

export function logOf(plan: Plan, state: State): Log {
  if (!plan.log) throw new Error("a layout that is not compliant has no log");
  const rows = plan.log.rows.map((row) => ({ ...row }));
  for (const jacket of state.jackets) {
    for (const fed of jacket.fed) fill(rowFor(rows, jacket, fed), fed, state);
    looks(rows, jacket, state);
    tested(rows, jacket, state);
  }
  for (const told of state.told) happened(rows, told, state);
  return { format: plan.log.format, sheet: plan.log.sheet, rows };
}

const INJECTED = new Set(["inject", "inject further"]);

function rowFor(rows: LogRow[], { plug }: Jacket, { feed, number }: Fed): LogRow {
  const is = (row: LogRow): boolean => row.plug === plug.id && row.number === number && (feed === "inject" ? INJECTED.has(row.what) : row.what === "top-up");
  return rows.find(is) ?? added(rows, { plug: plug.id, number, what: feed === "inject" ? "inject further" : "top-up" });
}

function added(rows: LogRow[], row: Pick<LogRow, "plug" | "number" | "what">): LogRow {
  const made: LogRow = { planned_at: "", planned_for: "", planned_coolant: "", began: null, ended: null, coolant: null, frost: null, surface: null, by: "", note: "", ...row };
  rows.push(made);
  return made;
}

function fill(row: LogRow, fed: Fed, { told, zone }: State): void {
  row.began = clockText(fed.began, zone);
  row.ended = fed.ended === null ? null : clockText(fed.ended, zone);
  row.by = fed.by;
  const mass = told.find((e) => e.kind === "mass" && e.plug === row.plug && e.feed === fed.feed && e.number === fed.number && e.n >= fed.n);
  row.coolant = mass?.kind === "mass" ? written(mass.mass) : null;
}

/** What was seen, each on a line of its own: on the line that was planned for it where it is near. */
function looks(rows: LogRow[], { plug }: Jacket, { told, zone, zero }: State): void {
  const planned = rows.filter((r) => r.plug === plug.id && r.what === "look");
  const times = new Map(planned.map((row) => [row, (zero ?? 0) + secondsOf(row.planned_at) * 1000]));
  let number = planned.length;
  for (const e of told) {
    const seen = lookOf(e, plug.id);
    if (!seen) continue;
    const free = planned.find((r) => r.began === null && seen.frost !== undefined && Math.abs(times.get(r)! - e.at) <= NEAR);
    const row = free ?? added(rows, { plug: plug.id, number: (number += 1), what: "look" });
    Object.assign(row, { began: clockText(e.at, zone), by: e.by, ...seen });
  }
  // Air, and what is of no one jacket, are lines of the whole job; they are written once.
}

function lookOf(e: Told, plug: string): Partial<LogRow> | null {
  if (e.kind === "frost" && e.plug === plug) {
    const [a, b] = e.widths;
    const least = narrower(e.widths) === si(a) ? a : b;
    return { frost: written(least), note: `frost on the two sides: ${written(a)} and ${written(b)}` };
  }
  if (e.kind === "cold" && e.plug === plug) return { surface: written(e.surface) };
  if (e.kind === "pressure" && e.plug === plug) return { note: `pressure, gauge on the ${e.side === "far" ? "far side" : "work's side"}: ${written(e.pressure)}` };
  if (e.kind === "note" && e.plug === plug) return { note: e.text };
  if (e.kind === "photo" && e.plug === plug) return { note: `photo on the phone: ${e.name}` };
  return null;
}

function tested(rows: LogRow[], { plug, tests, proven }: Jacket, { zone }: State): void {
  if (!tests.length) return;
  const row = rows.find((r) => r.plug === plug.id && r.what === "plug proven") ?? added(rows, { plug: plug.id, number: 1, what: "plug proven" });
  if (proven) Object.assign(row, { began: clockText(proven.at, zone), by: proven.by });
  row.note = tests
    .map((e) => (e.kind === "tested" ? `${clockText(e.at, zone).slice(11)} pressure test ${e.passed ? "passed" : "not passed"}${e.text ? `: ${e.text}` : ""}` : ""))
    .join("; ");
}

function happened(rows: LogRow[], e: Told, { zone }: State): void {
  const line = { began: clockText(e.at, zone), by: e.by };
  const once = (plug: string | null, what: string): void => {
    Object.assign(rows.find((r) => r.plug === plug && r.what === what) ?? added(rows, { plug, number: 1, what }), line);
  };
  if (e.kind === "opened") once(null, "line opened");
  if (e.kind === "closed") once(null, "line closed up");
  if (e.kind === "stopped") once(e.plug, "feeding stopped");
  const note = noteOf(e);
  if (!note) return;
  const number = rows.filter((r) => r.plug === null && r.what === "look").length + 1;
  Object.assign(added(rows, { plug: null, number, what: "look" }), line, { note });
}

/** What is said of the whole job. */
function noteOf(e: Told): string | null {
  if (e.kind === "air") return `air: carbon dioxide ${percent(e.carbon_dioxide)}, oxygen ${percent(e.oxygen)}`;
  if (e.kind === "note" && e.plug === null) return e.text;
  if (e.kind === "photo" && e.plug === null) return `photo on the phone: ${e.name}`;
  if (e.kind === "out") return "everybody out";
  if (e.kind === "clock") return `the phone's clock went ${e.gap < 0 ? "back" : "forward"} by ${Math.round(Math.abs(e.gap) / 1000)} s against its other clock`;
  if (e.kind === "settled") return e.right ? "the phone's clock is right" : "the phone's clock was set wrong: times go on as before";
  return null;
}

export const percent = (share: number): string => `${Number((share * 100).toFixed(3))} %`;

function secondsOf(text: string): number {
  const [hours, minutes, seconds] = text.split(":").map(Number);
  return ((hours ?? 0) * 60 + (minutes ?? 0)) * 60 + (seconds ?? 0);
}

export const logJson = (log: Log): string => `${JSON.stringify(log, null, 2)}\n`;

/** CSV as RFC 4180 has it, in UTF-8 with its mark, which spreadsheets look for. */
export function logCsv(log: Log): string {
  const lines = log.rows.map((row) => [log.sheet, ...COLUMNS.map((name) => guarded(String(row[name] ?? "")))]);
  return `\uFEFF${[["sheet", ...COLUMNS], ...lines].map((cells) => `${cells.map(quoted).join(",")}\r\n`).join("")}`;
}

const quoted = (cell: string): string => (/[",\r\n]/.test(cell) ? `"${cell.replaceAll('"', '""')}"` : cell);

/** Keep a spreadsheet from reading a text as a formula: mark it as a text. */
const guarded = (text: string): string => (/^'*[=+\-@＝＋－＠]/.test(text) ? `'${text}` : text);

/** The masses of a plan and the readings of a page, in the units of the layout. */
export function massIn(units: Plan["units"], kg: number): Quantity {
  return units === "metric" ? { value: Number(kg.toFixed(2)), unit: "kg" } : { value: Number((kg / 0.45359237).toFixed(1)), unit: "lb" };
}
