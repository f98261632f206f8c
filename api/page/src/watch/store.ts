/** The freeze on this phone: what is known, what is shown, and the one way to write something down. */

import { bodyOf, fetchFile, Refusal, Silence } from "../service";
import type { Layout } from "../layout.ts";
import { looksLikeLayout } from "../layout";
import { APART, gapBetween } from "./clocks.ts";
import { idOf, merged, nextPlace } from "./entries.ts";
import type { Entry, Said, Stamp } from "./entries.ts";
import { fold } from "./fold.ts";
import type { State } from "./fold.ts";
import { Keep, randomDigits } from "./keep.ts";
import type { Watch } from "./keep.ts";
import { Judge } from "./judged.ts";
import { stampNow, zoneNow } from "./phone.ts";
import type { Plan } from "./plan.ts";
import { Sharing, follow } from "./share.ts";
import { alarmOf, Alarms } from "./alarms.ts";

export type Screen = "first" | "ticks" | "watch" | "write" | "wrong" | "out" | "steps";

export interface View {
  screen: Screen;
  plug: string | null;
  /** Which of a list of things is shown. */
  index: number;
}

export interface Known {
  plan: Plan | null;
  watch: Watch | null;
  state: State | null;
  view: View;
  /** Shown until the next tap: what the last one did. */
  said: string;
  /** Why nothing can be shown, or what was not kept. */
  trouble: string;
  /** What is wrong, that must not be missed: it could not be written down. */
  unkept: string;
  kept: boolean; // the page itself opens without a network
  following: { age: number; at: number } | null; // this phone only reads
  shared: "no" | "sent" | "waiting";
}

const PAGE_KEEPS = "layoutcheck page 1";
const SEEN = "layoutcheck watch seen";

class Store {
  known: Known = {
    plan: null,
    watch: null,
    state: null,
    view: { screen: "first", plug: null, index: 0 },
    said: "",
    trouble: "",
    unkept: "",
    kept: false,
    following: null,
    shared: "no",
  };
  readonly judge = new Judge(() => this.draw());
  private entries: Entry[] = [];
  private keep: Keep | null = null;
  private readonly others = "BroadcastChannel" in globalThis ? new BroadcastChannel(PAGE_KEEPS) : null;
  private base: Stamp = stampNow();
  private leads = !("locks" in navigator);
  private readonly alarms = new Alarms();
  private readonly sharing = new Sharing((shared) => this.set({ shared }));
  private redraw: () => void = () => undefined;

  onChange(redraw: () => void): void {
    this.redraw = redraw;
  }

  set(change: Partial<Known>): void {
    this.known = { ...this.known, ...change };
    this.redraw();
  }

  /** Take up what is under way, or what is open on the page; follow where the address says so. */
  async open(): Promise<void> {
    const name = /^#follow=([0-9a-f]{32})$/.exec(location.hash)?.[1];
    if (name) return this.follow(name);
    this.lead();
    try {
      this.keep = await Keep.open();
    } catch {
      return this.set({ trouble: "This browser keeps nothing, so no freeze can be logged here. Use a usual window, not a private one." });
    }
    this.others?.addEventListener("message", () => void this.read());
    const watch = await this.keep.active();
    if (watch) {
      this.set({ watch, plan: watch.plan });
      await this.read();
      await this.lookBack();
      return this.show(this.state().zero === null ? "first" : "watch");
    }
    await this.ask();
  }

  /** Ask the service for what a freeze of the open layout needs. */
  async ask(): Promise<void> {
    this.set({ trouble: "" });
    const layout = openLayout();
    if (!layout) return this.set({ trouble: "No layout is open. Open one on the page first." });
    try {
      const plan = JSON.parse(await (await fetchFile("v1/handouts/watch-plan.json", bodyOf(layout))).text()) as Plan;
      const watch: Watch = { name: randomDigits(), secret: randomDigits(), plan, layout, by: "", active: 1, shared: false };
      this.set({ plan, watch: plan.may_start ? watch : null });
    } catch (error) {
      if (error instanceof Silence) return this.set({ trouble: "The service does not answer. The first opening needs it; after that no network is needed." });
      if (error instanceof Refusal) return this.set({ trouble: `Not judged: ${error.problem.detail}` });
      throw error;
    }
  }

  /** Begin to keep the log. Nothing is frozen by it. */
  async begin(by: string): Promise<void> {
    const watch = { ...this.known.watch!, by };
    await this.keep!.put(watch);
    this.set({ watch });
    if (!this.entries.some((e) => e.kind === "started")) await this.say({ kind: "started", zone: zoneNow() });
    else await this.read();
  }

  state(): State {
    return this.known.state!;
  }

  show(screen: Screen, plug: string | null = null, index = 0): void {
    this.set({ view: { screen, plug, index }, said: screen === "watch" ? this.known.said : "" });
    scrollTo(0, 0);
  }

