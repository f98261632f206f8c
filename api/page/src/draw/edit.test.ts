import { describe, expect, test } from "vitest";
import type { Item, Layout } from "../layout";
import type { Point } from "../types";
import { parseLength } from "../units";
import { CanNot, emptyLayout, endsAt, isBlank, withCap, withCut, withJunctionMoved, withName, withObstruction, withRun, withScale, withShifted, withThing, without } from "./edit";
import { lengthOf, lineOf, placeOf, snapped } from "./paths";

const riser = (): Layout => {
  let l = withRun(emptyLayout("A riser (invented)", "imperial"), [[0, 0], [0, 100]], { size: "2 in", length: "20 ft" }).layout;
  l = withThing(l, "source", [0, 0], 1).layout;
  return withRun(l, [[0, 40], [50, 40]], { size: "1 in", length: "8 ft" }).layout;
};

/** Every name that refers to something, with what it refers to: slow and plain. */
function dangling(l: Layout): string[] {
  const has = (list: string, id: unknown): boolean => ((l[list] ?? []) as Item[]).some((x) => x.id === id);
  const out: string[] = [];
  for (const p of l.pipes) for (const end of ["from", "to"]) if (!has("junctions", p[end])) out.push(`${p.id} ${end}`);
  for (const list of ["valves", "pumps", "equipment", "sources", "outlets", "fittings", "plugs"]) {
    for (const x of (l[list] ?? []) as Item[]) {
      if (x["junction"] !== undefined && !has("junctions", x["junction"])) out.push(`${x.id} junction`);
      if (x["pipe"] !== undefined && !has("pipes", x["pipe"])) out.push(`${x.id} pipe`);
    }
  }
  for (const w of l.work?.open ?? []) for (const [kind, id] of Object.entries(w)) if (!["start", "end"].includes(kind) && !has(`${kind}s`, id)) out.push(`work ${id}`);
  return out;
}

describe("pipe", () => {
  test("an empty sheet has nothing to judge, and a run makes its ends and corners", () => {
    const empty = emptyLayout("x", "metric");
    expect(isBlank(empty)).toBe(true);
    const { layout, pipes } = withRun(empty, [[0, 0], [0, 50], [30, 50], [30, 80]]);
    expect(pipes).toEqual(["P1"]);
    expect(layout.pipes[0]).toEqual({ id: "P1", from: "J1", to: "J2", via: [[0, 50], [30, 50]] });
    expect(layout.junctions.map((j) => j["at"])).toEqual([[0, 0], [30, 80]]);
    expect(empty.pipes).toEqual([]); // an edit changes no document
  });

  test("a run that begins on a pipe cuts it there and makes a tee by itself", () => {
    // 20 ft of riser cut at 40 of 100 drawn units: 8 ft and 12 ft.
    const l = riser();
    expect(l.pipes.map((p) => [p.id, p["from"], p["to"], p["length"]])).toEqual([
      ["P1", "J1", "J3", "8 ft"],
      ["P2", "J3", "J2", "12 ft"],
      ["P3", "J3", "J4", "8 ft"],
    ]);
    expect(l.junctions.find((j) => j.id === "J3")!["fitting"]).toBe("tee");
    expect(endsAt(l, "J3")).toBe(3);
  });

  test("a run across a pipe joins it where it is pointed at: four ends make a cross", () => {
    const l = withRun(emptyLayout("x", "imperial"), [[0, 0], [0, 100]]).layout;
    const crossed = withRun(l, [[-50, 50], [0, 50], [50, 50]]).layout;
    expect(crossed.pipes).toHaveLength(4);
    expect(crossed.junctions.filter((j) => j["fitting"] === "cross")).toHaveLength(1);
    const bridged = withRun(l, [[-50, 50], [50, 50]]).layout; // only drawn over it
    expect(bridged.pipes).toHaveLength(2);
  });

  test("a ring gets a joint on its way, since a pipe runs between two", () => {
    const l = withRun(emptyLayout("x", "imperial"), [[0, 0], [40, 0], [40, 40], [0, 40], [0, 0]]).layout;
    expect(l.pipes).toHaveLength(2);
    expect(l.pipes.every((p) => p["from"] !== p["to"])).toBe(true);
    expect(() => withRun(emptyLayout("x", "imperial"), [[0, 0], [0, 0]])).toThrow(CanNot);
  });

  test("a cut keeps what stands on the pipe at its place", () => {
    // By hand: P2 runs from 8 ft to 20 ft of the riser; a valve at 9 ft of 12 ft stays 9 - 6 = 3 ft past the cut at half.
    let l = withThing(riser(), "valve", [0, 85], 1).layout;
    expect(l.valves).toEqual([{ id: "V1", pipe: "P2", station: "9 ft" }]);
    const before = placeOf(l, l.valves![0]!)!.at;
    l = withCut(l, "P2", [0, 70]).layout;
    expect(l.valves![0]).toMatchObject({ pipe: "P4", station: "3 ft" });
    expect(placeOf(l, l.valves![0]!)!.at[1]).toBeCloseTo(before[1], 9);
  });

  test("where no length is stated, what stands on the pipe forbids a cut, and no place tells a station", () => {
    const l = withRun(emptyLayout("x", "imperial"), [[0, 0], [0, 100]]).layout;
    expect(() => withThing(l, "valve", [0, 50], 1)).toThrow(/State the length/);
    const typed = { ...l, valves: [{ id: "V1", pipe: "P1", station: "3 ft" }] };
    expect(() => withCut(typed, "P1", [0, 50])).toThrow(/State the length/);
    expect(withCut(l, "P1", [0, 50]).layout.pipes.map((p) => p["length"])).toEqual([undefined, undefined]);
  });

  test("typed length rules over drawn length; a scale measures what is not typed", () => {
    // 100 units at 3 in a unit are 300 in = 25 ft.
    const l = withScale(withRun(emptyLayout("x", "imperial"), [[0, 0], [0, 100]]).layout, 0.3048 * 10, [[0, 0], [0, 40]]);
    expect(lengthOf(l, l.pipes[0]!)).toBeCloseTo(25 * 0.3048, 9);
    expect(lengthOf(l, { ...l.pipes[0]!, length: "7 ft" })).toBeCloseTo(7 * 0.3048, 9);
  });
});

