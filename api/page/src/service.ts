/** Asking the service: one request in flight, the latest wishes win, no answer overwrites a newer one. */

import { anotherKey, currentKey } from "./key";
import type { Layout } from "./layout";
import type { Blank, Drawing, Manual, Problem, Report } from "./types";

const PATIENCE = 90_000; // ms until an answer that does not come counts as silence
const RETRY = 1500; // ms between looks whether the service is back
const TRIES = 4; // times a busy service is asked again
const SETTLE = 250; // ms without a change until the drawing is made afresh
const REST = 2000; // the same for a drawing that is not looked at, and takes seconds

/** A layout by its version. */
export interface Wish {
  layout: Layout;
  version: number;
}

export type Answer =
  | { kind: "judged"; report: Report; drawing: Drawing | null; blanks: Blank[] | null }
  | { kind: "refused"; problem: Problem };

/** The service can not be reached, or did not answer in time. */
export class Silence extends Error {}

/** The service answered that it could not do it. */
export class Refusal extends Error {
  constructor(readonly problem: Problem) {
    super(problem.detail);
  }
}

/** The verdict alone: the first answer, before any place is looked for. */
export type Quick = Pick<Report, "verdict" | "counts">;

/** What a courier asks for: a verdict at once, and the drawing when things are at rest. */
export interface Errands {
  /** The verdict alone, where the whole judgement takes longer than a person should wait. */
  quick(wish: Wish, signal: AbortSignal): Promise<Quick> | null;
  /** Whether the drawing is looked at; else it is made only at rest, out of the way of verdicts. */
  isLookedAt(): boolean;
  judge(wish: Wish, signal: AbortSignal): Promise<Answer>;
  draw(wish: Wish, signal: AbortSignal): Promise<Answer>;
}

export interface Listener {
  quick(wish: Wish, verdict: Quick): void;
  answered(wish: Wish, answer: Answer): void;
  silent(): void;
}

/**
 * Sends wishes one at a time. While a verdict is on its way only the newest wish that follows is
 * kept, so that requests never pile up and an answer is never older than the one before it. A
 * drawing on its way is given up for a newer wish.
 */
export class Courier {
  private next: Wish | null = null;
  private busy = false;
  private drawing: AbortController | null = null;
  private settle: ReturnType<typeof setTimeout> | undefined;

  constructor(
    private readonly errands: Errands,
    private readonly listener: Listener,
  ) {}

  /** Ask for nothing any more until the next wish. */
  rest(): void {
    clearTimeout(this.settle);
    this.drawing?.abort();
    this.next = null;
  }

  want(wish: Wish): void {
    clearTimeout(this.settle);
    this.drawing?.abort();
    this.next = wish;
    if (!this.busy) void this.run();
  }

  private async run(): Promise<void> {
    this.busy = true;
    try {
      for (let wish = this.taken(); wish; wish = this.taken()) await this.deliver(wish);
    } finally {
      this.busy = false;
    }
  }

  private taken(): Wish | null {
    const wish = this.next;
    this.next = null;
    return wish;
  }

  private async deliver(wish: Wish): Promise<void> {
    try {
      const quick = this.errands.quick(wish, AbortSignal.timeout(PATIENCE));
      if (quick) this.listener.quick(wish, await quick);
      if (quick && this.next) return;
      const answer = await this.errands.judge(wish, AbortSignal.timeout(PATIENCE));
      this.listener.answered(wish, answer);
      if (answer.kind === "judged" && !answer.drawing && !this.next) this.settle = setTimeout(() => void this.draw(wish), this.errands.isLookedAt() ? SETTLE : REST);
    } catch (error) {
      if (error instanceof Refusal) return this.listener.answered(wish, { kind: "refused", problem: error.problem });
      if (!(error instanceof Silence)) throw error;
      this.listener.silent();
      this.next ??= wish;
      await pause(RETRY);
    }
  }

  private async draw(wish: Wish): Promise<void> {
    const giveUp = new AbortController();
    this.drawing = giveUp;
    try {
      const signal = AbortSignal.any([giveUp.signal, AbortSignal.timeout(PATIENCE)]);
      const answer = await this.errands.draw(wish, signal);
      if (!giveUp.signal.aborted) this.listener.answered(wish, answer);
    } catch (error) {
      if (!(error instanceof Silence)) throw error;
      if (giveUp.signal.aborted) return;
      this.listener.silent();
      this.settle = setTimeout(() => this.want(wish), RETRY);
    }
  }
}

function pause(ms: number): Promise<void> {
  return new Promise((done) => setTimeout(done, ms));
}

/** Ask for the verdict alone. */
export async function glimpse(wish: Wish, signal?: AbortSignal): Promise<Quick> {
  return (await post("v1/verdicts", bodyOf(wish.layout), "application/json", signal)) as Quick;
}

