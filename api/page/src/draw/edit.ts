/** Drawing as edits: a document in, a new document out. No screen, no service. */

import { changed, systemOf, withNewPlug } from "../layout";
import type { Item, Json, Layout, ListName } from "../layout";
import type { Point } from "../types";
import { parseLength, showLength } from "../units";
import type { System } from "../units";
import { away, drawn, lengthOf, lineOf, nearestOn, pitchOf, pointOf, spotAt } from "./paths";

/** A field that has to be filled in first. */
export interface Needed {
  kind: string;
  id: string;
  field: string;
}

/** Something that can not be done as it is asked; the message says what to do first, and where. */
export class CanNot extends Error {
  constructor(
    message: string,
    readonly needs?: Needed,
  ) {
    super(message);
  }
}

export const FORMAT = "layoutcheck layout 1";

/** An empty sheet. */
export function emptyLayout(name: string, units: System): Layout {
  return { format: FORMAT, name, units, drawing: { kind: "riser", snap_within: 5 }, junctions: [], pipes: [] };
}

/** Tell whether there is nothing yet that could be judged. */
export function isBlank(layout: Layout): boolean {
  return layout.pipes.length === 0;
}

const LISTS: ListName[] = ["junctions", "pipes", "fittings", "valves", "pumps", "equipment", "sources", "outlets", "plugs"];
const AT_JUNCTIONS = ["valves", "pumps", "equipment", "sources", "outlets"] as const;
const ON_PIPES = ["valves", "pumps", "equipment", "fittings", "plugs"] as const;

/** The first free name of a kind: P1, P2, … */
export function freshId(layout: Layout, prefix: string): string {
  const taken = new Set(LISTS.flatMap((list) => (layout[list] ?? []).map((x) => x.id)));
  for (let n = 1; ; n++) if (!taken.has(`${prefix}${n}`)) return `${prefix}${n}`;
}

/** How many ends of pipe meet at a junction. */
export function endsAt(layout: Layout, junction: string): number {
  return layout.pipes.reduce((n, p) => n + Number(p["from"] === junction) + Number(p["to"] === junction), 0);
}

// --- pipe ----------------------------------------------------------------------------------------

/** A slack within which two points of the sheet are one, in drawing units. */
const slackOf = (layout: Layout): number => pitchOf(layout) * 1e-3;

/** The junction at a point: the one that is there, one cut into the pipe that is there, or a new one. */
export function withJunctionAt(layout: Layout, at: Point): { layout: Layout; junction: string } {
  const spot = spotAt(layout, at, slackOf(layout));
  if (spot.junction) return { layout, junction: spot.junction };
  if (spot.pipe) return withCut(layout, spot.pipe, spot.at);
  const junction = freshId(layout, "J");
  return { layout: { ...layout, junctions: [...layout.junctions, { id: junction, at: tidy(at) }] }, junction };
}

const tidy = (at: Point): Point => [Math.round(at[0] * 1e4) / 1e4, Math.round(at[1] * 1e4) / 1e4];

/**
 * Draw pipe through points: corners where nothing is, joints where a junction or a pipe is. What a
 * run ends on becomes a tee by itself. Gives the new pipes, in their order.
 */
export function withRun(layout: Layout, points: Point[], fields: Record<string, Json | undefined> = {}): { layout: Layout; pipes: string[] } {
  const kept = points.filter((p, i) => i === 0 || away(p, points[i - 1]!) > slackOf(layout));
  if (kept.length < 2) throw new CanNot("A pipe runs between two places: point at a second one.");
  let next = layout;
  const pipes: string[] = [];
  let from: string | null = null;
  let corners: Point[] = [];
  kept.forEach((at, i) => {
    const spot = spotAt(next, at, slackOf(next));
    const isEnd = i === 0 || i === kept.length - 1;
    if (!isEnd && !spot.junction && !spot.pipe) {
      corners.push(tidy(at));
      return;
    }
    const made = withJunctionAt(next, at);
    next = made.layout;
    if (from !== null) [next, pipes[pipes.length]] = joined(next, from, made.junction, corners, fields);
    [from, corners] = [made.junction, []];
  });
  return { layout: withFittings(next), pipes: pipes.filter((id) => next.pipes.some((p) => p.id === id)) };
}

