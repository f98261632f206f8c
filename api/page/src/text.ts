/** A document as text: reading it with every fault at its line. Pure. */

import { LineCounter, isCollection, isNode, isPair, parseDocument } from "yaml";
import type { Document } from "yaml";

/** A fault at a line of the text, from 1. */
export interface Noted {
  line: number;
  says: string;
  example: string;
}

export interface ReadText {
  data: unknown; // null where the text is not sound
  faults: Noted[];
  lineOf: (pointer: string) => number;
}

/** Read JSON or YAML; JSON is read as the YAML that it is, so that a fault has its line. */
export function readText(text: string): ReadText {
  const lines = new LineCounter();
  const document = parseDocument(text, { lineCounter: lines, uniqueKeys: true, schema: "core", prettyErrors: false });
  const at = (offset: number): number => Math.max(1, lines.linePos(offset).line);
  const faults = document.errors.map((e): Noted => ({ line: at(e.pos[0]), says: said(e.message), example: "" }));
  const lineOf = (pointer: string): number => at(offsetOf(document, pointer));
  if (faults.length) return { data: null, faults, lineOf };
  try {
    return { data: document.toJS({ maxAliasCount: 0 }), faults, lineOf };
  } catch (error) {
    return { data: null, faults: [{ line: 1, says: said((error as Error).message), example: "" }], lineOf };
  }
}

const said = (message: string): string => `It can not be read: ${message.charAt(0).toLowerCase()}${message.slice(1)}`;

/** Where the place of a pointer begins; of the nearest place round it where it is not there. */
function offsetOf(document: Document, pointer: string): number {
  let node: unknown = document.contents;
  let best = 0;
  for (const part of pointer.split("/").slice(1).map((p) => p.replaceAll("~1", "/").replaceAll("~0", "~"))) {
    if (!isCollection(node)) break;
    const pair = node.items.find((x) => isPair(x) && String(isNode(x.key) ? x.key.toJSON() : x.key) === part);
    const key = isPair(pair) && isNode(pair.key) ? pair.key : null;
    const next: unknown = isPair(pair) ? pair.value : node.items[Number(part)];
    const start = key?.range?.[0] ?? (isNode(next) ? next.range?.[0] : undefined);
    if (start === undefined) break;
    best = start;
    node = next;
  }
  return best;
}
