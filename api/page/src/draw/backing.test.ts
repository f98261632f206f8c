import { expect, test } from "vitest";
import { firstPlace, fitted, moved, onPicture, onSheet } from "./backing";
import type { Point } from "../types";

const place = { ...firstPlace(800, 600, [0, 0, 400, 400]), turn: 17 };

test("a point of the sheet and its pixel lead to each other", () => {
  for (const at of [[0, 0], [13, -7], [400, 220]] as Point[]) {
    const back = onSheet(place, onPicture(place, at));
    expect(back[0]).toBeCloseTo(at[0], 9);
    expect(back[1]).toBeCloseTo(at[1], 9);
  }
  expect(firstPlace(800, 600, [0, 0, 400, 400]).unit).toBe(0.5); // 400 units over 800 px
});

test("two points and a distance scale it about the first, and level it where asked", () => {
  const [a, b]: [Point, Point] = [[50, 50], [130, 60]];
  const pixels = [a, b].map((p) => onPicture(place, p));
  const next = fitted(place, [a, b], 300, true);
  const [a2, b2] = pixels.map((p) => onSheet(next, p));
  expect(a2![0]).toBeCloseTo(50, 9);
  expect(a2![1]).toBeCloseTo(50, 9);
  expect(Math.hypot(b2![0] - a2![0], b2![1] - a2![1])).toBeCloseTo(300, 9);
  expect(b2![1]).toBeCloseTo(a2![1], 9); // nearly level before, level now
  expect(fitted(place, [a, a], 300)).toBe(place);
});

test("it moves with the hand", () => {
  expect(moved(place, [1, 1], [4, -1]).at).toEqual([place.at[0] + 3, place.at[1] - 2]);
});
