/** What is seen and done at a jacket: one thing on each screen, set and written. */

import type { ComponentChildren, VNode } from "preact";
import { useState } from "preact/hooks";
import type { Quantity, Said } from "./entries.ts";
import type { Jacket, State } from "./fold.ts";
import { Dial, Field, Foot, Pages, plain, Press, useReading } from "./parts";
import type { Page } from "./parts";
import { clock, scaleOf } from "./show";
import { store } from "./store";

const AIR = {
  dioxide: { unit: "%", least: 0, most: 2, step: 0.02 },
  oxygen: { unit: "%", least: 15, most: 25, step: 0.1 },
};

/** Write it down and go back to the jackets, where it is told what came of it. */
async function write(said: Said, told: string): Promise<void> {
  await store.say(said, told);
  store.show("watch");
}

export function Write(): VNode {
  const { state, view } = store.known;
  const jacket = state!.jackets.find((j) => j.plug.id === view.plug) ?? state!.jackets[0]!;
  const { id } = jacket.plug;
  const page = (name: string, body: ComponentChildren): Page => ({ name, body });
  const tests = [page(`${id}: pressure test passed`, <Tested jacket={jacket} passed />), page(`${id}: pressure test not passed`, <Tested jacket={jacket} passed={false} />)];
  const line = [page("The line", <Line state={state!} />)];
  const feeding = [page(`${id}: feeding`, <Stopped jacket={jacket} state={state!} />)];
  // What the job has come to stands first; the rest keeps its place.
  const stage = stageOf(jacket, state!);
  const first = stage === "test" ? tests : stage === "line" ? line : stage === "feeding" ? feeding : [];
  const after = (of: Page[]): Page[] => (of === first ? [] : of);
  const pages = [
    ...first,
    page(`${id}: frost`, <Frost jacket={jacket} />),
    page(`${id}: cold of the pipe`, <Cold jacket={jacket} />),
    page("Air at the floor", <AirMeters />),
    page(`${id}: pressure, far side`, <Pressure jacket={jacket} side="far" />),
    page(`${id}: pressure, work's side`, <Pressure jacket={jacket} side="work" />),
    page(`${id}: note`, <Note plug={id} />),
    page(`${id}: photo`, <Photo plug={id} />),
    ...after(tests),
    ...after(line),
    ...early(jacket, state!),
    ...after(feeding),
    page("The last tap", <TakeBack state={state!} />),
    page("Steps of the sheet", <Press onPress={() => store.show("steps", null, 0)}>OPEN THE STEPS</Press>),
    page("The log out", <Press onPress={() => store.show("out")}>LOG, SECOND PHONE, RECORD</Press>),
  ];
  return (
    <>
      <Pages key={id} pages={pages} label={`Write what you see at ${id}`} />
      <Foot back={() => store.show("watch")} plug={id} />
    </>
  );
}

function stageOf(jacket: Jacket, { jackets, now, closed }: State): "frost" | "test" | "line" | "feeding" {
  if (closed) return "feeding";
  if (jackets.every((j) => j.proven)) return "line";
  return !jacket.proven && now >= (jacket.expected ?? Infinity) ? "test" : "frost";
}

function lastOf(kind: "frost" | "cold" | "pressure", plug: string): Quantity[] {
  const found = store.state().told.findLast((e) => e.kind === kind && e.plug === plug);
  if (found?.kind === "frost") return found.widths;
  if (found?.kind === "cold") return [found.surface];
  return found?.kind === "pressure" ? [found.pressure] : [];
}

function Frost({ jacket: { plug } }: { jacket: Jacket }): VNode {
  const scale = scaleOf("frost", store.known.plan!.units);
  const before = lastOf("frost", plug.id);
  const [a, setA] = useReading();
  const [b, setB] = useReading();
  const send = (): void => {
    const widths: [Quantity, Quantity] = [
      { value: a!, unit: scale.unit },
      { value: b!, unit: scale.unit },
    ];
    void write({ kind: "frost", plug: plug.id, widths }, `${plug.id}: frost ${a} and ${b} ${scale.unit} is written.`);
  };
  return (
    <>
      <Dial label={`Frost towards ${plug.towards[0]}`} scale={scale} start={before[0]?.value ?? 0} value={a} onValue={setA} />
      <Dial label={`Frost towards ${plug.towards[1]}`} scale={scale} start={before[1]?.value ?? 0} value={b} onValue={setB} />
      <Press off={a === null || b === null} onPress={send}>
        WRITE FROST
      </Press>
    </>
  );
}

