/** The first screen: what this is and is not, the cautions, and whose freeze it is. */

import type { VNode } from "preact";
import { useState } from "preact/hooks";
import { Field, plain, Press } from "./parts";
import { store } from "./store";

const LAWFUL = "Cold burns · asphyxiation · trapped pressure · brittle pipe · plug loss.";

export function First(): VNode {
  const { plan, watch, trouble, kept, state } = store.known;
  const [by, setBy] = useState<string | null>(null);
  const name = by ?? watch?.by ?? "";
  const begin = (): void => void store.begin(plain(name)).then(() => store.show(state?.ready ? "watch" : "ticks"));
  return (
    <main class="scroll">
      <h1>Freeze: clock and log</h1>
      <p class="big">{plan?.no_permit ?? "This is a clock and a log, not a permit. It controls nothing and proves nothing."}</p>
      {trouble && (
        <p class="band b-stop" role="alert">
          {trouble}
        </p>
      )}
      {plan && !plan.may_start && <NotYet />}
      {plan?.may_start && (
        <>
          <p class="name">{plan.layout.name}</p>
          <p class="fact">
            Compliant as stated. Sheet {plan.sheet}. Layout <code>{plan.layout.digest.slice(0, 16)}</code>
          </p>
          <ul class="cautions" aria-label="Cautions">
            {plan.cautions.map((text) => (
              <li key={text}>{text}</li>
            ))}
          </ul>
          <p class="fact">{plan.deference}</p>
          <p class={`fact ${kept ? "" : "warn"}`} role="status">
            {kept ? "Kept on this phone: it opens without a network." : "Not kept on this phone yet: do not rely on it without a network."}
          </p>
          <Field label="Who holds this phone" value={name} onText={setBy} />
          <Press onPress={begin} off={!plain(name)}>
            {state?.told.some((e) => e.kind === "started") ? "GO ON" : "GO TO THE TICKS"}
          </Press>
        </>
      )}
      {!plan && !trouble && <p class="fact">Asking…</p>}
      {(trouble || (plan && !plan.may_start)) && (
        <>
          <p class="fact">{LAWFUL}</p>
          <a class="press p-plain" href="./">
            BACK TO THE PAGE
          </a>
          <Press kind="plain" onPress={() => void store.ask()}>
            ASK AGAIN
          </Press>
        </>
      )}
    </main>
  );
}

function NotYet(): VNode {
  const plan = store.known.plan!;
  return (
    <>
      <p class="band b-stop" role="alert">
        {plan.verdict.toUpperCase()}: do not freeze.
      </p>
      <p class="name">{plan.layout.name}</p>
      <p class="fact">
        {plan.headline} Layout <code>{plan.layout.digest.slice(0, 16)}</code>
      </p>
      <h2>Do these first, then check again</h2>
      <ol class="cautions">
        {plan.actions.slice(0, 5).map((a) => (
          <li key={a.number}>
            <strong>{a.what}</strong> {a.why}
          </li>
        ))}
      </ol>
    </>
  );
}
