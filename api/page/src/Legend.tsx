/** The key of the drawing: what the print explains, explained on the page. */

import type { VNode } from "preact";
import { useState } from "preact/hooks";
import { Symbol } from "./draw/glyphs";
import type { Drawing, KeyEntry } from "./types";

export function Legend({ drawing, open }: { drawing: Drawing; open: boolean }): VNode {
  const [shown, setShown] = useState(false);
  return (
    <details class="legend" open={shown || open} onToggle={(event) => !open && setShown((event.currentTarget as HTMLDetailsElement).open)}>
      <summary>Key</summary>
      <ul>
        {drawing.key.map((entry) => (
          <li key={entry.words}>
            <svg class="sample" width={34} height={20} viewBox="-17 -10 34 20" aria-hidden="true">
              <Sample entry={entry} />
            </svg>
            {entry.words}
          </li>
        ))}
      </ul>
    </details>
  );
}

const SLEEVES = new Set(["jacket", "jacket not well placed", "suggested jacket"]);

function Sample({ entry: { role, form } }: { entry: KeyEntry }): VNode {
  const look = `m-${role.replaceAll(" ", "-")}`;
  if (form === "ring") return <g class={`${look} glyph`}><circle class="f-none" r={7} /></g>;
  if (form) {
    return (
      <>
        {role === "element" && !/^(outlet|source)/.test(form) && <polyline class="m-still-pipe" points="-16,0 16,0" />}
        <g class={`${look} glyph`}><Symbol form={form} at={[0, 0]} angle={0} size={6} /></g>
      </>
    );
  }
  if (SLEEVES.has(role)) {
    return (
      <>
        <polyline class="m-still-pipe" points="-16,0 16,0" />
        <polygon class={look} points="-10,-5 10,-5 10,5 -10,5" />
      </>
    );
  }
  return <polyline class={look} points="-16,0 16,0" />;
}
