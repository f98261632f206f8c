/** The page: what is open, its verdict, the drawing, the panels, and the cautions at all times. */

import type { VNode } from "preact";
import { useEffect, useState } from "preact/hooks";
import { Canvas } from "./Canvas";
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
import { VERDICT_SAYS } from "./words";

const CAUTIONS = "Cold burns · asphyxiation · trapped pressure · brittle pipe · plug loss.";
const DEFERENCE = "This is a check of a drawing, not a permit. Local codes, the site's permit system and licensed practice decide.";
const TABS = ["Findings", "Plugs", "Site", "Plans"] as const;
type Tab = (typeof TABS)[number];

export function App(): VNode {
  const [state, setState] = useState(store.state);
  const [opening, setOpening] = useState(false);
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
  useEffect(() => {
    document.title = state.layout?.name ? `${state.layout.name} – layoutcheck` : "layoutcheck";
  }, [state.layout?.name]);

  return (
    <>
      <Bar state={state} onOpen={() => setOpening(true)} />
      <Notices state={state} trouble={trouble} onClear={() => setTrouble(null)} />
      <main>
        <h1 class="unseen">Mark and move freeze points</h1>
        <div class="desk">
          <Canvas state={state} printing={printing} />
          <div class="side">
            <Inspector state={state} />
            <Tabs tab={tab} onTab={setTab} state={state} />
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
      {opening && <OpenDialog onClose={() => setOpening(false)} onTrouble={setTrouble} />}
      {wanted && <KeyDialog wanted={wanted} />}
      {rule && <RuleManual rule={rule} onClose={() => setRule(null)} />}
    </>
  );
}

function Bar({ state, onOpen }: { state: State; onOpen: () => void }): VNode {
  return (
    <header class="bar">
      <strong class="mark">layoutcheck</strong>
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
      <span class="name">{state.layout?.name ?? "Nothing is open"}</span>
      <VerdictSign state={state} />
    </header>
  );
}

function VerdictSign({ state }: { state: State }): VNode {
  const fresh = state.report && state.judged === state.version;
  const of = fresh ? state.report!.verdict : state.layout && !state.silent && state.judged !== state.version ? "asking" : "does not apply";
  const says = fresh
    ? VERDICT_SAYS[state.report!.verdict]
    : state.silent
      ? "Not judged: no answer"
      : state.problem && state.judged === state.version
        ? `Not judged: ${state.problem.faults ? "faults" : "refused"}`
        : state.layout
          ? "Judging…"
          : "Nothing to judge";
  const counts = fresh ? state.report!.counts : null;
  return (
    <p class={`verdict v-${of.replaceAll(" ", "-")}`} role="status" aria-label="Verdict">
      <Sign of={of} />
      <strong>{says}</strong>
      {counts && (
        <span>
          {counts.broken} broken, {counts.undecided} undecided{counts.fault ? `, ${counts.fault} at fault` : ""}{counts.waived ? `, ${counts.waived} waived` : ""}
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
      {state.problem && (
        <div class="notice bad" role="alert">
          <p>Not judged. {state.problem.detail}</p>
          <ul>
            {(state.problem.faults ?? []).slice(0, 12).map((f) => (
              <li key={f.pointer + f.problem}>
                <code>{f.pointer.replace(/^\/layout/, "")}</code> {f.problem} (found {f.found}). Right: <code>{f.example}</code>
              </li>
            ))}
          </ul>
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