/** Ask for the report alone, without the joint mending. */
export function judge(wish: Wish, signal?: AbortSignal): Promise<Answer> {
  return asked(wish.layout, "v1/glances", (data) => ({ report: data as Report, drawing: null, blanks: null }), signal);
}

/** Ask for the report with the drawing. */
export function draw(wish: Wish, signal?: AbortSignal): Promise<Answer> {
  const read = (data: unknown): Judged => {
    const { report, drawing, to_fill } = data as { report: Report; drawing: Drawing; to_fill: Blank[] };
    return { report, drawing, blanks: to_fill };
  };
  return asked(wish.layout, "v1/views", read, signal);
}

/** Ask for the whole report: with how all plugs can pass together, which takes longer. */
export function check(layout: Layout): Promise<Answer> {
  return asked(layout, "v1/checks?parts=all", (data) => ({ report: data as Report, drawing: null, blanks: null }));
}

type Judged = Omit<Extract<Answer, { kind: "judged" }>, "kind">;

async function asked(
  layout: Layout,
  address: string,
  read: (data: unknown) => Judged,
  signal?: AbortSignal,
): Promise<Answer> {
  try {
    const data = await post(address, bodyOf(layout), "application/json", signal);
    return { kind: "judged", ...read(data) };
  } catch (error) {
    if (error instanceof Refusal) return { kind: "refused", problem: error.problem };
    throw error;
  }
}

/** The body of a request about a layout. The day is sent only where waivers need one. */
export function bodyOf(layout: Layout, more: Record<string, unknown> = {}): string {
  const day = layout.waivers?.length ? { on: today() } : {};
  return JSON.stringify({ layout, ...day, ...more });
}

function today(): string {
  const now = new Date();
  const two = (n: number): string => String(n).padStart(2, "0");
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}

/** Send a body and read JSON back. Throws Silence or Refusal. */
export async function post(address: string, body: BodyInit, type: string, signal?: AbortSignal): Promise<unknown> {
  const answer = await ask(address, { method: "POST", body, headers: { "Content-Type": type }, ...(signal ? { signal } : {}) });
  return parsed(answer);
}

export async function get(address: string): Promise<unknown> {
  return parsed(await ask(address, {}));
}

/** Ask for a file. Throws Silence or Refusal. */
export async function fetchFile(address: string, body: string): Promise<Blob> {
  const answer = await ask(address, { method: "POST", body, headers: { "Content-Type": "application/json" } });
  try {
    return await answer.blob();
  } catch {
    throw new Silence(); // cut off on the way
  }
}

/** Ask; again where a key was wanted and given, and where a busy service says when. */
async function ask(address: string, init: RequestInit): Promise<Response> {
  for (let tries = 1; ; ) {
    const key = currentKey();
    const answer = await fetched(address, init, key);
    if (answer.ok) return answer;
    if (answer.status === 401) {
      if (await anotherKey(key)) continue;
      throw new Refusal({ title: "A key is wanted", status: 401, detail: "This service asks for a key, and none was given. Load the page again to give one." });
    }
    const wait = Number(answer.headers.get("Retry-After"));
    if (!wait || tries === TRIES) throw new Refusal(await problemOf(answer));
    tries += 1;
    await pause(wait * 1000);
  }
}

async function fetched(address: string, init: RequestInit, key: string): Promise<Response> {
  const headers = { ...(init.headers as Record<string, string> | undefined), ...(key ? { Authorization: `Bearer ${key}` } : {}) };
  try {
    return await fetch(address, { ...init, headers, signal: init.signal ?? AbortSignal.timeout(PATIENCE) });
  } catch {
    throw new Silence();
  }
}

async function parsed(answer: Response): Promise<unknown> {
  try {
    return await answer.json();
  } catch {
    throw new Silence(); // cut off on the way
  }
}

async function problemOf(answer: Response): Promise<Problem> {
  const plain = { title: "The service refused", status: answer.status, detail: `It answered with status ${answer.status}.` };
  try {
    const data = (await answer.json()) as Partial<Problem>;
    return { ...plain, ...data };
  } catch {
    return plain;
  }
}

const manuals = new Map<string, Manual>();

export async function manual(rule: string): Promise<Manual> {
  const known = manuals.get(rule);
  if (known) return known;
  const found = (await get(`v1/rules/${encodeURIComponent(rule)}`)) as Manual;
  manuals.set(rule, found);
  return found;
}

interface Operation {
  parameters?: { name: string; schema?: { enum?: string[] } }[];
}

type Operations = Record<string, Record<string, Operation>>;
let described: Promise<Operations> | undefined;

/** The addresses that this service has, by its own description. */
export function addresses(): Promise<Operations> {
  described ??= get("openapi.json").then(
    (data) => (data as { paths: Operations }).paths,
    (error) => {
      described = undefined;
      throw error;
    },
  );
  return described;
}
