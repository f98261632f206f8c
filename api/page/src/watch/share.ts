/** A second phone follows through the service: this one sends what is new, that one asks for it. */

import { get, post, Refusal, Silence } from "../service";
import type { Entry } from "./entries.ts";
import type { Watch } from "./keep.ts";
import { stampNow } from "./phone.ts";
import type { Plan } from "./plan.ts";

const AGAIN = 5000; // ms
const AT_ONCE = 2000; // entries in one sending

export class Sharing {
  private readonly sent = new Set<string>();
  private plan = false;
  private busy = false;
  private again: ReturnType<typeof setTimeout> | undefined;

  constructor(private readonly told: (shared: "sent" | "waiting") => void) {}

  /** Send what the service does not have yet; where it can not be reached, again later. */
  send(watch: Watch, entries: readonly Entry[]): void {
    clearTimeout(this.again);
    if (this.busy) {
      this.again = setTimeout(() => this.send(watch, entries), 500);
      return;
    }
    void this.deliver(watch, entries);
  }

  private async deliver(watch: Watch, entries: readonly Entry[]): Promise<void> {
    this.busy = true;
    const fresh = entries.filter((e) => !this.sent.has(e.id)).slice(0, AT_ONCE);
    const body = { secret: watch.secret, now: stampNow().wall, plan: this.plan ? null : watch.plan, entries: fresh };
    try {
      const kept = (await post(`v1/watches/${watch.name}`, JSON.stringify(body), "application/json")) as { entries: number; plan: boolean };
      for (const e of fresh) this.sent.add(e.id);
      this.plan = kept.plan;
      const lost = !kept.plan || kept.entries < this.sent.size; // the service began again
      if (lost) this.sent.clear();
      this.told(lost ? "waiting" : "sent");
      this.again = setTimeout(() => this.send(watch, entries), lost ? 0 : AGAIN);
    } catch (error) {
      if (!(error instanceof Silence) && !(error instanceof Refusal)) throw error;
      this.told("waiting");
      this.again = setTimeout(() => this.send(watch, entries), AGAIN);
    } finally {
      this.busy = false;
    }
  }
}

interface Page {
  plan: Plan | null;
  entries: Entry[];
  next: number;
  now: number;
  age: number;
}

interface Listener {
  plan(plan: Plan): void;
  entries(entries: Entry[], now: number, age: number): void;
  trouble(says: string): void;
}

/** Read what another phone writes, as long as the page is open. */
export function follow(name: string, listener: Listener): void {
  let after = 0;
  const ask = async (): Promise<void> => {
    try {
      const page = (await get(`v1/watches/${name}?after=${after}`)) as Page;
      if (page.plan) listener.plan(page.plan);
      if (page.next < after) after = 0; // the service began again
      else after = page.next;
      listener.entries(page.entries, page.now, page.age);
    } catch (error) {
      if (error instanceof Silence) listener.trouble("The service does not answer. What is shown is old; ask by voice.");
      else if (error instanceof Refusal) listener.trouble(error.problem.detail);
      else throw error;
    }
    setTimeout(() => void ask(), AGAIN);
  };
  void ask();
}
