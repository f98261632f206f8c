/** Asking the service: one request in flight, the latest wishes win, no answer overwrites a newer one. */

import type { Layout } from "./layout";
import type { Drawing, Manual, Problem, Report } from "./types";

const PATIENCE = 90_000; // ms until an answer that does not come counts as silence
const RETRY = 1500; // ms between looks whether the service is back
const SETTLE = 250; // ms without a change until the drawing is made afresh

/** What was asked: a layout by its version; in motion only the report is wanted, not the drawing. */
export interface Wish {
  layout: Layout;
  version: number;
  moving: boolean;
}

export type Answer =
  | { kind: "judged"; report: Report; drawing: Drawing | null; took: number }
  | { kind: "refused"; problem: Problem };

/** The service can not be reached, or did not answer in time. */
export class Silence extends Error {}

/** The service answered that it could not do it. */
export class Refusal extends Error {
  constructor(readonly problem: Problem) {
    super(problem.detail);
  }
}

export interface Listener {
  asked(wish: Wish): void;
  answered(wish: Wish, answer: Answer): void;
  silent(): void;
}

/** Sends wishes one at a time. While one is on its way, only the newest that follows is kept. */
export class Courier {
  private next: Wish | null = null;
  private busy = false;
  private settle: ReturnType<typeof setTimeout> | undefined;

  constructor(
    private readonly send: (wish: Wish) => Promise<Answer>,
    private readonly listener: Listener,
    private readonly wait: (ms: number) => Promise<void> = pause,
  ) {}

  want(wish: Wish): void {
    clearTimeout(this.settle);
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
    this.listener.asked(wish);
    try {
      this.listener.answered(wish, await this.send(wish));
    } catch (error) {
      if (!(error instanceof Silence)) throw error;
      this.listener.silent();
      this.next ??= wish;
      await this.wait(RETRY);
      return;
    }
    if (wish.moving && !this.next) {
      this.settle = setTimeout(() => this.want({ ...wish, moving: false }), SETTLE);
    }
  }
}

function pause(ms: number): Promise<void> {
  return new Promise((done) => setTimeout(done, ms));
}

/** Judge a layout; at rest also draw it. The day is sent only where waivers need one. */
export async function judge(wish: Wish): Promise<Answer> {
  const body: Record<string, unknown> = { layout: wish.layout };
  if (wish.layout.waivers?.length) body["on"] = today();
  const start = performance.now();
  try {
    const data = await post(wish.moving ? "v1/checks" : "v1/views", JSON.stringify(body), "application/json");
    const took = performance.now() - start;
    if (wish.moving) return { kind: "judged", report: data as Report, drawing: null, took };
    const { report, drawing } = data as { report: Report; drawing: Drawing };
    return { kind: "judged", report, drawing, took };
  } catch (error) {
    if (error instanceof Refusal) return { kind: "refused", problem: error.problem };
    throw error;
  }
}

function today(): string {
  const now = new Date();
  const two = (n: number): string => String(n).padStart(2, "0");
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}

/** Send a body and read JSON back. Throws Silence or Refusal. */
export async function post(address: string, body: BodyInit, type: string): Promise<unknown> {
  const answer = await ask(address, { method: "POST", body, headers: { "Content-Type": type } });
  return parsed(answer);
}

export async function get(address: string): Promise<unknown> {
  return parsed(await ask(address, {}));
}

/** Ask for a file. Throws Silence or Refusal. */
export async function fetchFile(address: string, body: string, accept: string): Promise<Blob> {
  const headers = { "Content-Type": "application/json", Accept: accept };
  return (await ask(address, { method: "POST", body, headers })).blob();
}

async function ask(address: string, init: RequestInit): Promise<Response> {
  let answer: Response;
  try {
    answer = await fetch(address, { ...init, signal: AbortSignal.timeout(PATIENCE) });
  } catch {
    throw new Silence();
  }
  if (answer.ok) return answer;
  throw new Refusal(await problemOf(answer));
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

type Operations = Record<string, Record<string, { summary?: string; responses?: Record<string, { content?: Record<string, unknown> }> }>>;
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
