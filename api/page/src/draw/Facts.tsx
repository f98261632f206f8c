/** Forms for what can be stated, made from the lists of fields. */

import type { VNode } from "preact";
import { changed, find } from "../layout";
import type { Item, Json, Layout } from "../layout";
import { SelectField, TextField } from "../parts";
import { store } from "../store";
import { takeAway } from "./Board";
import { CanNot, listOfKind, obstructionsOf, roomsOf, withName, withSiteItem } from "./edit";
import { FIELDS, OF_THE_SITE } from "./fields";
import type { FieldSpec } from "./fields";

const YES_NO = [["", "not stated"], ["yes", "yes"], ["no", "no"]] as const;

type Fields = Record<string, Json | undefined>;

export function Field({ spec, item, place, onSet }: { spec: FieldSpec; item: Fields; place?: string; onSet: (fields: Fields) => void }): VNode {
  const { field, label, hint, options, yesNo } = spec;
  const value = item[field];
  const name = place ? `${place}.${field}` : field;
  const text = value === undefined || value === null ? "" : typeof value === "boolean" ? (value ? "yes" : "no") : Array.isArray(value) ? value.join(", ") : String(value);
  const set = (to: string): void => onSet({ [field]: to === "" ? undefined : yesNo ? to === "yes" : to });
  if (options || yesNo) return <SelectField label={label} field={name} value={text} options={options ?? YES_NO} onChange={set} />;
  return <TextField label={label} field={name} value={text} {...(hint ? { hint } : {})} onCommit={set} />;
}

/** All that may be stated of one thing. */
export function Facts({ layout, kind, item }: { layout: Layout; kind: string; item: Item }): VNode | null {
  const specs = FIELDS[kind];
  if (!specs) return null;
  const set = (fields: Fields): void => store.edit(stated(layout, kind, item.id, fields));
  const fits = (spec: FieldSpec): boolean => (spec.field !== "station" || item["pipe"] !== undefined) && (kind !== "equipment" || item["kind"] === "tank" || !["level", "volume"].includes(spec.field));
  return (
    <>
      <Pairs specs={specs.first.filter(fits)} item={item} onSet={set} />
      {kind === "pipe" && <Ends layout={layout} pipe={item} />}
      <details class="inner">
        <summary>More of it, its name, taking it off</summary>
        <Pairs specs={specs.more} item={item} onSet={set} />
        {kind === "pipe" && <RoomOf layout={layout} value={item["room"]} onSet={(room) => set({ room })} label="Room it runs through" name="room" />}
        <Naming layout={layout} kind={kind} id={item.id} />
        {kind !== "plug" && (
          <button type="button" class="quiet" onClick={() => takeAway(layout, kind, item.id)}>
            Take {kind} {item.id} off
          </button>
        )}
      </details>
    </>
  );
}

function Pairs({ specs, item, place, onSet }: { specs: FieldSpec[]; item: Fields; place?: string; onSet: (fields: Fields) => void }): VNode {
  return (
    <div class="pair">
      {specs.map((spec) => (
        <div key={spec.field} class={spec.wide ? "wide" : ""}>
          <Field spec={spec} item={item} onSet={onSet} {...(place ? { place } : {})} />
        </div>
      ))}
    </div>
  );
}

/** The document with some facts stated of a thing. */
function stated(layout: Layout, kind: string, id: string, fields: Fields): Layout {
  if (kind === "room") return withSiteItem(layout, "rooms", id, fields);
  if (kind === "obstruction") return withSiteItem(layout, "obstructions", id, fields);
  return changed(layout, listOfKind(kind)!, id, fields);
}

/** The heights of a pipe's two ends: they are the junctions' own, and asked for with the pipe. */
function Ends({ layout, pipe }: { layout: Layout; pipe: Item }): VNode {
  return (
    <div class="pair">
      {(["from", "to"] as const).map((end) => {
        const id = String(pipe[end]);
        const own = layout.junctions.find((j) => j.id === id);
        const height = own?.["elevation"];
        return <TextField key={end} label={`Height at ${id}`} field={`elevation of ${end}`} value={height === undefined ? "" : String(height)} hint="14 ft" onCommit={(text) => store.edit(changed(layout, "junctions", id, { elevation: text || undefined }))} />;
      })}
    </div>
  );
}

