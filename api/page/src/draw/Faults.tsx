/** Faults of the document, each with the way to what it is about. */

import type { VNode } from "preact";
import { find } from "../layout";
import type { Item, Layout } from "../layout";
import { store, textOf } from "../store";
import type { Problem, RequestFault } from "../types";
import { kindOfList } from "./edit";

const MOST = 30;

export function Faults({ problem, layout }: { problem: Problem; layout: Layout | null }): VNode {
  const faults = problem.faults ?? [];
  return (
    <>
      <p>Not judged. {problem.detail}</p>
      <ul class="faults">
        {faults.slice(0, MOST).map((f) => (
          <li key={f.pointer + f.problem}>
            <Where fault={f} layout={layout} /> {f.problem} (found {f.found}). Right: <code>{f.example}</code>
          </li>
        ))}
        {faults.length > MOST && <li>and {faults.length - MOST} more</li>}
      </ul>
      {layout && faults.length > 0 && (
        <button type="button" class="quiet" onClick={() => store.openText(textOf(layout, store.state.fileName))}>
          Mend it in its text
        </button>
      )}
    </>
  );
}

function Where({ fault, layout }: { fault: RequestFault; layout: Layout | null }): VNode {
  const target = layout && thingAt(layout, fault.pointer);
  if (!target) return <code>{ofLayout(fault.pointer)}</code>;
  return (
    <button type="button" class="quiet" onClick={() => store.want({ kind: target.kind, id: target.id }, { site: false, field: target.field })}>
      {target.kind} {target.id}
    </button>
  );
}

export const ofLayout = (pointer: string): string => pointer.replace(/^\/layout(?=\/|$)/, "");

/** What a place of the document belongs to, and the field that is meant. */
export function thingAt(layout: Layout, pointer: string): { kind: string; id: string; field: string } | null {
  const [, list, index, field] = ofLayout(pointer).split("/");
  const kind = kindOfList(list ?? "");
  const items = layout[list ?? ""];
  const item = kind && Array.isArray(items) ? (items as Item[])[Number(index)] : undefined;
  return kind && item && find(layout, { kind, id: item.id }) ? { kind, id: item.id, field: field ?? "id" } : null;
}
