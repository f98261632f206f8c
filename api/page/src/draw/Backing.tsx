/** The picture under the sheet: loading, moving, fading it, and setting the scale by two points. */

import type { VNode } from "preact";
import { useEffect, useState } from "preact/hooks";
import type { Camera } from "../camera";
import type { Layout } from "../layout";
import { TextField, Tick } from "../parts";
import { store } from "../store";
import type { State } from "../store";
import type { Point } from "../types";
import { parseLength } from "../units";
import { firstPlace, fitted, moved } from "./backing";
import type { Place } from "./backing";
import { withScale } from "./edit";
import { away, extentOf, pitchOf, scaleOf } from "./paths";
import { NoPicture, keepPicture, keptPicture, readPicture } from "./picture";
import type { Kept } from "./picture";

export interface Backing {
  kept: Kept | null;
  address: string; // of the picture, within this page
  pages: number;
  page: number;
  points: Point[]; // of the scale
  busy: boolean;
  load: (file: File, page?: number) => void;
  turnPage: (page: number) => void;
  set: (change: Partial<Place>) => void;
  setPoints: (points: Point[]) => void;
  scale: (metres: number, level: boolean) => void;
  remove: () => void;
  hand: { down: (at: Point) => void; drag: (from: Point, to: Point) => void };
}

export function useBacking(state: State): Backing {
  const [kept, setKept] = useState<Kept | null>(null);
  const [address, setAddress] = useState("");
  const [file, setFile] = useState<File | null>(null);
  const [pages, setPages] = useState({ all: 1, page: 1 });
  const [points, setPoints] = useState<Point[]>([]);
  const [busy, setBusy] = useState(false);
  const of = state.fileName;

  useEffect(() => {
    setPoints([]);
    void keptPicture(of).then(setKept);
  }, [of, state.opened]);
  useEffect(() => {
    if (!kept) return setAddress("");
    const made = URL.createObjectURL(kept.blob);
    setAddress(made);
    return () => URL.revokeObjectURL(made);
  }, [kept?.blob]);

  const put = (next: Kept | null): void => {
    setKept(next);
    void keepPicture(next);
  };
  const load = (from: File, page = 1): void => {
    setBusy(true);
    readPicture(from, page)
      .then(({ blob, width, height, pages: all, page: shown }) => {
        setFile(from);
        setPages({ all, page: shown });
        const place = kept && kept.place.width === width && kept.place.height === height && file === from ? kept.place : firstPlace(width, height, roomFor(state.layout!));
        put({ of, blob, place });
        store.say("The picture lies under the sheet. It stays in this browser.");
      })
      .catch((error: unknown) => {
        if (!(error instanceof NoPicture)) throw error;
        store.say(error.message);
      })
      .finally(() => setBusy(false));
  };
  const set = (change: Partial<Place>): void => void (kept && put({ ...kept, place: { ...kept.place, ...change } }));
  return {
    kept,
    address,
    pages: pages.all,
    page: pages.page,
    points,
    busy,
    load,
    turnPage: (page) => file && load(file, page),
    set,
    setPoints,
    scale: (metres, level) => {
      const [a, b] = points;
      if (!kept || !a || !b) return;
      const layout = store.state.layout!;
      const known = scaleOf(layout);
      // A sheet with a scale keeps it, and the picture is fitted; else the picture gives the scale.
      const units = known === null ? away(a, b) : metres / known;
      put({ ...kept, place: fitted(kept.place, [a, b], units, level) });
      if (known === null) store.edit(withScale(layout, metres, [a, b]), { said: "The sheet is to scale now: a pipe without a typed length is measured on it." });
      setPoints([]);
    },
    remove: () => put(null),
    hand: {
      down: (at) => kept && setPoints(points.length < 2 ? [...points, at] : [at]),
      drag: (from, to) => kept && put({ ...kept, place: moved(kept.place, from, to) }),
    },
  };
}

/** A box of the sheet for a new picture: round what is drawn, else thirty by thirty steps. */
function roomFor(layout: Layout): [number, number, number, number] {
  const pitch = pitchOf(layout);
  return extentOf(layout) && layout.pipes.length ? extentOf(layout)! : [0, 0, 30 * pitch, 30 * pitch];
}

export function BackingPicture({ backing, camera }: { backing: Backing; camera: Camera }): VNode | null {
  const { kept, address, points } = backing;
  if (!kept || !address) return null;
  const { width, height, at, unit, turn, fade } = kept.place;
  const [x, y] = [camera.x + at[0] * camera.k, camera.y - at[1] * camera.k];
  const k = unit * camera.k;
  return (
    <>
      <image class="backing" href={address} width={width} height={height} opacity={fade} preserveAspectRatio="none" transform={`translate(${x} ${y}) rotate(${-turn}) scale(${k}) translate(${-width / 2} ${-height / 2})`} aria-hidden="true" />
      {points.map((p) => (
        <circle class="scale-point" cx={camera.x + p[0] * camera.k} cy={camera.y - p[1] * camera.k} r={7} aria-hidden="true" />
      ))}
    </>
  );
}

export function BackingForm({ backing, layout }: { backing: Backing; layout: Layout }): VNode {
  const { kept, points, busy } = backing;
  const [level, setLevel] = useState(true);
  const take = (event: Event): void => {
    const input = event.currentTarget as HTMLInputElement;
    const file = input.files?.[0];
    input.value = "";
    if (file) backing.load(file);
  };
  return (
    <div class="hint of-backing">
      <label class="pick">
        <span>{busy ? "Reading…" : kept ? "Another picture or PDF" : "Picture or PDF"}</span>
        <input type="file" accept="image/png,image/jpeg,application/pdf,.pdf" onChange={take} />
      </label>
      <label class="pick">
        <span>Take a photo</span>
        <input type="file" accept="image/*" capture="environment" onChange={take} />
      </label>
      {kept && (
        <>
          {backing.pages > 1 && <TextField label={`Page, of ${backing.pages}`} value={String(backing.page)} check={(text) => (/^\d+$/.test(text) && Number(text) >= 1 && Number(text) <= backing.pages ? null : `1 to ${backing.pages}.`)} onCommit={(text) => backing.turnPage(Number(text))} />}
          <label class="field">
            <span>Fade</span>
            <input type="range" min={0.05} max={1} step={0.05} value={kept.place.fade} onInput={(event) => backing.set({ fade: Number(event.currentTarget.value) })} />
          </label>
          <TextField label="Turned by (degrees)" value={String(Number(kept.place.turn.toFixed(2)))} check={(text) => (Number.isFinite(Number(text)) ? null : "A number, like 90.")} onCommit={(text) => backing.set({ turn: Number(text) })} />
          {points.length === 2 && (
            <>
              <TextField
                label="Between the two points"
                field="backing distance"
                value=""
                hint={layout.units === "metric" ? "6 m" : "20 ft"}
                check={(text) => (text === "" || parseLength(text) ? null : "Write it like 20 ft or 6 m.")}
                onCommit={(text) => text && backing.scale(parseLength(text)!, level)}
              />
              <Tick label="Set it level by them, too" checked={level} onChange={setLevel} />
            </>
          )}
          <button type="button" class="quiet" onClick={() => backing.remove()}>
            Take the picture away
          </button>
        </>
      )}
      <span>{kept ? (points.length === 2 ? "Type how far the two points are apart in the building." : "Drag it into place; point at two places whose distance you know.") : "It stays in this browser: nobody else gets it."}</span>
    </div>
  );
}
