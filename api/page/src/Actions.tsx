/** What to do before the next check, the gravest first; only a whole check reckons it. */

import type { VNode } from "preact";
import { useState } from "preact/hooks";
import type { Layout } from "./layout";
import { Silence, check } from "./service";
import type { State } from "./store";
import type { ActionPart } from "./types";

export function Actions({ state }: { state: State }): VNode | null {
  const [busy, setBusy] = useState(false);
  const [found, setFound] = useState<{ of: Layout; told: ActionPart[] | string } | null>(null);
  const layout = state.layout;
  if (!layout) return null;
  const ask = async (): Promise<void> => {
    setBusy(true);
    const told = await actionsOf(layout).finally(() => setBusy(false));
    setFound({ of: layout, told });
  };
  if (found?.of !== layout) {
    return (
      <button type="button" class="main wide" disabled={busy || state.silent} onClick={() => void ask()}>
        {busy ? "Putting it in order…" : "What to do first"}
      </button>
    );
  }
  const { told } = found;
  if (typeof told === "string") return <p class="note" role="status">{told}</p>;
  return (
    <section class="proposal" aria-label="What to do first">
      <h2>What to do before the next check, the gravest first</h2>
      {told.length === 0 && <p>Nothing is left to do.</p>}
      <ul>
        {told.map((a) => (
          <li key={a.number}>
            <strong>{a.what}</strong> {a.why}
          </li>
        ))}
      </ul>
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
