/** The freeze itself: for each jacket one big thing to do, until when, and what comes next. */

import type { VNode } from "preact";
import { useState } from "preact/hooks";
import { si } from "./entries.ts";
import type { Quantity } from "./entries.ts";
import { isTicked } from "./fold.ts";
import type { Jacket, State } from "./fold.ts";
import { massIn } from "./log.ts";
import { Dial, Foot, Press } from "./parts";
import { clock, mass, massScale, span, words } from "./show";
import { store } from "./store";

const SHOWN = 30_000; // ms later than the sheet that are worth a line
const EARLY = 60_000; // ms before its time that a feeding may begin: what the log forgives

export function Freeze(): VNode {
  const { state, said, following, trouble, plan } = store.known;
  if (!state || !plan) return <main class="scroll">{trouble ? <p class="band b-stop" role="alert">{trouble}</p> : <p class="fact">Asking…</p>}</main>;
  if (state.doubt && !following) return <WhichClock state={state} />;
  return (
    <>
      <header class="head">
        <strong>{clock(state.now, state.zone)}</strong>
        <span>
          {following ? `read-only, heard ${Math.round(following.age)} s ago` : store.known.kept ? "kept on this phone" : "not kept without network"}
          {store.known.shared !== "no" && (store.known.shared === "sent" ? ", followed" : ", follower waits")}
        </span>
      </header>
      <Bands state={state} said={trouble || said} />
      <main class="jackets" aria-label="Jackets, the most urgent first" tabIndex={0}>
        <h1 class="unseen">Clock and log of the freeze</h1>
        {state.jackets.map((j) => (
          <One key={j.plug.id} jacket={j} state={state} />
        ))}
      </main>
      <Foot back={null} />
    </>
  );
}

/** What everybody must know, before any one jacket. */
function Bands({ state, said }: { state: State; said: string }): VNode {
  const { plan, unkept } = store.known;
  const { air, out, ends, opened, closed, now, zone } = state;
  const left = out !== null && (air === null || air.at < out.at || air.over !== null);
  return (
    <div class="bands">
      {unkept && (
        <p class="band b-stop" role="alert">
          {unkept}
        </p>
      )}
      {(air?.over || left) && (
        <p class="band b-stop" role="alert">
          {air?.over ? `AIR: ${air.over}. ` : ""}
          {plan!.orders.alarm}
        </p>
      )}
      {opened && !closed && ends !== null && (
        <p class={`band ${now >= ends ? "b-stop" : "b-look"}`} role="status">
          Line open. Closed up by {clock(ends, zone)}, {now >= ends ? `${span(now - ends)} ago: close or cap it now` : `in ${span(ends - now)}`}.
        </p>
      )}
      {state.stock.map((s) => (
        <Stock key={s.coolant} state={state} of={s} />
      ))}
      {said && (
        <p class="band b-fine" role="status">
          {said}
        </p>
      )}
    </div>
  );
}

function Stock({ state, of }: { state: State; of: State["stock"][number] }): VNode | null {
  const { units } = store.known.plan!;
  if (state.zero === null) return null;
  const rough = of.unweighed ? `, ${of.unweighed} not weighed, taken as planned` : "";
  if (of.runsOut !== null) {
    return (
      <p class="band b-stop" role="alert">
        {of.coolant}: {mass(units, of.left)} left, out at {clock(of.runsOut, state.zone)}. Bring more, or close or cap the line before{rough}.
      </p>
    );
  }
  if (of.last) {
    return (
      <p class="band b-stop" role="alert">
        Last container of {of.coolant}: {mass(units, of.left)} left. Stop the work, close or cap the line{rough}.
      </p>
    );
  }
  return null;
}

