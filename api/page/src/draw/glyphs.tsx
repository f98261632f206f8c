/** The drawings' own symbols, for the sheet. Drawn by the project after ISO 14617 and ISO 6412. */

import type { VNode } from "preact";
import { stateAt } from "../layout";
import type { Item } from "../layout";
import { shapesOf } from "../Scene";
import type { Point, Shape } from "../types";
import symbols from "./symbols.json";

const FORMS = symbols as unknown as Record<string, Shape[]>;

/** The name of the symbol of something, as it stands while freezing. */
export function formOf(list: string, item: Item): string | null {
  const state = stateAt(item, "freezing");
  const locked = item["locked_off"];
  const off = locked === true || (typeof locked === "object" && locked !== null && !Array.isArray(locked) && locked["freezing"] === true) ? " locked off" : "";
  switch (list) {
    case "valves": {
      const body = state === "" ? "not stated" : state === "closed" && item["tightness"] === "proven" ? "closed and proven" : state;
      return `valve ${String(item["kind"] ?? "other")} ${body}`;
    }
    case "outlets":
      return `outlet ${state || "may draw"}`;
    case "sources":
      return `source ${String(item["kind"])}`;
    case "pumps":
      return `pump${off}`;
    case "equipment":
      return `${String(item["kind"])}${off}`;
    case "fittings":
      return `fitting ${String(item["kind"])}`;
    default:
      return null;
  }
}

export function Symbol({ form, at, angle, size }: { form: string; at: Point; angle: number; size: number }): VNode | null {
  const shapes = FORMS[form];
  if (!shapes) return null;
  return <g class="m-element glyph">{shapesOf({ at, angle, size, form }, shapes)}</g>;
}
