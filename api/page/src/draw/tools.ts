/** What a hand does on the sheet: each tool takes a point, and gives an edit. No screen. */

import { withWork, workLabel } from "../layout";
import type { Layout, WorkItem } from "../layout";
import type { Point } from "../types";
import { parseLength, showLength } from "../units";
import { systemOf } from "../layout";
import { CanNot, stationAt, withCap, withThing } from "./edit";
import type { Kind } from "./edit";
import { away, lengthOf, lineOf, nearestOn, placeOf, pointOf, spotAt } from "./paths";

export type Tool = "select" | "pipe" | Kind | "cap" | "work" | "obstruction" | "backing";

export interface ToolInfo {
  tool: Tool;
  key: string; // on the keyboard
  label: string;
  hint: string;
}

export const TOOLS: readonly ToolInfo[] = [
  { tool: "select", key: "s", label: "Choose", hint: "Point at something to see and change it; drag it to move it (pipe and outlines once they are chosen)." },
  { tool: "pipe", key: "p", label: "Pipe", hint: "Point at its start, its corners, its end. It joins what it ends on; elsewhere point at the last place once more." },
  { tool: "source", key: "m", label: "Source", hint: "Point at where water is pressed in." },
  { tool: "outlet", key: "o", label: "Outlet", hint: "Point at where water can leave: a tap, a drain, a vent, an appliance." },
  { tool: "valve", key: "v", label: "Valve", hint: "Point at the pipe it is in." },
  { tool: "pump", key: "u", label: "Pump", hint: "Point at the pipe it is in." },
  { tool: "equipment", key: "e", label: "Heater, tank", hint: "Point at the pipe it is in, or at an end of pipe for a tank." },
  { tool: "cap", key: "c", label: "Cap", hint: "Point at an end of pipe to cap it; once more takes it off." },
  { tool: "work", key: "w", label: "Work", hint: "Point at what will be opened: a valve, a pump, a joint, a length of pipe." },
  { tool: "plug", key: "f", label: "Plug", hint: "Point at the pipe where it shall be frozen." },
  { tool: "obstruction", key: "b", label: "Obstruction", hint: "Point at the corners of something solid; end at the first." },
  { tool: "backing", key: "k", label: "Picture", hint: "Lay a picture under the sheet and trace over it." },
];

export interface Hit {
  kind: string;
  id: string;
  corner?: number; // of a pipe
}

const KINDS = [
  ["plugs", "plug"],
  ["valves", "valve"],
  ["pumps", "pump"],
  ["equipment", "equipment"],
  ["sources", "source"],
  ["outlets", "outlet"],
  ["fittings", "fitting"],
] as const;

/** What lies under a point: what stands there, then corners of the chosen pipe, joints, pipe, outlines. */
export function hitAt(layout: Layout, at: Point, reach: number, chosen?: string): Hit | null {
  const things = KINDS.flatMap(([list, kind]) =>
    (layout[list] ?? []).flatMap((item) => {
      const place = placeOf(layout, item);
      return place ? [{ kind, id: item.id, off: away(place.at, at) }] : [];
    }),
  );
  const thing = things.filter((t) => t.off <= reach).sort((a, b) => a.off - b.off)[0];
  if (thing) return { kind: thing.kind, id: thing.id };
  const via = layout.pipes.find((p) => p.id === chosen)?.["via"];
  const corner = Array.isArray(via) ? via.findIndex((v) => away(pointOf(v) ?? [Infinity, 0], at) <= reach) : -1;
  if (corner >= 0) return { kind: "pipe", id: chosen!, corner };
  const spot = spotAt(layout, at, reach);
  if (spot.junction) return { kind: "junction", id: spot.junction };
  if (spot.pipe) return { kind: "pipe", id: spot.pipe };
  const solid = (layout.site?.["obstructions"] as { id: string; outline: Point[] }[] | undefined)?.find((o) => nearestOn([...o.outline, o.outline[0]!], at).off <= reach);
  return solid ? { kind: "obstruction", id: solid.id } : null;
}

/** What was done: the new document, and what is chosen after it. */
export interface Done {
  layout: Layout;
  picked: { kind: string; id: string };
  said: string;
}

/** Use a tool that needs one point. Throws CanNot, with words for why. */
export function used(tool: Exclude<Tool, "select" | "pipe" | "obstruction" | "backing">, layout: Layout, at: Point, reach: number): Done {
  if (tool === "work") return withWorkAt(layout, at, reach);
  if (tool === "cap") {
    const done = withCap(layout, at, reach);
    const on = done.layout.junctions.find((j) => j.id === done.junction)!["fitting"] === "cap";
    return { layout: done.layout, picked: { kind: "junction", id: done.junction }, said: on ? `${done.junction} is capped.` : `${done.junction} has no cap.` };
  }
  const done = withThing(layout, tool, at, reach);
  return { layout: done.layout, picked: { kind: tool, id: done.id }, said: `${tool} ${done.id} is there.` };
}

const OPENED = new Set(["valve", "pump", "junction", "pipe"]);

function withWorkAt(layout: Layout, at: Point, reach: number): Done {
  const hit = hitAt(layout, at, reach);
  if (!hit || !OPENED.has(hit.kind)) throw new CanNot("Work is on a valve, a pump, a joint or a length of pipe: point at one.");
  const item: WorkItem = hit.kind === "pipe" ? lengthRound(layout, hit.id, at) : { [hit.kind]: hit.id };
  const open = layout.work?.open ?? [];
  const label = workLabel(item);
  const isOpen = open.some((x) => workLabel(x) === label);
  const next = isOpen ? open.filter((x) => workLabel(x) !== label) : [...open, item];
  const done = withWork(layout, next, layout.work?.duration ?? "2 h");
  return { layout: done, picked: { kind: hit.kind, id: hit.id }, said: isOpen ? `${label} stays shut.` : `${label} will be opened.` };
}

/** A foot (0.3 m) of pipe round a point; its ends are set in its form. */
function lengthRound(layout: Layout, id: string, at: Point): WorkItem {
  const pipe = layout.pipes.find((p) => p.id === id)!;
  const middle = parseLength(stationAt(layout, id, nearestOn(lineOf(layout, pipe)!, at).share))!;
  const [length, system] = [lengthOf(layout, pipe)!, systemOf(layout)];
  const half = system === "metric" ? 0.15 : 0.1524;
  const start = Math.max(0, Math.min(middle - half, length - 2 * half));
  return { pipe: id, start: showLength(start, system), end: showLength(Math.min(start + 2 * half, length), system) };
}

/** Say what a point lies on, for those who do not see it. */
export function spotSays(layout: Layout, at: Point, reach: number): string {
  const place = `${Number(at[0].toFixed(2))} across, ${Number(at[1].toFixed(2))} up`;
  const hit = hitAt(layout, at, reach);
  return hit ? `${place}: ${hit.kind} ${hit.id}` : place;
}
