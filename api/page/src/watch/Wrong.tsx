/** When something goes wrong: when to give up, who shuts the water off, what each sign calls for. */

import type { VNode } from "preact";
import { Press } from "./parts";
import { isTicked } from "./fold.ts";
import { clock } from "./show";
import { store } from "./store";

export function Wrong(): VNode {
  const { plan, state, following } = store.known;
  const { orders, plugs } = plan!;
  const given = state?.jackets ?? [];
  const back = (): void => store.show("watch");
  return (
    <>
      <main class="scroll" tabIndex={0} aria-label="If it goes wrong">
        <h1>Air, or anyone unwell</h1>
        <p class="band b-stop">{orders.alarm}</p>
        <h1>Give up</h1>
        {given.map((j) => (
          <p class="big" key={j.plug.id}>
            {j.plug.id}: {j.giveUp === null ? `${Math.round(j.plug.give_up / 60)} min after the first injection` : clock(j.giveUp, state!.zone)}
            {j.proven ? ", tested before" : ""}
          </p>
        ))}
        <p class="fact">Not proven by then: stop, let it thaw, find out why.</p>
        <h1>A plug lets go</h1>
        <p class="band b-stop">{orders.water}</p>
        {orders.if_a_plug_goes && <p class="big">{orders.if_a_plug_goes}</p>}
        <Agreed />
        {plugs.map((p) => (
          <p class="fact" key={p.id}>
            {p.id}: {p.loss}
          </p>
        ))}
        <h1>Signs, and what to do</h1>
        <dl>
          {orders.signs.map(([sign, then]) => (
            <div key={sign}>
              <dt>{sign}</dt>
              <dd>{then}</dd>
            </div>
          ))}
        </dl>
      </main>
      <nav class="foot" aria-label="At any time">
        <Press kind="plain" onPress={back}>
          BACK
        </Press>
        {!following && (
          <Press kind="stop" onPress={() => void store.say({ kind: "out" }, "Everybody out is written.").then(back)}>
            EVERYBODY OUT
          </Press>
        )}
      </nav>
    </>
  );
}

/** What was agreed before the start of how to shut the water off, as it was written then. */
function Agreed(): VNode {
  const { plan, state } = store.known;
  const rows = plan!.before.flatMap((g, group) => g.ticks.map((what, tick) => ({ what, done: state ? isTicked(state.told, "before", group, tick) : null })));
  const told = rows.filter(({ what, done }) => what.text.includes("shut") && what.text.includes("water") && done?.kind === "tick" && done.text);
  return (
    <>
      {told.map(({ what, done }) => (
        <p class="big" key={what.text}>
          {what.text.split(":")[0]}: {done?.kind === "tick" ? done.text : ""}
        </p>
      ))}
    </>
  );
}
