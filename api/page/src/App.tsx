/** The page: what is open, its verdict, the drawing, the panels, and the cautions at all times. */

import type { VNode } from "preact";
import { useEffect, useState } from "preact/hooks";
import { Canvas } from "./Canvas";
import { Draw } from "./draw/Draw";
import { Faults } from "./draw/Faults";
import { isBlank } from "./draw/edit";
import { WithPicture } from "./draw/WithPicture";
import { siteField } from "./draw/facts";
import { NewDialog } from "./draw/NewDialog";
import { Findings } from "./Findings";
import { handOuts, readFiles, save, saveHandOut, saveLayout, stem } from "./files";
import type { HandOut } from "./files";
import { watchKey } from "./key";
import type { KeyWanted } from "./key";
import { KeyDialog } from "./KeyDialog";
import { Inspector } from "./Inspector";
import { OpenDialog, openFrom } from "./OpenDialog";
import type { Trouble } from "./OpenDialog";
import { Sign } from "./parts";
import { Plans } from "./Plans";
import { Plugs } from "./Plugs";
import { RuleManual } from "./RuleManual";
import { Site } from "./Site";
import { store } from "./store";
import type { State } from "./store";
import { TextDesk } from "./TextDesk";
import { VERDICT_SAYS, firstThing, subjectSays } from "./words";

const CAUTIONS = "Cold burns · asphyxiation · trapped pressure · brittle pipe · plug loss.";
const DEFERENCE = "This is a check of a drawing, not a permit. Local codes, the site's permit system and licensed practice decide.";
const TABS = ["Findings", "Plugs", "Site", "Plans"] as const;
type Tab = (typeof TABS)[number];

export function App(): VNode {
  const [state, setState] = useState(store.state);
  const [opening, setOpening] = useState(false);
  const [beginning, setBeginning] = useState(false);
  const [rule, setRule] = useState<string | null>(null);
  const [trouble, setTrouble] = useState<Trouble | null>(null);
  const [tab, setTab] = useState<Tab>("Findings");
  const [wanted, setWanted] = useState<KeyWanted | null>(null);
  const printing = usePrinting();

  useEffect(() => {
    watchKey(setWanted);
    const stop = store.watch(() => setState(store.state));
    if (!store.restore()) setOpening(true);
    return stop;
  }, []);
  useDrop(setTrouble);
  useShortcuts();
  useWanted(state, setTab);
  useEffect(() => {
    document.title = state.layout?.name ? `${state.layout.name} – layoutcheck` : "layoutcheck";
  }, [state.layout?.name]);

  return (
    <>
      <Bar state={state} onOpen={() => setOpening(true)} onNew={() => setBeginning(true)} />
      <Notices state={state} trouble={trouble} onClear={() => setTrouble(null)} />
      <main>
        <h1 class="unseen">Mark and move freeze points</h1>
        {state.text && <TextDesk key={state.text.name} open={state.text} />}
        {!state.text && <First state={state} />}
        <div class={state.text ? "desk hidden" : "desk"}>
          {state.layout && state.mode === "draw" && !printing ? <Draw key={state.opened} state={state} /> : <Canvas state={state} printing={printing} />}
          <div class="side">
            <Inspector state={state} />
            <Tabs tab={tab} onTab={(next) => turnTo(next, setTab)} state={state} />
            <section class="panel" id="panel" role="tabpanel" aria-labelledby={`tab-${tab}`} tabIndex={0}>
              {(tab === "Findings" || printing) && <Findings state={state} onRule={setRule} printing={printing} />}
              {tab === "Plugs" && !printing && <Plugs state={state} />}
              {tab === "Site" && !printing && <Site state={state} />}
              <div hidden={tab !== "Plans" || printing}>
                <Plans state={state} />
              </div>
            </section>
          </div>
        </div>
      </main>
      <Foot state={state} printing={printing} />
      {opening && <OpenDialog onClose={() => setOpening(false)} onTrouble={setTrouble} onNew={() => setBeginning(true)} />}
      {beginning && <NewDialog onClose={() => setBeginning(false)} />}
      {wanted && <KeyDialog wanted={wanted} />}
      {rule && <RuleManual rule={rule} onClose={() => setRule(null)} />}
    </>
  );
}

function Bar({ state, onOpen, onNew }: { state: State; onOpen: () => void; onNew: () => void }): VNode {
  return (
    <header class="bar">
      <strong class="mark">
        <span>layoutcheck</span>
      </strong>
      <button type="button" onClick={onNew}>
        New
      </button>
      <button type="button" onClick={onOpen}>
        Open
      </button>
      <button type="button" disabled={!state.past.length} onClick={() => store.undo()}>
        Undo
      </button>
      <button type="button" disabled={!state.future.length} onClick={() => store.redo()}>
        Redo
      </button>
      {state.layout && <Downloads state={state} />}
      {state.report?.verdict === "compliant" && state.judged === state.version && (
        <a class="onsite" href="watch.html">
          On site
        </a>
      )}
      <span class="name">{state.layout?.name ?? "Nothing is open"}</span>
      <VerdictSign state={state} />
    </header>
  );
}

