/** Where things lie on the sheet, in the document's own drawing units. Pure. */

import type { Item, Json, Layout } from "../layout";
import type { Point } from "../types";
import { parseLength } from "../units";

/** What a sheet's point lies on: a junction, a pipe at a share of its drawn length, or neither. */
export type Spot = { at: Point; junction?: string; pipe?: string; share?: number };

export const INCHES = 0.0254;

export function pointOf(value: Json | undefined): Point | null {
  const at = Array.isArray(value) ? value : value && typeof value === "object" ? value["at"] : undefined;
  if (!Array.isArray(at) || typeof at[0] !== "number" || typeof at[1] !== "number") return null;
  return [at[0], at[1]];
}

export function junctionAt(layout: Layout, id: unknown): Point | null {
  return pointOf(layout.junctions.find((j) => j.id === id)?.["at"]);
}

/** A pipe's line with its corners; null where an end has no position. */
export function lineOf(layout: Layout, pipe: Item): Point[] | null {
  const [from, to] = [junctionAt(layout, pipe["from"]), junctionAt(layout, pipe["to"])];
  if (!from || !to) return null;
  const via = Array.isArray(pipe["via"]) ? pipe["via"].map(pointOf) : [];
  return [from, ...via.filter((p) => p !== null), to];
}

export function away(a: Point, b: Point): number {
  return Math.hypot(a[0] - b[0], a[1] - b[1]);
}

export function drawn(line: Point[]): number {
  return line.slice(1).reduce((sum, p, i) => sum + away(line[i]!, p), 0);
}

/** The point at a share of a line, and the direction of the line there, in degrees. */
export function along(line: Point[], share: number): { at: Point; angle: number } {
  let left = Math.min(Math.max(share, 0), 1) * drawn(line);
  for (let i = 1; i < line.length; i++) {
    const [a, b] = [line[i - 1]!, line[i]!];
    const step = away(a, b);
    if (step > 0 && (left <= step || i === line.length - 1)) {
      const part = Math.min(left / step, 1);
      const at: Point = [a[0] + (b[0] - a[0]) * part, a[1] + (b[1] - a[1]) * part];
      return { at, angle: (Math.atan2(b[1] - a[1], b[0] - a[0]) * 180) / Math.PI };
    }
    left -= step;
  }
  return { at: line[0]!, angle: 0 };
}

/** The place on a line that lies nearest: how far off, at which share, in which leg. */
export function nearestOn(line: Point[], to: Point): { off: number; share: number; leg: number; at: Point } {
  const whole = drawn(line) || 1;
  let best = { off: away(line[0]!, to), share: 0, leg: 0, at: line[0]! };
  let before = 0;
  for (let i = 1; i < line.length; i++) {
    const [a, b] = [line[i - 1]!, line[i]!];
    const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
    const size = dx * dx + dy * dy;
    const part = size ? Math.min(Math.max(((to[0] - a[0]) * dx + (to[1] - a[1]) * dy) / size, 0), 1) : 0;
    const at: Point = [a[0] + dx * part, a[1] + dy * part];
    const off = away(at, to);
    if (off < best.off) best = { off, share: (before + part * Math.sqrt(size)) / whole, leg: i - 1, at };
    before += Math.sqrt(size);
  }
  return best;
}

/** What lies within reach of a point: a junction (within a reach of its own) before a pipe. */
export function spotAt(layout: Layout, at: Point, reach: number, joints = reach): Spot {
  const near = layout.junctions
    .flatMap((j) => {
      const point = pointOf(j["at"]);
      return point ? [{ id: j.id, point, off: away(point, at) }] : [];
    })
    .sort((a, b) => a.off - b.off)[0];
  if (near && near.off <= joints) return { at: near.point, junction: near.id };
  const pipes = layout.pipes.flatMap((p) => {
    const line = lineOf(layout, p);
    return line ? [{ id: p.id, ...nearestOn(line, at) }] : [];
  });
  const pipe = pipes.sort((a, b) => a.off - b.off)[0];
  if (pipe && pipe.off <= reach) return { at: pipe.at, pipe: pipe.id, share: pipe.share };
  return { at };
}

/** Snap to a junction, to a pipe (at a crossing of the grid where the pipe has one near), else to the grid. */
export function snapped(layout: Layout, at: Point, reach: number, pitch: number): Spot {
  const even: Point = [Math.round(at[0] / pitch) * pitch, Math.round(at[1] / pitch) * pitch];
  const corner = spotAt(layout, even, pitch * 1e-3);
  if (corner.junction && away(even, at) <= 2 * reach) return corner; // the hand means the crossing that it is nearest to
  const spot = spotAt(layout, at, reach);
  if (spot.junction) return spot;
  if (!spot.pipe) return { at: even };
  const onGrid = spotAt(layout, even, pitch * 1e-3);
  return onGrid.pipe === spot.pipe && away(even, at) <= reach * 1.5 ? onGrid : spot;
}

