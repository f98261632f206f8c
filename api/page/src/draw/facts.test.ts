import { expect, test } from "vitest";
import type { Layout } from "../layout";
import type { Blank, Finding } from "../types";
import { withRun, withThing, emptyLayout } from "./edit";
import { linksOf, siteField } from "./facts";

const layout = (): Layout => withThing(withRun(withRun(emptyLayout("x", "imperial"), [[0, 0], [0, 50]], { length: "9 ft" }).layout, [[0, 50], [50, 50]], { length: "9 ft" }).layout, "plug", [25, 50], 1).layout;

const finding = (change: Partial<Finding>): Finding => ({
  id: "f", rule: "a-rule", severity: "violation", gravity: "life", subject: { kind: "plug", id: "A" }, outcome: "undecided", reason: "r", says: "s",
  measured: null, required: null, where: null, way: [], concerns: [], missing: ["something"], assumed: [], todo: "", changes: [], waiver: null, ...change,
});
const blank = (field: string, elements: string[]): Blank => ({ what: field, rules: ["a-rule"], elements, example: "", field });

test("a fact of the site leads to the site, a fact of many to those that the finding is about", () => {
  const links = linksOf(finding({}), [blank("site.clear_space", ["P1"]), blank("pipes.*.size", ["P1", "P2"]), blank("junctions.*.elevation", ["J1", "J2", "J3"])], layout());
  expect(links.map((l) => [l.picked?.id ?? null, l.field])).toEqual([[null, "site.clear_space"], ["P2", "size"], ["J2", "elevation"], ["J3", "elevation"]]);
});

test("another rule's blanks lead nowhere; a change leads to what is changed; else the things themselves do", () => {
  const other = { ...blank("pipes.*.size", ["P1"]), rules: ["another"] };
  expect(linksOf(finding({}), [other], layout()).map((l) => l.label)).toEqual(["plug A"]);
  expect(linksOf(finding({ missing: [] }), [other], layout())).toEqual([]);
  expect(linksOf(finding({ missing: [], changes: [{ kind: "lock off outlet", id: "O1" }] }), [], { ...layout(), outlets: [{ id: "O1", junction: "J3" }] })).toMatchObject([{ picked: { kind: "outlet", id: "O1" }, field: "state" }]);
  expect(siteField("site.rooms.plant")).toBe("site.rooms");
});