export function Naming({ layout, kind, id }: { layout: Layout; kind: string; id: string }): VNode {
  const fault = (to: string): string | null => {
    if (to === "") return "A name is needed.";
    try {
      withName(layout, kind, id, to);
      return null;
    } catch (error) {
      if (error instanceof CanNot) return error.message;
      throw error;
    }
  };
  return (
    <TextField
      label="Name in the document"
      field="id"
      value={id}
      check={fault}
      onCommit={(to) => {
        store.edit(withName(layout, kind, id, to), { said: `${kind} ${id} is called ${to}.` });
        if (kind !== "room") store.pick({ kind, id: to });
      }}
    />
  );
}

function RoomOf({ layout, label, name, value, onSet }: { layout: Layout; label: string; name: string; value: unknown; onSet: (room: string | undefined) => void }): VNode {
  const options = [["", "not stated"], ...roomsOf(layout).map((r): [string, string] => [r.id, r.id])] as [string, string][];
  return <SelectField label={label} field={name} value={String(value ?? "")} options={options} onChange={(room) => onSet(room || undefined)} />;
}

/** What holds for the whole site, its rooms, and the sheet. */
export function OfTheSite({ layout }: { layout: Layout }): VNode {
  const site = (layout.site ?? {}) as Fields;
  const drawing = (layout["drawing"] ?? {}) as Fields;
  const set = (fields: Fields): void => store.edit({ ...layout, site: kept({ ...site, ...fields }) as NonNullable<Layout["site"]> });
  const rooms = roomsOf(layout);
  return (
    <>
      <details open>
        <summary>For every pipe that says nothing else</summary>
        <Pairs specs={OF_THE_SITE} item={site} place="site" onSet={set} />
      </details>
      <details open={rooms.length > 0}>
        <summary>Rooms ({rooms.length})</summary>
        {rooms.map((room) => (
          <fieldset key={room.id}>
            <legend>{room.id}</legend>
            <Naming layout={layout} kind="room" id={room.id} />
            <Pairs specs={FIELDS["room"]!.first} item={room} place="site.rooms" onSet={(fields) => store.edit(stated(layout, "room", room.id, fields))} />
            <button type="button" class="quiet" onClick={() => takeAway(layout, "room", room.id)}>
              Take room {room.id} off
            </button>
          </fieldset>
        ))}
        {rooms.length > 0 && <RoomOf layout={layout} label="Room of every pipe that names none" name="site.room" value={site["room"]} onSet={(room) => set({ room })} />}
        <button type="button" class="quiet" data-field="site.rooms" onClick={() => store.edit(withRoom(layout), { said: "A room is there: say how large it is." })}>
          Add a room
        </button>
      </details>
      <details>
        <summary>Name, units, sheet</summary>
        <TextField label="Name of the site" field="name" value={layout.name ?? ""} check={(text) => (text ? null : "A site has a name.")} onCommit={(name) => store.edit({ ...layout, name })} />
        <div class="pair">
          <SelectField label="Units" value={layout.units ?? "imperial"} options={[["imperial", "feet and inches"], ["metric", "metres"]]} onChange={(units) => store.edit({ ...layout, units })} />
          <SelectField label="The sheet is" value={String(drawing["kind"] ?? "riser")} options={[["riser", "a riser diagram"], ["plan", "a plan"]]} onChange={(kind) => store.edit({ ...layout, drawing: { ...drawing, kind } })} />
          <TextField label="One unit of the sheet is" field="drawing.scale" value={String(drawing["scale"] ?? "")} hint="not to scale" onCommit={(scale) => store.edit({ ...layout, drawing: kept({ ...drawing, scale: scale || undefined }) })} />
        </div>
        <p class="note">Without a scale only typed lengths count; with one, a pipe without a length is measured on the sheet.</p>
        {obstructionsOf(layout).map((o) => (
          <button key={o.id} type="button" class="quiet" onClick={() => store.pick({ kind: "obstruction", id: o.id })}>
            Obstruction {o.id}
          </button>
        ))}
      </details>
    </>
  );
}

const kept = (fields: Fields): Fields => Object.fromEntries(Object.entries(fields).filter(([, v]) => v !== undefined));

/** One more room; the first is that of every pipe. */
function withRoom(layout: Layout): Layout {
  const rooms = roomsOf(layout);
  let n = 1;
  while (rooms.some((r) => r.id === `room ${n}`)) n++;
  const id = `room ${n}`;
  const site = { ...layout.site, rooms: [...rooms, { id }] };
  return { ...layout, site: rooms.length || layout.site?.["room"] !== undefined ? site : { ...site, room: id } };
}

/** Something that is chosen and stands in no list of the document's own. */
export function chosenOf(layout: Layout, picked: { kind: string; id: string }): Item | undefined {
  if (picked.kind === "obstruction") return obstructionsOf(layout).find((o) => o.id === picked.id);
  return find(layout, picked);
}
