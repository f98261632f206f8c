/** The drawing to look at and work on: pan, zoom, pinch; plugs to drag; things to pick. */

import { useEffect, useMemo, useRef, useState } from "preact/hooks";
import type { VNode } from "preact";
import { centred, framed, isSeen, pinched, zoomed } from "./camera";
import type { Camera, Size } from "./camera";
import { between, clamp, distance, nearest, placeOf, pointAt, sleeve, wayLine } from "./geometry";
import { Legend } from "./Legend";
import { everything, neighbours, pipeEnds, systemOf } from "./layout";
import { symbolsOf } from "./marks";
import { Scene, listed } from "./Scene";
import { marginOf, partOf, seatOf, store } from "./store";
import type { Seat, State } from "./store";
import type { Drawing, Point } from "./types";
import { showLength, steps } from "./units";
import { isBad, outcomeSays, subjectSays } from "./words";

const NARROW = "(max-width: 760px)";
const TAP = 5; // px that a finger may slip and still tap
const REACH = 18; // px round a pointer within which things are picked
const HANDLE = 22; // px, half the width that a plug can be grabbed at
const LOOSE = 10; // px that the next pipe must be nearer before a dragged plug changes over

/** A sheet's part for the drawing, in px of a page that is as wide as A4 or Letter within its margins. */
const PAPER = { width: 700, height: 560 };

/** printing: drawn for paper, from the first look, whatever the screen shows. */
export function Canvas({ state, printing }: { state: State; printing: boolean }): VNode {
  const frame = useRef<HTMLDivElement>(null);
  const [size, setSize] = useState({ width: 0, height: 0 });
  const [camera, setCamera] = useState<Camera>({ k: 1, x: 0, y: 0 });
  const drawing = state.drawing;
  const fitted = useRef("");

  useEffect(() => {
    const watcher = new ResizeObserver(([entry]) => entry && setSize(entry.contentRect));
    watcher.observe(frame.current!);
    return () => watcher.disconnect();
  }, []);

  const sheet = drawing?.scene.sheets[0];
  const sheetKey = sheet ? `${state.fileName} ${state.layout?.name} ${sheet.width} ${sheet.height}` : "";
  useEffect(() => {
    if (!drawing || !size.width || fitted.current === sheetKey) return;
    fitted.current = sheetKey;
    frame.current!.scrollIntoView({ block: "nearest" });
    setCamera(opening(drawing, state, size));
  }, [sheetKey, size.width, size.height]);

  const wished = useMemo(() => (drawing ? focusPoints(drawing, state) : []), [drawing, state.lit, state.picked]);
  const wishKey = state.lit ?? (state.picked ? `${state.picked.kind} ${state.picked.id}` : "");
  useEffect(() => {
    if (state.moving || !wished.length || !size.width) return;
    // On a phone the drawing may have been scrolled away.
    if (matchMedia(NARROW).matches) frame.current!.scrollIntoView({ block: "nearest" });
    if (!wished.some((p) => isSeen(p, camera, size))) setCamera((c) => centred(wished, c, size));
  }, [wishKey]);

  const gestures = useGestures(frame, camera, setCamera, state, size);
  const zoom = (factor: number): void => setCamera((c) => zoomed(c, factor, [size.width / 2, size.height / 2]));
  const hidden = useMemo(() => strayPlugs(state), [state.layout, state.drawn, state.moving]);
  const [seen, view] = printing && drawing ? [PAPER, opening(drawing, state, PAPER)] : [size, camera];

  return (
    <div class="canvas" ref={frame}>
      <svg class={`paper${state.moving ? " dragging" : ""}${state.drawn !== state.layout && !state.moving ? " stale" : ""}`} {...gestures} width={seen.width} height={seen.height} viewBox={`0 0 ${seen.width} ${seen.height}`} role="group" aria-label="Drawing of the piping with its plugs">
        {drawing && (
          <g transform={`translate(${view.x.toFixed(2)} ${view.y.toFixed(2)}) scale(${view.k.toFixed(4)})`}>
            <Scene drawing={drawing} hidden={hidden} k={view.k} />
            <Overlay state={state} drawing={drawing} hidden={hidden} k={view.k} />
          </g>
        )}
      </svg>
      <Readout state={state} low={isHigh(state, view, seen)} />
      {drawing && <Legend drawing={drawing} open={printing} />}
      <div class="zoom" role="group" aria-label="View">
        <button type="button" title="Closer" aria-label="Closer" onClick={() => zoom(1.4)}>+</button>
        <button type="button" title="Farther" aria-label="Farther" onClick={() => zoom(1 / 1.4)}>−</button>
        {state.layout && <button type="button" onClick={() => store.turnTo("draw")}>Draw on it</button>}
        <button type="button" onClick={() => drawing && setCamera(whole(drawing, size))}>All</button>
        <button type="button" onClick={() => drawing && setCamera(opening(drawing, state, size, true))}>Work</button>
      </div>
      {drawing?.arranged && <p class="aside">No positions in the file: places chosen by the program, heights by elevation.</p>}
    </div>
  );
}

