/**
 * Where a freeze stands on its courses. The same comparison as the library's, for a phone without a
 * network; a test holds the two together on every point that it can think of.
 */

import type { Course, Limits } from "./plan.ts";

export type Pace = "on course" | "slower than the slow case" | "frost drew back" | "not told by these signs";

/** What was seen: s from the first injection, m, K; null where it was not. */
export interface Look {
  time: number;
  frost: number | null;
  surface: number | null;
}

/** slowest: by when the slow case shows as much, s. plug: when it is due, carried on, s. */
export interface Standing {
  look: Look;
  pace: Pace;
  slowest: number;
  plug: [number, number, number] | null;
}

type Off = Pick<Limits, "frost_off" | "surface_off">;

export function standing(courses: readonly Course[], plug: readonly number[], looks: readonly Look[], off: Off): Standing | null {
  const told = looks.filter((x) => x.frost !== null || x.surface !== null).sort((a, b) => a.time - b.time);
  const last = told.at(-1);
  if (!last) return null;
  const slowest = slowestOf(courses, last, off);
  const widest = Math.max(0, ...told.map((x) => x.frost ?? 0));
  let pace: Pace = "on course";
  if (last.frost !== null && last.frost < widest - 2 * off.frost_off) pace = "frost drew back";
  else if (last.surface === null && isUntold(courses, last, off)) pace = "not told by these signs";
  if (last.time > slowest) pace = "slower than the slow case";
  return { look: last, pace, slowest, plug: carriedOn(courses, plug, last) };
}

/** Frost says nothing where the slow case never shows more than a tape is off by. */
function isUntold(courses: readonly Course[], look: Look, off: Off): boolean {
  const least = Math.min(...courses.map((c) => Math.max(...c.frost)));
  return look.frost !== null && look.frost <= off.frost_off && least <= off.frost_off;
}

function slowestOf(courses: readonly Course[], look: Look, off: Off): number {
  const found = [Infinity];
  const { frost, surface } = look;
  if (frost !== null) found.push(Math.max(...courses.map((c) => first(c.times, c.frost, frost + off.frost_off))));
  if (surface !== null) found.push(Math.max(...courses.map((c) => first(c.times, c.surface.map((t) => -t), -(surface - off.surface_off)))));
  return Math.min(...found);
}

/** Each case goes on at the pace of the look; of two signs the later counts. */
function carriedOn(courses: readonly Course[], plug: readonly number[], look: Look): [number, number, number] | null {
  const ends: number[] = [];
  for (const [index, course] of courses.entries()) {
    const times: number[] = [];
    if (look.frost) times.push(first(course.times, course.frost, look.frost));
    if (look.surface !== null) times.push(first(course.times, course.surface.map((t) => -t), -look.surface));
    const paces = times.filter((t) => t > 0 && t < Infinity).map((t) => look.time / t);
    if (!paces.length) return null;
    ends.push(Math.max(look.time, plug[index]! * Math.max(...paces)));
  }
  const ordered = [...ends].sort((a, b) => a - b);
  return [ordered[0]!, ordered[1]!, ordered.at(-1)!];
}

/** When a course first comes up to a level, in a straight line between its moments; else infinite. */
function first(times: readonly number[], values: readonly number[], level: number): number {
  let before: [number, number] | null = null;
  for (const [index, time] of times.entries()) {
    const value = values[index]!;
    if (value >= level) {
      if (!before || value === before[1]) return time;
      return before[0] + ((level - before[1]) / (value - before[1])) * (time - before[0]);
    }
    before = [time, value];
  }
  return Infinity;
}