function joined(layout: Layout, from: string, to: string, corners: Point[], fields: Record<string, Json | undefined>): [Layout, string] {
  if (from === to) {
    // A pipe runs between two junctions: one that comes back to its start gets one on its way.
    if (corners.length < 2) throw new CanNot("A pipe can not end where it begins.");
    const middle = Math.floor(corners.length / 2);
    const made = withJunctionAt(layout, corners[middle]!);
    const [half] = joined(made.layout, from, made.junction, corners.slice(0, middle), fields);
    return joined(half, made.junction, to, corners.slice(middle + 1), fields);
  }
  const id = freshId(layout, "P");
  const pipe = sound({ id, from, to, ...fields, via: corners.length ? corners : undefined });
  return [{ ...layout, pipes: [...layout.pipes, pipe] }, id];
}

function sound(item: { id: string } & Record<string, Json | undefined>): Item {
  return Object.fromEntries(Object.entries(item).filter(([, v]) => v !== undefined && v !== "")) as Item;
}

/**
 * Cut a pipe in two at a point of its line. The first part keeps its name; stated lengths and
 * stations are shared out in proportion, as a point on a drawing means them.
 */
export function withCut(layout: Layout, id: string, point: Point): { layout: Layout; junction: string; pipe: string } {
  const pipe = layout.pipes.find((p) => p.id === id)!;
  const line = lineOf(layout, pipe);
  if (!line) throw new CanNot(`Pipe ${id} is not on the sheet.`);
  const place = nearestOn(line, point);
  const junction = freshId(layout, "J");
  const second = freshId(layout, "P");
  const via = Array.isArray(pipe["via"]) ? pipe["via"] : [];
  const beyond = place.leg + (away(place.at, line[place.leg + 1]!) < 1e-9 ? 1 : 0);
  const shares = sharedOut(layout, pipe, place.share);
  const { to, to_body, length: _, ...rest } = pipe;
  const { from: _from, from_body: _body, ref: _ref, name: _name, ...other } = pipe;
  const parts = [
    sound({ ...rest, to: junction, length: shares?.[0], via: listed(via.slice(0, place.leg)) }),
    sound({ ...other, id: second, from: junction, to: to!, to_body, length: shares?.[1], via: listed(via.slice(beyond)) }),
  ];
  const made: Layout = {
    ...layout,
    junctions: [...layout.junctions, { id: junction, at: tidy(place.at) }],
    pipes: layout.pipes.flatMap((p) => (p.id === id ? parts : [p])),
  };
  const first = shares ? parseLength(shares[0])! : 0;
  return { layout: withStations(made, id, (s) => (s <= first + 1e-9 ? [id, s] : [second, s - first])), junction, pipe: second };
}

const listed = (via: Json[]): Json | undefined => (via.length ? via : undefined);

/** The texts of the two lengths; null where the pipe's length is not stated. */
function sharedOut(layout: Layout, pipe: Item, share: number): [string, string] | null {
  if (typeof pipe["length"] !== "string") {
    const stands = ON_PIPES.some((list) => (layout[list] ?? []).some((x) => x["pipe"] === pipe.id && x["station"] !== undefined));
    if (stands && lengthOf(layout, pipe) === null) {
      throw new CanNot(`State the length of pipe ${pipe.id} first: what stands on it could come on either side of the joint.`, { kind: "pipe", id: pipe.id, field: "length" });
    }
  }
  const length = typeof pipe["length"] === "string" ? lengthOf(layout, pipe) : null;
  if (typeof pipe["length"] === "string" && length === null) throw new CanNot(`Write the length of pipe ${pipe.id} in feet and inches or in metres first.`, { kind: "pipe", id: pipe.id, field: "length" });
  if (length === null) return null;
  const system = systemOf(layout);
  const first = showLength(length * share, system);
  return [first, showLength(Math.max(length - parseLength(first)!, 0), system)];
}