describe("things", () => {
  test("a source may stand free and gets its pipe later", () => {
    const l = withThing(emptyLayout("x", "imperial"), "source", [0, 0], 5).layout;
    expect(l.junctions).toHaveLength(1);
    const piped = withRun(l, [[0, 0], [0, 60]]).layout;
    expect(piped.pipes[0]!["from"]).toBe(l.sources![0]!["junction"]);
  });

  test("a cap ends a pipe, goes when the pipe goes on, and stands at no joint", () => {
    const l = withCap(riser(), [50, 40], 1).layout;
    expect(l.junctions.find((j) => j.id === "J4")!["fitting"]).toBe("cap");
    const on = withRun(l, [[50, 40], [80, 40]]).layout;
    expect(on.junctions.find((j) => j.id === "J4")!["fitting"]).toBeUndefined();
    expect(() => withCap(l, [0, 40], 1)).toThrow(CanNot);
    expect(() => withCap(l, [0, 0], 1)).toThrow(/S1 ends/);
  });

  test("what stands in pipe does so even where a wide finger meets the joint, too", () => {
    const l = withThing(riser(), "plug", [45, 40], 12).layout;
    expect(l.plugs![0]).toMatchObject({ pipe: "P3", station: "7 ft 2 in" }); // 45 / 50 of 8 ft = 7.2 ft, to the inch
    expect(withThing(riser(), "valve", [45, 40], 12).layout.valves![0]!["pipe"]).toBe("P3");
    expect(withThing(riser(), "valve", [48, 40], 12).layout.valves![0]!["junction"]).toBe("J4");
  });

  test("an obstruction is an outline", () => {
    const l = withObstruction(riser(), [[0, 0], [10, 0], [10, 10]]).layout;
    expect(l.site!["obstructions"]).toEqual([{ id: "B1", outline: [[0, 0], [10, 0], [10, 10]] }]);
    expect(without(l, "obstruction", "B1").site).toEqual({});
  });
});

