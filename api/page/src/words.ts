/** What the page says of places, in plain words. */

import type { Seat } from "./store";
import type { Finding, Outcome, PlugPart, Verdict } from "./types";
import { showLength } from "./units";
import type { System } from "./units";

export const VERDICT_SAYS: Record<Verdict, string> = {
  compliant: "Compliant",
  "not compliant": "Not compliant",
  undecided: "Undecided",
  fault: "Fault",
};

/** Say an outcome to a reader, as the reports do: what is undecided is not known yet. */
export const outcomeSays = (outcome: string): string => (outcome === "undecided" ? "not known yet" : outcome);

export interface Margin {
  state: "clear" | "shut" | "unknown";
  says: string;
}

/** Say how a place fares by the stretches last judged: how much is to spare, or where it gets clear. */
export function marginAt(part: PlugPart | undefined, seat: Seat | null, system: System, findings: Finding[]): Margin {
  if (!part || !seat) return { state: "unknown", says: "Not judged yet." };
  const clear = part.clear.filter((s) => s.pipe === seat.pipe);
  const at = clear.find((s) => s.start.value - 1e-4 <= seat.station && seat.station <= s.end.value + 1e-4);
  if (at) {
    const room = Math.max(0, Math.min(seat.station - at.start.value, at.end.value - seat.station));
    const says = `In a clear stretch, ${showLength(room, system)} from its nearer end.`;
    return part.isolates ? { state: "clear", says } : { state: "clear", says: `${says} No place of this plug alone cuts off the work.` };
  }
  const rules = new Set(
    part.shut_out
      .filter((s) => s.pipe === seat.pipe && s.start.value - 1e-4 <= seat.station && seat.station <= s.end.value + 1e-4)
      .flatMap((s) => s.rules),
  );
  if (!rules.size && !clear.length) return unsearched(part.id, findings);
  const why = rules.size ? `Ruled out by ${[...rules].join(", ")}.` : "Not in a clear stretch.";
  const ends = clear.flatMap((s) => [s.start.value, s.end.value]);
  const near = ends.sort((a, b) => Math.abs(a - seat.station) - Math.abs(b - seat.station))[0];
  if (near === undefined) return { state: "shut", says: `${why} No clear stretch on this pipe.` };
  const way = near > seat.station ? "further on" : "back";
  return { state: "shut", says: `${why} Clear ${showLength(Math.abs(near - seat.station), system)} ${way}.` };
}

/** Where what is not stated decides which stretches are clear, none is given. */
function unsearched(plug: string, findings: Finding[]): Margin {
  const broken = findings.filter((f) => f.outcome === "broken" && f.subject.kind === "plug" && f.subject.id === plug).map((f) => f.rule);
  if (broken.length) return { state: "shut", says: `Broken as it is marked: ${[...new Set(broken)].join(", ")}.` };
  return { state: "unknown", says: "Not known yet: it depends on what is not stated. See Findings." };
}

const RANK: Record<Outcome, number> = { fault: 0, broken: 1, undecided: 2, waived: 3, holds: 4, "does not apply": 5 };

/** Findings in the order of what to do about them where it is known, else of their outcomes. */
export function ranked(findings: Finding[], numbers: Map<string, number>): Finding[] {
  const number = (f: Finding): string => String(numbers.get(f.id) ?? 9999).padStart(4, "0");
  const key = (f: Finding): string[] => [number(f), String(RANK[f.outcome]), f.rule, f.subject.id, f.id];
  return [...findings].sort((a, b) => compared(key(a), key(b)));
}

function compared(a: string[], b: string[]): number {
  const i = a.findIndex((text, n) => text !== b[n]);
  return i < 0 ? 0 : a[i]! < b[i]! ? -1 : 1;
}

const GRAVITY = ["life", "flood", "damage", "delay"];
const SEVERITY = ["violation", "caution", "advice"];

/** The first thing to do: of what is known to be wrong before what is in doubt, the gravest; null where nothing is open. */
export function firstThing(findings: Finding[]): Finding | null {
  const weight = (f: Finding): number[] => [RANK[f.outcome], GRAVITY.indexOf(f.gravity) + SEVERITY.indexOf(f.severity)];
  const open = ranked(findings, new Map()).filter(isBad);
  return open.reduce<Finding | null>((best, f) => {
    if (!best) return f;
    const [a, b] = [weight(f), weight(best)];
    return a[0]! < b[0]! || (a[0] === b[0] && a[1]! < b[1]!) ? f : best;
  }, null);
}

export const isBad = (finding: Finding): boolean => RANK[finding.outcome] < 3;

/** Tell whether a finding is about something. */
export function speaksOf(finding: Finding, kind: string, id: string): boolean {
  const { subject, concerns, where, way } = finding;
  if (subject.id === id && (subject.kind === kind || kind === "work")) return true;
  if ([...(subject.elements ?? []), ...concerns].some((one) => one.kind === kind && one.id === id)) return true;
  if (kind === "plug") return false;
  return [where, ...way].some((at) => at && (at.element === id || at.junction === id || (kind === "pipe" && at.pipe === id && subject.kind !== "plug")));
}

export function subjectSays(finding: Finding): string {
  const { kind, id } = finding.subject;
  const parts = id.split(" + ");
  const shown = parts.length > 4 ? `${parts.slice(0, 3).join(" + ")} and ${parts.length - 3} more` : id;
  return kind === "work" || kind === "plugs" ? `${kind === "work" ? "work: " : "plugs "}${shown}` : `${kind} ${shown}`;
}

/** Keep a list short: its first few, and how many more there are. */
export function few(list: string[], most = 4): string {
  return list.length > most ? `${list.slice(0, most).join("; ")}; and ${list.length - most} more` : list.join("; ");
}
