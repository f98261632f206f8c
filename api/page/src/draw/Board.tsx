/** The sheet to draw on: points by mouse, finger or keyboard become edits. */

import type { VNode } from "preact";
import { useEffect, useMemo, useRef, useState } from "preact/hooks";
import { framed, pinched, zoomed } from "../camera";
import type { Camera, Reach, Size } from "../camera";
import { distance } from "../geometry";
import { changed, find } from "../layout";
import type { Layout } from "../layout";
import { listed } from "../Scene";
import { marginOf, store } from "../store";
import type { State } from "../store";
import type { Point } from "../types";
import { CanNot, listOfKind, stationAt, withCornerMoved, withJunctionMoved, withObstruction, withRun, withShifted, without } from "./edit";
import { Marks } from "./Marks";
import { away, extentOf, nearestOn, lineOf, pitchOf, placeOf, junctionAt, snapped, spotAt } from "./paths";
import { TOOLS, hitAt, spotSays, used } from "./tools";
import type { Hit, Tool } from "./tools";

const TAP = 6; // px that a finger may slip and still tap
const REACH = 14; // px round a pointer within which things are met
const FINGER = 22; // the same for a finger

interface Props {
  state: State;
  tool: Tool;
  onTool: (tool: Tool) => void;
  fields: Record<string, string>; // of new pipe
  hint: VNode;
  under: (camera: Camera) => VNode | null; // what lies under the sheet's lines
  backing: { down: (at: Point) => void; drag: (from: Point, to: Point) => void } | null;
}

export function Board({ state, tool, onTool, fields, hint, under, backing }: Props): VNode {
  const layout = state.layout!;
  const frame = useRef<HTMLDivElement>(null);
  const [size, setSize] = useState<Size>({ width: 0, height: 0 });
  const [camera, setCamera] = useState<Camera | null>(null);
  const [run, setRun] = useState<Point[]>([]);
  const [ghost, setGhost] = useState<Point | null>(null); // where the next point would be
  const [cross, setCross] = useState<Point | null>(null); // the keyboard's place
  const pitch = useMemo(() => pitchOf(layout), [state.opened]);

  useEffect(() => {
    const watcher = new ResizeObserver(([entry]) => entry && setSize(entry.contentRect));
    watcher.observe(frame.current!);
    return () => watcher.disconnect();
  }, []);
  const home = (): Camera => framedOn(layout, pitch, size);
  useEffect(() => {
    if (size.width) setCamera(home());
  }, [state.opened, size.width > 0]);
  useEffect(() => {
    setRun([]);
    setGhost(null);
  }, [tool]);

  const k = camera?.k ?? 1;
  const hand: HandOf = { layout, tool, pitch, k, run, fields, setRun, onTool };
  const gestures = useGestures(frame, camera, setCamera, hand, setGhost, reachOf(pitch), backing);
  const keys = (event: KeyboardEvent): void => boardKey(event, hand, cross ?? middleOf(camera, size, pitch), setCross, setCamera, size);
  const tones = Object.fromEntries((layout.plugs ?? []).map((p) => [p.id, marginOf(state, p.id).state]));
  const chosen = state.picked ? `${state.picked.kind} ${state.picked.id}` : "";
  const zoom = (factor: number): void => setCamera((c) => c && zoomed(c, factor, [size.width / 2, size.height / 2], reachOf(pitch)));

  // Buttons stand beside the sheet, never over it: what is under the finger is what is pointed at.
  return (
    <>
      {run.length > 0 ? (
        <div class="hint pending" role="group" aria-label="What is being drawn">
          <button type="button" class="main" disabled={run.length < (tool === "pipe" ? 2 : 3)} onClick={() => finish(hand, run)}>
            {tool === "pipe" ? "End the pipe" : "Close the outline"}
          </button>
          <button type="button" onClick={() => setRun(run.slice(0, -1))}>Back a point</button>
          <span>{run.length} {run.length === 1 ? "point" : "points"}</span>
        </div>
      ) : (
        hint
      )}
    <div class={`canvas board tool-${tool}`} ref={frame}>
      <svg class="paper" data-camera={camera ? `${camera.k} ${camera.x} ${camera.y}` : undefined} data-cross={cross?.join(" ")} {...gestures} onKeyDown={keys} tabindex={0} role="application" aria-label="Sheet to draw on. Arrow keys move the cross, Enter points there, letters take tools, Escape lets go." width={size.width} height={size.height}>
        {camera && (
          <>
            <Grid camera={camera} size={size} pitch={pitch} />
            {under(camera)}
            <g transform={`translate(${camera.x.toFixed(2)} ${camera.y.toFixed(2)})`}>
              <Marks layout={layout} k={k} chosen={chosen} tones={tones} />
              <Pending run={run} ghost={ghost ?? cross} k={k} layout={layout} tool={tool} />
              {cross && <Cross at={[cross[0] * k, -cross[1] * k]} />}
            </g>
          </>
        )}
      </svg>
      <p class="unseen" role="status" aria-live="polite">{cross ? spotSays(layout, cross, pitch * 0.3) : ""}</p>
      <div class="zoom" role="group" aria-label="View">
        <button type="button" title="Closer" aria-label="Closer" onClick={() => zoom(1.4)}>+</button>
        <button type="button" title="Farther" aria-label="Farther" onClick={() => zoom(1 / 1.4)}>−</button>
        <button type="button" onClick={() => setCamera(home())}>All</button>
        <button type="button" disabled={!state.drawing} onClick={() => store.turnTo("check")}>See it judged</button>
      </div>
    </div>
    </>
  );
}

