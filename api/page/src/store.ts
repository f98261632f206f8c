/** What the page knows: the document with its history, the last answer, what is chosen. */

import { isBlank } from "./draw/edit";
import { looksLikeLayout, systemOf, withPlugAt } from "./layout";
import type { Chosen, Layout } from "./layout";
import { judge } from "./kept";
import { Courier, draw, glimpse } from "./service";
import type { Answer, Quick, Wish } from "./service";
import type { Blank, Drawing, PlugPart, Problem, Report } from "./types";
import { parseLength, showLength } from "./units";
import { marginAt } from "./words";
import type { Margin } from "./words";

export interface Picked extends Chosen {
  station?: number; // m, where a pipe was picked on the drawing
}

/** A document that is mended as text: of the file, or (of) of what is open. */
export interface OpenText {
  text: string;
  name: string;
  own: boolean; // of what is open
}

/** A field that somebody wants to fill in: of what is chosen, or of the whole site. */
export interface WantedField {
  site: boolean;
  field: string;
}

/** Where a plug stands in the document as edited, m. */
export interface Seat {
  pipe: string;
  station: number;
}

export interface State {
  layout: Layout | null;
  fileName: string;
  version: number;
  past: Layout[];
  future: Layout[];
  report: Report | null;
  quick: (Quick & { version: number }) | null; // the verdict alone, of a version that is judged in full a little later
  judged: number; // version that the report is of
  judgedOf: Layout | null; // layout that the report is of
  drawing: Drawing | null;
  drawn: Layout | null; // layout that the drawing is of
  problem: Problem | null;
  silent: boolean;
  picked: Picked | null;
  lit: string | null; // finding
  moving: string | null; // plug being dragged
  mode: "draw" | "check"; // the sheet to draw on, or the drawing as judged
  blanks: Blank[]; // facts that the layout last drawn does not state
  wanted: WantedField | null;
  tool: string | null; // of the sheet, that is asked for
  text: OpenText | null;
  opened: number; // how many documents were opened
  conditions: string[]; // what a proposal that was taken up holds on, until somebody says it is done
  said: string; // for the status line, read out
}

const EMPTY: State = {
  layout: null,
  fileName: "",
  version: 0,
  past: [],
  future: [],
  report: null,
  quick: null,
  judged: -1,
  judgedOf: null,
  drawing: null,
  drawn: null,
  problem: null,
  silent: false,
  picked: null,
  lit: null,
  moving: null,
  mode: "check",
  blanks: [],
  wanted: null,
  tool: null,
  text: null,
  opened: 0,
  conditions: [],
  said: "",
};

const KEPT = "layoutcheck page 1";
const MOST_STEPS = 60;
const MOST_KEPT = 12; // steps back that outlive a reload
const LARGE = 120; // pipes from which the verdict alone comes first
const ONE_EDIT = 1200; // ms within which the same kind of edit counts as one step

export class Store {
  state: State = EMPTY;
  private readonly watchers = new Set<() => void>();
  private readonly courier = new Courier(
    {
      quick: (wish, signal) => (this.state.drawing && !this.state.moving && wish.layout.pipes.length >= LARGE ? glimpse(wish, signal) : null),
      isLookedAt: () => this.state.mode === "check" || this.state.layout!.pipes.length < LARGE,
      judge: (wish, signal) => (this.state.drawing ? judge(wish, signal) : draw(wish, signal)),
      draw,
    },
    {
      quick: (wish, quick) => this.set({ silent: false, quick: { ...quick, version: wish.version } }),
      answered: (wish, answer) => this.answered(wish, answer),
      silent: () => this.set({ silent: true }),
    },
  );
  /** A document just opened, until it is judged: one that can not be is shown as text, with its faults. */
  private unseen: Layout | null = null;
  private lastEdit = { kind: "", at: 0 };
  /** What each layout of the history holds on: undo must not forget it, and redo brings it back. */
  private readonly held = new WeakMap<Layout, string[]>();

  watch(watcher: () => void): () => void {
    this.watchers.add(watcher);
    return () => this.watchers.delete(watcher);
  }

  set(change: Partial<State>): void {
    this.state = { ...this.state, ...change };
    for (const watcher of this.watchers) watcher();
  }

  /** Open a document. Nothing of the last one stays. */
  open(layout: Layout, fileName: string): void {
    const version = this.state.version + 1;
    const silent = this.state.silent;
    const mode = isBlank(layout) ? "draw" : "check";
    const opened = this.state.opened + 1;
    this.unseen = layout;
    this.set({ ...EMPTY, layout, fileName, version, silent, mode, opened, said: `${layout.name ?? fileName} is open.` });
    this.changed();
  }

