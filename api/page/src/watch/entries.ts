/** What is written down: entries that are only ever added. Each keeps both clocks of the phone. */

/** A moment by both clocks of one opening of the page, ms: wall may be set, mono only goes on. */
export interface Stamp {
  wall: number;
  mono: number;
  session: string;
}

/** A reading as it was given, so that the log says what was tapped. */
export interface Quantity {
  value: number;
  unit: "in" | "mm" | "degF" | "degC" | "lb" | "kg" | "psi" | "kPa";
}

export type Feed = "inject" | "top-up";

/** What an entry is of. */
export type Said =
  | { kind: "started"; zone: number } // min that the clock on site is ahead of UTC
  | { kind: "tick"; list: "before" | "order"; group: number; tick: number; text: string }
  | { kind: "began"; plug: string; feed: Feed; number: number }
  | { kind: "ended"; plug: string; feed: Feed; number: number }
  | { kind: "mass"; plug: string; feed: Feed; number: number; mass: Quantity }
  | { kind: "frost"; plug: string; widths: [Quantity, Quantity] }
  | { kind: "cold"; plug: string; surface: Quantity }
  | { kind: "air"; carbon_dioxide: number; oxygen: number } // shares
  | { kind: "pressure"; plug: string; side: "work" | "far"; pressure: Quantity }
  | { kind: "note"; plug: string | null; text: string }
  | { kind: "photo"; plug: string | null; name: string }
  | { kind: "tested"; plug: string; passed: boolean; text: string }
  | { kind: "opened" }
  | { kind: "closed" }
  | { kind: "stopped"; plug: string }
  | { kind: "out" } // everybody left
  | { kind: "retracted"; of: string }
  | { kind: "clock"; gap: number } // the wall clock went on by so much more than the other, ms
  | { kind: "settled"; of: string; right: boolean }; // whether the wall clock is right

/** n: its place in the order; it follows all that its writer knew. by: who held the phone. */
export type Entry = { id: string; n: number; by: string } & Stamp & Said;

const NAMES: Record<Said["kind"], (said: never) => (string | number)[]> = {
  started: () => [],
  tick: (s: { list: string; group: number; tick: number }) => [s.list, s.group, s.tick],
  began: (s: { plug: string; feed: string; number: number }) => [s.plug, s.feed, s.number],
  ended: (s: { plug: string; feed: string; number: number }) => [s.plug, s.feed, s.number],
  mass: (s: { plug: string; feed: string; number: number }) => [s.plug, s.feed, s.number],
  opened: () => [],
  closed: () => [],
  stopped: (s: { plug: string }) => [s.plug],
  retracted: (s: { of: string }) => [s.of],
  settled: (s: { of: string }) => [s.of],
} as never;

/**
 * The id of an entry. What can only happen once has one id for all taps and all tabs, so that a
 * second tap of the same thing is the same entry; after it was taken back it may happen once more.
 */
export function idOf(said: Said, entries: readonly Entry[], random: string): string {
  const name = NAMES[said.kind] as ((said: Said) => (string | number)[]) | undefined;
  if (!name) return `${said.kind} ${random}`;
  const key = JSON.stringify([said.kind, ...name(said)]);
  const gone = new Set(entries.flatMap((e) => (e.kind === "retracted" ? [e.of] : [])));
  let times = 0;
  while (gone.has(`${key} ${times}`)) times += 1;
  return `${key} ${times}`;
}

/** The place of the next entry. */
export function nextPlace(entries: readonly Entry[]): number {
  return entries.reduce((most, e) => Math.max(most, e.n), 0) + 1;
}

/** Put entries of any number of tabs and readings together: each once, in one order. */
export function merged(...lists: (readonly Entry[])[]): Entry[] {
  const known = new Map<string, Entry>();
  for (const entry of lists.flat()) if (!known.has(entry.id)) known.set(entry.id, entry);
  return [...known.values()].sort((a, b) => a.n - b.n || a.wall - b.wall || (a.id < b.id ? -1 : 1));
}

const SI: Record<Quantity["unit"], (value: number) => number> = {
  in: (v) => v * 0.0254,
  mm: (v) => v / 1000,
  degF: (v) => (v + 459.67) / 1.8,
  degC: (v) => v + 273.15,
  lb: (v) => v * 0.45359237,
  kg: (v) => v,
  psi: (v) => v * 6894.757293168,
  kPa: (v) => v * 1000,
};

/** m, K, kg or Pa. */
export const si = ({ value, unit }: Quantity): number => SI[unit](value);

/** As the log reads it. */
export const written = ({ value, unit }: Quantity): string => `${value} ${unit}`;
