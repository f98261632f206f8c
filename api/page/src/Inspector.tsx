/** The thing that is chosen: what it is, how it stands, what can be done with it. */

import type { VNode } from "preact";
import { Facts, chosenOf } from "./draw/Facts";
import { changed, everything, stateAt, systemOf, withNewPlug, withPlugAt, withState, withWork, withoutPlug, workLabel } from "./layout";
import type { Item, Layout, ListName, WorkItem } from "./layout";
import { moveTo } from "./mend";
import { SelectField, TextField, Tick } from "./parts";
import { marginOf, partOf, seatOf, store } from "./store";
import type { Picked, State } from "./store";
import type { Freeze, Move } from "./types";
import { example, parseLength, plain, showLength } from "./units";
import { few, outcomeSays } from "./words";

export function Inspector({ state }: { state: State }): VNode | null {
  const { layout, picked } = state;
  if (!layout) return null;
  const item = picked ? chosenOf(layout, picked) : undefined;
  return (
    <section class={`inspector${item ? "" : " idle"}`} aria-label="Chosen" onKeyDown={(event) => backToSheet(event, state)}>
      <Finder layout={layout} />
      {picked && item ? (
        <>
          <header>
            <h2>
              {picked.kind} {picked.id} {typeof item["name"] === "string" && <small>{item["name"]}</small>}
            </h2>
            <button type="button" class="quiet" onClick={() => store.pick(null)}>
              Done
            </button>
          </header>
          {picked.kind !== "pipe" && <Form state={state} layout={layout} picked={picked} item={item} />}
          <div class="form">
            <Facts key={`${picked.kind} ${picked.id}`} layout={layout} kind={picked.kind} item={item} />
          </div>
          {picked.kind === "pipe" && <Form state={state} layout={layout} picked={picked} item={item} />}
        </>
      ) : (
        <p class="empty idle-says">Choose something on the drawing, or by its name above. On a pipe you can put a plug; drag it along, or press the arrow keys.</p>
      )}
    </section>
  );
}

/** While drawing, Enter in a field is the end of typing: the next key goes to the sheet again. */
function backToSheet(event: KeyboardEvent, state: State): void {
  const field = event.target as HTMLElement;
  if (event.key !== "Enter" || state.mode !== "draw" || !(field instanceof HTMLInputElement) || field.list) return;
  requestAnimationFrame(() => {
    if (field.getAttribute("aria-invalid") !== "true") document.querySelector<SVGElement>(".board svg")?.focus();
  });
}

function Finder({ layout }: { layout: Layout }): VNode {
  const go = (text: string): void => {
    const known = everything(layout).find((x) => `${x.kind} ${x.id}` === text) ?? everything(layout).find((x) => x.id === text);
    if (known) store.pick(known);
  };
  return (
    <>
      <TextField
        label="Find"
        value=""
        hint="valve, pipe, plug, outlet…"
        list="all-things"
        check={(text) => (text === "" || everything(layout).some((x) => `${x.kind} ${x.id}` === text || x.id === text) ? null : "Nothing has that name.")}
        onCommit={go}
      />
      <datalist id="all-things">
        {everything(layout).map((x) => (
          <option key={`${x.kind} ${x.id}`} value={`${x.kind} ${x.id}`} />
        ))}
      </datalist>
    </>
  );
}

interface FormProps {
  state: State;
  layout: Layout;
  picked: Picked;
  item: Item;
}

function Form(props: FormProps): VNode | null {
  switch (props.picked.kind) {
    case "plug":
      return <PlugForm {...props} />;
    case "pipe":
      return <PipeForm {...props} />;
    case "valve":
      return <ValveForm {...props} />;
    case "outlet":
      return <OutletForm {...props} />;
    case "pump":
    case "equipment":
      return <MachineForm {...props} />;
    case "junction":
      return <WorkTick layout={props.layout} item={{ junction: props.item.id }} />;
    default:
      return null;
  }
}

/** A pipe's length, m; null where nobody stated it. */
function knownLength(state: State, pipe: string): number | null {
  const path = state.drawing?.paths[pipe];
  return path?.length_known ? path.length : null;
}

/** Say why a station will not do on a pipe; null where it will. */
export function stationFault(state: State, pipe: string, text: string): string | null {
  const layout = state.layout!;
  const station = parseLength(text);
  if (station === null) return `Write it like ${example(systemOf(layout))}.`;
  const length = knownLength(state, pipe);
  if (length !== null && station > length + 1e-6) return `Pipe ${pipe} is ${showLength(length, systemOf(layout))} long.`;
  return null;
}

