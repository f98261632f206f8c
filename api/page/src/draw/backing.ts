/** A picture under the sheet: where it lies, and moving, turning, scaling it. Pure. */

import type { Point } from "../types";

/**
 * A picture's place. at: its middle, in drawing units; unit: drawing units of one of its pixels;
 * turn: degrees, counterclockwise; fade: 0 (not seen) to 1.
 */
export interface Place {
  width: number;
  height: number; // px of the picture
  at: Point;
  unit: number;
  turn: number;
  fade: number;
}

/** A first place: the picture fills a box of the sheet. */
export function firstPlace(width: number, height: number, [left, bottom, right, top]: [number, number, number, number]): Place {
  const unit = Math.min((right - left) / width, (top - bottom) / height);
  return { width, height, at: [(left + right) / 2, (bottom + top) / 2], unit, turn: 0, fade: 0.5 };
}

export function moved(place: Place, from: Point, to: Point): Place {
  return { ...place, at: [place.at[0] + to[0] - from[0], place.at[1] + to[1] - from[1]] };
}

/** Where a point of the sheet lies on the picture, px from its top left corner. */
export function onPicture(place: Place, [x, y]: Point): Point {
  const turn = (-place.turn * Math.PI) / 180;
  const [dx, dy] = [x - place.at[0], y - place.at[1]];
  const [u, v] = [dx * Math.cos(turn) - dy * Math.sin(turn), dx * Math.sin(turn) + dy * Math.cos(turn)];
  return [u / place.unit + place.width / 2, place.height / 2 - v / place.unit];
}

/** Where a pixel of the picture lies on the sheet. */
export function onSheet(place: Place, [px, py]: Point): Point {
  const turn = (place.turn * Math.PI) / 180;
  const [u, v] = [(px - place.width / 2) * place.unit, (place.height / 2 - py) * place.unit];
  return [place.at[0] + u * Math.cos(turn) - v * Math.sin(turn), place.at[1] + u * Math.sin(turn) + v * Math.cos(turn)];
}

/** Scale (and, where level is asked for, turn) a picture about the first of two points of the sheet. */
export function fitted(place: Place, [a, b]: [Point, Point], units: number, level = false): Place {
  const span = Math.hypot(b[0] - a[0], b[1] - a[1]);
  if (span <= 0 || units <= 0) return place;
  const pixel = onPicture(place, a);
  const slope = (Math.atan2(b[1] - a[1], b[0] - a[0]) * 180) / Math.PI;
  const quarter = Math.round(slope / 90) * 90;
  const next = { ...place, unit: (place.unit * units) / span, turn: level ? place.turn - (slope - quarter) : place.turn };
  return moved(next, onSheet(next, pixel), a);
}

const IS = (n: unknown): n is number => typeof n === "number" && Number.isFinite(n);

/** Tell whether data is a place that can be drawn. */
export function isPlace(data: unknown): data is Place {
  const p = data as Place | null;
  return typeof p === "object" && p !== null && [p.width, p.height, p.unit, p.turn, p.fade].every(IS) && Array.isArray(p.at) && p.at.every(IS) && p.unit > 0 && p.width > 0 && p.height > 0;
}
