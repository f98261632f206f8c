/** Which of two clocks to believe. The wall clock can be set; the other stands still while asleep. */

import type { Entry, Stamp } from "./entries.ts";

/** Clocks of one phone differ by less than this over a working day, ms (own choice). */
export const APART = 3000;

/** How much more the wall clock went on than the other within one opening of the page, ms. */
export function gapBetween(base: Stamp, now: Stamp): number {
  return now.wall - base.wall - (now.mono - base.mono);
}

/** A clock that went forward, of which nobody has said yet whether it is right. */
export interface Doubt {
  id: string;
  gap: number;
}

export interface Corrections {
  /** What to take off the wall clock of an entry, ms. */
  of: (entry: { n: number }) => number;
  now: number;
  doubt: Doubt | null;
}

/**
 * How far the wall clock is off at each entry. Time never runs back: a clock that went back was
 * set. One that went forward was set or the phone slept; until somebody says which, it is believed.
 */
export function correctionsOf(entries: readonly Entry[]): Corrections {
  const settled = new Map<string, boolean>();
  for (const e of entries) if (e.kind === "settled") settled.set(e.of, e.right);
  const off: { n: number; gap: number }[] = [];
  let doubt: Doubt | null = null;
  for (const e of entries) {
    if (e.kind !== "clock") continue;
    const right = settled.get(e.id);
    if (e.gap < 0 || right === false) off.push({ n: e.n, gap: e.gap });
    else if (right === undefined) doubt = { id: e.id, gap: e.gap };
  }
  const of = ({ n }: { n: number }): number => off.reduce((sum, x) => (x.n <= n ? sum + x.gap : sum), 0);
  return { of, now: of({ n: Infinity }), doubt };
}
