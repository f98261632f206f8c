/** Files in and out. What is read is data and nothing else. */

import { looksLikeLayout } from "./layout";
import type { Layout } from "./layout";
import { Refusal, Silence, addresses, bodyOf, fetchFile, get, post } from "./service";
import { store } from "./store";
import { few } from "./words";

export const READS = ".json,.yaml,.yml,.ifc,.dxf,.toml,.inp,.csv,.zip";
const LARGEST = 64 * 1024 * 1024;

/** A file that can not be opened; the message says why in plain words. */
export class Unreadable extends Error {
  constructor(
    message: string,
    readonly rows: string[] = [],
    /** The text of a document that can be mended as text. */
    readonly text: { text: string; name: string } | null = null,
  ) {
    super(message);
  }
}

export interface Opened {
  layout: Layout;
  name: string;
  backing?: unknown; // a picture that was saved with it
  notes: string[]; // what an import took for granted, and what to fill in
}

/** Read what was picked or dropped: one file, or a DXF drawing with its map. */
export async function readFiles(files: File[]): Promise<Opened> {
  const maps = files.filter((file) => file.name.toLowerCase().endsWith(".toml"));
  const [file, ...more] = files.filter((f) => !maps.includes(f));
  if (!file || more.length || maps.length > 1) throw new Unreadable("Open one file at a time; a DXF drawing may come with its map (TOML), sheets in one .zip.");
  return readFile(file, maps[0] && (await maps[0].text()));
}

async function readFile(file: File, map?: string): Promise<Opened> {
  if (file.size > LARGEST) throw new Unreadable(`${file.name} is larger than this page reads.`);
  const ending = file.name.toLowerCase().split(".").at(-1) ?? "";
  if (ending === "json") return documentOf(await file.text(), file.name, json);
  if (ending === "yaml" || ending === "yml") return documentOf(await file.text(), file.name, yaml);
  return imported(file, map);
}

/** Read a document; one that is not sound carries its text, so that it can be mended. */
async function documentOf(text: string, name: string, parse: (text: string, name: string) => unknown): Promise<Opened> {
  try {
    const data = (await parse(text, name)) as Record<string, unknown> | null;
    if (looksLikeLayout(data?.["layout"])) return { layout: data["layout"], name, notes: [], backing: data["backing"] };
    return { layout: layoutOf(data, name), name, notes: [] };
  } catch (error) {
    if (error instanceof Unreadable) throw new Unreadable(error.message, error.rows, { text, name });
    throw error;
  }
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
  report?: {
    notes?: { says: string; elements: string[] }[];
    to_fill?: { what: string; why: string; elements: string[] }[];
  };
}

async function imported(file: File, map?: string): Promise<Opened> {
  const more = map === undefined ? "" : `&map=${encodeURIComponent(map)}`;
  const address = `v1/imports?name=${encodeURIComponent(file.name)}${more}`;
  try {
    const answer = (await post(address, file, "application/octet-stream")) as ImportAnswer;
    const fill = (answer.report?.to_fill ?? []).map((row) => `Fill in: ${row.what}${named(row.elements)}. ${row.why}`);
    const notes = [...fill, ...(answer.report?.notes ?? []).map((row) => `${row.says}${named(row.elements)}`)];
    return { layout: layoutOf(answer.layout, file.name), name: file.name.replace(/\.[^.]+$/, ".json"), notes };
  } catch (error) {
    if (error instanceof Silence) throw new Unreadable("The service does not answer, and it is what reads such files.");
    if (!(error instanceof Refusal)) throw error;
    const { status, detail, faults } = error.problem;
    if (status === 404) throw new Unreadable(`This service reads no files like ${file.name}; it reads layout documents.`);
    throw new Unreadable(detail, (faults ?? []).map((f) => `${f.pointer || file.name}: ${f.problem}`));
  }
}

function named(elements: string[] | undefined): string {
  return elements?.length ? ` (${few(elements)})` : "";
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
  saveData(layout, `${stem(fileName)}.json`);
}

/** Save a layout together with the picture under its sheet: only this page reads such a file. */
export function saveWithPicture(layout: Layout, backing: unknown, fileName: string): void {
  saveData({ layout, backing }, `${stem(fileName)}-with-picture.json`);
}

function saveData(data: unknown, name: string): void {
  save(new Blob([`${JSON.stringify(data, null, 2)}\n`], { type: "application/json" }), name);
}

export const stem = (name: string): string => name.replace(/\.[^.]+$/, "") || "layout";

/** One thing that the service makes of a layout, by the name of its file. */
export interface HandOut {
  name: string;
  label: string;
}

const LABELS: Record<string, string> = {
  "sheet.pdf": "Sheet for the crew (PDF)",
  "sheet.html": "Sheet for the crew (HTML)",
  "drawing.svg": "Drawing (SVG)",
  "drawing.png": "Drawing (PNG)",
  "drawing.pdf": "Drawing (PDF)",
  "takeoff.csv": "Take-off (CSV)",
  "takeoff.json": "Take-off (JSON)",
  "issues.bcf": "Issues (BCF 3.0)",
  "issues-2.1.bcf": "Issues (BCF 2.1)",
  "log-template.csv": "Log to fill in (CSV)",
  "log-template.json": "Log to fill in (JSON)",
  "report.html": "Report (HTML)",
};
const HAND_OUTS = "/v1/handouts/{name}";

/** What this service hands out for a layout, by its own description; the known ones come first. */
export async function handOuts(): Promise<HandOut[]> {
  const operation = (await addresses())[HAND_OUTS]?.["post"];
  const names = operation?.parameters?.find((p) => p.name === "name")?.schema?.enum ?? [];
  const order = Object.keys(LABELS);
  const place = (name: string): number => (order.indexOf(name) + order.length + 1) % (order.length + 1);
  return [...names].sort((a, b) => place(a) - place(b)).map((name) => ({ name, label: LABELS[name] ?? name }));
}

export async function saveHandOut(item: HandOut, layout: Layout, fileName: string): Promise<void> {
  store.say(`${item.label} is being made…`);
  try {
    save(await fetchFile(`v1/handouts/${item.name}`, bodyOf(layout)), `${stem(fileName)}-${item.name}`);
    store.say(`${item.label} is saved.`);
  } catch (error) {
    if (error instanceof Silence) store.say("The service does not answer; nothing was saved.");
    else if (error instanceof Refusal) store.say(`Not made: ${error.problem.faults?.[0]?.problem ?? error.problem.detail}`);
    else throw error;
  }
}
