/** The document on its sheet, at a nearness; drawn again only when it changed. */

import { Component } from "preact";
import type { VNode } from "preact";
import { boxOf, placed } from "../labels";
import type { Label, Place } from "../labels";
import { workLabel } from "../layout";
import type { Item, Layout } from "../layout";
import { listed } from "../Scene";
import type { Point } from "../types";
import { parseLength } from "../units";
import { obstructionsOf } from "./edit";
import { Symbol, formOf } from "./glyphs";
import { along, drawn, lengthOf, lineOf, placeOf, pointOf, shareOf } from "./paths";

const SYMBOL = 9; // px, half a symbol's length
const TEXT = 11; // px
const JACKET = 7; // px, half a jacket's width

export interface MarksProps {
  layout: Layout;
  k: number; // px of a drawing unit
  chosen: string; // "kind id"
  tones: Record<string, string>; // of the plugs: clear, shut, unknown
}

const LISTS = ["valves", "pumps", "equipment", "sources", "outlets", "fittings"] as const;
const KIND: Record<string, string> = { valves: "valve", pumps: "pump", equipment: "equipment", sources: "source", outlets: "outlet", fittings: "fitting" };

export class Marks extends Component<MarksProps> {
  override shouldComponentUpdate(next: MarksProps): boolean {
    const { layout, k, chosen, tones } = this.props;
    return layout !== next.layout || k !== next.k || chosen !== next.chosen || JSON.stringify(tones) !== JSON.stringify(next.tones);
  }

  override render(): VNode {
    const { layout, k, chosen, tones } = this.props;
    const on = ([x, y]: Point): Point => [x * k, -y * k];
    const opened = new Set((layout.work?.open ?? []).map(workLabel));
    return (
      <g class="sheet" aria-hidden="true">
        {obstructionsOf(layout).map((o) => (
          <polygon class={`m-obstruction${chosen === `obstruction ${o.id}` ? " chosen" : ""}`} points={listed((o["outline"] as Point[]).map(on))} />
        ))}
        {layout.pipes.map((p) => pipeOf(layout, p, on, chosen))}
        {(layout.work?.open ?? []).map((w) => openedOf(layout, w, on))}
        {layout.junctions.map((j) => junctionOf(j, on, chosen, opened))}
        {LISTS.flatMap((list) => (layout[list] ?? []).map((item) => thingOf(layout, list, item, on, chosen, opened)))}
        {(layout.plugs ?? []).map((p) => plugOf(layout, p, on, chosen, tones[p.id] ?? "unknown"))}
        <Labels layout={layout} on={on} />
      </g>
    );
  }
}

type On = (at: Point) => Point;

function pipeOf(layout: Layout, pipe: Item, on: On, chosen: string): VNode | null {
  const line = lineOf(layout, pipe)?.map(on);
  if (!line) return null;
  const isChosen = chosen === `pipe ${pipe.id}`;
  return (
    <g data-pipe={pipe.id}>
      {isChosen && <polyline class="halo" points={listed(line)} />}
      <polyline class={`pipe${lengthOf(layout, pipe) === null ? " unmeasured" : ""}`} points={listed(line)} />
      {isChosen && line.slice(1, -1).map(([x, y]) => <rect class="corner" x={x - 4} y={y - 4} width={8} height={8} />)}
    </g>
  );
}

function openedOf(layout: Layout, work: { pipe?: string; start?: string; end?: string }, on: On): VNode | null {
  const pipe = layout.pipes.find((p) => p.id === work.pipe);
  const line = pipe && lineOf(layout, pipe);
  if (!pipe || !line) return null;
  const ends = [work.start, work.end].map((text) => shareOf(layout, pipe, text));
  return <polyline class="m-opened-pipe" points={listed(between(line, ends[0]!, ends[1]!).map(on))} />;
}

