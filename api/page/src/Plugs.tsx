/** All plugs, how each fares, and mending them. */

import type { VNode } from "preact";
import { useState } from "preact/hooks";
import { systemOf } from "./layout";
import { moveTo, proposeMending, stays, takeMending, toDo } from "./mend";
import type { Proposal } from "./mend";
import { Sign } from "./parts";
import { marginOf, partOf, seatOf, store } from "./store";
import type { State } from "./store";
import type { Mending, TogetherMove } from "./types";
import { plain, showLength } from "./units";
import { few, isBad, outcomeSays, speaksOf } from "./words";

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
      {told && typeof told !== "string" && <Told proposal={told} onDone={() => setFound(null)} />}
    </div>
  );
}

/** A mending is shown first, with what drains before and after, and done only when it is asked for. */
function Told({ proposal, onDone }: { proposal: Proposal; onDone: () => void }): VNode {
  const { mending, mended } = proposal;
  return (
    <section class="proposal" aria-label="Proposal for all plugs">
      <h2>Proposal: nothing is changed yet</h2>
      <p role="status">{mending.says}</p>
      {mending.why.length > 0 && (
        <>
          <h3>Why this</h3>
          {mending.why.map((line) => <p key={line}>{line}</p>)}
        </>
      )}
      {mending.actions.length > 0 && (
        <>
          <h3>Done on site besides</h3>
          <ul>{mending.actions.map((a) => <li key={a.kind + a.id}>{toDo(a)}</li>)}</ul>
        </>
      )}
      {mending.moves.length > 0 && (
        <>
          <h3>Plugs</h3>
          <ul>{mending.moves.map((m) => <li key={m.plug}>{moveSays(m)}</li>)}</ul>
        </>
      )}
      <Burden mending={mending} />
      <Ways mending={mending} />
      {!mended && mending.moves.length > 0 && <p>The page can not note all of this down: do it step by step.</p>}
      {mended && (
        <div class="pair">
          <button
            type="button"
            class="main"
            onClick={() => {
              takeMending(proposal);
              onDone();
            }}
          >
            {mending.actions.length ? "Move them all, and note the rest" : "Move them all"}
          </button>
          <button type="button" class="quiet" onClick={onDone}>
            Leave all as it is
          </button>
        </div>
      )}
    </section>
  );
}

function moveSays(move: TogetherMove): string {
  if (stays(move)) return `Plug ${move.plug} stays on ${move.pipe}.`;
  const where = `${plain(move.tape.shown)} from ${move.from_junction} on ${move.pipe}`;
  if (move.added) return `Plug ${move.plug}, one more: ${where}; jacket ${plain(move.jacket.shown)}, ${move.size}, ${move.coolant}.`;
  return `Plug ${move.plug}: ${where}, ${plain(move.travel.shown)} from its mark.`;
}

/** What it asks of the building: the water that drains, what is cut off, what stays open. */
function Burden({ mending }: { mending: Mending }): VNode | null {
  if (!mending.moves.length) return null;
  const { drain_before: before, drain_after: after } = mending;
  const left = [...new Set(mending.remaining.map((r) => `${r.rule} (${outcomeSays(r.outcome)})`))];
  return (
    <dl>
      <dt>Drains at the work</dt>
      <dd>
        {before ? before.shown : "not known"} with the marks, {after ? after.shown : "not known"} with this.
      </dd>
      <dt>Cut off besides</dt>
      <dd>{mending.cut_off.length ? few(mending.cut_off, 12) : "nothing"}</dd>
      <dt>Still open after that</dt>
      <dd>{left.length ? left.join(", ") : "nothing"}</dd>
    </dl>
  );
}

const MOST_PIPES = 6;

/** Why nothing mends it: ways in on which no plug may stand. */
function Ways({ mending }: { mending: Mending }): VNode {
  return (
    <>
      {mending.ways.map((way) => (
        <div key={way.source}>
          <h3>From {way.source}, no plug may stand on</h3>
          <ul>
            {way.pipes.slice(0, MOST_PIPES).map((p) => <li key={p.pipe}>{p.pipe}: {few(p.rules)}</li>)}
            {way.pipes.length > MOST_PIPES && <li>and {way.pipes.length - MOST_PIPES} more pipes</li>}
          </ul>
        </div>
      ))}
    </>
  );
}

function Row({ id, state }: { id: string; state: State }): VNode {
  const seat = seatOf(state, id);
  const part = partOf(state, id);
  const fresh = state.judged === state.version;
  const system = systemOf(state.layout!);
  const bad = state.report?.findings.filter((f) => isBad(f) && speaksOf(f, "plug", id)) ?? [];
  const misplaced = bad.some((f) => f.outcome !== "undecided") ? "broken" : "undecided";
  const sign = !fresh || !part ? "asking" : part.well_placed ? "holds" : misplaced;
  return (
    <li class="finding">
      <button type="button" class="tell" aria-pressed={state.picked?.id === id} onClick={() => store.pick({ kind: "plug", id })}>
        <Sign of={sign} />
        <span>
          <span class="head">
            <strong>Plug {id}</strong> {seat ? `${showLength(seat.station, system)} on ${seat.pipe}` : ""}
          </span>
          <span class="says">{marginOf(state, id).says}</span>
          {fresh && bad.length > 0 && <span class="says">{bad.length} {bad.length === 1 ? "finding" : "findings"}.</span>}
        </span>
      </button>
      {part?.nearest && (
        <button type="button" class="rule" disabled={!fresh} onClick={() => moveTo(state, id, part.nearest!)}>
          move {plain(part.nearest.travel.shown)}
          <span class="unseen"> to the nearest place for plug {id}</span>
        </button>
      )}
    </li>
  );
}
