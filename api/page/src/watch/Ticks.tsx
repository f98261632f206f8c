/** The sheet's ticks, one at a time, each with a name and a time. */

import type { VNode } from "preact";
import { useState } from "preact/hooks";
import { isTicked } from "./fold.ts";
import type { State } from "./fold.ts";
import { Field, Foot, Pages, plain, Press } from "./parts";
import type { Plan, Tick } from "./plan.ts";
import { clock } from "./show";
import { store } from "./store";

type List = "before" | "order";

interface Place {
  group: number;
  tick: number;
  title: string;
  what: Tick;
}

function placesOf(plan: Plan, list: List): Place[] {
  return plan[list].flatMap((g, group) => g.ticks.map((what, tick) => ({ group, tick, title: g.title, what })));
}

const isOpen = (state: State, list: List, { group, tick }: Place): boolean => isTicked(state.told, list, group, tick) === null;

export function Ticks(): VNode {
  const list = "before";
  const { plan, state, view } = store.known;
  const places = placesOf(plan!, list);
  const open = places.filter((p) => isOpen(state!, list, p));
  const place = places[view.index];
  const go = (index: number): void => store.show(view.screen, null, index);
  if (!place) return <End open={open.length} first={open[0] ? places.indexOf(open[0]) : 0} go={go} />;
  return (
    <main class="scroll">
      <p class="fact">
        {place.title}: {view.index + 1} of {places.length}, {open.length} open
      </p>
      <One key={view.index} list={list} place={place} next={() => go(view.index + 1)} back={() => (view.index ? go(view.index - 1) : store.show("first"))} />
    </main>
  );
}

/** The steps of the job while it freezes: one below the other, with what is at hand at any time. */
export function Steps(): VNode {
  const places = placesOf(store.known.plan!, "order");
  const pages = places.map((place, n) => ({ name: `${n + 1}. ${place.title}`, body: <One list="order" place={place} next={null} back={null} /> }));
  return (
    <>
      <Pages pages={pages} label="Steps of the sheet" />
      <Foot back={() => store.show("watch")} />
    </>
  );
}

/** What has a gap to fill says so in the sheet's own way. */
const asks = (text: string): boolean => text.includes("____");

function One({ list, place, next, back }: { list: List; place: Place; next: (() => void) | null; back: (() => void) | null }): VNode {
  const { watch, state } = store.known;
  const [text, setText] = useState("");
  const [by, setBy] = useState(watch!.by);
  const done = isTicked(state!.told, list, place.group, place.tick);
  const lacks = !plain(by) || (asks(place.what.text) && !plain(text));
  const tick = (): void => {
    void store.say({ kind: "tick", list, group: place.group, tick: place.tick, text: plain(text) }, "", plain(by)).then(() => next?.());
  };
  return (
    <>
      {next ? <h1 class="big">{place.what.text}</h1> : <p class="big">{place.what.text}</p>}
      {place.what.why && <p class="fact">{place.what.why}</p>}
      {done ? (
        <>
          <p class="band b-fine" role="status">
            ✔ {clock(done.at, state!.zone)} {done.by}
            {done.kind === "tick" && done.text ? `: ${done.text}` : ""}
          </p>
          {next && <Press onPress={next}>NEXT</Press>}
        </>
      ) : (
        <>
          {asks(place.what.text) && <Field label="What goes in the gaps" value={text} onText={setText} />}
          <Field label="Done or seen by" value={by} onText={setBy} />
          <Press onPress={tick} off={lacks}>
            DONE
          </Press>
          {next && (
            <Press kind="plain" onPress={next}>
              LATER
            </Press>
          )}
        </>
      )}
      {back && (
        <Press kind="plain" onPress={back}>
          BACK
        </Press>
      )}
    </>
  );
}

function End({ open, first, go }: { open: number; first: number; go: (index: number) => void }): VNode {
  return (
    <main class="scroll">
      <h1 class="big">{open ? `${open} still open. If one is open, stop here.` : "All are ticked."}</h1>
      {open > 0 && <Press onPress={() => go(first)}>TO THE FIRST OPEN ONE</Press>}
      {open === 0 && <Press onPress={() => store.show("watch")}>TO THE JACKETS</Press>}
      <Press kind="plain" onPress={() => go(0)}>
        FROM THE BEGINNING
      </Press>
    </main>
  );
}