/** The part of a line between two shares of it. */
export function between(line: Point[], start: number, end: number): Point[] {
  const whole = drawn(line) || 1;
  let before = 0;
  const inner = line.filter((p, i) => {
    if (i > 0) before += Math.hypot(p[0] - line[i - 1]![0], p[1] - line[i - 1]![1]);
    return before / whole > start && before / whole < end;
  });
  return [along(line, start).at, ...inner, along(line, end).at];
}

function junctionOf(junction: Item, on: On, chosen: string, opened: ReadonlySet<string>): VNode | null {
  const at = pointOf(junction["at"]);
  if (!at) return null;
  const [x, y] = on(at);
  const fitting = junction["fitting"];
  const isShut = fitting === "cap" || fitting === "blind";
  return (
    <g data-junction={junction.id}>
      {chosen === `junction ${junction.id}` && <circle class="halo" cx={x} cy={y} r={11} />}
      {opened.has(`junction ${junction.id}`) && <circle class="opened" cx={x} cy={y} r={9} />}
      {isShut ? <rect class="f-ink" x={x - 4} y={y - 4} width={8} height={8} /> : <circle class={fitting ? "joint" : "end"} cx={x} cy={y} r={fitting ? 3 : 3.5} />}
      {junction["goes_on"] !== undefined && <circle class="end" cx={x} cy={y} r={6.5} />}
    </g>
  );
}

function thingOf(layout: Layout, list: string, item: Item, on: On, chosen: string, opened: ReadonlySet<string>): VNode | null {
  const place = placeOf(layout, item);
  const form = formOf(list, item);
  if (!place || !form) return null;
  const [x, y] = on(place.at);
  const name = `${KIND[list]} ${item.id}`;
  return (
    <g data-thing={item.id}>
      {chosen === name && <circle class="halo" cx={x} cy={y} r={SYMBOL + 6} />}
      {opened.has(name) && <circle class="opened" cx={x} cy={y} r={SYMBOL + 4} />}
      <Symbol form={form} at={[x, y]} angle={-place.angle} size={SYMBOL} />
    </g>
  );
}

function plugOf(layout: Layout, plug: Item, on: On, chosen: string, tone: string): VNode | null {
  const place = placeOf(layout, plug);
  if (!place) return null;
  const pipe = layout.pipes.find((p) => p.id === plug["pipe"]);
  const line = pipe && lineOf(layout, pipe);
  const length = pipe && lengthOf(layout, pipe);
  const share = line && length ? (parseLength(String(plug["jacket"])) ?? 0.3) / length : 0;
  const half = Math.max(line ? (drawn(line.map(on)) * share) / 2 : 0, 6);
  const [x, y] = on(place.at);
  return (
    <g data-mark={plug.id} class={`plug ${tone}`} transform={`rotate(${(-place.angle).toFixed(2)} ${x.toFixed(2)} ${y.toFixed(2)})`}>
      {chosen === `plug ${plug.id}` && <circle class="halo" cx={x} cy={y} r={JACKET + 9} />}
      <rect class="sleeve" x={x - half} y={y - JACKET} width={half * 2} height={JACKET * 2} />
    </g>
  );
}

// --- labels --------------------------------------------------------------------------------------

function Labels({ layout, on }: { layout: Layout; on: On }): VNode {
  const labels = labelsOf(layout, on);
  const byKey = new Map(labels.map((l) => [l.key, l]));
  const taken = LISTS.flatMap((list) => (layout[list] ?? []).flatMap((item) => boxRound(layout, item, on)));
  return (
    <g>
      {placed(labels, [...taken, ...(layout.plugs ?? []).flatMap((p) => boxRound(layout, p, on))]).map(({ key, place }) => (
        <text class={`words ${byKey.get(key)!.look}`} x={place.x.toFixed(1)} y={place.y.toFixed(1)} text-anchor={place.anchor} font-size={byKey.get(key)!.size}>
          {byKey.get(key)!.text}
        </text>
      ))}
    </g>
  );
}