  /** Begin a new document. What was open before comes back with undo. */
  begin(layout: Layout, fileName: string): void {
    const before = this.state.layout;
    this.open(layout, fileName);
    if (before) this.set({ past: [before] });
    this.keep();
  }

  /** Edit the document. Edits of one kind that follow closely make one step to undo. */
  edit(layout: Layout, options: { kind?: string; said?: string } = {}): void {
    const before = this.state.layout;
    if (!before) return;
    const kind = options.kind ?? "";
    const now = performance.now();
    const same = kind !== "" && kind === this.lastEdit.kind && now - this.lastEdit.at < ONE_EDIT;
    this.lastEdit = { kind, at: now };
    const past = same ? this.state.past : [...this.state.past, before].slice(-MOST_STEPS);
    const version = this.state.version + 1;
    const said = options.said === undefined ? {} : { said: options.said };
    this.held.set(before, this.state.conditions);
    this.set({ layout, version, past, future: [], ...said });
    this.changed();
  }

  undo(): void {
    const { past, layout, future, version } = this.state;
    const back = past.at(-1);
    if (!back || !layout) return;
    this.lastEdit = { kind: "", at: 0 };
    const conditions = this.heldBy(back);
    this.set({ layout: back, past: past.slice(0, -1), future: [layout, ...future], version: version + 1, conditions, said: "Undone." });
    this.changed();
  }

  redo(): void {
    const { past, layout, future, version } = this.state;
    const [next, ...rest] = future;
    if (!next || !layout) return;
    this.lastEdit = { kind: "", at: 0 };
    const conditions = this.heldBy(next);
    this.set({ layout: next, past: [...past, layout], future: rest, version: version + 1, conditions, said: "Done again." });
    this.changed();
  }

  /** What another layout of the history holds on; where that is not known, what this one does. */
  private heldBy(other: Layout): string[] {
    const { layout, conditions } = this.state;
    this.held.set(layout!, conditions);
    return this.held.get(other) ?? conditions;
  }

  private dragFrom: Layout | null = null;

  /** A drag moves the plug many times, and is one step to undo. */
  startMoving(id: string, kind = "plug"): void {
    this.dragFrom = this.state.layout;
    this.set({ moving: kind === "plug" ? id : null, picked: { kind, id }, lit: null });
  }

  moveTo(id: string, pipe: string, station: number): void {
    const layout = this.state.layout;
    if (!layout) return;
    const text = showLength(station, systemOf(layout));
    const own = layout.plugs?.find((p) => p.id === id);
    if (own?.["pipe"] === pipe && own["station"] === text) return;
    this.moveOn(withPlugAt(layout, id, pipe, text));
  }

  /** The next layout of a drag. */
  moveOn(layout: Layout): void {
    this.set({ layout, version: this.state.version + 1 });
    this.ask();
  }

  stopMoving(): void {
    const from = this.dragFrom;
    this.dragFrom = null;
    if (from && from !== this.state.layout) {
      this.held.set(from, this.state.conditions);
      this.set({ moving: null, past: [...this.state.past, from].slice(-MOST_STEPS), future: [] });
      this.changed();
    } else this.set({ moving: null });
  }

  pick(picked: Picked | null): void {
    this.set({ picked, lit: null });
  }

  /** Keep what a layout holds on in sight, through a reload too. */
  hold(conditions: string[]): void {
    this.set({ conditions });
    this.keep();
  }

  /** Show a document as text, to be mended; null leaves it. */
  openText(text: OpenText | null): void {
    this.set({ text });
  }

  /** Take up what was mended as text. */
  takeText(layout: Layout): void {
    const { text } = this.state;
    this.set({ text: null });
    if (text?.own) this.edit(layout, { said: "Mended in its text; undo brings back how it was." });
    else this.open(layout, text?.name.replace(/\.[^.]+$/, ".json") ?? "layout.json");
  }

  /** Turn from the sheet to the drawing as judged, and back; with a tool in hand, where one is asked for. */
  turnTo(mode: State["mode"], tool: string | null = null): void {
    this.set({ mode, tool });
  }

  /** Show the field in which a fact goes. */
  want(picked: Picked | null, wanted: WantedField): void {
    this.set({ picked: picked ?? this.state.picked, wanted, lit: null });
  }

  light(finding: string | null): void {
    this.set({ lit: finding });
  }

  say(said: string): void {
    this.set({ said });
  }

  /** Take up what was kept in this browser. */
  restore(): boolean {
    try {
      const kept = JSON.parse(localStorage.getItem(KEPT) ?? "null") as Partial<State> | null;
      if (!kept || !looksLikeLayout(kept.layout)) return false;
      const sound = (list: unknown): Layout[] => (Array.isArray(list) ? list.filter(looksLikeLayout) : []);
      const conditions = Array.isArray(kept.conditions) ? kept.conditions.map(String) : [];
      const mode = isBlank(kept.layout) ? "draw" : "check";
      this.set({ layout: kept.layout, fileName: kept.fileName ?? "", conditions, past: sound(kept.past), future: sound(kept.future), version: 1, mode });
      this.changed();
      return true;
    } catch {
      return false;
    }
  }

