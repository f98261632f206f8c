/** Files in and out. What is read is data and nothing else. */

import { looksLikeLayout } from "./layout";
import type { Layout } from "./layout";
import { Refusal, Silence, addresses, bodyOf, fetchFile, get, post } from "./service";
import { store } from "./store";

export const READS = ".json,.yaml,.yml,.ifc,.dxf,.csv,.inp,.zip";
const LARGEST = 64 * 1024 * 1024;

/** A file that can not be opened; the message says why in plain words. */
export class Unreadable extends Error {
  constructor(message: string, readonly rows: string[] = []) {
    super(message);
  }
}

export interface Opened {
  layout: Layout;
  name: string;
  notes: string[]; // what an import took for granted, and what to fill in
}

export async function readFile(file: File): Promise<Opened> {
  if (file.size > LARGEST) throw new Unreadable(`${file.name} is larger than this page reads.`);
  const ending = file.name.toLowerCase().split(".").at(-1) ?? "";
  if (ending === "json") return { layout: layoutOf(json(await file.text(), file.name), file.name), name: file.name, notes: [] };
  if (ending === "yaml" || ending === "yml") return { layout: layoutOf(await yaml(await file.text(), file.name), file.name), name: file.name, notes: [] };
  return imported(file);
}

function layoutOf(data: unknown, name: string): Layout {
  if (looksLikeLayout(data)) return data;
  throw new Unreadable(`${name} is no layout document: it lists no junctions and pipes with ids.`);
}

function json(text: string, name: string): unknown {
  try {
    return JSON.parse(text);
  } catch (error) {
    throw new Unreadable(`${name} is not sound JSON: ${(error as Error).message}.`);
  }
}

async function yaml(text: string, name: string): Promise<unknown> {
  const { parse } = await import("yaml");
  try {
    return parse(text, { uniqueKeys: true, maxAliasCount: 0, schema: "core" });
  } catch (error) {
    throw new Unreadable(`${name} is not sound YAML: ${(error as Error).message}.`);
  }
}

interface ImportAnswer {
  layout?: unknown;
  report?: { assumptions?: unknown[]; gaps?: unknown[]; to_fill_in?: unknown[] };
}

async function imported(file: File): Promise<Opened> {
  const address = `v1/imports?name=${encodeURIComponent(file.name)}`;
  try {
    const answer = (await post(address, file, "application/octet-stream")) as ImportAnswer;
    const told = answer.report ?? {};
    const notes = [told.to_fill_in, told.gaps, told.assumptions].flatMap((list) => (Array.isArray(list) ? list.map(noteOf) : []));
    return { layout: layoutOf(answer.layout, file.name), name: file.name.replace(/\.[^.]+$/, ".json"), notes };
  } catch (error) {
    if (error instanceof Silence) throw new Unreadable("The service does not answer, and it is what reads such files.");
    if (!(error instanceof Refusal)) throw error;
    const { status, detail, faults } = error.problem;
    if (status === 404) throw new Unreadable(`This service reads no files like ${file.name}; it reads layout documents.`);
    throw new Unreadable(detail, (faults ?? []).map((f) => `${f.pointer || file.name}: ${f.problem}`));
  }
}

function noteOf(row: unknown): string {
  if (typeof row === "string") return row;
  const found = row as { says?: unknown; text?: unknown; what?: unknown; element?: unknown };
  const text = found.says ?? found.text ?? found.what ?? JSON.stringify(row);
  return found.element ? `${String(found.element)}: ${String(text)}` : String(text);
}

export interface DemoSite {
  file: string;
  name: string;
  note: string;
  pipes: number;
  mended: boolean;
}

export const demoSites = async (): Promise<DemoSite[]> => (await get("demo/index.json")) as DemoSite[];

export async function readDemo(file: string): Promise<Opened> {
  return { layout: layoutOf(await get(`demo/${encodeURIComponent(file)}`), file), name: file, notes: [] };
}

/** Hand a file to the browser. */
export function save(blob: Blob, name: string): void {
  const address = URL.createObjectURL(blob);
  const link = document.createElement("a");
  link.href = address;
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(address), 10_000);
}

export function saveLayout(layout: Layout, fileName: string): void {
  save(new Blob([`${JSON.stringify(layout, null, 2)}\n`], { type: "application/json" }), `${stem(fileName)}.json`);
}

export const stem = (name: string): string => name.replace(/\.[^.]+$/, "") || "layout";

export interface HandOut {
  label: string;
  address: string;
  type: string;
  ending: string;
}

const NAMES: [RegExp, string][] = [
  [/drawing/, "Drawing"],
  [/sheet/, "Sheet for the crew"],
  [/take-?off/, "Take-off"],
  [/bcf|issue/, "BCF"],
];
const TYPES: Record<string, [string, string]> = {
  "image/svg+xml": ["SVG", "svg"],
  "image/png": ["PNG", "png"],
  "application/pdf": ["PDF", "pdf"],
  "text/html": ["HTML", "html"],
  "text/csv": ["CSV", "csv"],
  "application/json": ["JSON", "json"],
  "application/zip": ["BCF", "bcf"],
  "application/octet-stream": ["BCF", "bcf"],
};

/** What this service hands out for a layout, by its own description. */
export async function handOuts(): Promise<HandOut[]> {
  const found: HandOut[] = [];
  for (const [path, operations] of Object.entries(await addresses())) {
    const name = NAMES.find(([pattern]) => pattern.test(path))?.[1];
    const content = operations["post"]?.responses?.["200"]?.content;
    if (!name || !content || path.includes("{")) continue;
    for (const type of Object.keys(content)) {
      const [kind, ending] = TYPES[type] ?? [type.includes("bcf") ? "BCF" : type, type.includes("bcf") ? "bcf" : "bin"];
      found.push({ label: name === kind ? name : `${name} (${kind})`, address: path.replace(/^\//, ""), type, ending });
    }
  }
  return found;
}

export async function saveHandOut(item: HandOut, layout: Layout, fileName: string): Promise<void> {
  store.say(`${item.label} is being made…`);
  try {
    const blob = await fetchFile(item.address, bodyOf(layout), item.type);
    save(blob, `${stem(fileName)}-${item.label.split(" ")[0]!.toLowerCase()}.${item.ending}`);
    store.say(`${item.label} is saved.`);
  } catch (error) {
    if (error instanceof Silence) store.say("The service does not answer; nothing was saved.");
    else if (error instanceof Refusal) store.say(`Not made: ${error.problem.detail}`);
    else throw error;
  }
}
