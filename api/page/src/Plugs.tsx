/** All plugs, how each fares, and mending them. */

import type { VNode } from "preact";
import { useState } from "preact/hooks";
import { systemOf } from "./layout";
import { moveToNearest, proposeMending, takeMending } from "./mend";
import type { Proposal } from "./mend";
import { Sign } from "./parts";
import { marginOf, partOf, seatOf, store } from "./store";
import type { State } from "./store";
import { plain, showLength } from "./units";
import { isBad, speaksOf } from "./words";

export function Plugs({ state }: { state: State }): VNode {
  const [busy, setBusy] = useState(false);
  const [found, setFound] = useState<Proposal | string | null>(null);
  const plugs = state.layout?.plugs ?? [];
  const layout = state.layout;
  const bad = state.report?.plugs.filter((p) => !p.well_placed || !p.isolates) ?? [];
  const mend = async (): Promise<void> => {
    setBusy(true);
    const proposal = await proposeMending(layout!).finally(() => setBusy(false));
    setFound(proposal);
  };
  const told = typeof found === "string" ? found : found?.of === layout ? found : null;
  return (
    <div>
      {plugs.length === 0 && <p class="empty">No plugs yet. Choose a pipe and put one on it.</p>}
      <ul class="rows">{plugs.map((plug) => <Row key={plug.id} id={plug.id} state={state} />)}</ul>
      {bad.length > 0 && (
        <button type="button" class="main wide" disabled={busy || state.silent} onClick={() => void mend()}>
          {busy ? "Mending…" : "Mend all plugs"}
        </button>
      )}
      {typeof told === "string" && <p class="note" role="status">{told}</p>}
      {told && typeof told !== "string" && <Told proposal={told} onTaken={() => setFound(null)} />}
    </div>
  );
}

/** A mending is shown first, with what drains before and after, and done only when it is asked for. */
function Told({ proposal, onTaken }: { proposal: Proposal; onTaken: () => void }): VNode {
  const { mending, mended } = proposal;
  const left = [...new Set(mending.remaining.map((r) => r.rule))];
  return (
    <div class="conditions" role="status">
      <p>{mending.says}</p>
      {mending.why.map((line) => <p key={line}>{line}</p>)}
      <ul>
        {mending.actions.map((a) => <li key={a.kind + a.id}>{a.kind} {a.id}</li>)}
        {mending.moves.map((m) => <li key={m.plug}>plug {m.plug}: {plain(m.tape.shown)} on {m.pipe}</li>)}
      </ul>
      {mending.drain_before && mending.drain_after && (
        <p>Drains at the work: {plain(mending.drain_before.shown)} with the marks, {plain(mending.drain_after.shown)} so.</p>
      )}
      {left.length > 0 && <p>Still open after that: {left.join(", ")}.</p>}
      {mended && (
        <button
          type="button"
          onClick={() => {
            takeMending(proposal);
            onTaken();
          }}
        >
          {["Move them all", ...mending.actions.map((a) => `${a.kind} ${a.id}`)].join(", and ")}
        </button>
      )}
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
          <span class="says">{marginOf(state, id).says}</span>
          {fresh && broken > 0 && <span class="says">{broken} {broken === 1 ? "finding speaks" : "findings speak"} of it.</span>}
        </span>
      </button>
      {part?.nearest && (
        <button type="button" class="rule" disabled={!fresh} onClick={() => moveToNearest(state, id)}>
          move {plain(part.nearest.travel.shown)}
          <span class="unseen"> to the nearest place for plug {id}</span>
        </button>
      )}
    </li>
  );
}