function boxRound(layout: Layout, item: Item, on: On): [number, number, number, number][] {
  const place = placeOf(layout, item);
  if (!place) return [];
  const [x, y] = on(place.at);
  return [[x - SYMBOL, y - SYMBOL, x + SYMBOL, y + SYMBOL]];
}

type Looked = Label & { look: string };

function labelsOf(layout: Layout, on: On): Looked[] {
  const found: Looked[] = [];
  const add = (key: string, text: string, rank: number, places: Place[], look = ""): void => void found.push({ key, text, size: TEXT, rank, places, look });
  for (const p of layout.plugs ?? []) {
    const place = placeOf(layout, p);
    if (place) add(`plug ${p.id}`, `Plug ${p.id}`, 0, beside(on(place.at), JACKET + 4), "bold");
  }
  for (const list of LISTS) {
    for (const item of layout[list] ?? []) {
      const place = placeOf(layout, item);
      if (place && list !== "fittings") add(`${list} ${item.id}`, item.id, 1, beside(on(place.at), SYMBOL + 4));
    }
  }
  for (const p of layout.pipes) {
    const line = lineOf(layout, p)?.map(on);
    if (!line) continue;
    const length = p["length"] ?? (lengthOf(layout, p) === null ? "length?" : "");
    const text = [p.id, p["size"] ?? "size?", length].filter(Boolean).join(" · ");
    const leg = longest(line);
    add(`pipe ${p.id}`, text, 2, besideLeg(leg, text), text.includes("?") ? "doubtful" : "");
    add(`name ${p.id}`, p.id, 2.5, besideLeg(leg, p.id), text.includes("?") ? "doubtful" : "");
  }
  for (const j of layout.junctions) {
    const at = pointOf(j["at"]);
    if (!at) continue;
    const text = j["elevation"] === undefined ? j.id : `${j.id} ${String(j["elevation"])}`;
    add(`junction ${j.id}`, text, 3, beside(on(at), 6), "quiet");
  }
  const dropped = new Set(placed(found).map((x) => x.key));
  // A pipe whose full label has room needs its short one no more.
  return found.filter((l) => !l.key.startsWith("name ") || !dropped.has(`pipe ${l.key.slice(5)}`));
}

function longest(line: Point[]): [Point, Point] {
  const legs = line.slice(1).map((b, i): [Point, Point] => [line[i]!, b]);
  return legs.reduce((best, leg) => (drawn(leg) > drawn(best) ? leg : best), legs[0]!);
}

const SHIFTS = [0.5, 0.3, 0.7];

/** Above or below a leg that lies, beside one that stands; at its middle before its ends. */
function besideLeg([a, b]: [Point, Point], text: string): Place[] {
  const flat = Math.abs(b[0] - a[0]) >= Math.abs(b[1] - a[1]);
  const spots = SHIFTS.map((s): Point => [a[0] + (b[0] - a[0]) * s, a[1] + (b[1] - a[1]) * s]);
  if (!flat) return spots.flatMap(([x, y]): Place[] => [{ x: x + 6, y: y + 4, anchor: "start" }, { x: x - 6, y: y + 4, anchor: "end" }]);
  const wide = boxOf(text, TEXT, { x: 0, y: 0, anchor: "start" })[2];
  const above = spots.map(([x, y]): Place => ({ x, y: y - 5, anchor: "middle" }));
  const below = spots.map(([x, y]): Place => ({ x, y: y + TEXT + 4, anchor: "middle" }));
  return wide < drawn([a, b]) * 1.6 ? [...above, ...below] : [...below, ...above];
}

function beside([x, y]: Point, off: number): Place[] {
  return [
    { x: x + off, y: y - off, anchor: "start" },
    { x: x - off, y: y - off, anchor: "end" },
    { x: x + off, y: y + off + 8, anchor: "start" },
    { x: x - off, y: y + off + 8, anchor: "end" },
    { x, y: y - off - 5, anchor: "middle" },
    { x, y: y + off + 12, anchor: "middle" },
  ];
}