function Cold({ jacket: { plug } }: { jacket: Jacket }): VNode {
  const scale = scaleOf("cold", store.known.plan!.units);
  const [value, setValue] = useReading();
  const start = lastOf("cold", plug.id)[0]?.value ?? (scale.unit === "degF" ? 50 : 10);
  return (
    <>
      <p class="fact">Bare pipe 2 in (50 mm) beyond the jacket, the warmer side, by a contact thermometer.</p>
      <Dial label="Temperature" scale={scale} start={start} value={value} onValue={setValue} />
      <Press off={value === null} onPress={() => void write({ kind: "cold", plug: plug.id, surface: { value: value!, unit: scale.unit } }, `${plug.id}: ${value} ${scale.unit} is written.`)}>
        WRITE COLD
      </Press>
    </>
  );
}

function AirMeters(): VNode {
  const [dioxide, setDioxide] = useReading();
  const [oxygen, setOxygen] = useReading();
  const { alarm } = store.known.plan!.orders;
  const share = (percent: number): number => Number((percent / 100).toFixed(6));
  return (
    <>
      <p class="fact">At any alarm: {alarm}</p>
      <Dial label="Carbon dioxide" scale={AIR.dioxide} start={0.1} value={dioxide} onValue={setDioxide} />
      <Dial label="Oxygen" scale={AIR.oxygen} start={20.9} value={oxygen} onValue={setOxygen} />
      <Press off={dioxide === null || oxygen === null} onPress={() => void write({ kind: "air", carbon_dioxide: share(dioxide!), oxygen: share(oxygen!) }, `Air is written: ${dioxide} % carbon dioxide, ${oxygen} % oxygen.`)}>
        WRITE AIR
      </Press>
    </>
  );
}

function Pressure({ jacket: { plug }, side }: { jacket: Jacket; side: "work" | "far" }): VNode {
  const scale = scaleOf("pressure", store.known.plan!.units);
  const [value, setValue] = useReading();
  const before = store.state().told.findLast((e) => e.kind === "pressure" && e.plug === plug.id && e.side === side);
  const was = before?.kind === "pressure" ? before.pressure.value : null;
  const send = (): void => {
    const rose = was !== null && value! > was ? " It rose: stop injecting. Open the bleed slowly, from the side. Stand clear." : "";
    void write({ kind: "pressure", plug: plug.id, side, pressure: { value: value!, unit: scale.unit } }, `${plug.id}: ${value} ${scale.unit} is written.${rose}`);
  };
  return (
    <>
      {was !== null && (
        <p class="fact">
          It was {was} {scale.unit} at {clock(before!.at, store.state().zone)}.
        </p>
      )}
      <Dial label={side === "far" ? "Gauge on the far side" : "Gauge on the work's side"} scale={scale} start={was ?? 0} value={value} onValue={setValue} />
      <Press off={value === null} onPress={send}>
        WRITE PRESSURE
      </Press>
    </>
  );
}

function Note({ plug }: { plug: string }): VNode {
  const [text, setText] = useState("");
  return (
    <>
      <Field label="Note" value={text} onText={setText} area />
      <Press off={!plain(text)} onPress={() => void write({ kind: "note", plug, text: plain(text) }, "The note is written.")}>
        WRITE NOTE
      </Press>
    </>
  );
}

function Photo({ plug }: { plug: string }): VNode {
  const take = (event: { currentTarget: HTMLInputElement }): void => {
    const file = event.currentTarget.files?.[0];
    if (file) void store.photo(plug, file).then(() => store.show("watch"));
  };
  return (
    <>
      <p class="fact">It is kept on this phone alone.</p>
      <label class="press p-act">
        TAKE A PHOTO
        <input class="unseen" type="file" accept="image/*" capture="environment" onChange={take} />
      </label>
    </>
  );
}

function Tested({ jacket: { plug }, passed }: { jacket: Jacket; passed: boolean }): VNode {
  const [text, setText] = useState("");
  const { good_signs } = store.known.plan!.orders;
  return (
    <>
      <p class="fact">
        {passed
          ? `${good_signs.at(-1)![0]} Only this is the proof. Behind it must stand the pressure that it will hold: ${plug.holds_back}`
          : "Something flowed, or a gauge moved. Do not open. Go on injecting, find what moves, and test again."}
      </p>
      <Field label="Gauges, and who watched" value={text} onText={setText} />
      <Press kind={passed ? "act" : "stop"} off={passed && !plain(text)} onPress={() => void write({ kind: "tested", plug: plug.id, passed, text: plain(text) }, `${plug.id}: pressure test ${passed ? "passed" : "not passed"} is written.`)}>
        {passed ? "NOTHING MOVED: WRITE" : "IT MOVED: WRITE"}
      </Press>
    </>
  );
}

