/** What has to be heard, and how often. */

import type { State } from "./fold.ts";
import { signal } from "./phone.ts";

const EVERY = 10_000; // ms between calls for the same thing
const SOON = 15_000; // ms before its time that something is called
const NEAR_END = 900_000; // ms before the coolant runs out that it is called again and again
const MOST = 60; // calls for one thing: after ten minutes nobody listens any more

export interface Alarm {
  key: string;
  kind: "soon" | "now" | "danger";
}

/** The gravest thing that calls for somebody now; null for none. */
export function alarmOf(state: State): Alarm | null {
  if (state.air?.over) return { key: `air ${state.air.at}`, kind: "danger" };
  for (const j of state.jackets) {
    if (j.stop || j.missed || j.doing === "give up") return { key: `${j.plug.id} ${j.stop ?? j.doing}`, kind: "danger" };
  }
  const open = !state.closed && state.opened;
  if (open && state.ends !== null && state.now >= state.ends) return { key: "ends", kind: "danger" };
  for (const j of state.jackets) {
    if (j.until === null || j.doing === "over") continue;
    const key = `${j.plug.id} ${j.feed} ${j.number} ${j.doing}`;
    if (state.now >= j.until) return { key, kind: "now" };
    if (state.now >= j.until - SOON) return { key, kind: "soon" };
  }
  for (const s of state.stock) {
    if (s.runsOut === null) continue;
    const near = s.runsOut - state.now < NEAR_END;
    return { key: `stock ${s.coolant} ${near}`, kind: near ? "now" : "soon" };
  }
  return null;
}

/** Calls once when something comes up, and again as long as nobody does anything about it. */
export class Alarms {
  private key = "";
  private last = -Infinity;
  private times = 0;

  sound(alarm: Alarm | null, now = performance.now()): void {
    const key = alarm ? `${alarm.key} ${alarm.kind}` : "";
    if (key !== this.key) this.times = 0;
    const again = alarm !== null && alarm.kind !== "soon" && now - this.last >= EVERY && this.times < MOST;
    if (alarm && (key !== this.key || again)) {
      signal(alarm.kind);
      this.last = now;
      this.times += 1;
    }
    this.key = key;
  }
}