/** What the lit finding says; else what a plug in motion, or the chosen one, says of its place. */
function Readout({ state, low }: { state: State; low: boolean }): VNode | null {
  const side = low ? " low" : "";
  const finding = state.moving ? undefined : state.report?.findings.find((f) => f.id === state.lit);
  if (finding) {
    return (
      <p class={`readout${side}${isBad(finding) ? " shut" : ""}`}>
        <strong>{finding.rule}</strong> {outcomeSays(finding.outcome)}, {subjectSays(finding)}
        <span>{finding.says}</span>
      </p>
    );
  }
  const id = state.moving ?? (state.picked?.kind === "plug" ? state.picked.id : null);
  if (!id || !state.layout) return null;
  const seat = seatOf(state, id);
  if (!seat) return null;
  const system = systemOf(state.layout);
  const margin = marginOf(state, id);
  return (
    <p class={`readout${side} ${margin.state}`}>
      <strong>Plug {id}</strong> {showLength(seat.station, system)} on {seat.pipe}
      <span>{margin.says}</span>
      {state.judged !== state.version && <em> Judging…</em>}
    </p>
  );
}

/** Whether what the read-out tells of lies in the upper half: then it stands below, never over it. */
function isHigh(state: State, camera: Camera, size: Size): boolean {
  const id = state.moving ?? (state.picked?.kind === "plug" ? state.picked.id : null);
  const points = state.drawing ? (id ? pointsOf(state.drawing, state, `plug ${id}`) : focusPoints(state.drawing, state)) : [];
  return points.length > 0 && points[0]![1] * camera.k + camera.y < size.height / 2;
}

// --- what is drawn over the scene ------------------------------------------------------------

interface OverlayProps {
  state: State;
  drawing: Drawing;
  hidden: ReadonlySet<string>;
  k: number;
}

function Overlay({ state, drawing, hidden, k }: OverlayProps): VNode {
  const plugs = state.layout?.plugs ?? [];
  return (
    <g>
      <Lit state={state} drawing={drawing} />
      {plugs.map((plug) => (
        <PlugHandle key={plug.id} id={plug.id} state={state} drawing={drawing} k={k} stray={hidden.has(plug.id)} />
      ))}
    </g>
  );
}

function Lit({ state, drawing }: { state: State; drawing: Drawing }): VNode | null {
  const finding = state.report?.findings.find((f) => f.id === state.lit);
  const ends = state.layout ? pipeEnds(state.layout) : new Map();
  const points = focusPoints(drawing, state);
  const size = Math.max(drawing.sleeve * 2, 10);
  const rings = points.length > 24 ? points.slice(0, 24) : points;
  const picked = state.picked;
  const path = picked?.kind === "pipe" ? drawing.paths[picked.id] : undefined;
  return (
    <g class="lit" aria-hidden="true">
      {finding && finding.way.length > 1 && <polyline points={listed(wayLine(drawing, finding.way, ends))} />}
      {path && <polyline points={listed(between(path, 0, path.length))} />}
      {rings.map(([x, y]) => (
        <circle cx={x} cy={y} r={size} />
      ))}
    </g>
  );
}

