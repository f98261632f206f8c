/**
 * What is due now, worked out from the plan and from all that was written down. No clock and no
 * screen in here: the same entries at the same moment give the same state, in whatever order and
 * however often they come.
 *
 * How real times move the schedule: an injection never begins before its time on the sheet, and
 * never before its wait is over since the last one ended; what is late makes what follows late. The
 * time to prove a plug by comes later then, never sooner. The time to give up and the end of the
 * hold stand still: coolant and air were worked out up to them. Once a pressure test stands in the log,
 * the jacket is topped up: first after the wait, then at the sheet's interval.
 */

import { correctionsOf } from "./clocks.ts";
import type { Doubt } from "./clocks.ts";
import { standing } from "./course.ts";
import type { Look, Standing } from "./course.ts";
import { merged, si } from "./entries.ts";
import type { Entry, Feed, Stamp } from "./entries.ts";
import type { Plan, PlanPlug, Step } from "./plan.ts";

/** An entry with its time by the corrected clock, ms. */
export type Told = Entry & { at: number };

/** A feeding as it was done, ms and kg; mass null where it was not weighed. */
export interface Fed {
  feed: Feed;
  number: number;
  began: number;
  ended: number | null;
  mass: number | null;
  planned: Step;
  n: number;
  by: string;
}

export type Doing = "begin" | "inject" | "wait" | "top up" | "topping" | "hold" | "give up" | "over";

/** One jacket now; times by the corrected clock, ms. */
export interface Jacket {
  plug: PlanPlug;
  doing: Doing;
  /** Until when, or since when it is late; null where nothing is timed. */
  until: number | null;
  feed: Feed;
  number: number;
  planned: Step;
  late: number; // ms past its time
  missed: boolean; // a top-up, by more than the log forgives
  shift: number; // ms later than the sheet
  expected: number | null;
  due: number | null;
  giveUp: number | null;
  ends: number | null;
  standing: Standing | null;
  proven: Told | null;
  tests: Told[];
  fed: Fed[];
  stop: "slow" | "drawn back" | null;
}

/** Coolant of one kind, kg; runsOut: ms, where it does before the hold ends. */
export interface Left {
  coolant: string;
  left: number;
  used: number;
  needed: number;
  unweighed: number;
  runsOut: number | null;
  last: boolean; // no more than one container
}

export interface Air {
  at: number;
  carbon_dioxide: number;
  oxygen: number;
  over: "carbon dioxide" | "too little oxygen" | "too much oxygen" | null;
}

export interface State {
  told: Told[]; // what stands, in order
  taken: Set<string>; // ids of what was taken back
  now: number;
  zero: number | null;
  zone: number;
  doubt: Doubt | null;
  jackets: Jacket[]; // the most urgent first
  stock: Left[];
  air: Air | null;
  opened: Told | null;
  closed: Told | null;
  out: Told | null;
  ends: number | null;
  ready: boolean; // every tick before the start stands
}

export function fold(plan: Plan, entries: readonly Entry[], stamp: Stamp): State {
  const all = merged(entries);
  const { of, now: correction, doubt } = correctionsOf(all);
  const taken = new Set(all.flatMap((e) => (e.kind === "retracted" ? [e.of] : [])));
  const told = all.filter((e) => !taken.has(e.id)).map((e) => ({ ...e, at: e.wall - of(e) }));
  const now = stamp.wall - correction;
  const zero = firstInjection(told);
  const start = told.find((e) => e.kind === "started");
  const opened = told.find((e) => e.kind === "opened") ?? null;
  const closed = told.find((e) => e.kind === "closed") ?? null;
  const jackets = plan.plugs.map((plug) => jacketOf(plan, plug, told, now, zero));
  const held = jackets.filter((j) => j.ends !== null).map((j) => j.ends!);
  return {
    told,
    taken,
    now,
    zero,
    zone: start?.kind === "started" ? start.zone : 0,
    doubt,
    jackets: [...jackets].sort((a, b) => compared(urgency(a, now), urgency(b, now))),
    stock: plan.stock.map((s) => leftOf(s, jackets.filter((j) => j.plug.coolant === s.coolant), now)),
    air: airOf(plan, told),
    opened,
    closed,
    out: lastOut(told),
    ends: held.length ? Math.min(...held) : null,
    ready: plan.before.every((g, group) => g.ticks.every((_, tick) => isTicked(told, "before", group, tick) !== null)),
  };
}

export function isTicked(told: readonly Told[], list: "before" | "order", group: number, tick: number): Told | null {
  return told.find((e) => e.kind === "tick" && e.list === list && e.group === group && e.tick === tick) ?? null;
}

function firstInjection(told: readonly Told[]): number | null {
  const times = told.filter((e) => e.kind === "began" && e.feed === "inject" && e.number === 1).map((e) => e.at);
  return times.length ? Math.min(...times) : null;
}

/** The planned feedings of one kind, and the wait after each injection, s. */
export function plannedOf(plug: PlanPlug, feed: Feed): Step[] {
  return plug.steps.filter((s) => (feed === "top-up" ? s.kind === "top-up" : s.kind === "inject" || s.kind === "inject further"));
}

