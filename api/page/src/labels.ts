/** Which labels there is room for. Pure: places and sizes in px of the screen. */

export interface Label {
  key: string;
  text: string;
  size: number; // px: its height
  wide?: number; // px: the size that its width goes by, where lines stand under one another
  rank: number; // the least comes first
  places: Place[]; // in order of liking
}

export interface Place {
  x: number;
  y: number; // of the text's base line
  anchor: "start" | "middle" | "end";
}

export interface Placed {
  key: string;
  place: Place;
}

export const LEAST_LETTERS = 9; // px: no label on a screen is smaller

export const WIDE = 0.62; // of a letter, in its size (DejaVu Sans, a mean)
const CELL = 48; // px
const GAP = 2; // px

type Box = [number, number, number, number];

/** Place labels so that none lies over another; those that find no room are left out. */
export function placed(labels: Label[], taken: Box[] = []): Placed[] {
  const grid = new Map<string, Box[]>();
  const cells = ([left, top, right, bottom]: Box): string[] => {
    const keys: string[] = [];
    for (let x = Math.floor(left / CELL); x <= Math.floor(right / CELL); x++) for (let y = Math.floor(top / CELL); y <= Math.floor(bottom / CELL); y++) keys.push(`${x} ${y}`);
    return keys;
  };
  const add = (box: Box): void => cells(box).forEach((key) => grid.set(key, [...(grid.get(key) ?? []), box]));
  const isFree = (box: Box): boolean => cells(box).every((key) => (grid.get(key) ?? []).every((other) => !meet(box, other)));
  taken.forEach(add);
  const kept: Placed[] = [];
  for (const label of [...labels].sort((a, b) => a.rank - b.rank)) {
    const place = label.places.find((p) => isFree(boxOf(label.text, label.size, p, label.wide)));
    if (!place) continue;
    add(boxOf(label.text, label.size, place, label.wide));
    kept.push({ key: label.key, place });
  }
  return kept;
}

export function boxOf(text: string, size: number, { x, y, anchor }: Place, letters = size): Box {
  const wide = text.length * letters * WIDE;
  const left = anchor === "start" ? x : anchor === "middle" ? x - wide / 2 : x - wide;
  return [left - GAP, y - size - GAP / 2, left + wide + GAP, y + size * 0.3];
}

function meet(a: Box, b: Box): boolean {
  return a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3];
}
