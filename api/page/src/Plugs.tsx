/** All plugs, how each fares, and mending them. */

import type { VNode } from "preact";
import { useState } from "preact/hooks";
import { systemOf } from "./layout";
import { mendAll, moveToNearest } from "./mend";
import { Sign } from "./parts";
import { partOf, seatOf, store } from "./store";
import type { State } from "./store";
import { plain, showLength } from "./units";
import { isBad, marginAt, speaksOf } from "./words";

export function Plugs({ state }: { state: State }): VNode {
  const [busy, setBusy] = useState(false);
  const plugs = state.layout?.plugs ?? [];
  const stale = state.judged !== state.version;
  const bad = state.report?.plugs.filter((p) => !p.well_placed) ?? [];
  const mend = async (): Promise<void> => {
    setBusy(true);
    await mendAll(state).finally(() => setBusy(false));
  };
  return (
    <div>
      {plugs.length === 0 && <p class="empty">No plugs yet. Choose a pipe and put one on it.</p>}
      <ul class="rows">{plugs.map((plug) => <Row key={plug.id} id={plug.id} state={state} />)}</ul>
      {bad.length > 0 && (
        <button type="button" class="main wide" disabled={busy || stale || state.silent} onClick={() => void mend()}>
          {busy ? "Mending…" : "Mend all plugs"}
        </button>
      )}
      {state.report?.mending?.says && <p class="note">{state.report.mending.says}</p>}
    </div>
  );
}

function Row({ id, state }: { id: string; state: State }): VNode {
  const seat = seatOf(state, id);
  const part = partOf(state, id);
  const fresh = state.judged === state.version;
  const system = systemOf(state.layout!);
  const broken = state.report?.findings.filter((f) => isBad(f) && speaksOf(f, "plug", id)).length ?? 0;
  const sign = !fresh || !part ? "asking" : part.well_placed ? "holds" : "broken";
  return (
    <li class="finding">
      <button type="button" class="tell" aria-pressed={state.picked?.id === id} onClick={() => store.pick({ kind: "plug", id })}>
        <Sign of={sign} />
        <span>
          <span class="head">
            <strong>Plug {id}</strong> {seat ? `${showLength(seat.station, system)} on ${seat.pipe}` : ""}
          </span>
          <span class="says">{marginAt(part, seat, system).says}</span>
          {fresh && broken > 0 && <span class="says">{broken} {broken === 1 ? "finding speaks" : "findings speak"} of it.</span>}
        </span>
      </button>
      {part?.nearest && (
        <button type="button" class="rule" onClick={() => moveToNearest(state, id)}>
          move {plain(part.nearest.travel.shown)}
          <span class="unseen"> to the nearest place for plug {id}</span>
        </button>
      )}
    </li>
  );
}
