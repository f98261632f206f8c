/** A faulty document as text, its faults beside their lines, to be mended there. */

import type { VNode } from "preact";
import { useEffect, useRef, useState } from "preact/hooks";
import { ofLayout } from "./draw/Faults";
import { looksLikeLayout } from "./layout";
import type { Layout } from "./layout";
import { Silence, judge } from "./service";
import { store } from "./store";
import type { OpenText } from "./store";
import type { Noted } from "./text";

const LINE = 18; // px, as in the style sheet
const NOTE = 62; // px, the least from one note to the next
const SETTLE = 350; // ms without a key until it is read

interface Found {
  of: string;
  faults: Noted[];
  layout: Layout | null; // where it can be opened
  says: string;
}

export function TextDesk({ open }: { open: OpenText }): VNode {
  const [text, setText] = useState(open.text);
  const [found, setFound] = useState<Found | null>(null);
  const [scroll, setScroll] = useState(0);
  const area = useRef<HTMLTextAreaElement>(null);
  useEffect(() => {
    const timer = setTimeout(() => void judged(text).then(setFound), found ? SETTLE : 0);
    return () => clearTimeout(timer);
  }, [text]);
  const fresh = found?.of === text ? found : null;
  const faulty = new Set(found?.faults.map((f) => f.line));
  const lines = text.split("\n").length;
  const goTo = (line: number): void => {
    const start = text.split("\n").slice(0, line - 1).join("\n").length + (line > 1 ? 1 : 0);
    area.current!.focus();
    area.current!.setSelectionRange(start, start);
    area.current!.scrollTop = Math.max(0, (line - 4) * LINE);
  };
  return (
    <section class="text-desk" aria-label={`Text of ${open.name}`}>
      <header>
        <p role="status">{fresh ? fresh.says : "Reading…"}</p>
        <button type="button" class="main" disabled={!fresh?.layout} onClick={() => store.takeText(fresh!.layout!)}>
          Open it as it stands
        </button>
        <button type="button" class="quiet" onClick={() => store.openText(null)}>
          Leave it
        </button>
      </header>
      <div class="pages">
        <div class="numbers" aria-hidden="true">
          <div class="roll" ref={(e) => void e?.style.setProperty("transform", `translateY(${-scroll}px)`)}>
            {Array.from({ length: lines }, (_, i) => (
              <div key={i} class={faulty.has(i + 1) ? "faulty" : ""}>{i + 1}</div>
            ))}
          </div>
        </div>
        <textarea ref={area} value={text} spellcheck={false} wrap="off" aria-label="Text of the document" onInput={(event) => setText(event.currentTarget.value)} onScroll={(event) => setScroll(event.currentTarget.scrollTop)} />
        <ol class="notes" aria-label="Faults">
          {tops(found?.faults ?? []).map(({ fault, top }) => (
            <li key={`${fault.line} ${fault.says}`} ref={(e) => void e?.style.setProperty("--top", `${top - scroll}px`)}>
              <button type="button" class="quiet" onClick={() => goTo(fault.line)}>
                Line {fault.line}
              </button>{" "}
              {fault.says} {fault.example && <>Right: <code>{fault.example}</code></>}
            </li>
          ))}
        </ol>
      </div>
    </section>
  );
}

/** Each note beside its line, or as near below it as there is room. */
function tops(faults: Noted[]): { fault: Noted; top: number }[] {
  let last = -NOTE;
  return [...faults]
    .sort((a, b) => a.line - b.line)
    .map((fault) => {
      last = Math.max((fault.line - 1) * LINE, last + NOTE);
      return { fault, top: last };
    });
}

async function judged(text: string): Promise<Found> {
  const { readText } = await import("./text");
  const { data, faults, lineOf } = readText(text);
  if (faults.length) return { of: text, faults, layout: null, says: `${counted(faults.length)}: the text can not be read yet.` };
  const layout = looksLikeLayout(data) ? data : null;
  try {
    const answer = await judge({ layout: data as Layout, version: 0 });
    if (answer.kind === "judged") return { of: text, faults: [], layout, says: layout ? "No fault: it can be opened." : "No fault. It is written short, and this page draws the long form: 'layoutcheck expand' writes it out." };
    const told = (answer.problem.faults ?? []).map((f): Noted => ({ line: lineOf(ofLayout(f.pointer)), says: `${f.problem} (found ${f.found}).`, example: f.example }));
    const says = told.length ? `${counted(told.length)}, each beside its line.` : answer.problem.detail;
    return { of: text, faults: told, layout, says };
  } catch (error) {
    if (error instanceof Silence) return { of: text, faults: [], layout, says: "The service does not answer, and it is what finds the faults." };
    throw error;
  }
}

const counted = (n: number): string => (n === 1 ? "1 fault" : `${n} faults`);