function PlugHandle({ id, state, drawing, k, stray }: { id: string; state: State; drawing: Drawing; k: number; stray: boolean }): VNode | null {
  const seat = seatOf(state, id);
  const path = seat && drawing.paths[seat.pipe];
  if (!seat || !path || !state.layout) return null;
  const system = systemOf(state.layout);
  const part = partOf(state, id);
  const margin = marginOf(state, id);
  const half = (part?.jacket.value ?? 0.3) / 2;
  const [x, y] = pointAt(path, seat.station);
  const chosen = state.picked?.kind === "plug" && state.picked.id === id;
  return (
    <g
      class={`plug ${margin.state}${chosen ? " chosen" : ""}`}
      data-plug={id}
      role="slider"
      tabindex={0}
      aria-label={`Plug ${id}, place along pipe ${seat.pipe}`}
      aria-orientation="horizontal"
      aria-valuemin={0}
      aria-valuemax={Number(Math.max(path.length, seat.station).toFixed(4))}
      aria-valuenow={Number(seat.station.toFixed(4))}
      aria-valuetext={`${showLength(seat.station, system)} on ${seat.pipe}. ${margin.says}`}
      onKeyDown={(event) => plugKey(event, id, seat, path.length_known ? path.length : Infinity, state)}
    >
      <circle class="grab" cx={x} cy={y} r={HANDLE / k} />
      {stray && <polygon class="sleeve" points={listed(sleeve(path, seat.station - half, seat.station + half, drawing.sleeve))} />}
      {stray && <text class="words bold" x={x + drawing.sleeve * 2} y={y - drawing.sleeve * 2} font-size={Math.max(9, 11 / k)}>Plug {id}</text>}
    </g>
  );
}

function plugKey(event: KeyboardEvent, id: string, seat: Seat, length: number, state: State): void {
  // The focus alone chooses nothing: who tabs past a plug keeps what is chosen.
  const isChosen = state.picked?.kind === "plug" && state.picked.id === id;
  if (event.key === "Enter" || event.key === " ") {
    event.preventDefault();
    return store.pick({ kind: "plug", id });
  }
  const system = systemOf(state.layout!);
  const { small, large } = steps(system);
  const moves: Record<string, number> = {
    ArrowRight: small,
    ArrowUp: small,
    ArrowLeft: -small,
    ArrowDown: -small,
    PageUp: large,
    PageDown: -large,
    Home: -length,
    End: length,
  };
  const step = moves[event.key];
  if (step === undefined) return;
  event.preventDefault();
  if (!isChosen) store.pick({ kind: "plug", id });
  const station = clamp(seat.station + step, 0, length);
  if (!Number.isFinite(station)) return; // no end is known
  const plugs = state.layout!.plugs!.map((p) => (p.id === id ? placed(p, seat.pipe, showLength(station, system)) : p));
  store.edit({ ...state.layout!, plugs }, { kind: `key ${id}` });
}

function placed<T extends { [name: string]: unknown }>(plug: T, pipe: string, station: string): T {
  const { point: _, ...rest } = plug;
  return { ...rest, pipe, station } as unknown as T;
}

/** Plugs that stand elsewhere in the document than in the drawing. */
function strayPlugs(state: State): ReadonlySet<string> {
  const drawn = new Map((state.drawn?.plugs ?? []).map((p) => [p.id, p]));
  const now = new Map((state.layout?.plugs ?? []).map((p) => [p.id, p]));
  const ids = [...new Set([...drawn.keys(), ...now.keys()])];
  const differs = (id: string): boolean => {
    const [a, b] = [drawn.get(id), now.get(id)];
    return !a || !b || a["pipe"] !== b["pipe"] || a["station"] !== b["station"];
  };
  return new Set(ids.filter((id) => id === state.moving || differs(id)));
}

/** The places that the lit finding, or else the picked thing, is about. */
function focusPoints(drawing: Drawing, state: State): Point[] {
  const finding = state.report?.findings.find((f) => f.id === state.lit);
  if (finding) {
    const places = [finding.where, finding.way[0], finding.way.at(-1)].flatMap((at) => (at ? [placeOf(drawing, at)] : []));
    const { kind, id } = finding.subject;
    // Rooms and stock are not drawn; what is drawn may bear the same name.
    const own = kind === "room" || kind === "stock" ? [] : [id, ...(finding.subject.elements ?? []).map((one) => one.id)];
    const named = [...own, ...finding.concerns.map((one) => one.id)];
    return [...places.filter((p) => p !== null), ...named.flatMap((name) => pointsOf(drawing, state, name))];
  }
  const picked = state.picked;
  if (!picked) return [];
  if (picked.kind === "pipe") {
    const path = drawing.paths[picked.id];
    return path ? [pointAt(path, picked.station ?? path.length / 2)] : [];
  }
  return pointsOf(drawing, state, `${picked.kind} ${picked.id}`);
}

