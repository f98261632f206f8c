/** Under a finding: the ways to the fields in which what it asks for is stated. */

import type { VNode } from "preact";
import type { Layout } from "../layout";
import { store } from "../store";
import type { Blank, Finding } from "../types";
import { linksOf, toolFor } from "./facts";
import type { Link } from "./facts";

function go(link: Link): void {
  const tool = toolFor(link);
  if (tool) store.turnTo("draw", tool);
  else store.want(link.picked, { site: link.picked === null, field: link.field });
}

export function Tells({ finding, blanks, layout }: { finding: Finding; blanks: Blank[]; layout: Layout }): VNode | null {
  const links = linksOf(finding, blanks, layout);
  if (!links.length) return null;
  return (
    <ul class="tells" aria-label={`State for ${finding.rule}`}>
      {[...new Set(links.map((l) => l.what))].map((what) => (
        <li key={what}>
          <span>{what}</span>
          {links
            .filter((l) => l.what === what)
            .map((l) => (
              <button key={`${l.label} ${l.field}`} type="button" onClick={() => go(l)}>
                {l.label}
                <span class="unseen">: {what}</span>
              </button>
            ))}
        </li>
      ))}
    </ul>
  );
}