const reachOf = (pitch: number): Reach => ({ least: 0.5 / pitch, most: 60 / pitch });

/** All that is drawn, with room beside it; an empty sheet shows forty steps of the grid. */
function framedOn(layout: Layout, pitch: number, size: Size): Camera {
  const box = extentOf(layout) ?? [0, 0, 0, 0];
  const room = 4 * pitch;
  const wide = Math.max(box[2] - box[0], (size.width / 24) * pitch - 2 * room);
  const tall = Math.max(box[3] - box[1], (size.height / 24) * pitch - 2 * room);
  const [x, y] = extentOf(layout) ? [(box[0] + box[2]) / 2, (box[1] + box[3]) / 2] : [wide / 2, tall / 2];
  return framed([x - wide / 2 - room, -(y + tall / 2) - room, x + wide / 2 + room, -(y - tall / 2) + room], size, 60 / pitch, 0.5 / pitch);
}

function middleOf(camera: Camera | null, size: Size, pitch: number): Point {
  if (!camera) return [0, 0];
  const [x, y] = [(size.width / 2 - camera.x) / camera.k, -(size.height / 2 - camera.y) / camera.k];
  return [Math.round(x / pitch) * pitch, Math.round(y / pitch) * pitch];
}

// --- what is drawn besides the document ----------------------------------------------------------

function Grid({ camera, size, pitch }: { camera: Camera; size: Size; pitch: number }): VNode {
  const step = pitch * camera.k < 7 ? pitch * 5 : pitch;
  const px = step * camera.k;
  const lines = (from: number, room: number): number[] => Array.from({ length: Math.ceil(room / px) + 1 }, (_, i) => (((from % px) + px) % px) + i * px);
  const [xs, ys] = [lines(camera.x, size.width), lines(camera.y, size.height)];
  const d = [...xs.map((x) => `M${x.toFixed(1)} 0V${size.height}`), ...ys.map((y) => `M0 ${y.toFixed(1)}H${size.width}`)].join("");
  return <path class="grid" d={d} aria-hidden="true" />;
}

function Pending({ run, ghost, k, layout, tool }: { run: Point[]; ghost: Point | null; k: number; layout: Layout; tool: Tool }): VNode | null {
  if (tool === "select" || tool === "backing" || (!run.length && !ghost)) return null;
  const points = ghost ? [...run, ghost] : run;
  const on = points.map(([x, y]): Point => [x * k, -y * k]);
  const end = on.at(-1)!;
  const spot = ghost && spotAt(layout, ghost, 1e-6);
  return (
    <g class="pending-marks" aria-hidden="true">
      {on.length > 1 && <polyline points={listed(on)} />}
      {on.slice(0, run.length).map(([x, y]) => <circle cx={x} cy={y} r={3} />)}
      {ghost && <circle class={spot?.junction || spot?.pipe ? "joins" : ""} cx={end[0]} cy={end[1]} r={spot?.junction || spot?.pipe ? 9 : 4} />}
    </g>
  );
}