function PlugForm({ state, layout, item }: FormProps): VNode {
  const part = partOf(state, item.id);
  const seat = seatOf(state, item.id);
  const system = systemOf(layout);
  const margin = marginOf(state, item.id);
  const pipe = seat?.pipe ?? part?.at.pipe ?? "";
  const put = (to: string, station: string): void => store.edit(withPlugAt(layout, item.id, to, station), { said: `Plug ${item.id} stands at ${station} on ${to}.` });
  const nearest = part?.nearest;
  return (
    <div class="form">
      <p class={`margin ${margin.state}`} role="status">{margin.says}</p>
      {part && state.judged === state.version && part.clear_by && <p class="note">Keeps every setback with {plain(part.clear_by.shown)} to spare at the least.</p>}
      <div class="pair">
        <TextField
          label="Station"
          value={typeof item["station"] === "string" ? item["station"] : seat ? showLength(seat.station, system) : ""}
          hint={example(system)}
          check={(text) => stationFault(state, pipe, text)}
          onCommit={(text) => put(pipe, text)}
        />
        <TextField
          label="On pipe"
          value={pipe}
          list="all-pipes"
          check={(text) => (layout.pipes.some((p) => p.id === text) ? null : "No pipe has that name.")}
          onCommit={(text) => put(text, showLength(Math.min(seat?.station ?? 0, knownLength(state, text) ?? Infinity), system))}
        />
        <datalist id="all-pipes">
          {layout.pipes.map((p) => (
            <option key={p.id} value={p.id} />
          ))}
        </datalist>
        <TextField label="Jacket" value={String(item["jacket"] ?? "")} check={(text) => (parseLength(text) ? null : "Write it like 12 in or 300 mm.")} onCommit={(text) => store.edit(changed(layout, "plugs", item.id, { jacket: text }))} />
        <SelectField
          label="Coolant"
          value={String(item["coolant"] ?? "carbon dioxide")}
          options={[["carbon dioxide", "carbon dioxide"], ["nitrogen", "nitrogen"]]}
          onChange={(coolant) => store.edit(changed(layout, "plugs", item.id, { coolant }))}
        />
      </div>
      {pipe && <p class="note">Stations on {pipe} count from {state.drawing?.paths[pipe]?.from_junction ?? "its first end"}.</p>}
      {nearest && <Place state={state} id={item.id} move={nearest} words="to the nearest place" />}
      {part?.keeping && <Place state={state} id={item.id} move={part.keeping} words="to the nearest place that keeps the water back" />}
      {part?.no_place && <p class="note">No place on the piping passes every rule as it stands now: see why under Findings, or close a valve.</p>}
      {part && !part.holds_back && <p class="note bad">Useless as marked: without this plug no more pressure or water reaches the work.</p>}
      {part && state.judged === state.version && <FreezeSays freeze={part.freeze} />}
      <button type="button" class="quiet" onClick={() => { store.edit(withoutPlug(layout, item.id), { said: `Plug ${item.id} is taken off.` }); store.pick(null); }}>
        Take plug {item.id} off
      </button>
    </div>
  );
}

/** A place to go to, what drains with the plug there, and what is open even then. */
function Place({ state, id, move, words }: { state: State; id: string; move: Move; words: string }): VNode {
  const left = [...new Set(move.remaining.map((r) => `${r.rule} (${outcomeSays(r.outcome)})`))];
  return (
    <>
      <button type="button" class="main wide" disabled={state.judged !== state.version} onClick={() => moveTo(state, id, move)}>
        Move {plain(move.travel.shown)} {words}: {plain(move.tape.shown)} on {move.pipe}
      </button>
      {move.drain && <p class="note">With the plug there {move.drain.shown} drain at the work.</p>}
      {left.length > 0 && <p class="note">Still open there: {left.join(", ")}.</p>}
    </>
  );
}

/** The estimate is one for still water in a fit place; while either is broken none is shown. */
function FreezeSays({ freeze }: { freeze: Freeze }): VNode | null {
  const { left_out, time_to_plug: span, coolant } = freeze;
  if (left_out.length) return <p class="note">No estimate of its freeze: broken where it is marked: {left_out.join(", ")}.</p>;
  if (!span) return freeze.missing.length ? <p class="note">No estimate of its freeze. Not known: {few(freeze.missing)}.</p> : null;
  return (
    <p class="note">
      In still water, frozen through after {span.low.shown} to {span.high.shown}, likely {span.likely.shown}. An estimate: only the signs on the pipe tell.
      {coolant && ` Have on site ${coolant.on_hand.shown}: ${coolant.comes_in}.`}
    </p>
  );
}

