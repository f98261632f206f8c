/** What the screens are made of: large, few, and of high contrast. */

import type { ComponentChildren, VNode } from "preact";
import { useState } from "preact/hooks";
import { store } from "./store";
import type { Scale } from "./show";

interface PressProps {
  onPress: () => void;
  kind?: "act" | "stop" | "plain";
  off?: boolean;
  children: ComponentChildren;
}

export function Press({ onPress, kind = "act", off = false, children }: PressProps): VNode {
  return (
    <button type="button" class={`press p-${kind}`} disabled={off} onClick={onPress}>
      {children}
    </button>
  );
}

interface DialProps {
  label: string;
  scale: Scale | { unit: string; least: number; most: number; step: number };
  start: number;
  value: number | null;
  onValue: (value: number) => void;
}

/** A value that is dragged; it says nothing until it was touched. */
export function Dial({ label, scale, start, value, onValue }: DialProps): VNode {
  const shown = value === null ? "drag to set" : `${value} ${scale.unit}`;
  const take = (event: { currentTarget: HTMLInputElement }): void => onValue(Number(Number(event.currentTarget.value).toFixed(3)));
  return (
    <label class="dial">
      <span>{label}</span>
      <output>{shown}</output>
      <input type="range" min={scale.least} max={scale.most} step={scale.step} value={value ?? start} aria-label={label} aria-valuetext={shown} onInput={take} onPointerUp={take} onKeyUp={take} />
    </label>
  );
}

export function Field({ label, value, onText, area = false }: { label: string; value: string; onText: (text: string) => void; area?: boolean }): VNode {
  const take = (event: { currentTarget: HTMLInputElement | HTMLTextAreaElement }): void => onText(event.currentTarget.value);
  return (
    <label class="ask">
      <span>{label}</span>
      {area ? <textarea rows={3} maxLength={300} value={value} onInput={take} /> : <input type="text" maxLength={200} autocomplete="off" value={value} onInput={take} />}
    </label>
  );
}

/** One line of text that the log takes. */
export const plain = (text: string): string => text.replace(/[\p{Cc}\p{Zl}\p{Zp}]+/gu, " ").trim().slice(0, 300);

export interface Page {
  name: string;
  body: ComponentChildren;
}

/** One thing on a screen, the next below it. */
export function Pages({ pages, label }: { pages: Page[]; label: string }): VNode {
  return (
    <main class="pages" aria-label={label} tabIndex={0}>
      <h1 class="unseen">{label}</h1>
      {pages.map(({ name, body }, index) => (
        <section key={name} class="leaf" aria-label={name}>
          <h2>{name}</h2>
          {body}
          <p class="more" aria-hidden="true">
            {index + 1} of {pages.length}
            {index + 1 < pages.length ? `. Below: ${pages[index + 1]!.name} ▼` : ""}
          </p>
        </section>
      ))}
    </main>
  );
}

/** What is at hand on every screen: the way back, and what to do when something goes wrong. */
export function Foot({ back, plug = null }: { back: (() => void) | null; plug?: string | null }): VNode {
  const { state, view } = store.known;
  const next = state?.jackets.filter((j) => j.giveUp !== null && !j.proven).map((j) => j.giveUp!) ?? [];
  return (
    <nav class="foot" aria-label="At any time">
      {back && (
        <button type="button" class="press p-plain" onClick={back}>
          BACK
        </button>
      )}
      {view.screen !== "wrong" && (
        <button type="button" class="press p-stop" onClick={() => store.show("wrong", plug)}>
          IF IT GOES WRONG
          {!back && next.length > 0 && <small>give-up time, plug loss</small>}
        </button>
      )}
    </nav>
  );
}

export function useReading(): [number | null, (value: number | null) => void] {
  return useState<number | null>(null);
}