function Cross({ at: [x, y] }: { at: Point }): VNode {
  return <path class="cross" d={`M${x - 16} ${y}h12m8 0h12M${x} ${y - 16}v12m0 8v12`} aria-hidden="true" />;
}

// --- what points do ------------------------------------------------------------------------------

interface HandOf {
  layout: Layout;
  tool: Tool;
  pitch: number;
  k: number;
  run: Point[];
  fields: Record<string, string>;
  setRun: (run: Point[]) => void;
  onTool: (tool: Tool) => void;
}

/** Do something that may not be possible: then say why, and show the field that is needed first. */
function attempt(act: () => void): void {
  try {
    act();
  } catch (error) {
    if (!(error instanceof CanNot)) throw error;
    store.say(error.message);
    const { needs } = error;
    if (needs) store.want({ kind: needs.kind, id: needs.id }, { site: false, field: needs.field });
  }
}

/** Point at a place with the tool in hand. reach: in drawing units. */
function point(hand: HandOf, at: Point, reach: number, fine: boolean): void {
  const { layout, tool, pitch } = hand;
  if (tool === "backing") return;
  if (tool === "select") return store.pick(hitAt(layout, at, reach, chosenPipe()));
  if (tool === "pipe" || tool === "obstruction") return addPoint(hand, at, reach, fine);
  attempt(() => {
    const place = snapped(layout, at, reach, pitch).at;
    const isEnd = tool === "source" || tool === "outlet";
    const done = used(tool, layout, isEnd ? place : at, isEnd ? pitch * 1e-3 : reach);
    store.edit(done.layout, { said: done.said });
    store.pick(done.picked);
  });
}

function chosenPipe(): string | undefined {
  const { picked } = store.state;
  return picked?.kind === "pipe" ? picked.id : undefined;
}

function addPoint(hand: HandOf, raw: Point, reach: number, fine: boolean): void {
  const { layout, tool, pitch, run, setRun } = hand;
  const spot = tool === "pipe" ? snapped(layout, raw, reach, pitch) : { at: [Math.round(raw[0] / pitch) * pitch, Math.round(raw[1] / pitch) * pitch] as Point };
  const last = run.at(-1);
  const slack = Math.max(pitch * 1e-3, fine ? 0 : reach * 0.5);
  if (last && away(last, spot.at) <= slack) return run.length > 1 ? finish(hand, run) : undefined;
  const next = [...run, spot.at];
  if (tool === "pipe" && run.length > 0 && (spot.junction || spot.pipe)) return finish(hand, next);
  if (tool === "obstruction" && run.length > 2 && away(run[0]!, spot.at) <= slack) return finish(hand, run);
  setRun(next);
}

function finish(hand: HandOf, points: Point[]): void {
  hand.setRun([]);
  attempt(() => {
    if (hand.tool === "obstruction") {
      const made = withObstruction(hand.layout, points);
      store.edit(made.layout, { said: `Obstruction ${made.id} is there.` });
      return store.pick({ kind: "obstruction", id: made.id });
    }
    const made = withRun(hand.layout, points, hand.fields);
    const id = made.pipes.at(-1)!;
    store.edit(made.layout, { said: `Pipe ${made.pipes.join(", ")} is drawn: give its length.` });
    // On a phone a field in focus calls the keyboard up over the sheet: there it is only shown.
    if (matchMedia("(pointer: coarse)").matches) store.pick({ kind: "pipe", id });
    else store.want({ kind: "pipe", id }, { site: false, field: "length" });
  });
}

