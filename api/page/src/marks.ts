/** Which mark of a scene belongs to what. */

import type { Drawing, Glyph, Mark } from "./types";

export interface Owned {
  mark: Mark;
  owner: string | null;
}

const SLEEVES = new Set(["jacket", "jacket not well placed", "suggested jacket", "move"]);
const BOXES = new Set(["frame", "backing"]);

/** The marks of the one view, without its edge and heading; a label's box gets its label's owner. */
export function marksOf(drawing: Drawing): Owned[] {
  const all = drawing.scene.sheets.flatMap((s) => s.panels.flatMap((p) => p.marks));
  const kept: Owned[] = [];
  all.forEach((mark, i) => {
    if (i === 0 && mark.role === "frame") return;
    const next = all[i + 1];
    const isBox = mark.kind === "stroke" && mark.closed && BOXES.has(mark.role) && next?.kind === "words";
    if (mark.role === "heading" || (isBox && next.role === "heading")) return;
    kept.push({ mark, owner: isBox ? next.subject : mark.subject });
  });
  return kept;
}

/** Tell whether a mark shows where a plug stands or may go; bands of stretches stay. */
export function isOwnMark({ mark, owner }: Owned, plug: string): boolean {
  if (owner === null) return false;
  if (owner === plug) return SLEEVES.has(mark.role);
  return owner === `plug ${plug}` || owner === `move ${plug}`;
}

const DIMENSIONS = new Set(["dimension", "dimension too short", "witness line"]);

export function isDimension({ mark, owner }: Owned): boolean {
  return DIMENSIONS.has(mark.role) || (owner?.startsWith("dimension ") ?? false);
}

/** The symbols that can be picked. */
export function symbolsOf(drawing: Drawing): Glyph[] {
  return marksOf(drawing)
    .map(({ mark }) => mark)
    .filter((mark): mark is Glyph => mark.kind === "glyph" && mark.role === "element" && mark.subject !== null);
}
