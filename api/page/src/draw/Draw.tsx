/** The sheet with its tools. */

import type { VNode } from "preact";
import { useEffect, useState } from "preact/hooks";
import { SelectField, TextField } from "../parts";
import { store } from "../store";
import type { State } from "../store";
import type { Point } from "../types";
import { BackingForm, BackingPicture, useBacking } from "./Backing";
import { Board, takeAway } from "./Board";
import { withPositions } from "./edit";
import { MATERIALS } from "./fields";
import { pitchOf, pointOf } from "./paths";
import { TOOLS } from "./tools";
import type { Tool } from "./tools";

export function Draw({ state }: { state: State }): VNode {
  const [tool, setTool] = useState<Tool>(state.layout!.pipes.length ? "select" : "pipe");
  const [fields, setFields] = useState<Record<string, string>>({});
  const backing = useBacking(state);
  useEffect(() => {
    const asked = TOOLS.find((t) => t.tool === state.tool);
    if (!asked) return;
    setTool(asked.tool);
    store.turnTo("draw");
    store.say(asked.hint);
  }, [state.tool]);
  const layout = state.layout!;
  const info = TOOLS.find((t) => t.tool === tool)!;
  const picked = state.picked;
  const hint = tool === "pipe" ? <PipeFields fields={fields} onFields={setFields} /> : tool === "backing" ? <BackingForm backing={backing} layout={layout} /> : <p class="hint">{info.hint}</p>;
  return (
    <div class="sheet-desk">
      <div class="tools" role="toolbar" aria-label="Tools of the sheet" onKeyDown={along}>
        {TOOLS.map((t) => (
          <button key={t.tool} type="button" aria-pressed={t.tool === tool} title={`${t.hint} (${t.key})`} tabIndex={t.tool === tool ? 0 : -1} onClick={() => setTool(t.tool)}>
            {t.label}
          </button>
        ))}
        <button type="button" tabIndex={-1} disabled={!picked || picked.kind === "room"} onClick={() => picked && takeAway(layout, picked.kind, picked.id)}>
          Take off
        </button>
      </div>
      <Unplaced state={state} />
      <Board state={state} tool={tool} onTool={setTool} fields={fields} hint={hint} under={(camera) => <BackingPicture backing={backing} camera={camera} />} backing={tool === "backing" ? backing.hand : null} />
    </div>
  );
}

/** Arrow keys go from tool to tool. */
function along(event: KeyboardEvent): void {
  const step = event.key === "ArrowRight" ? 1 : event.key === "ArrowLeft" ? -1 : 0;
  if (!step) return;
  const all = [...(event.currentTarget as Element).querySelectorAll<HTMLButtonElement>("button:not(:disabled)")];
  const at = all.indexOf(document.activeElement as HTMLButtonElement);
  all[(at + step + all.length) % all.length]?.focus();
}

/** What the next pipes are; nothing is taken over from others unasked. */
function PipeFields({ fields, onFields }: { fields: Record<string, string>; onFields: (fields: Record<string, string>) => void }): VNode {
  const set = (name: string, text: string): void => onFields(Object.fromEntries(Object.entries({ ...fields, [name]: text }).filter(([, v]) => v)));
  return (
    <div class="hint of-pipe">
      <TextField label="Next pipes: size" value={fields["size"] ?? ""} hint="2 in" onCommit={(text) => set("size", text)} />
      <SelectField label="Material" value={fields["material"] ?? ""} options={MATERIALS} onChange={(text) => set("material", text)} />
      <span>{TOOLS.find((t) => t.tool === "pipe")!.hint}</span>
    </div>
  );
}

/** Junctions that have no place on the sheet yet can take the one that the program chose. */
function Unplaced({ state }: { state: State }): VNode | null {
  const layout = state.layout!;
  const missing = layout.junctions.filter((j) => pointOf(j["at"]) === null).length;
  const drawing = state.drawing;
  if (!missing || !drawing) return null;
  const put = (): void => {
    const unit = pitchOf(layout) / 24;
    const places = Object.fromEntries(Object.entries(drawing.junctions).map(([id, [x, y]]): [string, Point] => [id, [x * unit, -y * unit]]));
    store.edit(withPositions(layout, places), { said: "All of it is on the sheet, where the program drew it." });
  };
  return (
    <p class="hint">
      {missing} joints have no place on the sheet.{" "}
      <button type="button" onClick={put}>
        Put them where the program draws them
      </button>
    </p>
  );
}
