/** Small parts that the panels share. */

import type { ComponentChildren, VNode } from "preact";
import { useEffect, useRef, useState } from "preact/hooks";
import type { Outcome, Verdict } from "./types";

interface TextFieldProps {
  label: string;
  /** Its name in the document, by which it can be shown when a fact is asked for. */
  field?: string;
  value: string;
  hint?: string;
  disabled?: boolean;
  list?: string;
  /** Says why a text will not do; null where it will. */
  check?: (text: string) => string | null;
  onCommit: (text: string) => void;
}

/** A text that takes effect on Enter or on leaving it; Escape puts the old one back. */
export function TextField({ label, field, value, hint, disabled, list, check, onCommit }: TextFieldProps): VNode {
  const [text, setText] = useState(value);
  const [fault, setFault] = useState<string | null>(null);
  useEffect(() => {
    setText(value);
    setFault(null);
  }, [value]);
  // What stands in the field, not what was last drawn: fast fingers are ahead of the page.
  const commit = (event: { currentTarget: HTMLInputElement }): void => {
    const trimmed = event.currentTarget.value.trim();
    setText(event.currentTarget.value);
    if (trimmed === value) return setFault(null);
    const problem = check?.(trimmed) ?? null;
    setFault(problem);
    if (problem === null) onCommit(trimmed);
  };
  return (
    <label class={`field${fault ? " faulty" : ""}`}>
      <span>{label}</span>
      <input
        type="text"
        data-field={field}
        value={text}
        disabled={disabled}
        list={list}
        placeholder={hint}
        autocomplete="off"
        spellcheck={false}
        aria-invalid={fault !== null}
        onInput={(event) => setText(event.currentTarget.value)}
        onBlur={commit}
        onKeyDown={(event) => {
          if (event.key === "Enter") commit(event);
          if (event.key === "Escape") {
            setText(value);
            setFault(null);
          }
        }}
      />
      {fault && <small role="alert">{fault}</small>}
    </label>
  );
}

interface SelectFieldProps {
  label: string;
  field?: string;
  value: string;
  options: readonly (readonly [string, string])[];
  hideLabel?: boolean;
  onChange: (value: string) => void;
}

export function SelectField({ label, field, value, options, hideLabel, onChange }: SelectFieldProps): VNode {
  return (
    <label class="field">
      <span class={hideLabel ? "unseen" : ""}>{label}</span>
      <select data-field={field} value={value} onChange={(event) => onChange(event.currentTarget.value)}>
        {options.map(([key, shown]) => (
          <option key={key} value={key} selected={key === value}>
            {shown}
          </option>
        ))}
      </select>
    </label>
  );
}

export function Tick({ label, checked, onChange }: { label: string; checked: boolean; onChange: (on: boolean) => void }): VNode {
  return (
    <label class="tick">
      <input type="checkbox" checked={checked} onChange={(event) => onChange(event.currentTarget.checked)} />
      <span>{label}</span>
    </label>
  );
}

/** A sign for an outcome or a verdict: told apart by shape, not by colour alone. */
export function Sign({ of }: { of: Outcome | Verdict | "asking" }): VNode {
  return (
    <svg class={`sign s-${of.replaceAll(" ", "-")}`} viewBox="-10 -10 20 20" aria-hidden="true">
      {SIGNS[of]}
    </svg>
  );
}

const ROUND = (
  <>
    <circle r="8" />
    <path d="M-4 0l3 3.4 5.4-6.4" />
  </>
);
const STOP = (
  <>
    <path d="M-3.4-8h6.8L8-3.4v6.8L3.4 8h-6.8L-8 3.4v-6.8z" />
    <path d="M-3-3l6 6M-3 3l6-6" />
  </>
);
const DOUBT = (
  <>
    <path d="M0-9l9 9-9 9-9-9z" />
    <path d="M-2.6-2.4c0-3.4 5.2-3.4 5.2 0 0 2-2.6 2-2.6 4M0 4v.6" />
  </>
);
const CRASH = (
  <>
    <path d="M0-8l9 15h-18z" />
    <path d="M0-3v5M0 4.4v.6" />
  </>
);
const SIGNS: Record<string, VNode> = {
  compliant: ROUND,
  holds: ROUND,
  "not compliant": STOP,
  broken: STOP,
  undecided: DOUBT,
  fault: CRASH,
  waived: <path d="M-7-5h14v10h-14zM-7 0h14" />,
  "does not apply": <path d="M-6 0h12" />,
  asking: <circle r="6" class="turning" />,
};

/** A dialog that holds the keyboard while it is open. */
export function Dialog({ title, onClose, children }: { title: string; onClose: () => void; children: ComponentChildren }): VNode {
  const box = useRef<HTMLDialogElement>(null);
  useEffect(() => {
    const dialog = box.current!;
    dialog.showModal();
    return () => dialog.close();
  }, []);
  return (
    <dialog ref={box} aria-labelledby="dialog-title" onClose={onClose} onClick={(event) => event.target === box.current && onClose()}>
      <div class="inside">
        <header>
          <h2 id="dialog-title">{title}</h2>
          <button type="button" class="quiet" onClick={onClose}>
            Close
          </button>
        </header>
        {children}
      </div>
    </dialog>
  );
}
