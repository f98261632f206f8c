/** Looking at a drawing: where it lies on the screen, and how near. Pure. */

import { clamp, distance } from "./geometry";
import type { Point } from "./types";

export interface Camera {
  k: number;
  x: number;
  y: number;
}

export interface Size {
  width: number;
  height: number;
}

/** How near and how far a look may go. */
export interface Reach {
  least: number;
  most: number;
}

const OF_A_DRAWING: Reach = { least: 0.04, most: 8 };
const CLOSEST_FIRST = 1.6; // no first look is nearer

export function framed([left, top, right, bottom]: [number, number, number, number], size: Size, closest = CLOSEST_FIRST, least = OF_A_DRAWING.least): Camera {
  const k = clamp(Math.min(size.width / (right - left), size.height / (bottom - top)), least, closest);
  return { k, x: size.width / 2 - ((left + right) / 2) * k, y: size.height / 2 - ((top + bottom) / 2) * k };
}

export function zoomed(camera: Camera, factor: number, [px, py]: Point, reach: Reach = OF_A_DRAWING): Camera {
  const k = clamp(camera.k * factor, reach.least, reach.most);
  const real = k / camera.k;
  return { k, x: px - (px - camera.x) * real, y: py - (py - camera.y) * real };
}

export function isSeen([x, y]: Point, camera: Camera, size: Size): boolean {
  const [sx, sy] = [x * camera.k + camera.x, y * camera.k + camera.y];
  return sx > 10 && sy > 10 && sx < size.width - 10 && sy < size.height - 10;
}

export function centred(points: Point[], camera: Camera, size: Size): Camera {
  const k = Math.max(camera.k, 0.8);
  const [x, y] = points[0]!;
  return { k, x: size.width / 2 - x * k, y: size.height / 2 - y * k };
}

/** Two fingers: one moved from before to now. */
export function pinched(camera: Camera, pointers: Map<number, Point>, moved: number, before: Point, now: Point, reach: Reach = OF_A_DRAWING): Camera {
  const other = [...pointers].find(([id]) => id !== moved)![1];
  const factor = distance(now, other) / Math.max(distance(before, other), 1);
  const middle: Point = [(now[0] + other[0]) / 2, (now[1] + other[1]) / 2];
  const next = zoomed(camera, factor, middle, reach);
  return { ...next, x: next.x + (now[0] - before[0]) / 2, y: next.y + (now[1] - before[1]) / 2 };
}