function pointsOf(drawing: Drawing, state: State, name: string): Point[] {
  const layout = state.layout;
  if (!layout) return [];
  const known = everything(layout).find((x) => `${x.kind} ${x.id}` === name || x.id === name);
  if (!known) return [];
  if (known.kind === "plug") {
    const seat = seatOf(state, known.id);
    const path = seat && drawing.paths[seat.pipe];
    return seat && path ? [pointAt(path, seat.station)] : [];
  }
  if (known.kind === "pipe") {
    const path = drawing.paths[known.id];
    return path ? [pointAt(path, path.length / 2)] : [];
  }
  const symbol = symbolsOf(drawing).find((g) => g.subject === known.id);
  if (symbol) return [symbol.at];
  const junction = drawing.junctions[known.id];
  return known.kind === "junction" && junction ? [junction] : [];
}

// --- the camera --------------------------------------------------------------------------------

function whole(drawing: Drawing, size: Size): Camera {
  const sheet = drawing.scene.sheets[0]!;
  return framed([0, 0, sheet.width, sheet.height], size);
}

/** The first look: everything where that can be read, else the work and the plugs. */
function opening(drawing: Drawing, state: State, size: Size, close = false): Camera {
  const all = whole(drawing, size);
  if (all.k >= 0.75 && !close) return all;
  const names = [
    ...(state.layout?.plugs ?? []).map((p) => `plug ${p.id}`),
    ...(state.layout?.work?.open ?? []).map((w) => (w.valve ? `valve ${w.valve}` : w.pump ? `pump ${w.pump}` : w.pipe ? `pipe ${w.pipe}` : `junction ${w.junction}`)),
  ];
  const points = names.flatMap((name) => pointsOf(drawing, state, name));
  if (!points.length) return all;
  const [xs, ys] = [points.map((p) => p[0]), points.map((p) => p[1])];
  const room = 110;
  const camera = framed([Math.min(...xs) - room, Math.min(...ys) - room, Math.max(...xs) + room, Math.max(...ys) + room], size);
  return camera.k < all.k ? all : camera;
}

// --- gestures ----------------------------------------------------------------------------------

interface Hand {
  pointers: Map<number, Point>;
  start: Point;
  slipped: boolean;
  plug: string | null;
  gap: Point; // from the pointer to the plug's middle, so that it does not jump
}

type Gestures = Record<string, (event: PointerEvent & WheelEvent & KeyboardEvent) => void>;

function useGestures(
  frame: { current: HTMLDivElement | null },
  camera: Camera,
  setCamera: (next: Camera | ((c: Camera) => Camera)) => void,
  state: State,
  size: Size,
): Gestures {
  const hand = useRef<Hand>({ pointers: new Map(), start: [0, 0], slipped: false, plug: null, gap: [0, 0] });
  const place = (event: PointerEvent | WheelEvent): Point => {
    const box = frame.current!.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  };
  const onSheet = ([x, y]: Point): Point => [(x - camera.x) / camera.k, (y - camera.y) / camera.k];

  useEffect(() => {
    const svg = frame.current!.querySelector("svg")!;
    const wheel = (event: WheelEvent): void => {
      event.preventDefault();
      const factor = Math.exp(-event.deltaY * (event.ctrlKey ? 0.01 : 0.0016));
      setCamera((c) => zoomed(c, factor, place(event)));
    };
    svg.addEventListener("wheel", wheel, { passive: false });
    return () => svg.removeEventListener("wheel", wheel);
  }, []);

  return {
    onPointerDown: (event) => {
      const h = hand.current;
      if (event.button > 0) return;
      (event.currentTarget as Element).setPointerCapture(event.pointerId);
      h.pointers.set(event.pointerId, place(event));
      if (h.pointers.size > 1) {
        if (h.plug) store.stopMoving();
        h.plug = null;
        h.slipped = true;
        return;
      }
      h.start = place(event);
      h.slipped = false;
      const grabbed = plugUnder(event.target as Element, onSheet(h.start), state, camera.k);
      h.plug = grabbed?.id ?? null;
      h.gap = grabbed?.gap ?? [0, 0];
    },
    onPointerMove: (event) => {
      const h = hand.current;
      const before = h.pointers.get(event.pointerId);
      if (!before) return;
      const now = place(event);
      h.pointers.set(event.pointerId, now);
      if (h.pointers.size === 2) return setCamera((c) => pinched(c, h.pointers, event.pointerId, before, now));
      if (!h.slipped && distance(now, h.start) < TAP) return;
      if (!h.slipped && h.plug) store.startMoving(h.plug);
      h.slipped = true;
      if (h.plug) return drag(h.plug, onSheet(now), h.gap, camera.k);
      setCamera((c) => ({ ...c, x: c.x + now[0] - before[0], y: c.y + now[1] - before[1] }));
    },
    onPointerUp: (event) => {
      const h = hand.current;
      if (!h.pointers.delete(event.pointerId)) return;
      if (h.plug && h.slipped) store.stopMoving();
      else if (h.plug) store.pick({ kind: "plug", id: h.plug });
      else if (!h.slipped) pickUnder(onSheet(h.start), state, camera.k);
      if (!h.pointers.size) h.plug = null;
    },
    onPointerCancel: (event) => {
      const h = hand.current;
      h.pointers.delete(event.pointerId);
      if (h.plug && h.slipped) store.stopMoving();
      h.plug = null;
    },
    onKeyDown: (event) => {
      if ((event.target as Element).closest("[data-plug]")) return;
      if (event.key === "+" || event.key === "=") setCamera((c) => zoomed(c, 1.3, [size.width / 2, size.height / 2]));
      if (event.key === "-") setCamera((c) => zoomed(c, 1 / 1.3, [size.width / 2, size.height / 2]));
    },
  };
}