function PipeForm({ state, layout, item, picked }: FormProps): VNode {
  const system = systemOf(layout);
  const length = knownLength(state, item.id);
  // Where nobody stated the length, a place on the drawing tells no station: it has to be typed.
  const start = length === null ? "" : showLength(picked.station ?? length / 2, system);
  return (
    <div class="form">
      <p class="note">
        {[item["size"] ?? "size not stated", item["material"] ?? layout.site?.["material"], item["wall"] ?? layout.site?.["wall"], length === null ? "length not stated" : `${showLength(length, system)} long`].filter(Boolean).join(", ")}; from {String(item["from"])} to {String(item["to"])}.
      </p>
      <PutPlug key={`${item.id} ${start}`} state={state} layout={layout} pipe={item.id} start={start} />
    </div>
  );
}

function PutPlug({ state, layout, pipe, start }: { state: State; layout: Layout; pipe: string; start: string }): VNode {
  const put = (station: string): void => {
    if (stationFault(state, pipe, station)) return;
    const made = withNewPlug(layout, pipe, station);
    store.edit(made.layout, { said: `Plug ${made.id} is put at ${station} on ${pipe}.` });
    store.pick({ kind: "plug", id: made.id });
  };
  return (
    <div class="pair">
      <TextField label="Station" value={start} check={(text) => stationFault(state, pipe, text)} onCommit={(text) => store.pick({ kind: "pipe", id: pipe, station: parseLength(text)! })} />
      <button type="button" class="main" onClick={() => put(start)}>
        Put a plug here
      </button>
    </div>
  );
}

export const VALVE_STATES = [["", "not stated"], ["open", "open"], ["closed", "closed"], ["passing", "passing (lets by)"]] as const;
export const TIGHTNESS = [["", "nothing stated"], ["proven", "proven tight"], ["not proven", "not proven"]] as const;
export const OUTLET_STATES = [["", "not stated (may draw)"], ["may draw", "may draw"], ["locked off", "locked off"], ["kept open", "kept open"], ["bleed", "bleed (attended)"], ["leaking", "leaking (can not be locked)"]] as const;

interface StateRowProps {
  layout: Layout;
  item: Item;
  list: ListName;
  options: readonly (readonly [string, string])[];
}

export function StateRow({ layout, item, list, options }: StateRowProps): VNode {
  const set = (moment: "freezing" | "working", state: string): void => store.edit(withState(layout, list, item, moment, state), { said: `${item.id}: ${state || "not stated"} while ${moment}.` });
  return (
    <div class="pair">
      <SelectField label="While freezing" field="state" value={stateAt(item, "freezing")} options={options} onChange={(state) => set("freezing", state)} />
      <SelectField label="At work" value={stateAt(item, "working")} options={options} onChange={(state) => set("working", state)} />
    </div>
  );
}

function ValveForm({ layout, item }: FormProps): VNode {
  return (
    <div class="form">
      <StateRow layout={layout} item={item} list="valves" options={VALVE_STATES} />
      <SelectField label="Tightness when closed" field="tightness" value={String(item["tightness"] ?? "")} options={TIGHTNESS} onChange={(value) => store.edit(changed(layout, "valves", item.id, { tightness: value || undefined }))} />
      <WorkTick layout={layout} item={{ valve: item.id }} />
    </div>
  );
}

function OutletForm({ layout, item }: FormProps): VNode {
  return (
    <div class="form">
      <StateRow layout={layout} item={item} list="outlets" options={OUTLET_STATES} />
    </div>
  );
}

function MachineForm({ layout, item, picked }: FormProps): VNode {
  const list: ListName = picked.kind === "pump" ? "pumps" : "equipment";
  const locked = item["locked_off"];
  const on = (moment: string): boolean => (locked && typeof locked === "object" && !Array.isArray(locked) ? locked[moment] === true : locked === true);
  const set = (moment: "freezing" | "working", value: boolean): void => {
    const next = { freezing: on("freezing"), working: on("working"), [moment]: value };
    store.edit(changed(layout, list, item.id, { locked_off: next.freezing === next.working ? next.freezing : next }));
  };
  return (
    <div class="form">
      <Tick label="Locked off while freezing" checked={on("freezing")} onChange={(value) => set("freezing", value)} />
      <Tick label="Locked off at work" checked={on("working")} onChange={(value) => set("working", value)} />
      {picked.kind === "pump" && <WorkTick layout={layout} item={{ pump: item.id }} />}
    </div>
  );
}

/** Whether something is opened for the work. */
export function WorkTick({ layout, item }: { layout: Layout; item: WorkItem }): VNode {
  const open = layout.work?.open ?? [];
  const label = workLabel(item);
  const isOpen = open.some((x) => workLabel(x) === label);
  const set = (on: boolean): void => {
    const next = on ? [...open, item] : open.filter((x) => workLabel(x) !== label);
    store.edit(withWork(layout, next, layout.work?.duration ?? "2 h"), { said: on ? `${label} will be opened.` : `${label} stays shut.` });
  };
  return <Tick label="Opened for the work" checked={isOpen} onChange={set} />;
}
