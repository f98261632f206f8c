/** The log so far, judged by the service where there is a network: the library's own words. */

import { post, Refusal, Silence } from "../service";
import { bodyOf } from "../service";
import type { Finding } from "../types.ts";
import type { Watch } from "./keep.ts";
import type { State } from "./fold.ts";
import { logOf } from "./log.ts";

const SETTLE = 1500; // ms without a new reading until it is asked

/** What the library said of a plug's readings, and of how many entries it knew. */
export interface Judged {
  of: number;
  outcome: Finding["outcome"];
  reason: string;
  says: string;
  todo: string;
}

export class Judge {
  private readonly known = new Map<string, Judged>();
  private waiting: ReturnType<typeof setTimeout> | undefined;

  constructor(private readonly answered: () => void) {}

  /** Ask about the readings, unless the last answer knew them all. */
  look(watch: Watch, state: State): void {
    if (state.zero === null || !state.told.some((e) => e.kind === "frost" || e.kind === "cold")) return;
    clearTimeout(this.waiting);
    this.waiting = setTimeout(() => void this.ask(watch, state), SETTLE);
  }

  /** The library's judgement of a plug's readings; null where it did not see the newest. */
  of(plug: string, state: State): Judged | null {
    const found = this.known.get(plug);
    return found && found.of >= newest(state, plug) ? found : null;
  }

  private async ask(watch: Watch, state: State): Promise<void> {
    const of = Math.max(0, ...state.told.map((e) => e.n));
    try {
      const told = (await post("v1/logs", bodyOf(watch.layout, { log: logOf(watch.plan, state) }), "application/json")) as { findings: Finding[] };
      for (const f of told.findings) {
        if (f.rule !== "log-course") continue;
        this.known.set(f.subject.id, { of, outcome: f.outcome, reason: f.reason, says: f.says, todo: f.todo });
      }
      this.answered();
    } catch (error) {
      // Without a network the phone's own comparison stands; it is the same one.
      if (!(error instanceof Silence) && !(error instanceof Refusal)) throw error;
    }
  }
}

function newest(state: State, plug: string): number {
  return Math.max(0, ...state.told.filter((e) => (e.kind === "frost" || e.kind === "cold") && e.plug === plug).map((e) => e.n));
}
