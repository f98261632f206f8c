/** Which mark of a scene belongs to what. */

import { LEAST_LETTERS, WIDE, placed } from "./labels";
import type { Label, Place } from "./labels";
import type { Drawing, Glyph, Mark, Words } from "./types";

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

/** How a label is shown at a nearness: as it is, larger, or (null) not at all; boxes go with their words. */
export type Shown = Map<Mark, Pick<Words, "at" | "anchor" | "size"> | null>;

const RANKS: Record<string, number> = { finding: 0, work: 1, move: 2, "clear stretch": 3, "shut-out stretch": 3, text: 4, "quiet text": 5 };
const LINE = 1.2; // of the letters' size

/**
 * Labels at a nearness (px of a drawing unit): none is smaller than can be read, so that from afar
 * there are fewer. Labels that are large enough stay as they were laid out: then this is empty.
 */
export function labelsAt(marks: Owned[], k: number): Shown {
  const groups = grouped(marks);
  const shown: Shown = new Map();
  if (groups.every((g) => g.words.every((w) => w.size * k >= LEAST_LETTERS))) return shown;
  const labels = groups.map((g, i): Label => {
    const first = g.words[0]!;
    const size = Math.max(first.size * k, LEAST_LETTERS);
    const text = longest(g.words);
    const tall = size * LINE * (g.words.length - 1);
    return { key: String(i), text, size: size + tall, wide: size, rank: first.bold ? -1 : (RANKS[first.role] ?? 4), places: places(first, text, k, size).map((p) => ({ ...p, y: p.y + tall })) };
  });
  const kept = new Map(placed(labels).map((p) => [Number(p.key), p.place]));
  groups.forEach((g, i) => {
    if (g.box) shown.set(g.box, null);
    const place = kept.get(i);
    const size = Math.max(g.words[0]!.size, LEAST_LETTERS / k);
    g.words.forEach((w, line) => {
      const below = (line - g.words.length + 1) * LINE * size;
      shown.set(w, place ? { at: [place.x / k, place.y / k + below], anchor: place.anchor, size } : null);
    });
  });
  return shown;
}

const longest = (words: Words[]): string => words.map((w) => w.text).reduce((a, b) => (a.length >= b.length ? a : b));

/** Where a label that grew may stand: as it was laid out, else with its far end kept, else a line off. */
function places(first: Words, text: string, k: number, size: number): Place[] {
  const [x, y] = [first.at[0] * k, first.at[1] * k];
  const own: Place = { x, y, anchor: first.anchor };
  const was = text.length * first.size * k * WIDE;
  const turned: Place[] = first.anchor === "start" ? [{ x: x + was, y, anchor: "end" }] : first.anchor === "end" ? [{ x: x - was, y, anchor: "start" }] : [];
  return [own, ...turned].flatMap((p) => [p, { ...p, y: p.y - size * 0.6 }, { ...p, y: p.y + size * 0.6 }]);
}

interface Group {
  box: Mark | null;
  words: Words[];
}

/** Words that belong together, line under line, with the box behind them. */
function grouped(marks: Owned[]): Group[] {
  const groups: Group[] = [];
  marks.forEach(({ mark, owner }, i) => {
    if (mark.kind !== "words") return;
    const before = marks[i - 1];
    const last = groups.at(-1);
    if (before?.mark.kind === "words" && owner !== null && before.owner === owner && before.mark.role === mark.role && last) return void last.words.push(mark);
    const box = before?.mark.kind === "stroke" && before.mark.closed && BOXES.has(before.mark.role) ? before.mark : null;
    groups.push({ box, words: [mark] });
  });
  return groups;
}
