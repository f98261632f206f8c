/** Moving plugs to where they may stand. A proposal is an edit like any other: it is judged afresh. */

import { changed, systemOf, withNewPlug, withPlugAt, withState } from "./layout";
import type { Layout } from "./layout";
import { Silence, check } from "./service";
import { store } from "./store";
import type { State } from "./store";
import type { Action, Mending, Move, TogetherMove } from "./types";
import { parseLength, plain, showLength } from "./units";

/** The text to mark with: the tape's reading, which is rounded into the clear stretch. */
function tapeText(move: Pick<Move, "tape">, layout: Layout): string {
  const tape = move.tape;
  const shown = plain(tape.shown);
  const read = parseLength(shown);
  if (read !== null && Math.abs(read - tape.value) < 5e-4) return shown;
  const own = showLength(tape.value, systemOf(layout));
  return Math.abs(parseLength(own)! - tape.value) < 5e-4 ? own : `${tape.value} m`;
}

export function moveTo(state: State, id: string, move: Move): void {
  if (!state.layout) return;
  const station = tapeText(move, state.layout);
  store.edit(withPlugAt(state.layout, id, move.pipe, station), { said: `Plug ${id} is moved to ${station} on ${move.pipe}; it is judged afresh.` });
}

/** What must be done on site besides the moves; the page only notes it down. */
const TO_DO: Record<string, (id: string) => string> = {
  "close valve": (id) => `Close valve ${id} and prove it tight before any cylinder is opened.`,
  "prove valve": (id) => `Prove valve ${id} tight before any cylinder is opened.`,
  "lock off outlet": (id) => `Lock off outlet ${id} before any cylinder is opened.`,
  "make outlet a bleed": (id) => `Station somebody at outlet ${id} to bleed it as soon as the ice closes.`,
  "keep outlet open": (id) => `Keep outlet ${id} open.`,
  "lock off pump": (id) => `Lock off pump ${id} before any cylinder is opened.`,
  "shut down": (id) => `Shut down ${id} and let it cool before any cylinder is opened.`,
};

export const toDo = ({ kind, id }: Action): string => TO_DO[kind]?.(id) ?? `${kind}: ${id}.`;

export const stays = (move: TogetherMove): boolean => !move.added && move.travel.value === 0;

/** What mends all plugs together, and the layout it would give; null where the layout can not be asked about. */
export interface Proposal {
  of: Layout;
  mending: Mending;
  mended: Layout | null;
}

export async function proposeMending(layout: Layout): Promise<Proposal | string> {
  try {
    const answer = await check(layout);
    if (answer.kind === "refused") return answer.problem.detail;
    const mending = answer.report.mending;
    if (!mending) return "Every plug is well placed already.";
    return { of: layout, mending, mended: mendedLayout(layout, mending) };
  } catch (error) {
    if (error instanceof Silence) return "The service does not answer; nothing was moved.";
    throw error;
  }
}

/** The layout with every plug moved, and with what must be done besides. */
function mendedLayout(layout: Layout, mending: Mending): Layout | null {
  if (!mending.moves.length) return null;
  const done = mending.actions.reduce<Layout | null>((l, a) => l && withAdded(l, a.kind, a.id), layout);
  const moves = mending.moves.filter((m) => !stays(m));
  return done && moves.reduce((l, m) => (m.added ? withMorePlug(l, m) : withPlugAt(l, m.plug, m.pipe, tapeText(m, l))), done);
}

function withMorePlug(layout: Layout, move: TogetherMove): Layout {
  const made = withNewPlug(layout, move.pipe, tapeText(move, layout));
  const own = { id: move.plug, jacket: plain(move.jacket.shown), coolant: move.coolant };
  const plugs = made.layout.plugs!.map((p) => (p.id === made.id ? { ...p, ...own } : p));
  return { ...made.layout, plugs };
}

/**
 * Do one thing more, as the mending asks. A valve is closed but not said to be proven: only a person
 * at the valve can prove it, so the layout stays undecided until that is stated.
 */
function withAdded(layout: Layout, kind: string, id: string): Layout | null {
  const valve = layout.valves?.find((x) => x.id === id);
  const outlet = layout.outlets?.find((x) => x.id === id);
  switch (kind) {
    case "close valve":
      return valve ? withState(layout, "valves", valve, "both", "closed") : null;
    case "prove valve":
      return valve ? layout : null;
    case "lock off outlet":
      return outlet ? withState(layout, "outlets", outlet, "both", "locked off") : null;
    case "make outlet a bleed":
      return outlet ? withState(layout, "outlets", outlet, "freezing", "bleed") : null;
    case "keep outlet open":
      return outlet ? withState(layout, "outlets", outlet, "freezing", "kept open") : null;
    case "lock off pump":
      return changed(layout, "pumps", id, { locked_off: true });
    case "shut down":
      return changed(layout, layout.pumps?.some((x) => x.id === id) ? "pumps" : "equipment", id, { locked_off: true });
    case "freeze plug":
      return layout; // the plug is among the moves
    default:
      return null;
  }
}

/** Take it up. What must be done on site stays in sight until somebody says that it is done. */
export function takeMending({ mending, mended }: Proposal): void {
  if (!mended) return;
  store.edit(mended, { said: "All plugs are moved together and judged afresh; undo brings yours back." });
  store.hold([...new Set([...store.state.conditions, ...mending.actions.map(toDo)])]);
}
