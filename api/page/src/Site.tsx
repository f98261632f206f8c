/** How the site stands: the work, valves, outlets, coolant on hand. */

import type { VNode } from "preact";
import { useState } from "preact/hooks";
import { OfTheSite } from "./draw/Facts";
import { OUTLET_STATES, TIGHTNESS, VALVE_STATES, stationFault } from "./Inspector";
import { changed, stateAt, withSite, withState, withWork, workLabel } from "./layout";
import type { Item, Layout, Stock, WorkItem } from "./layout";
import { SelectField, TextField, Tick } from "./parts";
import { store } from "./store";
import type { State } from "./store";

export function Site({ state }: { state: State }): VNode | null {
  const layout = state.layout;
  if (!layout) return null;
  return (
    <div class="site">
      <Work state={state} layout={layout} />
      <Standing title="Valves" layout={layout} list="valves" options={VALVE_STATES} />
      <Standing title="Outlets" layout={layout} list="outlets" options={OUTLET_STATES} />
      <Coolant layout={layout} />
      <OfTheSite layout={layout} />
    </div>
  );
}

function Work({ state, layout }: { state: State; layout: Layout }): VNode {
  const work = layout.work;
  const open = work?.open ?? [];
  return (
    <details open>
      <summary>Work</summary>
      <ul class="plain">
        {open.map((item, i) => (
          <li key={workLabel(item)}>
            {workLabel(item)} {item.start !== undefined && `${item.start} to ${item.end}`}
            <button type="button" class="quiet" onClick={() => store.edit(withWork(layout, open.filter((_, j) => j !== i), work!.duration))}>
              Do not open<span class="unseen"> {workLabel(item)}</span>
            </button>
          </li>
        ))}
      </ul>
      {work && <TextField label="Open for" field="work" value={work.duration} hint="2 h 30 min" onCommit={(duration) => store.edit(withWork(layout, open, duration))} />}
      {work && (
        <TextField
          label="If a plug goes: who stops the water, where and how"
          value={work.if_a_plug_goes ?? ""}
          onCommit={(text) => {
            const { if_a_plug_goes: _, ...rest } = work;
            store.edit({ ...layout, work: text ? { ...rest, if_a_plug_goes: text } : rest });
          }}
        />
      )}
      <AddWork state={state} layout={layout} open={open} />
    </details>
  );
}

function AddWork({ state, layout, open }: { state: State; layout: Layout; open: WorkItem[] }): VNode {
  const [pipe, setPipe] = useState("");
  const [start, setStart] = useState("");
  const duration = layout.work?.duration ?? "2 h";
  const add = (item: WorkItem): void => store.edit(withWork(layout, [...open, item], duration), { said: `${workLabel(item)} will be opened.` });
  return (
    <details class="inner">
      <summary>Open a length of pipe, too</summary>
      <TextField label="Pipe" value={pipe} list="all-pipes-work" check={(text) => (layout.pipes.some((p) => p.id === text) ? null : "No pipe has that name.")} onCommit={setPipe} />
      <datalist id="all-pipes-work">
        {layout.pipes.map((p) => (
          <option key={p.id} value={p.id} />
        ))}
      </datalist>
      <div class="pair">
        <TextField label="From station" value={start} check={(text) => stationFault(state, pipe, text)} onCommit={setStart} />
        <TextField
          label="To station"
          value=""
          check={(text) => (pipe && start ? stationFault(state, pipe, text) : "Name the pipe and its first station before.")}
          onCommit={(end) => {
            add({ pipe, start, end });
            setPipe("");
            setStart("");
          }}
        />
      </div>
      <p class="note">Valves, pumps and junctions: choose them and tick “Opened for the work”.</p>
    </details>
  );
}

interface StandingProps {
  title: string;
  layout: Layout;
  list: "valves" | "outlets";
  options: readonly (readonly [string, string])[];
}

