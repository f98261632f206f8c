/** The layout document as the page edits it: every edit gives a new document, none changes one. */

export type Json = null | boolean | number | string | Json[] | { [name: string]: Json };
export type Item = { id: string } & { [name: string]: Json | undefined };

export interface Layout {
  [name: string]: unknown;
  name?: string;
  units?: string;
  junctions: Item[];
  pipes: Item[];
  valves?: Item[];
  pumps?: Item[];
  outlets?: Item[];
  sources?: Item[];
  equipment?: Item[];
  fittings?: Item[];
  plugs?: Item[];
  work?: { open: WorkItem[]; duration: string; name?: string; if_a_plug_goes?: string };
  site?: { stock?: Stock[]; water_temperature?: string; [name: string]: unknown };
  waivers?: unknown[];
}

export type WorkItem = { junction?: string; valve?: string; pump?: string; pipe?: string; start?: string; end?: string };
export type Stock = { coolant: string; cylinders: number; mass_each?: string; volume_each?: string; [name: string]: Json | undefined };
export type ListName = "junctions" | "pipes" | "valves" | "pumps" | "outlets" | "sources" | "equipment" | "fittings" | "plugs";

/** Tell whether data looks enough like a layout to be shown; the service finds every fault. */
export function looksLikeLayout(data: unknown): data is Layout {
  if (typeof data !== "object" || data === null) return false;
  const found = data as Record<string, unknown>;
  return ["junctions", "pipes"].every((name) => isItems(found[name])) && OPTIONAL.every((name) => found[name] === undefined || isItems(found[name]));
}

const OPTIONAL = ["valves", "pumps", "outlets", "sources", "equipment", "fittings", "plugs"];

function isItems(value: unknown): boolean {
  return Array.isArray(value) && value.every((x) => typeof x === "object" && x !== null && typeof (x as Item).id === "string");
}

export function systemOf(layout: Layout): "imperial" | "metric" {
  return layout.units === "metric" ? "metric" : "imperial";
}

/** Change one element of a list; fields set to undefined are taken out. */
export function changed(layout: Layout, list: ListName, id: string, fields: Record<string, Json | undefined>): Layout {
  const items = (layout[list] ?? []).map((item) => (item.id === id ? without({ ...item, ...fields }) : item));
  return { ...layout, [list]: items };
}

function without<T extends Record<string, unknown>>(item: T): T {
  return Object.fromEntries(Object.entries(item).filter(([, value]) => value !== undefined)) as T;
}

export function withPlugAt(layout: Layout, id: string, pipe: string, station: string): Layout {
  return changed(layout, "plugs", id, { pipe, station, point: undefined });
}

/** Put a new plug on a pipe. Its jacket is that of the last plug, or a foot. */
export function withNewPlug(layout: Layout, pipe: string, station: string): { layout: Layout; id: string } {
  const plugs = layout.plugs ?? [];
  const taken = new Set(plugs.map((p) => p.id));
  let id = "";
  for (let i = 0; id === "" || taken.has(id); i++) id = letters(i);
  const jacket = plugs.at(-1)?.["jacket"] ?? (systemOf(layout) === "metric" ? "300 mm" : "12 in");
  return { layout: { ...layout, plugs: [...plugs, { id, pipe, station, jacket }] }, id };
}

function letters(index: number): string {
  const letter = String.fromCharCode(65 + (index % 26));
  return index < 26 ? letter : letter + String(Math.floor(index / 26));
}

export function withoutPlug(layout: Layout, id: string): Layout {
  return { ...layout, plugs: (layout.plugs ?? []).filter((p) => p.id !== id) };
}

/** A state at one of the two moments; "" where nothing is stated. */
export function stateAt(item: Item, moment: "freezing" | "working"): string {
  const state = item["state"];
  if (typeof state === "string") return state;
  if (state && typeof state === "object" && !Array.isArray(state)) return String(state[moment] ?? "");
  return "";
}

/** State how a valve or an outlet stands: one word where both moments agree. */
export function withState(layout: Layout, list: ListName, item: Item, moment: "freezing" | "working" | "both", state: string): Layout {
  const states = { freezing: stateAt(item, "freezing"), working: stateAt(item, "working") };
  if (moment === "both") states.freezing = states.working = state;
  else states[moment] = state;
  const { freezing, working } = states;
  if (freezing === working) return changed(layout, list, item.id, { state: freezing || undefined });
  return changed(layout, list, item.id, { state: { freezing: freezing || null, working: working || null } });
}

export function withWork(layout: Layout, open: WorkItem[], duration: string): Layout {
  if (open.length === 0) {
    const { work: _, ...rest } = layout;
    return rest as Layout;
  }
  return { ...layout, work: { ...layout.work, open, duration } };
}

export function workLabel(item: WorkItem): string {
  if (item.pipe) return `pipe ${item.pipe}`;
  const kind = (["junction", "valve", "pump"] as const).find((k) => item[k] !== undefined);
  return kind ? `${kind} ${item[kind]}` : "work";
}

export function withSite(layout: Layout, fields: Record<string, unknown>): Layout {
  return { ...layout, site: without({ ...layout.site, ...fields }) };
}

export function pipeEnds(layout: Layout): Map<string, [string, string]> {
  return new Map(layout.pipes.map((p) => [p.id, [String(p["from"]), String(p["to"])]]));
}

/** Pipes that share a junction with a pipe, itself first. */
export function neighbours(layout: Layout, pipe: string): string[] {
  const own = layout.pipes.find((p) => p.id === pipe);
  if (!own) return [];
  const ends = new Set([own["from"], own["to"]]);
  const others = layout.pipes.filter((p) => p.id !== pipe && (ends.has(p["from"]) || ends.has(p["to"])));
  return [pipe, ...others.map((p) => p.id)];
}

const KINDS: [ListName, string][] = [
  ["plugs", "plug"],
  ["pipes", "pipe"],
  ["valves", "valve"],
  ["outlets", "outlet"],
  ["pumps", "pump"],
  ["sources", "source"],
  ["equipment", "equipment"],
  ["junctions", "junction"],
  ["fittings", "fitting"],
];

export interface Chosen {
  kind: string;
  id: string;
}

/** Everything that can be chosen, with its kind. */
export function everything(layout: Layout): Chosen[] {
  return KINDS.flatMap(([list, kind]) => (layout[list] ?? []).map((item) => ({ kind, id: item.id })));
}

export function find(layout: Layout, chosen: Chosen): Item | undefined {
  const list = KINDS.find(([, kind]) => kind === chosen.kind)?.[0];
  return list && (layout[list] ?? []).find((item) => item.id === chosen.id);
}

/** The kind of an id that the drawing names; what is small comes before the pipe it stands on. */
export function kindOf(layout: Layout, id: string): string | undefined {
  return everything(layout).find((x) => x.id === id)?.kind;
}
