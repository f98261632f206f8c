/** Where what a finding asks for is stated: read from what the service says is left out, never from its sentences. */

import { find } from "../layout";
import type { Layout } from "../layout";
import type { Blank, Finding } from "../types";

/** A way to a field: what goes there, and what has to be chosen for it; null for the whole site. */
export interface Link {
  what: string;
  label: string;
  picked: { kind: string; id: string } | null;
  field: string;
}

const KIND: Record<string, string> = { pipes: "pipe", junctions: "junction", valves: "valve", pumps: "pump", outlets: "outlet", sources: "source", equipment: "equipment" };
const MOST = 4;

/** What of the things that a change is made to holds the field for it. */
const CHANGED: Record<string, [string, string]> = {
  "close valve": ["valve", "state"],
  "prove valve": ["valve", "tightness"],
  "leave valve open": ["valve", "state"],
  "lock off outlet": ["outlet", "state"],
  "make outlet a bleed": ["outlet", "state"],
  "keep outlet open": ["outlet", "state"],
  "lock off pump": ["pump", "locked_off"],
  "shut down": ["equipment", "locked_off"],
};

export function linksOf(finding: Finding, blanks: Blank[], layout: Layout): Link[] {
  const changes = finding.changes.flatMap(({ kind, id }): Link[] => {
    const [of, field] = CHANGED[kind] ?? [];
    return of && field && find(layout, { kind: of, id }) ? [{ what: kind, label: id, picked: { kind: of, id }, field }] : [];
  });
  if (finding.missing.length === 0) return changes;
  const near = related(finding, layout);
  const links = [...changes, ...blanks.filter((b) => b.rules.includes(finding.rule)).flatMap((b) => linksTo(b, near, layout))];
  return links.length ? links : ofItself(finding, layout);
}

/** Where nothing is left out and yet something is asked: the things it is about, and whether they are meant. */
function ofItself({ subject, concerns }: Finding, layout: Layout): Link[] {
  const things = [subject, ...(subject.elements ?? []), ...concerns].filter((one) => find(layout, one));
  const names = [...new Map(things.map((one) => [`${one.kind} ${one.id}`, one])).entries()];
  return names.slice(0, MOST).map(([label, { kind, id }]) => ({ what: "what it asks about", label, picked: { kind, id }, field: "meant" }));
}

function linksTo(blank: Blank, near: ReadonlySet<string>, layout: Layout): Link[] {
  const [list, star, field] = blank.field.split(".");
  const kind = KIND[list!];
  if (!kind || star !== "*" || !field) return [{ what: blank.what, label: "State it", picked: null, field: blank.field }];
  const own = blank.elements.filter((id) => find(layout, { kind, id }));
  const close = own.filter((id) => near.has(`${kind} ${id}`));
  return (close.length ? close : own).slice(0, MOST).map((id) => ({ what: blank.what, label: id, picked: { kind, id }, field }));
}

/** What a finding has to do with: its subject, what it names, its plug's pipe and that pipe's ends. */
function related(finding: Finding, layout: Layout): Set<string> {
  const { subject, concerns, where, way } = finding;
  const names = new Set([subject, ...(subject.elements ?? []), ...concerns].map((one) => `${one.kind} ${one.id}`));
  for (const at of [where, ...way]) {
    if (at?.junction) names.add(`junction ${at.junction}`);
    if (at?.pipe) names.add(`pipe ${at.pipe}`);
  }
  for (const plug of layout.plugs ?? []) if (names.has(`plug ${plug.id}`) && plug["pipe"]) names.add(`pipe ${String(plug["pipe"])}`);
  for (const pipe of layout.pipes) if (names.has(`pipe ${pipe.id}`)) for (const end of ["from", "to"]) names.add(`junction ${String(pipe[end])}`);
  return names;
}

const WITH_TOOLS: Record<string, string> = { sources: "source", plugs: "plug", work: "work" };

/** The tool of the sheet that puts a thing there which is not there at all yet; null for a field. */
export function toolFor(link: Link): string | null {
  return link.picked ? null : (WITH_TOOLS[link.field.split(".")[0]!] ?? null);
}

/** The field on the page for a place in the document that is the site's. */
export function siteField(field: string): string {
  const [first, second, third] = field.split(".");
  return first === "site" && third ? `${first}.${second}` : field;
}