/** The document with something dragged to a point. */
function draggedTo(layout: Layout, hit: Hit, from: Point, at: Point, pitch: number, reach: number, last: boolean): Layout {
  const even: Point = [Math.round(at[0] / pitch) * pitch, Math.round(at[1] / pitch) * pitch];
  if (hit.corner !== undefined) return withCornerMoved(layout, hit.id, hit.corner, even);
  if (hit.kind === "pipe" || hit.kind === "obstruction") {
    const step = (i: 0 | 1): number => Math.round((at[i] - from[i]) / pitch) * pitch;
    return withShifted(layout, hit.kind, hit.id, [step(0), step(1)]);
  }
  // On its way a joint goes over others; where it is let go it joins what is there.
  if (hit.kind === "junction") return last ? withJunctionMoved(layout, hit.id, snappedBut(layout, hit.id, at, reach, pitch), reach) : changed(layout, "junctions", hit.id, { at: even });
  const list = listOfKind(hit.kind);
  const item = find(layout, hit);
  if (!list || !item) return layout;
  if (typeof item["junction"] === "string" && (hit.kind === "source" || hit.kind === "outlet")) return draggedTo(layout, { kind: "junction", id: item["junction"] }, from, at, pitch, reach, last);
  const pipe = nearestPipe(layout, at);
  if (!pipe || typeof item["pipe"] !== "string") return layout;
  const own = layout.pipes.find((p) => p.id === pipe)!;
  const share = nearestOn(lineOf(layout, own)!, at).share;
  return changed(layout, list, hit.id, { pipe, station: stationAt(layout, pipe, share) });
}

function nearestPipe(layout: Layout, at: Point): string | undefined {
  const near = layout.pipes.flatMap((p) => {
    const line = lineOf(layout, p);
    return line ? [{ id: p.id, off: nearestOn(line, at).off }] : [];
  });
  return near.sort((a, b) => a.off - b.off)[0]?.id;
}

function snappedBut(layout: Layout, junction: string, at: Point, reach: number, pitch: number): Point {
  const others = { ...layout, junctions: layout.junctions.filter((j) => j.id !== junction), pipes: layout.pipes.filter((p) => p["from"] !== junction && p["to"] !== junction) };
  return snapped(others, at, reach, pitch).at;
}

// --- hands ---------------------------------------------------------------------------------------

interface Pressed {
  pointers: Map<number, Point>;
  start: Point;
  slipped: boolean;
  held: Hit | null;
  from: Layout | null;
}

type Gestures = Record<string, (event: PointerEvent) => void>;
type SetCamera = (next: (c: Camera | null) => Camera | null) => void;

function useGestures(frame: { current: HTMLDivElement | null }, camera: Camera | null, setCamera: SetCamera, hand: HandOf, setGhost: (at: Point | null) => void, reach: Reach, backing: Props["backing"]): Gestures {
  const pressed = useRef<Pressed>({ pointers: new Map(), start: [0, 0], slipped: false, held: null, from: null });
  const place = (event: MouseEvent): Point => {
    const box = frame.current!.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  };
  const onSheet = ([x, y]: Point): Point => [(x - camera!.x) / camera!.k, -(y - camera!.y) / camera!.k];
  const reachFor = (event: PointerEvent): number => (event.pointerType === "mouse" ? REACH : FINGER) / (camera?.k ?? 1);

  useEffect(() => {
    const svg = frame.current!.querySelector("svg")!;
    const wheel = (event: WheelEvent): void => {
      event.preventDefault();
      const factor = Math.exp(-event.deltaY * (event.ctrlKey ? 0.01 : 0.0016));
      setCamera((c) => c && zoomed(c, factor, place(event), reach));
    };
    svg.addEventListener("wheel", wheel, { passive: false });
    return () => svg.removeEventListener("wheel", wheel);
  }, [reach.least]);

  return {
    onPointerDown: (event) => {
      if (event.button > 0 || !camera) return;
      const p = pressed.current;
      (event.currentTarget as Element).setPointerCapture(event.pointerId);
      p.pointers.set(event.pointerId, place(event));
      if (p.pointers.size > 1) {
        if (p.held && p.slipped) store.stopMoving();
        p.held = null;
        p.slipped = true;
        return;
      }
      p.start = place(event);
      p.slipped = false;
      p.held = hand.tool === "select" ? hitAt(hand.layout, onSheet(p.start), reachFor(event), chosenPipe()) : null;
      p.from = hand.layout;
    },
    onPointerMove: (event) => {
      if (!camera) return;
      const p = pressed.current;
      const before = p.pointers.get(event.pointerId);
      const now = place(event);
      if (!before) {
        if (event.pointerType === "mouse" && hand.tool !== "select" && hand.tool !== "backing") setGhost(snapped(hand.layout, onSheet(now), reachFor(event), hand.pitch).at);
        return;
      }
      p.pointers.set(event.pointerId, now);
      if (p.pointers.size === 2) return setCamera((c) => c && pinched(c, p.pointers, event.pointerId, before, now, reach));
      if (!p.slipped && distance(now, p.start) < TAP) return;
      const first = !p.slipped;
      p.slipped = true;
      if (backing && hand.tool === "backing") return backing.drag(onSheet(before), onSheet(now));
      const held = p.held;
      if (held && canDrag(held)) {
        if (first) store.startMoving(held.id, held.kind);
        return attempt(() => store.moveOn(draggedTo(p.from!, held, onSheet(p.start), onSheet(now), hand.pitch, reachFor(event), false)));
      }
      setCamera((c) => c && { ...c, x: c.x + now[0] - before[0], y: c.y + now[1] - before[1] });
    },
    onPointerUp: (event) => {
      const p = pressed.current;
      if (!p.pointers.delete(event.pointerId) || !camera) return;
      const held = p.held;
      if (held && p.slipped && canDrag(held)) {
        attempt(() => store.moveOn(draggedTo(p.from!, held, onSheet(p.start), onSheet(place(event)), hand.pitch, reachFor(event), true)));
        store.stopMoving();
      } else if (!p.slipped) {
        if (backing && hand.tool === "backing") backing.down(onSheet(p.start));
        point(hand, onSheet(p.start), reachFor(event), event.pointerType === "mouse");
      }
      if (!p.pointers.size) p.held = null;
      if (event.pointerType !== "mouse") setGhost(null);
    },
    onPointerCancel: (event) => {
      const p = pressed.current;
      p.pointers.delete(event.pointerId);
      if (p.held && p.slipped) store.stopMoving();
      p.held = null;
    },
    onPointerLeave: () => setGhost(null),
  };
}

