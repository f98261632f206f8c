/** Plans proposed from the work alone: each a whole layout to look at, never written over yours unasked. */

import type { VNode } from "preact";
import { useEffect, useRef, useState } from "preact/hooks";
import { looksLikeLayout } from "./layout";
import type { Layout } from "./layout";
import { Refusal, Silence, bodyOf, post } from "./service";
import { store } from "./store";
import type { State } from "./store";
import type { Measure } from "./types";
import { plain } from "./units";
import { few, outcomeSays } from "./words";

interface Plan {
  rank: number;
  says: [string, string];
  actions: { kind: string; id: string }[];
  plugs: { id: string; pipe: string; station: Measure; size: string }[];
  conditions: string[];
  steps: { phase: string; do: string; why: string }[];
  document: unknown;
}

interface NearMiss extends Pick<Plan, "actions" | "plugs"> {
  lacking: { id: string; rule: string; outcome: string; says: string }[];
}

interface PlanReport {
  status: string;
  says: string;
  plans: Plan[];
  hindrances: Record<string, number>;
  to_settle: string[];
  near_miss: NearMiss | null;
}

const SECONDS = 20; // how long the service may look

export function Plans({ state }: { state: State }): VNode {
  const [found, setFound] = useState<{ of: Layout; report: PlanReport } | null>(null);
  const [busy, setBusy] = useState(false);
  const [fault, setFault] = useState("");
  const giveUp = useRef<AbortController | null>(null);
  useEffect(() => () => giveUp.current?.abort(), []);
  const layout = state.layout;
  if (!layout?.work) return <p class="empty">Say first what will be opened: choose it and tick “Opened for the work”.</p>;
  const look = async (): Promise<void> => {
    const stop = new AbortController();
    giveUp.current = stop;
    setBusy(true);
    setFault("");
    try {
      const body = bodyOf(layout, { top: 4, time_limit: SECONDS });
      setFound({ of: layout, report: (await post("v1/plans", body, "application/json", stop.signal)) as PlanReport });
      store.say("Plans are there.");
    } catch (error) {
      setFound(null);
      setFault(stop.signal.aborted ? "Given up: nothing was changed." : why(error));
    }
    if (giveUp.current === stop) setBusy(false);
  };
  return (
    <div>
      <p class="note">What to close and where to freeze, looked for from the work alone. The plugs you marked are taken as wishes. It looks for up to {SECONDS} seconds.</p>
      <button type="button" class="main wide" disabled={busy} onClick={() => void look()}>
        {busy ? "Looking for plans…" : "Propose plans"}
      </button>
      {busy && <Looking onStop={() => giveUp.current?.abort()} />}
      {fault && <p class="note bad" role="alert">{fault}</p>}
      {found && <Told found={found.report} stale={found.of !== layout && !found.report.plans.some((p) => p.document === layout)} />}
    </div>
  );
}

/** How long it has looked, of the time that it may; and a way out. */
function Looking({ onStop }: { onStop: () => void }): VNode {
  const [seconds, setSeconds] = useState(0);
  useEffect(() => {
    const timer = setInterval(() => setSeconds((s) => s + 1), 1000);
    return () => clearInterval(timer);
  }, []);
  return (
    <div class="looking">
      <progress max={SECONDS} value={Math.min(seconds, SECONDS)} aria-label="Looking for plans" />
      <span>{seconds} s of {SECONDS}</span>
      <button type="button" onClick={onStop}>
        Give up
      </button>
    </div>
  );
}

function why(error: unknown): string {
  if (error instanceof Silence) return "The service does not answer. Your marks are kept here.";
  if (error instanceof Refusal) return error.problem.status === 404 ? "This service proposes no plans." : error.problem.detail;
  throw error;
}

function Told({ found, stale }: { found: PlanReport; stale: boolean }): VNode {
  const against = Object.entries(found.hindrances).sort((a, b) => b[1] - a[1]).map(([rule]) => rule);
  return (
    <>
      <p role="status">{found.says}</p>
      {found.to_settle.length > 0 && (
        <div class="instead">
          <h3>State or prove, then propose again</h3>
          <ul>
            {found.to_settle.map((text) => (
              <li key={text}>{text}</li>
            ))}
          </ul>
        </div>
      )}
      {found.near_miss && <Nearest miss={found.near_miss} />}
      {found.plans.length === 0 && against.length > 0 && <p class="note">What stood against them: {few(against)}.</p>}
      {stale && <p class="note">The layout was changed since: propose again for plans of how it stands now.</p>}
      <ol class="plans">
        {found.plans.map((plan) => (
          <li key={plan.rank}>
            <h3>Plan {plan.rank}</h3>
            <p>{plan.says.join(" ")}</p>
            <ul>
              {plan.plugs.map((p) => (
                <li key={p.id}>
                  Freeze {p.size} {p.pipe} at {plain(p.station.shown)} (plug {p.id})
                </li>
              ))}
              {plan.actions.map((a) => (
                <li key={`${a.kind} ${a.id}`}>
                  {a.kind}: {a.id}
                </li>
              ))}
            </ul>
            {plan.conditions.length > 0 && (
              <div class="conditions">
                <h4>Holds only if</h4>
                <ul>
                  {plan.conditions.map((text) => (
                    <li key={text}>{text}</li>
                  ))}
                </ul>
              </div>
            )}
            <details>
              <summary>Steps</summary>
              <ol>
                {plan.steps.map((s) => (
                  <li key={s.do}>
                    {s.do} <small>{s.why}</small>
                  </li>
                ))}
              </ol>
            </details>
            <button type="button" onClick={() => take(plan)}>
              Take plan {plan.rank}
            </button>
          </li>
        ))}
      </ol>
    </>
  );
}

function Nearest({ miss }: { miss: NearMiss }): VNode {
  return (
    <div class="instead">
      <h3>What came nearest</h3>
      <p>It is no plan. {sentence(miss)}</p>
      <ul>
        {miss.lacking.map((one) => (
          <li key={one.id}>
            {one.rule}, {outcomeSays(one.outcome)}: {one.says}
          </li>
        ))}
      </ul>
    </div>
  );
}

function sentence(miss: NearMiss): string {
  const frozen = miss.plugs.map((p) => `freeze ${p.size} ${p.pipe} at ${plain(p.station.shown)}`);
  const done = miss.actions.map((a) => `${a.kind}: ${a.id}`);
  const text = [...frozen, ...done].join("; ");
  return `${text.charAt(0).toUpperCase()}${text.slice(1)}. What does not hold:`;
}

function take(plan: Plan): void {
  if (!looksLikeLayout(plan.document)) return;
  store.pick(null);
  store.edit(plan.document, { said: `Plan ${plan.rank} is taken up and judged afresh; undo brings yours back.` });
  store.hold(plan.conditions);
}
