/** What to do before the next check, the gravest first; only a whole check makes it. */

import type { VNode } from "preact";
import { useState } from "preact/hooks";
import type { Layout } from "./layout";
import { Silence, check } from "./service";
import type { State } from "./store";
import type { ActionPart } from "./types";

/** What a whole check of a layout says is to be done, or why it could not be had. */
export interface Asked {
  of: Layout;
  told: ActionPart[] | string;
}

/** Each finding's number: that of the first action that settles it, as everywhere else. */
export function numbersOf(asked: Asked | null, layout: Layout | null): Map<string, number> {
  const told = asked && asked.of === layout && typeof asked.told !== "string" ? asked.told : [];
  return new Map([...told].reverse().flatMap((a) => a.settles.map((id): [string, number] => [id, a.number])));
}

interface Props {
  state: State;
  asked: Asked | null;
  onAsked: (asked: Asked) => void;
}

export function Actions({ state, asked, onAsked }: Props): VNode | null {
  const [busy, setBusy] = useState(false);
  const layout = state.layout;
  if (!layout) return null;
  const ask = async (): Promise<void> => {
    setBusy(true);
    const told = await actionsOf(layout).finally(() => setBusy(false));
    onAsked({ of: layout, told });
  };
  if (asked?.of !== layout) {
    return (
      <button type="button" class="main wide" disabled={busy || state.silent} onClick={() => void ask()}>
        {busy ? "Putting it in order…" : "What to do first"}
      </button>
    );
  }
  const { told } = asked;
  if (typeof told === "string") return <p class="note" role="status">{told}</p>;
  return (
    <section class="proposal" aria-label="What to do first">
      <h2>What to do before the next check, the gravest first</h2>
      {told.length === 0 && <p>Nothing is left to do.</p>}
      <ol>
        {told.map((a) => (
          <li key={a.number} value={a.number}>
            <strong>{a.what}</strong> {a.why}
          </li>
        ))}
      </ol>
    </section>
  );
}

async function actionsOf(layout: Layout): Promise<ActionPart[] | string> {
  try {
    const answer = await check(layout);
    return answer.kind === "refused" ? answer.problem.detail : answer.report.actions;
  } catch (error) {
    if (error instanceof Silence) return "The service does not answer.";
    throw error;
  }
}