function One({ jacket, state }: { jacket: Jacket; state: State }): VNode {
  const { following } = store.known;
  const { plug, until } = jacket;
  const { now } = state;
  const over = until !== null && now >= until;
  const left = until === null ? "" : span(until - now);
  const what = headOf(jacket, state);
  const loud = jacket.stop || jacket.missed || jacket.doing === "give up" ? "u-stop" : over && jacket.doing !== "over" ? "u-now" : "";
  return (
    <section class={`jacket ${loud}`} aria-label={`Plug ${plug.id}`}>
      <h2>
        {plug.id} <small>{plug.pipe}</small>
      </h2>
      <p class="do">{what}</p>
      {until !== null && (
        <p class={`face ${sizeOf((over ? "+" : "") + left)}`} role="timer" aria-label={`${over ? "late by" : "left"} ${left}`}>
          {over ? "+" : ""}
          {left}
        </p>
      )}
      <p class="next">{nextOf(jacket, state)}</p>
      {!following && <Act jacket={jacket} state={state} />}
      {!following && (
        <Press kind="plain" onPress={() => store.show("write", plug.id)}>
          WRITE WHAT YOU SEE
        </Press>
      )}
      <Told jacket={jacket} state={state} />
    </section>
  );
}

/** The more there is to read, the smaller it must be to stay on the screen. */
const sizeOf = (text: string): string => (text.length > 5 ? "long" : text.length > 4 ? "broad" : "");

function headOf(jacket: Jacket, { zone, zero }: State): string {
  const { doing, until, missed, stop } = jacket;
  const at = until === null ? "" : clock(until, zone);
  if (doing === "give up") return "STOP INJECTING. The time to give up has come. Do not open. Let it thaw.";
  if (stop && doing !== "inject") return stop === "slow" ? "STOP: slower than the slow case" : "STOP: frost drew back";
  switch (doing) {
    case "begin":
      return zero === null || jacket.number === 1 ? "START: inject" : `INJECT since ${at}`;
    case "inject":
      return `INJECT until ${at}`;
    case "wait":
      return `WAIT until ${at}`;
    case "hold":
      return `WAIT. Top up at ${at}`;
    case "top up":
      return missed ? "TOP-UP MISSED. Top up. Stop the work, close or cap the line." : `TOP UP since ${at}`;
    case "topping":
      return `TOP UP until ${at}`;
    default:
      return "Feeding has stopped. It may let go at any time: keep clear.";
  }
}

function nextOf(jacket: Jacket, state: State): string {
  const { doing, planned, feed, number, plug } = jacket;
  const { units } = store.known.plan!;
  const what = `${feed === "inject" ? "injection" : "top-up"} ${number}: ${words(planned.duration)}, ${mass(units, planned.mass)}`;
  if (doing === "wait" || doing === "hold") return `Next: ${what}`;
  if (doing === "begin" || doing === "top up") return `This is ${what}`;
  if (doing === "inject") return `Next: shut the nozzle, wait ${words(plug.steps.find((s) => s.kind.startsWith("wait"))?.duration ?? 0)}`;
  if (doing === "topping") return `Next: top-up ${number + 1} at ${clock((jacket.until ?? 0) - planned.duration * 1000 + plug.interval * 1000, state.zone)}`;
  return "";
}

function Act({ jacket, state }: { jacket: Jacket; state: State }): VNode | null {
  const { plug, doing, feed, number, until } = jacket;
  const name = feed === "inject" ? `INJECTION ${number}` : `TOP-UP ${number}`;
  const say = (kind: "began" | "ended"): void => void store.say({ kind, plug: plug.id, feed, number });
  if (doing === "inject" || doing === "topping") {
    return <Press onPress={() => say("ended")}>{name} ENDS</Press>;
  }
  const unweighed = jacket.fed.findLast((f) => f.mass === null && f.ended !== null && !isWaived(state, plug.id, f.number, f.feed));
  const done = doing === "give up" || doing === "over";
  const soon = !done && (until === null || state.now >= until - EARLY);
  if (unweighed && !soon) return <Weigh key={`${unweighed.feed} ${unweighed.number}`} jacket={jacket} number={unweighed.number} feed={unweighed.feed} kg={unweighed.planned.mass} />;
  if (done) return null;
  return (
    <Press onPress={() => say("began")} off={!soon}>
      {jacket.stop ? `WE GO ON: ${name} BEGINS` : `${name} BEGINS`}
    </Press>
  );
}

/** Somebody said that it was not weighed: a note says so, and it counts as planned. */
function isWaived(state: State, plug: string, number: number, feed: string): boolean {
  return state.told.some((e) => e.kind === "note" && e.plug === plug && e.text === unweighedText(feed, number));
}

const unweighedText = (feed: string, number: number): string => `${feed === "inject" ? "injection" : "top-up"} ${number} was not weighed`;

