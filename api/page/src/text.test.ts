import { expect, test } from "vitest";
import { readText } from "./text";

const TEXT = `{
  "pipes": [
    {"id": "P1", "from": "A", "to": "B"},
    {"id": "P2",
     "length": 24}
  ],
  "a/b": {"c": 1}
}
`;

test("each place of a document has its line; one that is missing has that of what it is missing from", () => {
  const { data, faults, lineOf } = readText(TEXT);
  expect(faults).toEqual([]);
  expect(data).toEqual(JSON.parse(TEXT));
  expect(["/pipes", "/pipes/0", "/pipes/1/length", "/pipes/1/size", "/a~1b/c", "/sources"].map(lineOf)).toEqual([2, 3, 5, 4, 7, 1]);
});

test("text that is not sound says where", () => {
  expect(readText('{\n "a": 1,\n "a": 2\n}').faults.map((f) => f.line)).toEqual([3]);
  expect(readText('{\n "a": [1, 2\n').data).toBeNull();
  expect(readText('{\n "a": [1, 2\n').faults.length).toBeGreaterThan(0);
  expect(readText("a: &x [1]\nb: *x\n").data).toBeNull(); // no aliases: they can blow a text up
});
