/** Moving plugs to where they may stand. A proposal is an edit like any other: it is judged afresh. */

import { systemOf, withPlugAt } from "./layout";
import type { Layout } from "./layout";
import { Silence, judge } from "./service";
import { store } from "./store";
import type { State } from "./store";
import type { Move, Report } from "./types";
import { parseLength, plain, showLength } from "./units";

/** The text to mark with: the tape's reading, which is rounded into the clear stretch. */
function tapeText(move: Pick<Move, "station"> & { tape?: Move["tape"] }, layout: Layout): string {
  const tape = move.tape ?? move.station;
  const shown = plain(tape.shown);
  const read = parseLength(shown);
  if (read !== null && Math.abs(read - tape.value) < 5e-4) return shown;
  const own = showLength(tape.value, systemOf(layout));
  return Math.abs(parseLength(own)! - tape.value) < 5e-4 ? own : `${tape.value} m`;
}

export function moveToNearest(state: State, id: string): void {
  const move = state.report?.plugs.find((p) => p.id === id)?.nearest;
  if (!move || !state.layout) return;
  const station = tapeText(move, state.layout);
  store.edit(withPlugAt(state.layout, id, move.pipe, station), { said: `Plug ${id} is moved to ${station} on ${move.pipe}; it is judged afresh.` });
}

/** Move every plug that needs it: all together where the service reckons that, else one by one. */
export async function mendAll(state: State): Promise<void> {
  const { layout, report } = state;
  if (!layout || !report) return;
  const together = report.mending?.moves;
  if (together?.length) {
    const mended = together.reduce((l, m) => withPlugAt(l, m.plug, m.pipe, tapeText(m, l)), layout);
    store.edit(mended, { said: `${together.length} plugs are moved together, at the least travel for all. They are judged afresh.` });
    return;
  }
  await oneByOne(layout, report);
}

async function oneByOne(start: Layout, first: Report): Promise<void> {
  let [layout, report] = [start, first];
  const moved: string[] = [];
  const version = store.state.version;
  for (let i = 0; i < 2 * first.plugs.length; i++) {
    const part = report.plugs.find((p) => p.nearest && !p.well_placed);
    if (!part?.nearest) break;
    layout = withPlugAt(layout, part.id, part.nearest.pipe, tapeText(part.nearest, layout));
    moved.push(part.id);
    const next = await asked(layout, version);
    if (!next) return;
    report = next;
  }
  const left = report.plugs.filter((p) => !p.well_placed).map((p) => p.id);
  const rest = left.length ? ` No place was found for ${left.join(", ")}: see Findings.` : "";
  if (!moved.length) return store.say(left.length ? `Nothing to move to.${rest}` : "Every plug is well placed already.");
  if (store.state.version !== version) return store.say("The layout was changed meanwhile, so nothing was moved.");
  const ids = [...new Set(moved)].join(", ");
  store.edit(layout, { said: `Moved ${ids} one after another, each to its own nearest place; that is not always the least travel for all.${rest}` });
}

async function asked(layout: Layout, version: number): Promise<Report | null> {
  try {
    const answer = await judge({ layout, version, moving: true });
    if (answer.kind === "judged") return answer.report;
    store.say("The service refused a place it proposed; nothing was moved.");
  } catch (error) {
    if (!(error instanceof Silence)) throw error;
    store.say("The service does not answer; nothing was moved.");
  }
  return null;
}