/** Give everything on a pipe a new place: station (m) to pipe and station. */
function withStations(layout: Layout, pipe: string, place: (station: number) => [string, number]): Layout {
  const system = systemOf(layout);
  const moved = (item: Item): Item => {
    const station = item["pipe"] === pipe && typeof item["station"] === "string" ? parseLength(item["station"]) : null;
    if (station === null) return item;
    const [to, at] = place(station);
    return to === pipe && at === station ? item : { ...item, pipe: to, station: showLength(at, system) };
  };
  const lists = Object.fromEntries(ON_PIPES.flatMap((list) => (layout[list] ? [[list, layout[list].map(moved)]] : [])));
  const open = layout.work?.open.map((item) => {
    const [start, end] = [item.start, item.end].map((text) => (item.pipe === pipe && text !== undefined ? parseLength(text) : null));
    if (start === null || end === null || start === undefined || end === undefined) return item;
    const [to, at] = place(start);
    return { ...item, pipe: to, start: showLength(at, system), end: showLength(at + end - start, system) };
  });
  return { ...layout, ...lists, ...(open ? { work: { ...layout.work!, open } } : {}) };
}

const BY_COUNT = new Set<unknown>(["tee", "cross"]);
const SHUT = new Set<unknown>(["cap", "blind"]);

/** Tees and crosses follow the number of pipes that meet; a cap goes when its end goes on. */
export function withFittings(layout: Layout): Layout {
  const counts = new Map<string, number>();
  for (const p of layout.pipes) for (const end of [String(p["from"]), String(p["to"])]) counts.set(end, (counts.get(end) ?? 0) + 1);
  const junctions = layout.junctions.map((j) => {
    const n = counts.get(j.id) ?? 0;
    const fitting = j["fitting"];
    const wanted = n >= 4 ? "cross" : n === 3 ? "tee" : undefined;
    const ours = fitting === undefined || BY_COUNT.has(fitting) || (n > 1 && SHUT.has(fitting));
    const next = ours ? wanted : fitting;
    const goes = n > 1 ? undefined : j["goes_on"];
    return next === fitting && goes === j["goes_on"] ? j : sound({ ...j, fitting: next, goes_on: goes });
  });
  return { ...layout, junctions };
}

// --- what stands on it ---------------------------------------------------------------------------

export type Kind = "source" | "outlet" | "valve" | "pump" | "equipment" | "plug";

const KINDS: Record<Exclude<Kind, "plug">, { list: ListName; prefix: string; fields: Record<string, Json> }> = {
  source: { list: "sources", prefix: "S", fields: { kind: "main" } },
  outlet: { list: "outlets", prefix: "O", fields: {} },
  valve: { list: "valves", prefix: "V", fields: {} },
  pump: { list: "pumps", prefix: "PU", fields: {} },
  equipment: { list: "equipment", prefix: "E", fields: { kind: "heater" } },
};

/** Put something on the sheet, at a junction or on a pipe; sources and outlets may stand free until pipe comes. */
export function withThing(layout: Layout, kind: Kind, at: Point, reach: number): { layout: Layout; id: string } {
  const ends = kind === "source" || kind === "outlet";
  // What stands in pipe is meant to, even close to a joint; plugs never stand at one.
  const spot = spotAt(layout, at, reach, ends ? reach : kind === "plug" ? -1 : reach / 3);
  if (kind === "plug") {
    if (!spot.pipe) throw new CanNot("A plug stands on pipe: point at the middle of one.");
    return withNewPlug(layout, spot.pipe, stationAt(layout, spot.pipe, spot.share!));
  }
  const { list, prefix, fields } = KINDS[kind];
  const id = freshId(layout, prefix);
  const put = (to: Layout, place: Record<string, Json>): { layout: Layout; id: string } => ({
    layout: { ...to, [list]: [...(to[list] ?? []), { id, ...place, ...fields }] },
    id,
  });
  if (spot.junction && !ends && endsAt(layout, spot.junction) > 2) throw new CanNot("It stands on one pipe: point beside the joint, not at it.");
  if (spot.junction) return put(uncapped(layout, spot.junction), { junction: spot.junction });
  if (!ends) {
    if (!spot.pipe) throw new CanNot("It stands on pipe or at an end of it: point at one.");
    return put(layout, { pipe: spot.pipe, station: stationAt(layout, spot.pipe, spot.share!) });
  }
  const made = withJunctionAt(layout, spot.at);
  return put(made.layout, { junction: made.junction });
}