function VerdictSign({ state }: { state: State }): VNode {
  const known = state.judged === state.version ? state.report : state.quick?.version === state.version ? state.quick : null;
  const fresh = state.text ? null : known;
  const blank = !state.layout || isBlank(state.layout);
  const of = fresh ? fresh.verdict : !blank && !state.silent && !state.text && state.judged !== state.version ? "asking" : "does not apply";
  const says = fresh
    ? VERDICT_SAYS[fresh.verdict]
    : state.text
      ? "Not judged: a text is open"
      : blank
      ? "Nothing to judge"
      : state.silent
      ? "Not judged: no answer"
      : state.problem && state.judged === state.version
        ? `Not judged: ${state.problem.faults ? "faults" : "refused"}`
        : "Judging…";
  const counts = fresh?.counts;
  return (
    <p class={`verdict v-${of.replaceAll(" ", "-")}`} role="status" aria-label="Verdict">
      <Sign of={of} />
      <strong>{says}</strong>
      {counts && (
        <span>
          {counts.broken} broken, {counts.undecided} not known yet{counts.fault ? `, ${counts.fault} at fault` : ""}{counts.waived ? `, ${counts.waived} waived` : ""}
        </span>
      )}
    </p>
  );
}

function Downloads({ state }: { state: State }): VNode {
  const [items, setItems] = useState<HandOut[] | null>(null);
  const layout = state.layout!;
  const load = (): void => void handOuts().then(setItems, () => setItems(null));
  return (
    <details class="menu" onToggle={(event) => (event.currentTarget as HTMLDetailsElement).open && load()} onKeyDown={(event) => closeOnEscape(event)}>
      <summary>Download</summary>
      <ul>
        <li>
          <button type="button" onClick={() => saveLayout(layout, state.fileName)}>
            Layout document
          </button>
        </li>
        <WithPicture layout={layout} fileName={state.fileName} />
        <li>
          <button type="button" disabled={!state.report || state.judged !== state.version} onClick={() => save(new Blob([`${JSON.stringify(state.report, null, 2)}\n`], { type: "application/json" }), `${stem(state.fileName)}-report.json`)}>
            Report (JSON)
          </button>
        </li>
        {(items ?? []).map((item) => (
          <li key={item.name}>
            <button type="button" onClick={() => void saveHandOut(item, layout, state.fileName)}>
              {item.label}
            </button>
          </li>
        ))}
      </ul>
    </details>
  );
}

function closeOnEscape(event: KeyboardEvent): void {
  const menu = event.currentTarget as HTMLDetailsElement;
  if (event.key !== "Escape" || !menu.open) return;
  menu.open = false;
  menu.querySelector("summary")?.focus();
}

function Notices({ state, trouble, onClear }: { state: State; trouble: Trouble | null; onClear: () => void }): VNode {
  return (
    <section class="notices" aria-label="Messages">
      {state.silent && (
        <p class="notice bad" role="alert">
          The service does not answer; your marks are kept here. Nothing is judged until it is back. Trying again…
        </p>
      )}
      {state.problem && state.mode !== "draw" && !state.text && (
        <div class="notice bad" role="alert">
          <Faults problem={state.problem} layout={state.layout} />
        </div>
      )}
      {state.conditions.length > 0 && (
        <div class="notice" role="status">
          <p>
            <strong>What you took up holds only if this is seen to:</strong>
          </p>
          <ul>
            {state.conditions.map((text) => (
              <li key={text}>{text}</li>
            ))}
          </ul>
          <button type="button" class="quiet" onClick={() => store.hold([])}>
            All of this is done on site
          </button>
        </div>
      )}
      {trouble && (
        <div class="notice" role="alert">
          <p>{trouble.says}</p>
          <ul>
            {trouble.rows.map((row) => (
              <li key={row}>{row}</li>
            ))}
          </ul>
          <button type="button" class="quiet" onClick={onClear}>
            Understood
          </button>
        </div>
      )}
      <p class="said" role="status" aria-live="polite">
        {state.said}
      </p>
    </section>
  );
}

/** Turn to a panel; on a small screen it comes into sight. */
function turnTo(tab: Tab, setTab: (tab: Tab) => void): void {
  setTab(tab);
  if (matchMedia("(max-width: 760px)").matches) requestAnimationFrame(() => document.querySelector(".tabs")?.scrollIntoView({ block: "start" }));
}