describe("moving, naming, taking away", () => {
  test("an end dropped on a pipe joins it with a tee; on a joint it becomes one with it", () => {
    let l = withRun(riser(), [[50, 90], [90, 90]], { size: "1 in" }).layout;
    l = withJunctionMoved(l, "J5", [0, 80], 2);
    const joined = l.pipes.find((p) => p.id === "P4")!;
    expect(l.junctions.find((j) => j.id === joined["from"])!["fitting"]).toBe("tee");
    expect(dangling(l)).toEqual([]);
    const onto = withJunctionMoved(withRun(riser(), [[50, 90], [90, 90]]).layout, "J5", [50, 40], 2);
    expect(onto.pipes.find((p) => p.id === "P4")!["from"]).toBe("J4");
    expect(() => withJunctionMoved(riser(), "J4", [0, 40], 2)).toThrow(/take it away first/);
  });

  test("a pipe moves with its ends and corners, and what joins them follows", () => {
    const l = withShifted(riser(), "pipe", "P3", [10, -20]);
    expect(lineOf(l, l.pipes.find((p) => p.id === "P3")!)).toEqual([[10, 20], [60, 20]]);
    expect(lineOf(l, l.pipes.find((p) => p.id === "P1")!)).toEqual([[0, 0], [10, 20]]);
    const bent = withRun(emptyLayout("x", "imperial"), [[0, 0], [0, 50], [30, 50]]).layout;
    expect(lineOf(withShifted(bent, "pipe", "P1", [5, 5]), withShifted(bent, "pipe", "P1", [5, 5]).pipes[0]!)).toEqual([[5, 5], [5, 55], [35, 55]]);
    const solid = withObstruction(riser(), [[0, 0], [10, 0], [10, 10]]).layout;
    expect(withShifted(solid, "obstruction", "B1", [1, 2]).site!["obstructions"]).toEqual([{ id: "B1", outline: [[1, 2], [11, 2], [11, 12]] }]);
  });

  test("a name is changed everywhere it is referred to", () => {
    let l: Layout = { ...withThing(riser(), "valve", [25, 40], 1).layout, work: { open: [{ valve: "V1" }, { junction: "J3" }, { pipe: "P3", start: "1 ft", end: "2 ft" }], duration: "2 h" } };
    for (const [kind, id, to] of [["valve", "V1", "V-9"], ["junction", "J3", "T"], ["pipe", "P3", "branch"]] as const) l = withName(l, kind, id, to);
    expect(dangling(l)).toEqual([]);
    expect(l.work!.open).toEqual([{ valve: "V-9" }, { junction: "T" }, { pipe: "branch", start: "1 ft", end: "2 ft" }]);
    expect(() => withName(l, "pipe", "branch", "P1")).toThrow(CanNot);
  });

  test("a pipe goes with what stands on it; the tee it leaves is none any more, and can be closed up", () => {
    let l = withThing(riser(), "valve", [25, 40], 1).layout;
    l = { ...l, work: { open: [{ valve: "V1" }], duration: "2 h" } };
    const bare = without(l, "pipe", "P3");
    expect(dangling(bare)).toEqual([]);
    expect(bare.valves).toBeUndefined();
    expect(bare.work).toBeUndefined();
    expect(bare.junctions.map((j) => j.id)).toEqual(["J1", "J2", "J3"]);
    expect(bare.junctions[2]!["fitting"]).toBeUndefined();
    const closed = without(bare, "junction", "J3");
    expect(closed.pipes).toEqual([{ id: "P1", from: "J1", to: "J2", size: "2 in", length: "20 ft", via: [[0, 40]] }]);
  });

  test("any order of edits leaves no loose end of a name, and what is cut keeps its length", () => {
    // A plain generator of numbers, so that the run is the same each time (Numerical Recipes, ranqd1; from memory).
    let seed = 7;
    const roll = (n: number): number => ((seed = (seed * 1664525 + 1013904223) >>> 0) >>> 8) % n;
    const at = (): Point => [roll(12) * 10, roll(12) * 10];
    let l = emptyLayout("x", "imperial");
    let done = 0;
    for (let step = 0; step < 600; step++) {
      const before = JSON.stringify(l);
      const lists = ["pipe", "junction", "valve", "outlet", "source"].flatMap((kind) => ((l[`${kind}s`] ?? []) as Item[]).map((x) => [kind, x.id] as const));
      const one = lists[roll(Math.max(lists.length, 1))];
      try {
        const next = [
          () => withRun(l, [at(), at(), at()], { length: `${1 + roll(40)} ft` }).layout,
          () => withThing(l, (["source", "outlet", "valve", "pump", "plug"] as const)[roll(5)]!, at(), 3).layout,
          () => (one ? without(l, one[0], one[1]) : l),
          () => (l.junctions.length ? withJunctionMoved(l, l.junctions[roll(l.junctions.length)]!.id, at(), 3) : l),
          () => (one ? withName(l, one[0], one[1], `N${step}`) : l),
          () => withCap(l, at(), 3).layout,
        ][roll(6)]!();
        expect(JSON.stringify(l)).toBe(before);
        l = next;
        done++;
      } catch (error) {
        if (!(error instanceof CanNot)) throw error;
      }
      expect(dangling(l)).toEqual([]);
      expect(l.pipes.every((p) => p["from"] !== p["to"])).toBe(true);
      const ids = l.junctions.map((j) => j.id);
      expect(new Set(ids).size).toBe(ids.length);
      for (const j of l.junctions) {
        const n = endsAt(l, j.id);
        expect(["tee", "cross"].includes(String(j["fitting"]))).toBe(n > 2);
      }
    }
    expect(done).toBeGreaterThan(300);
    for (const p of l.pipes) {
      const line = lineOf(l, p)!;
      const mid = placeOf({ ...l, valves: [] }, { id: "x", pipe: p.id, station: p["length"] as string })!.at;
      expect(mid[0]).toBeCloseTo(line.at(-1)![0], 6);
      const whole = lengthOf(l, p)!;
      const cut = withCut(l, p.id, placeOf(l, { id: "x", pipe: p.id, station: `${(whole / 0.3048 / 2).toFixed(6)} ft` })!.at).layout;
      const parts = cut.pipes.filter((q) => !l.pipes.includes(q)).map((q) => parseLength(q["length"] as string)!);
      expect(Math.abs(parts.reduce((a, b) => a + b, 0) - whole)).toBeLessThan(0.0254 / 16); // two readings to a sixteenth
    }
  });
});

test("a pointer snaps to ends, then to pipe, then to the grid", () => {
  const l = riser();
  expect(snapped(l, [2, 99], 5, 10)).toMatchObject({ junction: "J2" });
  expect(snapped(l, [1.5, 72], 5, 10)).toMatchObject({ pipe: "P2", at: [0, 70] });
  expect(snapped(l, [33, 78], 5, 10)).toEqual({ at: [30, 80] });
});
