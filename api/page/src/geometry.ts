/** Stations on drawn paths, and back. Drawing coordinates; stations in m. */

import type { At, Drawing, Point, ScreenPath } from "./types";

/** The point at a station. */
export function pointAt(path: ScreenPath, station: number): Point {
  const { points, stations } = path;
  const s = Math.min(Math.max(station, 0), path.length);
  for (let i = 1; i < points.length; i++) {
    const [low, high] = [stations[i - 1]!, stations[i]!];
    if (s <= high) {
      const share = high > low ? (s - low) / (high - low) : 0;
      return mix(points[i - 1]!, points[i]!, share);
    }
  }
  return points[points.length - 1]!;
}

/** The line between two stations, corners included. */
export function between(path: ScreenPath, start: number, end: number): Point[] {
  if (start > end) return between(path, end, start).reverse();
  const inner = path.points.filter((_, i) => path.stations[i]! > start && path.stations[i]! < end);
  return [pointAt(path, start), ...inner, pointAt(path, end)];
}

/** The station nearest to a point, and how far off the point lies. */
export function nearest(path: ScreenPath, at: Point): { station: number; off: number } {
  let best = { station: 0, off: Infinity };
  for (let i = 1; i < path.points.length; i++) {
    const [a, b] = [path.points[i - 1]!, path.points[i]!];
    const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
    const size = dx * dx + dy * dy;
    const share = size ? clamp(((at[0] - a[0]) * dx + (at[1] - a[1]) * dy) / size, 0, 1) : 0;
    const off = distance(mix(a, b, share), at);
    if (off < best.off) {
      const [low, high] = [path.stations[i - 1]!, path.stations[i]!];
      best = { station: low + share * (high - low), off };
    }
  }
  return best;
}

/** The line beside another, at a distance to the right of its direction. */
export function beside(line: Point[], offset: number): Point[] {
  const kept = line.filter((p, i) => i === 0 || distance(p, line[i - 1]!) > 1e-6);
  if (kept.length < 2) return kept;
  const normals = kept.slice(1).map((b, i): Point => {
    const a = kept[i]!;
    const size = distance(a, b);
    return [-(b[1] - a[1]) / size, (b[0] - a[0]) / size];
  });
  return kept.map(([x, y], i): Point => {
    const one = normals[Math.max(i - 1, 0)]!;
    const two = normals[Math.min(i, normals.length - 1)]!;
    const [nx, ny] = [one[0] + two[0], one[1] + two[1]];
    const size = (nx * nx + ny * ny) / 2;
    const factor = size > 0.3 ? offset / size : offset;
    return [x + nx * factor, y + ny * factor];
  });
}

/** The outline of a jacket between two stations. */
export function sleeve(path: ScreenPath, start: number, end: number, half: number): Point[] {
  const line = between(path, Math.max(start, 0), Math.min(end, path.length));
  return [...beside(line, half), ...beside(line, -half).reverse()];
}

/** Where a place of the report is drawn; null where it is on nothing drawn. */
export function placeOf(drawing: Drawing, at: At): Point | null {
  if (at.junction !== null) return drawing.junctions[at.junction] ?? null;
  const path = at.pipe === null ? undefined : drawing.paths[at.pipe];
  return path && at.station ? pointAt(path, at.station.value) : null;
}

/** The line of a way, place by place, along the pipes where the places are on one. */
export function wayLine(drawing: Drawing, way: At[], ends: Map<string, [string, string]>): Point[] {
  const line: Point[] = [];
  way.forEach((at, i) => {
    const before = way[i - 1];
    const step = before ? alongOnePipe(drawing, before, at, ends) : null;
    const point = placeOf(drawing, at);
    if (step) line.push(...step);
    else if (point) line.push(point);
  });
  return line;
}

function alongOnePipe(drawing: Drawing, a: At, b: At, ends: Map<string, [string, string]>): Point[] | null {
  const candidates = a.pipe ? [a.pipe] : b.pipe ? [b.pipe] : pipesBetween(a.junction, b.junction, ends);
  for (const pipe of candidates) {
    const path = drawing.paths[pipe];
    const [from, to] = [stationOn(path, pipe, a, ends), stationOn(path, pipe, b, ends)];
    if (path && from !== null && to !== null) return between(path, from, to);
  }
  return null;
}

function pipesBetween(a: string | null, b: string | null, ends: Map<string, [string, string]>): string[] {
  return [...ends].filter(([, [p, q]]) => (p === a && q === b) || (p === b && q === a)).map(([id]) => id);
}

function stationOn(path: ScreenPath | undefined, pipe: string, at: At, ends: Map<string, [string, string]>): number | null {
  if (!path) return null;
  if (at.pipe === pipe) return at.station?.value ?? null;
  const [from, to] = ends.get(pipe) ?? [];
  if (at.junction === null) return null;
  if (at.junction === from) return 0;
  return at.junction === to ? path.length : null;
}

export function distance(a: Point, b: Point): number {
  return Math.hypot(a[0] - b[0], a[1] - b[1]);
}

export function clamp(value: number, low: number, high: number): number {
  return Math.min(Math.max(value, low), high);
}

function mix(a: Point, b: Point, share: number): Point {
  return [a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share];
}