/** What ends a pipe takes the place of a cap, or of 'goes on'. */
function uncapped(layout: Layout, id: string): Layout {
  const junction = layout.junctions.find((j) => j.id === id)!;
  const fitting = SHUT.has(junction["fitting"]) ? undefined : junction["fitting"];
  return changed(layout, "junctions", id, { fitting, goes_on: undefined });
}

/** The station that a point on a pipe means. Throws where the pipe's length is not known. */
export function stationAt(layout: Layout, id: string, share: number): string {
  const pipe = layout.pipes.find((p) => p.id === id)!;
  const length = lengthOf(layout, pipe);
  if (length === null) throw new CanNot(`State the length of pipe ${id} first: a place on the drawing tells no station without it.`, { kind: "pipe", id, field: "length" });
  const system = systemOf(layout);
  const step = system === "metric" ? 0.01 : 0.0254;
  return showLength(Math.min(Math.round((length * share) / step) * step, length), system);
}

/** Close an end with a cap, or take the cap off. */
export function withCap(layout: Layout, at: Point, reach: number): { layout: Layout; junction: string } {
  const { junction } = spotAt(layout, at, reach);
  if (!junction || endsAt(layout, junction) !== 1) throw new CanNot("A cap stands at an end of pipe: point at one.");
  const busy = [...(layout.sources ?? []), ...(layout.outlets ?? [])].find((x) => x["junction"] === junction);
  if (busy) throw new CanNot(`${busy.id} ends the pipe there already.`);
  const own = layout.junctions.find((j) => j.id === junction)!;
  const fitting = SHUT.has(own["fitting"]) ? undefined : "cap";
  return { layout: changed(layout, "junctions", junction, { fitting, goes_on: undefined }), junction };
}

/** Draw an outline of something solid. */
export function withObstruction(layout: Layout, outline: Point[]): { layout: Layout; id: string } {
  if (outline.length < 3) throw new CanNot("An outline has three corners or more.");
  const all = obstructionsOf(layout);
  let n = 1;
  while (all.some((o) => o.id === `B${n}`)) n++;
  const made: Item = { id: `B${n}`, outline: outline.map(tidy) };
  return { layout: { ...layout, site: { ...layout.site, obstructions: [...all, made] } }, id: made.id };
}

export const obstructionsOf = (layout: Layout): Item[] => listOf(layout, "obstructions");
export const roomsOf = (layout: Layout): Item[] => listOf(layout, "rooms");

function listOf(layout: Layout, name: string): Item[] {
  const found = layout.site?.[name];
  return Array.isArray(found) ? (found as Item[]) : [];
}

/** Change one room or obstruction; fields set to undefined are taken out, and null takes out the whole. */
export function withSiteItem(layout: Layout, list: "rooms" | "obstructions", id: string, fields: Record<string, Json | undefined> | null): Layout {
  const items = listOf(layout, list).flatMap((x) => (x.id !== id ? [x] : fields ? [sound({ ...x, ...fields })] : []));
  const site = { ...layout.site, [list]: items.length ? items : undefined };
  return { ...layout, site: Object.fromEntries(Object.entries(site).filter(([, v]) => v !== undefined)) };
}

// --- moving, taking away, naming -----------------------------------------------------------------

/** Move a junction. Dropped on another one, or on a pipe, it joins it. */
export function withJunctionMoved(layout: Layout, id: string, at: Point, reach: number): Layout {
  const own = layout.pipes.filter((p) => p["from"] === id || p["to"] === id);
  const spot = spotAt({ ...layout, junctions: layout.junctions.filter((j) => j.id !== id), pipes: layout.pipes.filter((p) => !own.includes(p)) }, at, reach);
  if (spot.junction) return withMerged(layout, id, spot.junction);
  if (spot.pipe) {
    const cut = withCut(layout, spot.pipe, spot.at);
    return withMerged(cut.layout, id, cut.junction);
  }
  return changed(layout, "junctions", id, { at: tidy(at) });
}