function Standing({ title, layout, list, options }: StandingProps): VNode {
  const items = layout[list] ?? [];
  return (
    <details>
      <summary>
        {title} ({items.length})
      </summary>
      <ul class="plain">
        {items.map((item) => (
          <li key={item.id} class="standing">
            <button type="button" class="quiet" onClick={() => store.pick({ kind: list === "valves" ? "valve" : "outlet", id: item.id })}>
              {item.id}
            </button>
            <SelectField label={`${item.id}, while freezing and at work`} hideLabel value={bothStates(item)} options={bothStates(item) === "differs" ? [...options, ["differs", "differs: choose it to see"]] : options} onChange={(value) => value !== "differs" && store.edit(withState(layout, list, item, "both", value), { said: `${item.id}: ${value || "not stated"}.` })} />
            {list === "valves" && stateAt(item, "freezing") === "closed" && (
              <SelectField label={`Tightness of ${item.id}`} hideLabel value={String(item["tightness"] ?? "")} options={TIGHTNESS} onChange={(value) => store.edit(changed(layout, list, item.id, { tightness: value || undefined }))} />
            )}
          </li>
        ))}
      </ul>
    </details>
  );
}

function bothStates(item: Item): string {
  const freezing = stateAt(item, "freezing");
  return freezing === stateAt(item, "working") ? freezing : "differs";
}

/** A line to fill in: none on hand until somebody says how many. */
const EMPTY_STOCKS: Stock[] = [
  { coolant: "carbon dioxide", cylinders: 0, mass_each: "50 lb" },
  { coolant: "nitrogen", cylinders: 0, volume_each: "160 L" },
];
const YES = [["dip_tube", "With dip tube"], ["high_pressure", "High pressure"], ["upright", "Standing upright"]] as const;

/** How what it comes in is counted: carbon dioxide by mass, liquid nitrogen by volume or mass. */
function heldIn(stock: Stock): { many: string; each: string; hint: string; field: "mass_each" | "volume_each" } {
  if (stock.coolant !== "nitrogen") return { many: "Cylinders", each: "Mass in each", hint: "50 lb", field: "mass_each" };
  if (stock.mass_each !== undefined) return { many: "Vessels", each: "Mass in each", hint: "280 lb", field: "mass_each" };
  return { many: "Vessels", each: "Liquid in each", hint: "160 L", field: "volume_each" };
}

function Coolant({ layout }: { layout: Layout }): VNode {
  const stock = layout.site?.stock ?? [];
  const set = (index: number, fields: Partial<Stock>): void => {
    const next = stock.map((s, i) => (i === index ? (Object.fromEntries(Object.entries({ ...s, ...fields }).filter(([, v]) => v !== undefined)) as Stock) : s));
    store.edit(withSite(layout, { stock: next }));
  };
  return (
    <details>
      <summary>Coolant and water</summary>
      <div class="pair">
        <TextField label="Water temperature" field="site.water_temperature" value={String(layout.site?.water_temperature ?? "")} hint="60 degF" onCommit={(text) => store.edit(withSite(layout, { water_temperature: text || undefined }))} />
        <TextField label="What fills the pipes" field="site.fluid" value={String(layout.site?.["fluid"] ?? "")} hint="plain water" onCommit={(text) => store.edit(withSite(layout, { fluid: text || undefined }))} />
      </div>
      {stock.map((s, i) => (
        <StockForm key={i} stock={s} set={(fields) => set(i, fields)} />
      ))}
      {EMPTY_STOCKS.filter((one) => !stock.some((s) => s.coolant === one.coolant)).map((one) => (
        <button key={one.coolant} type="button" class="quiet" data-field="site.stock" onClick={() => store.edit(withSite(layout, { stock: [...stock, one] }))}>
          State the {one.coolant} on hand
        </button>
      ))}
    </details>
  );
}

function StockForm({ stock, set }: { stock: Stock; set: (fields: Partial<Stock>) => void }): VNode {
  const { many, each, hint, field } = heldIn(stock);
  return (
    <fieldset>
      <legend>{stock.coolant}</legend>
      <div class="pair">
        <TextField label={many} field="site.stock" value={String(stock.cylinders)} check={(text) => (/^\d{1,4}$/.test(text) ? null : "A whole number.")} onCommit={(text) => set({ cylinders: Number(text) })} />
        <TextField label={each} value={String(stock[field] ?? "")} hint={hint} check={(text) => (text ? null : `Write it like ${hint}.`)} onCommit={(text) => set({ [field]: text })} />
        <TextField label="Stored at" value={String(stock["storage_temperature"] ?? "")} hint="66 degF" onCommit={(text) => set({ storage_temperature: text || undefined })} />
      </div>
      {stock.coolant !== "nitrogen" &&
        YES.map(([name, label]) => <Tick key={name} label={label} checked={stock[name] === true} onChange={(on) => set({ [name]: on })} />)}
    </fieldset>
  );
}
