import { expect, test } from "vitest";
import { boxOf, placed } from "./labels";
import type { Label } from "./labels";

/** Plain and slow: each pair of what was placed. */
function overlaps(labels: Label[]): number {
  const boxes = placed(labels).map(({ key, place }) => {
    const own = labels.find((l) => l.key === key)!;
    return boxOf(own.text, own.size, place);
  });
  return boxes.flatMap((a, i) => boxes.slice(i + 1).filter((b) => a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3])).length;
}

test("labels that lie over one another are left out, the weightiest stay, none is made smaller", () => {
  let seed = 3;
  const roll = (n: number): number => ((seed = (seed * 1664525 + 1013904223) >>> 0) >>> 8) % n;
  const labels = Array.from({ length: 300 }, (_, i): Label => {
    const [x, y] = [roll(600), roll(400)];
    return { key: `${i}`, text: `P${i}`, size: 9 + roll(4), rank: i, places: [{ x, y, anchor: "start" }, { x, y: y + 14, anchor: "end" }] };
  });
  expect(overlaps(labels)).toBe(0);
  expect(placed(labels)[0]!.key).toBe("0");
  expect(placed(labels).length).toBeGreaterThan(60);
  expect(placed([...labels].reverse())).toEqual(placed(labels));
});