/** Make two junctions one. What is stated of both stays with the second, and its own word goes first. */
function withMerged(layout: Layout, id: string, into: string): Layout {
  if (layout.pipes.some((p) => [p["from"], p["to"]].includes(id) && [p["from"], p["to"]].includes(into))) {
    throw new CanNot(`A pipe runs from ${id} to ${into}: take it away first.`);
  }
  const gone = layout.junctions.find((j) => j.id === id)!;
  const kept = layout.junctions.find((j) => j.id === into)!;
  const elevation = kept["elevation"] ?? gone["elevation"];
  const next = { ...layout, junctions: layout.junctions.filter((j) => j.id !== id).map((j) => (j.id === into ? sound({ ...j, elevation }) : j)) };
  return withFittings(withRef(next, "junction", id, into));
}

/** Move a pipe with its two ends, or an outline, by a step; what joins a pipe's ends follows it. */
export function withShifted(layout: Layout, kind: "pipe" | "obstruction", id: string, [dx, dy]: Point): Layout {
  const shift = (at: Point): Point => tidy([at[0] + dx, at[1] + dy]);
  if (kind === "obstruction") {
    const own = obstructionsOf(layout).find((o) => o.id === id)!;
    return withSiteItem(layout, "obstructions", id, { outline: (own["outline"] as Point[]).map(shift) });
  }
  const pipe = layout.pipes.find((p) => p.id === id)!;
  const ends = new Set([pipe["from"], pipe["to"]]);
  const junctions = layout.junctions.map((j) => {
    const at = ends.has(j.id) ? pointOf(j["at"]) : null;
    return at ? { ...j, at: shift(at) } : j;
  });
  const via = Array.isArray(pipe["via"]) ? pipe["via"].map((v) => (v && typeof v === "object" && !Array.isArray(v) ? { ...v, at: shift(pointOf(v)!) } : shift(pointOf(v)!))) : undefined;
  return changed({ ...layout, junctions }, "pipes", id, { via });
}

/** Move a corner of a pipe. */
export function withCornerMoved(layout: Layout, id: string, corner: number, at: Point): Layout {
  const pipe = layout.pipes.find((p) => p.id === id)!;
  const via = (pipe["via"] as Json[]).map((v, i) => (i !== corner ? v : v && typeof v === "object" && !Array.isArray(v) ? { ...v, at: tidy(at) } : tidy(at)));
  return changed(layout, "pipes", id, { via });
}

/** Replace a name everywhere that something is referred to by it. */
function withRef(layout: Layout, kind: string, id: string, to: string): Layout {
  const swap = (item: Item, fields: string[]): Item => (fields.some((f) => item[f] === id) ? { ...item, ...Object.fromEntries(fields.filter((f) => item[f] === id).map((f) => [f, to])) } : item);
  const fields: Record<string, string[]> = kind === "junction" ? { pipes: ["from", "to"] } : {};
  for (const list of kind === "junction" ? AT_JUNCTIONS : kind === "pipe" ? ON_PIPES : []) fields[list] = [...(fields[list] ?? []), kind];
  if (kind === "room") fields["pipes"] = ["room"];
  let next = layout;
  for (const [list, names] of Object.entries(fields)) {
    const items = next[list] as Item[] | undefined;
    if (items) next = { ...next, [list]: items.map((x) => swap(x, names)) };
  }
  if (next.work) next = { ...next, work: { ...next.work, open: next.work.open.map((w) => ((w as Record<string, unknown>)[kind] === id ? { ...w, [kind]: to } : w)) } };
  if (kind === "room" && next.site?.["room"] === id) next = { ...next, site: { ...next.site, room: to } };
  const planning = next["planning"] as { keep_in_service?: string[] } | undefined;
  if (kind === "outlet" && planning?.keep_in_service) {
    next = { ...next, planning: { ...planning, keep_in_service: planning.keep_in_service.map((x) => (x === id ? to : x)) } };
  }
  return next;
}