/** The plug nearest to the pointer, of those whose handle is under it. */
function plugUnder(target: Element, at: Point, state: State, k: number): { id: string; gap: Point } | null {
  if (!target.closest("[data-plug]") || !state.drawing) return null;
  const near = (state.layout?.plugs ?? []).flatMap((plug) => {
    const seat = seatOf(state, plug.id);
    const path = seat && state.drawing!.paths[seat.pipe];
    if (!seat || !path) return [];
    const middle = pointAt(path, seat.station);
    return [{ id: plug.id, off: distance(middle, at), gap: [middle[0] - at[0], middle[1] - at[1]] as Point }];
  });
  const best = near.sort((a, b) => a.off - b.off)[0];
  return best && best.off <= (HANDLE / k) * 1.2 ? best : null;
}

/** Move a plug to where the pointer is, along its pipe or on to one that joins it. */
function drag(id: string, pointer: Point, gap: Point, k: number): void {
  const { state } = store;
  const seat = seatOf(state, id);
  const { drawing, layout } = state;
  if (!seat || !drawing || !layout) return;
  const at: Point = [pointer[0] + gap[0], pointer[1] + gap[1]];
  const near = neighbours(layout, seat.pipe).flatMap((pipe) => {
    const path = drawing.paths[pipe];
    if (!path?.length_known || path.length <= 0) return [];
    const found = nearest(path, at);
    return [{ pipe, path, ...found, off: found.off + (pipe === seat.pipe ? 0 : LOOSE / k) }];
  });
  const best = near.sort((a, b) => a.off - b.off)[0];
  if (!best) return store.say(`The length of pipe ${seat.pipe} is not stated, so a place on the drawing tells no station: type it.`);
  const step = steps(systemOf(layout)).drag;
  const station = clamp(Math.round(best.station / step) * step, 0, best.path.length);
  store.moveTo(id, best.pipe, station);
}

/** Pick what lies under a tap: a symbol, else a pipe with the station tapped. */
function pickUnder(at: Point, state: State, k: number): void {
  const { drawing, layout } = state;
  if (!drawing || !layout) return;
  const reach = REACH / k;
  const symbols = symbolsOf(drawing)
    .map((g) => ({ id: g.subject!, off: distance(g.at, at) }))
    .filter((g) => g.off <= Math.min(reach, 16))
    .sort((a, b) => a.off - b.off);
  const symbol = symbols.map((s) => everything(layout).find((x) => x.id === s.id && x.kind !== "plug" && x.kind !== "pipe")).find((x) => x);
  if (symbol) return store.pick(symbol);
  const pipes = layout.pipes
    .flatMap((p) => {
      const path = drawing.paths[p.id];
      return path ? [{ id: p.id, ...nearest(path, at) }] : [];
    })
    .filter((p) => p.off <= reach)
    .sort((a, b) => a.off - b.off);
  const pipe = pipes[0];
  store.pick(pipe ? { kind: "pipe", id: pipe.id, station: pipe.station } : null);
}