  private changed(): void {
    this.keep();
    this.ask();
  }

  /** Have it judged; a sheet without pipe holds nothing to judge. */
  private ask(): void {
    if (!isBlank(this.state.layout!)) return this.courier.want(this.wish());
    this.courier.rest();
    this.set({ report: null, problem: null, drawing: null, drawn: null, blanks: [], judgedOf: null });
  }

  private wish(): Wish {
    return { layout: this.state.layout!, version: this.state.version };
  }

  private keep(): void {
    const { layout, fileName, past, future, conditions } = this.state;
    for (const steps of [MOST_KEPT, 2, 0]) {
      const kept = { layout, fileName, conditions, past: past.slice(past.length - steps), future: future.slice(0, steps) };
      try {
        localStorage.setItem(KEPT, JSON.stringify(kept));
        return;
      } catch {
        // The browser's store is full: keep fewer steps back.
      }
    }
    this.set({ said: "This browser keeps nothing more: download the layout before you close the page." });
  }

  private answered(wish: Wish, answer: Answer): void {
    if (wish.version < this.state.judged) return; // never an older answer over a newer one
    if (isBlank(this.state.layout!)) return; // all pipe was taken away since
    const isFirst = wish.layout === this.unseen;
    this.unseen = null;
    if (answer.kind === "refused") {
      if (isFirst && answer.problem.faults?.length) this.openText(textOf(wish.layout, this.state.fileName));
      this.set({ silent: false, problem: answer.problem, report: null, judged: wish.version, judgedOf: null });
      return;
    }
    const { report, drawing, blanks } = answer;
    const drawn = drawing ? { drawing, drawn: wish.layout, blanks: blanks ?? [] } : {};
    this.set({ silent: false, problem: null, report, judged: wish.version, judgedOf: wish.layout, ...drawn });
  }
}

/** What is open, as text to mend. */
export function textOf(layout: Layout, name: string): OpenText {
  return { text: `${JSON.stringify(layout, null, 2)}\n`, name, own: true };
}

/** Where a plug stands now: by the document, or by the report where its text is not ours to read. */
export function seatOf(state: State, id: string): Seat | null {
  const plug = state.layout?.plugs?.find((p) => p.id === id);
  if (!plug) return null;
  const judged = partOf(state, id)?.at;
  if (typeof plug["pipe"] === "string" && typeof plug["station"] === "string") {
    const station = parseLength(plug["station"]);
    if (station !== null) return { pipe: plug["pipe"], station };
    if (judged?.pipe === plug["pipe"] && judged.station) return { pipe: judged.pipe, station: judged.station.value };
    return null;
  }
  return judged?.pipe && judged.station ? { pipe: judged.pipe, station: judged.station.value } : null;
}

/**
 * What is known of a plug's place. Where a plug may stand does not hang on where it stands now, so
 * its own moves keep what was judged; any other edit makes it unknown until it is judged afresh.
 */
export function marginOf(state: State, id: string): Margin {
  if (!state.layout) return UNKNOWN;
  if (!state.report || !state.judgedOf || !isSameBut(state.judgedOf, state.layout, id)) {
    return state.silent ? { ...UNKNOWN, says: "Not judged: the service does not answer." } : UNKNOWN;
  }
  return marginAt(partOf(state, id), seatOf(state, id), systemOf(state.layout), state.report.findings);
}

const UNKNOWN: Margin = { state: "unknown", says: "Not judged yet." };
const PLACE = new Set(["pipe", "station", "point"]);

/** Tell whether two layouts are the same apart from one plug's place. Edits share what they keep. */
function isSameBut(a: Layout, b: Layout, id: string): boolean {
  if (a === b) return true;
  const names = [...new Set([...Object.keys(a), ...Object.keys(b)])].filter((name) => name !== "plugs");
  if (names.some((name) => a[name] !== b[name])) return false;
  const [before, after] = [a.plugs ?? [], b.plugs ?? []];
  if (before.length !== after.length) return false;
  return before.every((plug, i) => {
    const other = after[i]!;
    if (plug === other) return true;
    const fields = new Set([...Object.keys(plug), ...Object.keys(other)]);
    return plug.id === id && other.id === id && [...fields].every((name) => PLACE.has(name) || plug[name] === other[name]);
  });
}

export function partOf(state: State, id: string): PlugPart | undefined {
  return state.report?.plugs.find((p) => p.id === id);
}

export const store = new Store();