const LIST_OF: Record<string, ListName> = {
  plug: "plugs",
  pipe: "pipes",
  valve: "valves",
  outlet: "outlets",
  pump: "pumps",
  source: "sources",
  equipment: "equipment",
  junction: "junctions",
  fitting: "fittings",
};
export const kindOfList = (list: string): string | undefined => Object.keys(LIST_OF).find((kind) => LIST_OF[kind] === list);
export const listOfKind = (kind: string): ListName | undefined => LIST_OF[kind];

/** Give something another name, everywhere. */
export function withName(layout: Layout, kind: string, id: string, to: string): Layout {
  const own = kind === "room" ? roomsOf(layout) : kind === "obstruction" ? obstructionsOf(layout) : (layout[LIST_OF[kind]!] ?? []);
  if (to !== id && own.some((x) => x.id === to)) throw new CanNot(`There is a ${kind} ${to} already.`);
  if (kind === "room" || kind === "obstruction") {
    const named = withSiteItem(layout, kind === "room" ? "rooms" : "obstructions", id, { id: to });
    return withRef(named, kind, id, to);
  }
  return withRef(changed(layout, LIST_OF[kind]!, id, { id: to }), kind, id, to);
}

/** Take something off the sheet, with what can not be without it. */
export function without(layout: Layout, kind: string, id: string): Layout {
  if (kind === "room") {
    const next = withSiteItem(layout, "rooms", id, null);
    const pipes = next.pipes.map((p) => (p["room"] === id ? sound({ ...p, room: undefined }) : p));
    const site = next.site?.["room"] === id ? Object.fromEntries(Object.entries(next.site).filter(([name]) => name !== "room")) : next.site;
    return { ...next, pipes, ...(site ? { site } : {}) };
  }
  if (kind === "obstruction") return withSiteItem(layout, "obstructions", id, null);
  if (kind === "pipe") return withoutPipe(layout, id);
  if (kind === "junction") return withoutJunction(layout, id);
  const list = LIST_OF[kind]!;
  const next = shorter(layout, list, (x) => x.id !== id);
  return withoutLoose(withoutWork(next, kind, id));
}

function shorter(layout: Layout, list: ListName, keep: (item: Item) => boolean): Layout {
  const items = layout[list];
  if (!items || items.every(keep)) return layout;
  const left = items.filter(keep);
  if (left.length || list === "pipes" || list === "junctions") return { ...layout, [list]: left };
  const { [list]: _, ...rest } = layout;
  return rest as Layout;
}

function withoutWork(layout: Layout, kind: string, id: string): Layout {
  if (!layout.work) return layout;
  const open = layout.work.open.filter((w) => (w as Record<string, unknown>)[kind] !== id);
  if (open.length === layout.work.open.length) return layout;
  if (open.length) return { ...layout, work: { ...layout.work, open } };
  const { work: _, ...rest } = layout;
  return rest as Layout;
}

function withoutPipe(layout: Layout, id: string): Layout {
  let next = shorter(layout, "pipes", (p) => p.id !== id);
  for (const list of ON_PIPES) {
    for (const item of (next[list] ?? []).filter((x) => x["pipe"] === id)) next = withoutWork(next, list.slice(0, -1), item.id);
    next = shorter(next, list, (x) => x["pipe"] !== id);
  }
  return withFittings(withoutLoose(withoutWork(next, "pipe", id)));
}

/** Junctions that no pipe meets and nothing stands at go with the last of their pipes. */
function withoutLoose(layout: Layout): Layout {
  const used = new Set<unknown>(layout.pipes.flatMap((p) => [p["from"], p["to"]]));
  for (const list of AT_JUNCTIONS) for (const item of layout[list] ?? []) used.add(item["junction"]);
  let next = layout;
  for (const j of layout.junctions) if (!used.has(j.id)) next = withoutWork(next, "junction", j.id);
  return shorter(next, "junctions", (j) => used.has(j.id));
}