/** The wait of the schedule, s: that after the first injection, since the last may be cut off. */
export function waitOf(plug: PlanPlug): number {
  return plug.steps.find((s) => s.kind === "wait" || s.kind === "wait further")?.duration ?? 0;
}

/** What is planned for a feeding; beyond the plan it goes on as it began, or as it ended. */
function stepOf(plug: PlanPlug, feed: Feed, number: number): Step {
  const steps = plannedOf(plug, feed);
  const known = steps[number - 1];
  if (known) return known;
  const like = feed === "inject" ? steps[0] : steps.at(-1);
  if (!like) return { start: plug.due, duration: 0, kind: "top-up", mass: 0 };
  const every = feed === "inject" ? like.duration + waitOf(plug) : plug.interval;
  return { ...like, start: steps.at(-1)!.start + (number - steps.length) * every, kind: feed === "inject" ? "inject further" : "top-up" };
}

function fedOf(plug: PlanPlug, told: readonly Told[]): Fed[] {
  const found = new Map<string, Fed>();
  for (const e of told) {
    if (e.kind !== "began" || e.plug !== plug.id) continue;
    found.set(`${e.feed} ${e.number}`, { feed: e.feed, number: e.number, began: e.at, ended: null, mass: null, planned: stepOf(plug, e.feed, e.number), n: e.n, by: e.by });
  }
  for (const e of told) {
    if ((e.kind !== "ended" && e.kind !== "mass") || e.plug !== plug.id) continue;
    const fed = found.get(`${e.feed} ${e.number}`);
    if (!fed || e.n < fed.n) continue; // of one that was taken back
    if (e.kind === "ended") fed.ended = Math.max(e.at, fed.began);
    else fed.mass = si(e.mass);
  }
  return [...found.values()].sort((a, b) => a.began - b.began || a.number - b.number);
}

function jacketOf(plan: Plan, plug: PlanPlug, told: readonly Told[], now: number, zero: number | null): Jacket {
  const fed = fedOf(plug, told);
  const tests = told.filter((e) => e.kind === "tested" && e.plug === plug.id);
  const proven = provenBy(tests);
  const stopped = told.find((e) => e.kind === "stopped" && e.plug === plug.id) ?? null;
  const found = standingOf(plan, plug, told, zero, proven?.at ?? null);
  const next = nextFor(plug, fed, { now, zero, proven, stopped });
  const clock = (seconds: number): number | null => (zero === null ? null : zero + seconds * 1000);
  const shift = zero === null ? 0 : shiftOf(fed, next, now, zero);
  const carried = found?.plug ? clock(found.plug[2]) : null;
  const due = clock(plug.due);
  const giveUp = clock(plug.give_up);
  const given = giveUp !== null && !proven && !stopped && now >= giveUp && next.doing !== "inject";
  const limit = next.until !== null && next.until + plan.limits.minute * 1000;
  return {
    plug,
    ...next,
    doing: given ? "give up" : next.doing,
    late: next.until === null ? 0 : Math.max(0, now - next.until),
    missed: next.doing === "top up" && limit !== false && now > limit,
    shift,
    expected: clock(plug.expected + shift / 1000),
    due: due === null ? null : Math.max(due + shift, carried ?? due),
    giveUp,
    ends: clock(plug.ends),
    standing: found,
    proven,
    tests,
    fed,
    stop: stopped || !found ? null : found.pace === "slower than the slow case" ? "slow" : found.pace === "frost drew back" ? "drawn back" : null,
  };
}

/** The test that counts: the first that passed since the last that did not. */
export function provenBy(tests: readonly Told[]): Told | null {
  const failed = tests.findLastIndex((e) => e.kind === "tested" && !e.passed);
  return tests.slice(failed + 1).find((e) => e.kind === "tested" && e.passed) ?? null;
}

type Next = Pick<Jacket, "doing" | "until" | "feed" | "number" | "planned">;

function nextFor(
  plug: PlanPlug,
  fed: readonly Fed[],
  { now, zero, proven, stopped }: { now: number; zero: number | null; proven: Told | null; stopped: Told | null },
): Next {
  const step = (feed: Feed, number: number, doing: Doing, until: number | null): Next => ({ doing, until, feed, number, planned: stepOf(plug, feed, number) });
  const open = fed.findLast((f) => f.ended === null);
  if (open) return step(open.feed, open.number, open.feed === "inject" ? "inject" : "topping", open.began + open.planned.duration * 1000);
  const injected = fed.filter((f) => f.feed === "inject");
  const tops = fed.filter((f) => f.feed === "top-up");
  const number = Math.max(0, ...injected.map((f) => f.number)) + 1;
  if (stopped) return step("top-up", tops.length + 1, "over", null);
  const last = injected.at(-1);
  if (!last || zero === null) return step("inject", number, "begin", zero);
  if (!proven) {
    const until = Math.max(zero + stepOf(plug, "inject", number).start * 1000, last.ended! + waitOf(plug) * 1000);
    return step("inject", number, now < until ? "wait" : "begin", until);
  }
  const top = Math.max(0, ...tops.map((f) => f.number)) + 1;
  const until = tops.length ? Math.max(...tops.map((f) => f.began)) + plug.interval * 1000 : last.ended! + waitOf(plug) * 1000;
  return step("top-up", top, now < until ? "hold" : "top up", until);
}