function Weigh({ jacket, number, feed, kg }: { jacket: Jacket; number: number; feed: "inject" | "top-up"; kg: number }): VNode {
  const { units } = store.known.plan!;
  const planned = massIn(units, kg);
  const [value, setValue] = useState(planned.value);
  const scale = massScale(units, kg);
  const taken: Quantity = { value, unit: planned.unit };
  const { id } = jacket.plug;
  return (
    <div class="weigh">
      <Dial label={`Went in, ${feed === "inject" ? "injection" : "top-up"} ${number}, by weighing`} scale={scale} start={planned.value} value={value} onValue={setValue} />
      <Press off={si(taken) <= 0} onPress={() => void store.say({ kind: "mass", plug: id, feed, number, mass: taken })}>
        WRITE {taken.value} {taken.unit}
      </Press>
    </div>
  );
}

/** What is known of a jacket besides: the estimate, the times, what waits to be done. */
function Told({ jacket, state }: { jacket: Jacket; state: State }): VNode {
  const { plan } = store.known;
  const { plug, due, expected, giveUp, proven, shift, standing } = jacket;
  const { zone, now, zero } = state;
  const judged = store.judge.of(plug.id, state);
  const bad = jacket.stop !== null || judged?.outcome === "broken";
  const bleeds = plan!.order.flatMap((g, group) => g.ticks.map((t, tick) => ({ text: t.text, group, tick }))).filter((t) => t.text.startsWith("OPEN bleed") && !isTicked(state.told, "order", t.group, t.tick));
  return (
    <div class="told">
      {bad && (
        <p class="band b-stop" role="alert">
          {judged?.says ?? (jacket.stop === "slow" ? "The freeze is slower than the slow case." : "Frost drew back before the pressure test.")} Do not open. Stop injecting, find what moves in the pipe or warms it, and start again only when it is found.
        </p>
      )}
      {standing && !bad && (
        <p>
          {standing.pace === "on course" ? "On course" : "These signs tell nothing: write how cold the pipe is, too"}, by what was seen at {clock(zero! + standing.look.time * 1000, zone)}.
          {standing.plug && ` Estimate carried on: ice long enough likely at ${clock(zero! + standing.plug[1] * 1000, zone)}, from ${clock(zero! + standing.plug[0] * 1000, zone)} to ${clock(zero! + standing.plug[2] * 1000, zone)}. An estimate, no proof.`}
        </p>
      )}
      {proven ? (
        <p>Pressure test passed at {clock(proven.at, zone)}. Watch frost and gauges all the same.</p>
      ) : (
        due !== null && (
          <p class={now >= due ? "band b-look" : ""}>
            {now >= (expected ?? Infinity) ? "Look for its signs and make the pressure test" : "Pressure test"} by {clock(due, zone)}. Not before that time is anything opened.
            {giveUp !== null && ` Give up at ${clock(giveUp, zone)}${due >= giveUp ? ", before the ice is surely long enough by these readings" : ""}.`}
          </p>
        )
      )}
      {shift >= SHOWN && !proven && <p>The rest comes {words(shift / 1000)} later than on the sheet.</p>}
      {bleeds.length > 0 && zero !== null && plug.bleeds.length > 0 && <p>Bleed to open: {plug.bleeds.join("; ")}.</p>}
    </div>
  );
}

/** A clock that went forward: set by somebody, or a phone that slept. Only a person can say. */
function WhichClock({ state }: { state: State }): VNode {
  const doubt = state.doubt!;
  const settle = (right: boolean): void => void store.say({ kind: "settled", of: doubt.id, right });
  return (
    <>
      <main class="scroll">
        <h1>Which clock is right?</h1>
        <p class="big" role="alert">
          This phone's clock went forward by {span(doubt.gap)} against its own stop-watch. Look at another watch. What time is it?
        </p>
        <Press onPress={() => settle(true)}>IT IS {clock(state.now, state.zone)}</Press>
        <Press onPress={() => settle(false)}>IT IS {clock(state.now - doubt.gap, state.zone)}</Press>
        <p class="fact">The first: the phone slept, or its clock was put right. The second: its clock was set wrong just now. Until it is settled feed by the later time, and open nothing.</p>
      </main>
      <Foot back={null} />
    </>
  );
}