function Tabs({ tab, onTab, state }: { tab: Tab; onTab: (tab: Tab) => void; state: State }): VNode {
  const counts = state.report?.counts;
  const bad = counts ? counts.broken + counts.undecided + counts.fault : 0;
  const key = (event: KeyboardEvent): void => {
    const step = event.key === "ArrowRight" ? 1 : event.key === "ArrowLeft" ? -1 : 0;
    if (!step) return;
    const next = TABS[(TABS.indexOf(tab) + step + TABS.length) % TABS.length]!;
    onTab(next);
    document.getElementById(`tab-${next}`)?.focus();
  };
  return (
    <div class="tabs" role="tablist" aria-label="Panels" onKeyDown={key}>
      {TABS.map((name) => (
        <button key={name} id={`tab-${name}`} type="button" role="tab" aria-selected={tab === name} aria-controls="panel" tabIndex={tab === name ? 0 : -1} onClick={() => onTab(name)}>
          {name}
          {name === "Findings" && bad > 0 && <span class="count">{bad}</span>}
          {name === "Plugs" && (state.layout?.plugs?.length ?? 0) > 0 && <span class="count">{state.layout!.plugs!.length}</span>}
        </button>
      ))}
    </div>
  );
}

/** On a small screen: the first thing to do, in sight without scrolling. */
function First({ state }: { state: State }): VNode | null {
  const fresh = state.report && state.judged === state.version ? state.report : null;
  const first = fresh && firstThing(fresh.findings);
  if (!state.layout) return null;
  if (!first) return <p class="first">{fresh ? "Nothing is left to do." : " "}</p>;
  return (
    <button type="button" class="first" aria-pressed={state.lit === first.id} onClick={() => store.light(state.lit === first.id ? null : first.id)}>
      <strong>First:</strong> {first.todo || first.says} <span>({subjectSays(first)})</span>
    </button>
  );
}

function Foot({ state, printing }: { state: State; printing: boolean }): VNode {
  const cautions = state.report?.cautions ?? [];
  return (
    <footer>
      <details open={printing}>
        <summary>
          <strong>Cautions:</strong> {CAUTIONS}
        </summary>
        <ul>
          {cautions.map((text) => (
            <li key={text}>{text}</li>
          ))}
        </ul>
      </details>
      <p>{state.report?.deference ?? DEFERENCE}</p>
    </footer>
  );
}

function useDrop(onTrouble: (trouble: Trouble | null) => void): void {
  useEffect(() => {
    const over = (event: DragEvent): void => event.preventDefault();
    const drop = (event: DragEvent): void => {
      event.preventDefault();
      const files = [...(event.dataTransfer?.files ?? [])];
      if (files.length) void openFrom(() => readFiles(files)).then(onTrouble);
    };
    addEventListener("dragover", over);
    addEventListener("drop", drop);
    return () => {
      removeEventListener("dragover", over);
      removeEventListener("drop", drop);
    };
  }, []);
}

/** Whether the page is being printed: a sheet has no tabs to turn to and nothing to unfold. */
function usePrinting(): boolean {
  const [printing, setPrinting] = useState(false);
  useEffect(() => {
    const before = (): void => setPrinting(true);
    const after = (): void => setPrinting(false);
    addEventListener("beforeprint", before);
    addEventListener("afterprint", after);
    return () => {
      removeEventListener("beforeprint", before);
      removeEventListener("afterprint", after);
    };
  }, []);
  return printing;
}

/** Show the field that is wanted, with the cursor in it. */
function useWanted({ wanted }: State, onTab: (tab: Tab) => void): void {
  useEffect(() => {
    if (!wanted) return;
    if (wanted.site) onTab("Site");
    const within = wanted.site ? ".panel" : ".inspector";
    const name = wanted.site ? siteField(wanted.field) : wanted.field;
    requestAnimationFrame(() => requestAnimationFrame(() => focusField(within, name)));
  }, [wanted]);
}

function focusField(within: string, name: string): void {
  const field = document.querySelector<HTMLElement>(`${within} [data-field="${name}"]`);
  if (!field) return;
  for (let at = field.parentElement; at; at = at.parentElement) if (at instanceof HTMLDetailsElement) at.open = true;
  field.scrollIntoView({ block: "nearest" });
  field.focus();
  if (field instanceof HTMLInputElement) field.select();
}

function useShortcuts(): void {
  useEffect(() => {
    const key = (event: KeyboardEvent): void => {
      if (!(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z") return;
      if ((event.target as Element).matches?.("input, textarea")) return;
      event.preventDefault();
      if (event.shiftKey) store.redo();
      else store.undo();
    };
    addEventListener("keydown", key);
    return () => removeEventListener("keydown", key);
  }, []);
}