function Line({ state }: { state: State }): VNode {
  const { zone, now, doubt } = state;
  if (state.closed) return <p class="fact">Opened {clock(state.opened?.at ?? 0, zone)}, closed up {clock(state.closed.at, zone)}.</p>;
  if (state.opened) {
    return (
      <>
        <p class="fact">Every joint checked, while both jackets are still fed.</p>
        <Press onPress={() => void write({ kind: "closed" }, "Line closed up is written. Fill and vent by the sheet, then stop feeding.")}>LINE CLOSED UP</Press>
      </>
    );
  }
  const early = state.jackets.filter((j) => j.due === null || now - (doubt?.gap ?? 0) < j.due);
  const untested = state.jackets.filter((j) => !j.proven);
  const unfit = early.length + untested.length > 0;
  return (
    <>
      {unfit ? (
        <p class="band b-stop" role="alert">
          DO NOT OPEN.
          {untested.length > 0 && ` No pressure test passed: ${untested.map((j) => j.plug.id).join(", ")}.`}
          {early.map((j) => (j.due === null ? "" : ` ${j.plug.id} not before ${clock(j.due, zone)}.`))}
        </p>
      ) : (
        <p class="fact">Opened slowly, with a bucket and a cap ready. More water than the sheet tells: get clear.</p>
      )}
      <Press kind={unfit ? "stop" : "act"} onPress={() => void write({ kind: "opened" }, "Line opened is written.")}>
        {unfit ? "IT WAS OPENED ALL THE SAME: WRITE" : "LINE OPENED"}
      </Press>
    </>
  );
}

/** What was begun before its time is written as it was. */
function early(jacket: Jacket, state: State): Page[] {
  const { plug, doing, feed, number, until } = jacket;
  if ((doing !== "wait" && doing !== "hold") || until === null) return [];
  const what = feed === "inject" ? `injection ${number}` : `top-up ${number}`;
  const body = (
    <>
      <p class="fact">
        {what} is due at {clock(until, state.zone)}. A wait that is cut lets less ice grow.
      </p>
      <Press kind="stop" onPress={() => void write({ kind: "began", plug: plug.id, feed, number }, `${plug.id}: ${what} is written, before its time.`)}>
        {what.toUpperCase()} BEGAN NOW
      </Press>
    </>
  );
  return [{ name: `${plug.id}: begun too soon`, body }];
}

function Stopped({ jacket, state }: { jacket: Jacket; state: State }): VNode {
  const { plug, doing } = jacket;
  if (doing === "over") return <p class="fact">Feeding of {plug.id} has stopped.</p>;
  const open = !state.closed;
  return (
    <>
      <p class={open ? "band b-stop" : "fact"}>
        {open ? "The line is not written as closed up." : "Filled and vented by the sheet, or to be filled by the plug as it lets go."} From then on the plug may let go at any time.
      </p>
      <Press kind="stop" onPress={() => void write({ kind: "stopped", plug: plug.id }, `${plug.id}: feeding stopped is written.`)}>
        FEEDING OF {plug.id} STOPPED
      </Press>
    </>
  );
}

const SAYS: Partial<Record<Said["kind"], string>> = {
  began: "began",
  ended: "ended",
  mass: "coolant weighed",
  frost: "frost",
  cold: "cold of the pipe",
  air: "air",
  pressure: "pressure",
  note: "note",
  photo: "photo",
  tested: "pressure test",
  opened: "line opened",
  closed: "line closed up",
  stopped: "feeding stopped",
  out: "everybody out",
};

/** The newest tap, taken back: both stay in what is kept, and neither in the log. */
function TakeBack({ state }: { state: State }): VNode {
  const last = state.told.findLast((e) => SAYS[e.kind]);
  if (!last) return <p class="fact">Nothing is written yet.</p>;
  const of = "feed" in last ? `${last.plug}, ${last.feed === "inject" ? "injection" : "top-up"} ${last.number} ` : "plug" in last && last.plug ? `${last.plug}, ` : "";
  const what = `${of}${SAYS[last.kind]}, ${clock(last.at, state.zone)}`;
  return (
    <>
      <p class="fact">{what}. Take it back only if it was a wrong tap.</p>
      <Press kind="stop" onPress={() => void write({ kind: "retracted", of: last.id }, `Taken back: ${what}.`)}>
        TAKE IT BACK
      </Press>
    </>
  );
}