/** Pipe and outlines are moved only once they are chosen: a hand that pans meets them everywhere. */
function canDrag(hit: Hit): boolean {
  const { picked } = store.state;
  const large = hit.kind === "pipe" || hit.kind === "obstruction";
  return !large || hit.corner !== undefined || (picked?.kind === hit.kind && picked.id === hit.id);
}

function boardKey(event: KeyboardEvent, hand: HandOf, cross: Point, setCross: (at: Point) => void, setCamera: SetCamera, size: Size): void {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const far = event.shiftKey ? 5 * hand.pitch : hand.pitch;
  const moves: Record<string, Point> = { ArrowLeft: [-far, 0], ArrowRight: [far, 0], ArrowUp: [0, far], ArrowDown: [0, -far] };
  const move = moves[event.key];
  const picked = store.state.picked;
  if (move) {
    const at: Point = [cross[0] + move[0], cross[1] + move[1]];
    setCross(at);
    setCamera((c) => c && followed(c, at, size));
  } else if (event.key === "Enter" || event.key === " ") {
    setCross(cross);
    point(hand, cross, hand.pitch * 0.3, true);
  } else if (event.key === "Escape") {
    if (hand.run.length) hand.setRun([]);
    else if (hand.tool !== "select") hand.onTool("select");
    else store.pick(null);
  } else if (event.key === "Backspace" && hand.run.length) hand.setRun(hand.run.slice(0, -1));
  else if ((event.key === "Delete" || event.key === "Backspace") && picked) takeAway(hand.layout, picked.kind, picked.id);
  else if (event.key === "g" && picked) {
    const at = picked.kind === "junction" ? junctionAt(hand.layout, picked.id) : (placeOf(hand.layout, find(hand.layout, picked) ?? { id: "" })?.at ?? null);
    if (at) setCross(at);
  } else {
    const tool = TOOLS.find((t) => t.key === event.key)?.tool;
    if (!tool) return;
    hand.onTool(tool);
  }
  event.preventDefault();
}

/** Take something off the sheet, if it can be. */
export function takeAway(layout: Layout, kind: string, id: string): void {
  attempt(() => {
    store.edit(without(layout, kind, id), { said: `${kind} ${id} is taken off; undo brings it back.` });
    store.pick(null);
  });
}

/** Keep a point in sight. */
function followed(camera: Camera, [x, y]: Point, size: Size): Camera {
  const [sx, sy] = [x * camera.k + camera.x, -y * camera.k + camera.y];
  const shift = (at: number, room: number): number => (at < 30 ? 30 - at : at > room - 30 ? room - 30 - at : 0);
  return { ...camera, x: camera.x + shift(sx, size.width), y: camera.y + shift(sy, size.height) };
}
