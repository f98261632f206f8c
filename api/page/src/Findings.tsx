/** The findings, tied to the drawing: choose one to see what it is about. */

import type { VNode } from "preact";
import { useState } from "preact/hooks";
import { Actions, numbersOf } from "./Actions";
import type { Asked } from "./Actions";
import { Faults } from "./draw/Faults";
import { Tells } from "./draw/Tells";
import { Sign } from "./parts";
import { store } from "./store";
import type { State } from "./store";
import type { Finding, Report } from "./types";
import { few, isBad, outcomeSays, ranked, speaksOf, subjectSays } from "./words";

interface Props {
  state: State;
  onRule: (rule: string) => void;
  printing: boolean;
}

export function Findings({ state, onRule, printing }: Props): VNode {
  const [all, setAll] = useState(false);
  const [asked, setAsked] = useState<Asked | null>(null);
  const report = state.report;
  if (!report && state.problem && state.mode === "draw") {
    return (
      <div class="notice bad" role="alert">
        <Faults problem={state.problem} layout={state.layout} />
      </div>
    );
  }
  if (!report) return <p class="empty">{state.layout ? "Not judged: nothing here counts as checked." : "Open a layout first."}</p>;
  const picked = state.picked;
  const numbers = numbersOf(asked, state.layout);
  const found = ranked(report.findings, numbers);
  const shown = found.filter((f) => all || isBad(f) || f.outcome === "waived");
  const about = picked ? shown.filter((f) => speaksOf(f, picked.kind, picked.id)) : [];
  const rest = shown.filter((f) => !about.includes(f));
  return (
    <div class="findings">
      {report.verdict !== "compliant" && <Actions state={state} asked={asked} onAsked={setAsked} />}
      {picked && about.length > 0 && <h3>About {picked.kind} {picked.id}</h3>}
      <List findings={about} state={state} numbers={numbers} onRule={onRule} />
      {picked && about.length > 0 && rest.length > 0 && <h3>Everything else</h3>}
      <List findings={rest} state={state} numbers={numbers} onRule={onRule} />
      {shown.length === 0 && <p class="empty">Nothing is broken, and nothing is left open.</p>}
      <button type="button" class="quiet wide" aria-pressed={all} onClick={() => setAll(!all)}>
        {all ? "Show only what needs doing" : `Show all ${found.length} outcomes`}
      </button>
      {report.drain && <p class="note">{drainSays(report.drain)}</p>}
      <details class="note" open={printing}>
        <summary>Assumed ({report.assumptions.length})</summary>
        <ul>
          {report.assumptions.map((text) => (
            <li key={text}>{text}</li>
          ))}
        </ul>
      </details>
      <p class="note">
        Measured {report.basis}. Rules: {report.pack.name}. Layout {report.layout.digest.split(":").at(-1)?.slice(0, 12)}. layoutcheck {report.version}.
      </p>
    </div>
  );
}

function drainSays({ volume, at_least, missing }: NonNullable<Report["drain"]>): string {
  if (volume) return `Water that still drains at the work: ${volume.shown}.`;
  const least = at_least ? `at least ${at_least.shown}, how much is not known` : "not known";
  return `Water that still drains at the work: ${least}.${missing.length ? ` Not known yet: ${few(missing)}.` : ""}`;
}

interface ListProps {
  findings: Finding[];
  state: State;
  numbers: Map<string, number>; // of what to do, as in every report
  onRule: (rule: string) => void;
}

function List({ findings, state, numbers, onRule }: ListProps): VNode | null {
  if (!findings.length) return null;
  return (
    <ul class="rows">
      {findings.map((finding) => (
        <Row key={finding.id} finding={finding} number={numbers.get(finding.id)} state={state} onRule={onRule} />
      ))}
    </ul>
  );
}

function Row({ finding, number, state, onRule }: { finding: Finding; number: number | undefined; state: State; onRule: (rule: string) => void }): VNode {
  const lit = state.lit === finding.id;
  return (
    <li class={`finding o-${finding.outcome.replaceAll(" ", "-")}${lit ? " lit" : ""}`}>
      <button type="button" class="tell" aria-pressed={lit} onClick={() => store.light(lit ? null : finding.id)}>
        <Sign of={finding.outcome} />
        <span>
          <span class="head">
            {number !== undefined && `${number} `}
            <strong>{outcomeSays(finding.outcome)}</strong> {subjectSays(finding)}
          </span>
          <span class="says">{finding.says}</span>
          {finding.missing.length > 0 && <span class="says">To be stated or proven: {few(finding.missing)}.</span>}
          {finding.todo && <span class="todo">{finding.todo}</span>}
          {finding.waiver && <span class="says">Waived by {finding.waiver.by} until {finding.waiver.until}: {finding.waiver.reason}</span>}
        </span>
      </button>
      {isBad(finding) && <Tells finding={finding} blanks={state.blanks} layout={state.layout!} />}
      <button type="button" class="rule" title="What this rule asks, and why" onClick={() => onRule(finding.rule)}>
        {finding.rule} <span aria-hidden="true">?</span>
        <span class="unseen"> what this rule asks, and why</span>
      </button>
    </li>
  );
}