  /** Write something down. It is shown once it is kept for good; where it can not be, that is told. */
  async say(said: Said, told = "", by = this.known.watch?.by ?? ""): Promise<void> {
    const watch = this.known.watch;
    if (!watch || !this.keep || this.known.following) return;
    const entry = { id: idOf(said, this.entries, randomDigits(8)), n: nextPlace(this.entries), by, ...stampNow(), ...said } as Entry;
    try {
      await this.keep.add(watch.name, entry);
    } catch {
      return this.set({ unkept: "THE LAST TAP WAS NOT KEPT. Write it on paper, and go on by the paper sheet." });
    }
    this.take([entry]);
    this.others?.postMessage(watch.name);
    this.set({ said: told });
    document.querySelector(".jackets")?.scrollTo(0, 0); // what is urgent now stands at the top
    this.judge.look(watch, this.state());
    if (watch.shared) this.sharing.send(watch, this.entries);
  }

  async photo(plug: string | null, file: Blob): Promise<void> {
    const number = this.entries.filter((e) => e.kind === "photo").length + 1;
    const name = `photo ${number}`;
    try {
      await this.keep!.addPhoto(this.known.watch!.name, name, file);
    } catch {
      return this.set({ unkept: "The photo was not kept: this phone has no room for it." });
    }
    await this.say({ kind: "photo", plug, name }, `${name} is kept on this phone.`);
  }

  /** Let a second phone follow, by the service. */
  async share(): Promise<void> {
    const watch = { ...this.known.watch!, shared: true };
    await this.keep!.put(watch);
    this.set({ watch });
    this.sharing.send(watch, this.entries);
  }

  /** Put the freeze away: it stays on the phone, and another can begin. */
  async putAway(): Promise<void> {
    await this.keep!.put({ ...this.known.watch!, active: 0 });
    this.entries = [];
    this.set({ watch: null, plan: null, state: null });
    this.show("first");
    await this.ask();
  }

  /** Once a second: what is due, whether a clock jumped, what has to be heard. */
  tick(): void {
    const { watch, following } = this.known;
    if (!watch && !following) return;
    if (!following) this.minds();
    this.draw();
    const { state } = this.known;
    if (state?.zero != null) this.alarms.sound(alarmOf(state));
  }

  private draw(): void {
    const { plan, following } = this.known;
    if (!plan) return;
    const stamp = stampNow();
    // Who follows goes by the clock of the phone that writes.
    const shown = following ? { ...stamp, wall: following.at + stamp.mono } : stamp;
    this.set({ state: this.entries.length || this.known.watch ? fold(plan, this.entries, shown) : null });
  }

  private take(more: readonly Entry[]): void {
    this.entries = merged(this.entries, more);
    this.draw();
  }

  private async read(): Promise<void> {
    if (!this.keep || !this.known.watch) return;
    const before = this.entries;
    const found = await this.keep.entries(this.known.watch.name);
    const known = new Set(before.map((e) => e.id));
    // A jump that another tab wrote down is not written down twice.
    if (found.some((e) => e.kind === "clock" && !known.has(e.id) && e.session !== this.base.session)) this.base = stampNow();
    this.take(found);
    if (this.known.watch.shared) this.sharing.send(this.known.watch, this.entries);
  }

  /** Write down where one of the two clocks went on by more than the other. One tab does so. */
  private minds(): void {
    const now = stampNow();
    const gap = gapBetween(this.base, now);
    try {
      localStorage.setItem(SEEN, String(now.wall));
    } catch {
      // Without it a clock set back while the page was shut goes unnoticed; all else stands.
    }
    if (Math.abs(gap) < APART || !this.leads) return;
    this.base = now;
    void this.say({ kind: "clock", gap: Math.round(gap) });
  }

  /** The clock was set back while the page was shut: time goes on from when it was last seen. */
  private async lookBack(): Promise<void> {
    const seen = Number(localStorage.getItem(SEEN) ?? 0);
    const gap = stampNow().wall - seen;
    if (seen && gap < -APART && this.entries.length) await this.say({ kind: "clock", gap: Math.round(gap) });
  }

  private lead(): void {
    if (this.leads) return;
    void navigator.locks.request("layoutcheck watch leads", () => {
      this.leads = true;
      return new Promise<void>(() => undefined); // held until this tab is gone
    });
  }

  private async follow(name: string): Promise<void> {
    this.set({ following: { age: 0, at: 0 }, view: { screen: "watch", plug: null, index: 0 } });
    follow(name, {
      plan: (plan) => this.set({ plan }),
      entries: (entries, now, age) => {
        this.set({ following: { age, at: now + age * 1000 - performance.now() }, trouble: "" });
        this.take(entries);
      },
      trouble: (trouble) => this.set({ trouble }),
    });
  }

  photoOf(name: string): Promise<Blob | null> {
    return this.keep!.photo(this.known.watch!.name, name);
  }

  everything(): Entry[] {
    return this.entries;
  }
}

/** The layout that is open on the page. */
function openLayout(): Layout | null {
  try {
    const kept = JSON.parse(localStorage.getItem(PAGE_KEEPS) ?? "null") as { layout?: unknown } | null;
    return looksLikeLayout(kept?.layout) ? kept.layout : null;
  } catch {
    return null;
  }
}

export const store = new Store();