/** How much later than the sheet the injections are, ms. */
function shiftOf(fed: readonly Fed[], next: Next, now: number, zero: number): number {
  const injected = fed.filter((f) => f.feed === "inject");
  const at = (step: Step): number => zero + step.start * 1000;
  const last = injected.at(-1);
  const behind = last ? Math.max(0, last.began - at(last.planned), (last.ended ?? now) - at(last.planned) - last.planned.duration * 1000) : 0;
  if (next.feed !== "inject" || next.doing === "inject") return behind;
  return Math.max(behind, Math.max(now, next.until ?? now) - at(next.planned));
}

function standingOf(plan: Plan, plug: PlanPlug, told: readonly Told[], zero: number | null, proven: number | null): Standing | null {
  if (zero === null || plug.courses.length !== 3) return null;
  const looks = told.flatMap((e): Look[] => {
    if ((e.kind !== "frost" && e.kind !== "cold") || e.plug !== plug.id || (proven !== null && e.at > proven)) return [];
    const time = (e.at - zero) / 1000;
    return e.kind === "frost" ? [{ time, frost: narrower(e.widths), surface: null }] : [{ time, frost: null, surface: si(e.surface) }];
  });
  return standing(plug.courses, plug.plug, looks, plan.limits);
}

export function narrower(widths: readonly [Parameters<typeof si>[0], Parameters<typeof si>[0]]): number {
  return Math.min(si(widths[0]), si(widths[1]));
}

const compared = (a: number, b: number): number => (a === b ? 0 : a < b ? -1 : 1);

/** The smaller, the more urgent: what must be done now, by how late it is; then what comes soonest. */
function urgency(jacket: Jacket, now: number): number {
  if (jacket.doing === "over") return Infinity;
  if (jacket.doing === "give up" || jacket.stop) return -Infinity;
  if (jacket.until === null) return 0;
  return jacket.until - now;
}

function airOf(plan: Plan, told: readonly Told[]): Air | null {
  const last = told.findLast((e) => e.kind === "air");
  if (last?.kind !== "air") return null;
  const { carbon_dioxide, oxygen, at } = last;
  const { limits } = plan;
  const over =
    carbon_dioxide > limits.carbon_dioxide ? "carbon dioxide" : oxygen < limits.oxygen_least ? "too little oxygen" : oxygen > limits.oxygen_most ? "too much oxygen" : null;
  return { at, carbon_dioxide, oxygen, over };
}

/** That everybody left stands until the air is measured again, and fit. */
function lastOut(told: readonly Told[]): Told | null {
  return told.findLast((e) => e.kind === "out") ?? null;
}

/** What is left of a coolant by what was tapped, and until when it lasts by what is still planned. */
function leftOf(stock: { coolant: string; mass: number; container: number }, jackets: readonly Jacket[], now: number): Left {
  const fed = jackets.flatMap((j) => j.fed);
  // What was not weighed counts as planned; that it was not is told beside it.
  const used = fed.reduce((sum, f) => sum + (f.mass ?? f.planned.mass), 0);
  const left = stock.mass - used;
  const coming = jackets.flatMap((j) => comingTo(j, now)).sort((a, b) => a.at - b.at);
  let sum = 0;
  let runsOut: number | null = null;
  for (const feed of coming) {
    sum += feed.mass;
    if (runsOut === null && sum > left + 1e-9) runsOut = feed.at;
  }
  const unweighed = fed.filter((f) => f.mass === null).length;
  return { coolant: stock.coolant, left, used, needed: sum, unweighed, runsOut, last: left <= stock.container };
}

/** What a jacket still takes to the end of the hold, as planned: when (ms) and how much (kg). */
function comingTo(jacket: Jacket, now: number): { at: number; mass: number }[] {
  const { plug, ends, due } = jacket;
  if (jacket.doing === "over" || ends === null || due === null) return [];
  const found: { at: number; mass: number }[] = [];
  const begun = jacket.doing === "inject" || jacket.doing === "topping";
  let { number } = jacket;
  let at = Math.max(now, jacket.until ?? now);
  if (begun) {
    number += 1;
    at = jacket.feed === "inject" ? jacket.until! + waitOf(plug) * 1000 : (jacket.until ?? now) - jacket.planned.duration * 1000 + plug.interval * 1000;
  }
  let top = jacket.feed === "top-up" ? number : 1;
  if (jacket.feed === "inject") {
    for (; !jacket.proven && at < due; number += 1) {
      const step = stepOf(plug, "inject", number);
      found.push({ at, mass: step.mass });
      at += (step.duration + waitOf(plug)) * 1000;
    }
  }
  for (; at < ends; top += 1) {
    found.push({ at, mass: stepOf(plug, "top-up", top).mass });
    at += plug.interval * 1000;
  }
  return found;
}