/** Take a junction away: with what stands at an end, or by making its two pipes one. */
function withoutJunction(layout: Layout, id: string): Layout {
  const own = layout.pipes.filter((p) => p["from"] === id || p["to"] === id);
  if (own.length > 2) throw new CanNot(`${own.length} pipes meet at ${id}: take one away, and the joint follows.`);
  if (own.length === 1) throw new CanNot(`Pipe ${own[0]!.id} ends at ${id}: take the pipe away, and its end goes with it.`);
  const stands = AT_JUNCTIONS.flatMap((list) => (layout[list] ?? []).filter((x) => x["junction"] === id));
  if (own.length === 0) {
    const bare = AT_JUNCTIONS.reduce((l, list) => shorter(l, list, (x) => x["junction"] !== id), layout);
    return shorter(withoutWork(bare, "junction", id), "junctions", (j) => j.id !== id);
  }
  if (stands.length) throw new CanNot(`${stands[0]!.id} stands at ${id}: take it away first.`);
  return withPipesJoined(layout, id, own[0]!, own[1]!);
}

const APART = new Set(["id", "from", "to", "via", "length", "from_body", "to_body", "name", "ref"]);

function withPipesJoined(layout: Layout, id: string, one: Item, two: Item): Layout {
  const names = [...new Set([...Object.keys(one), ...Object.keys(two)])].filter((n) => !APART.has(n));
  const other = names.find((n) => JSON.stringify(one[n]) !== JSON.stringify(two[n]));
  if (other) throw new CanNot(`Pipes ${one.id} and ${two.id} differ in their ${other}, so ${id} has to stay.`);
  if (one["to"] !== id || two["from"] !== id) {
    if (two["to"] === id && one["from"] === id) return withPipesJoined(layout, id, two, one);
    throw new CanNot(`Stations on ${one.id} and ${two.id} count against each other, so ${id} has to stay.`);
  }
  if (one["from"] === two["to"]) throw new CanNot("A pipe can not end where it begins.");
  const [a, b] = [lengthOf(layout, one), lengthOf(layout, two)];
  const stated = [one, two].filter((p) => p["length"] !== undefined).length;
  const system = systemOf(layout);
  const busy = ON_PIPES.some((list) => (layout[list] ?? []).some((x) => x["pipe"] === two.id));
  if (busy && (a === null || stated === 1)) throw new CanNot(`State the lengths of ${one.id} and ${two.id} first: what stands on them has to keep its place.`);
  const corner = pointOf(layout.junctions.find((j) => j.id === id)?.["at"]);
  const via = [...((one["via"] as Json[] | undefined) ?? []), ...(corner ? [corner as Json] : []), ...((two["via"] as Json[] | undefined) ?? [])];
  const length = stated === 2 && a !== null && b !== null ? showLength(a + b, system) : undefined;
  const pipe = sound({ ...one, to: two["to"]!, to_body: two["to_body"], length, via: listed(via) });
  const moved = withStations(layout, two.id, (s) => [one.id, s + (a ?? 0)]);
  const pipes = moved.pipes.flatMap((p) => (p.id === one.id ? [pipe] : p.id === two.id ? [] : [p]));
  return withoutWork({ ...moved, pipes, junctions: moved.junctions.filter((j) => j.id !== id) }, "junction", id);
}

/** Give every junction without a position the place that somebody else drew it at. */
export function withPositions(layout: Layout, places: Record<string, Point>): Layout {
  const junctions = layout.junctions.map((j) => {
    const at = places[j.id];
    return j["at"] === undefined && at ? { ...j, at: tidy(at) } : j;
  });
  return { ...layout, junctions };
}

/** The sheet's scale from two points of it and how far they are apart in the building (m). */
export function withScale(layout: Layout, metres: number, line: [Point, Point]): Layout {
  const units = drawn(line);
  if (units <= 0 || metres <= 0) throw new CanNot("Two points that are apart, and a length between them, give a scale.");
  const scale = systemOf(layout) === "metric" ? `${Number((metres / units).toPrecision(6))} m` : `${Number((metres / units / 0.0254).toPrecision(6))} in`;
  return { ...layout, drawing: { ...(layout["drawing"] as object | undefined), scale } };
}