/** Real metres of one drawing unit; null for a sheet that is not to scale. */
export function scaleOf(layout: Layout): number | null {
  const drawing = layout["drawing"] as { scale?: unknown } | undefined;
  return typeof drawing?.scale === "string" ? parseLength(drawing.scale) : null;
}

/** A pipe's developed length, m: as typed, else measured on a sheet to scale; null where neither tells. */
export function lengthOf(layout: Layout, pipe: Item): number | null {
  if (typeof pipe["length"] === "string") return parseLength(pipe["length"]);
  const [scale, line] = [scaleOf(layout), lineOf(layout, pipe)];
  if (scale === null || !line) return null;
  const heights = [pipe["from"], pipe["to"]].map((id) => heightOf(layout.junctions.find((j) => j.id === id)));
  const rise = heights.every((h) => h !== null) ? Math.abs(heights[1]! - heights[0]!) : 0;
  const flat = drawn(line) * scale;
  const isPlan = (layout["drawing"] as { kind?: string } | undefined)?.kind === "plan";
  return isPlan ? Math.hypot(flat, rise) : Math.max(flat, rise);
}

/** A junction's height, m; null where it is not stated or not ours to read. */
export function heightOf(junction: Item | undefined): number | null {
  const text = junction?.["elevation"];
  if (typeof text !== "string") return null;
  const below = /^\s*[-−]/.test(text);
  const size = parseLength(text.replace(/^\s*[-−+]\s*/, ""));
  return size === null ? null : below ? -size : size;
}

const ON_PIPES = ["valves", "pumps", "equipment", "fittings", "plugs"] as const;

/** The share of its pipe at which something stands. Where no length is known it is only a sketch's place. */
export function shareOf(layout: Layout, pipe: Item, station: unknown): number {
  const at = typeof station === "string" ? (parseLength(station) ?? 0) : 0;
  const length = lengthOf(layout, pipe);
  if (length) return at / length;
  const all = ON_PIPES.flatMap((list) => (layout[list] ?? []).filter((x) => x["pipe"] === pipe.id));
  const farthest = Math.max(...all.map((x) => (typeof x["station"] === "string" ? (parseLength(x["station"]) ?? 0) : 0)), at);
  return farthest > 0 ? (at / farthest) * 0.75 : 0.5;
}

/** Where something stands on the sheet, and how its pipe runs there; null where that is not drawn. */
export function placeOf(layout: Layout, item: Item): { at: Point; angle: number } | null {
  if (typeof item["pipe"] === "string") {
    const pipe = layout.pipes.find((p) => p.id === item["pipe"]);
    const line = pipe && lineOf(layout, pipe);
    return pipe && line ? along(line, shareOf(layout, pipe, item["station"])) : null;
  }
  const point = pointOf(item["point"]);
  if (point) return { at: point, angle: 0 };
  const at = junctionAt(layout, item["junction"]);
  return at && { at, angle: awayFromPipe(layout, String(item["junction"])) };
}

/** The direction that leads from a junction's one pipe outward; along the pipe where there are more. */
function awayFromPipe(layout: Layout, junction: string): number {
  for (const pipe of layout.pipes) {
    const line = lineOf(layout, pipe);
    if (!line) continue;
    const ends = pipe["from"] === junction ? line : pipe["to"] === junction ? [...line].reverse() : null;
    if (ends) return (Math.atan2(ends[0]![1] - ends[1]![1], ends[0]![0] - ends[1]![0]) * 180) / Math.PI;
  }
  return 0;
}

/** The box round all that is drawn; null where nothing is. */
export function extentOf(layout: Layout): [number, number, number, number] | null {
  const points = [...layout.junctions.map((j) => pointOf(j["at"])), ...layout.pipes.flatMap((p) => lineOf(layout, p) ?? [])];
  const all = points.filter((p) => p !== null);
  if (!all.length) return null;
  const [xs, ys] = [all.map((p) => p[0]), all.map((p) => p[1])];
  return [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)];
}

/** A grid that suits a sheet: 1, 2 or 5 times a power of ten, about a fortieth of its extent. */
export function pitchOf(layout: Layout): number {
  const box = extentOf(layout);
  const side = box ? Math.max(box[2] - box[0], box[3] - box[1]) : 0;
  if (side <= 0) return 10;
  const rough = side / 40;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].find((n) => n * power >= rough)! * power;
  return side <= 800 ? Math.min(step, 10) : step;
}
