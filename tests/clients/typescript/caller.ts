// Calls every kind of operation by the generated client, and prints what came of it as JSON.

import { readFileSync } from "node:fs";

import { client } from "./client/client.gen";
import * as service from "./client/sdk.gen";
import type { Layout, Report } from "./client/types.gen";

const SHEET = "id,from,to,size,material,length,length unit\nP1,J1,J2,NPS 2,copper,24.5,ft\n";

/** Take what must be there. */
function given<T>(value: T | null | undefined): T {
  if (value === null || value === undefined) throw new Error("it is not there");
  return value;
}

async function text(file: unknown): Promise<string> {
  return file instanceof Blob ? file.text() : String(file);
}

async function checks(layout: Layout): Promise<object> {
  const report = given((await service.checkLayout({ body: { layout } })).data);
  const few = given((await service.checkLayout({ body: { layout }, query: { parts: "verdict" } })).data);
  if (few.findings !== undefined) throw new Error("findings were not asked for");
  const kept = given((await service.keepBase({ body: { layout } })).data);
  const changed = given(
    (await service.checkChanges({ path: { base: kept.base }, body: { changes: [{ op: "remove", path: "/plugs" }] } })).data,
  );
  const batch = given((await service.checkLayouts({ body: { checks: [{ layout }, { layout }] }, parseAs: "text" })).data);
  const lines = (await text(batch)).trim().split("\n").map((line) => JSON.parse(line) as { report: Report });
  return {
    verdict: report.verdict,
    nearest: given(report.plugs).map((plug) => given(plug.nearest).tape.shown),
    subjects: given(report.findings).map((finding) => finding.subject.id),
    gone: given(changed.changed).gone.length,
    batch: lines.map((line) => line.report.verdict).sort(),
  };
}

async function plans(layout: Layout): Promise<object> {
  const plan = given((await service.planLayout({ body: { layout, top: 1, time_limit: 60 } })).data);
  if (!("plans" in plan)) throw new Error("nobody asked not to wait");
  const begun = given((await service.planLayout({ body: { layout, top: 1 }, headers: { prefer: "respond-async" } })).data);
  if (!("job" in begun)) throw new Error("it was not asked for later");
  const state = given((await service.showJob({ path: { job: begun.job } })).data);
  if (state.job !== begun.job) throw new Error("another job");
  return { status: plan.status, actions: plan.plans.flatMap((one) => one.actions.map((action) => action.kind)) };
}

async function files(layout: Layout): Promise<object> {
  const imported = given((await service.importFile({ query: { name: "pipes.csv" }, body: new Blob([SHEET]) })).data);
  if (!("layout" in imported)) throw new Error("nobody asked not to wait");
  const exported = await service.exportLayout({ path: { name: "short.yaml" }, body: { layout }, parseAs: "text" });
  const drawing = await service.makeHandout({ path: { name: "drawing.svg" }, body: { layout }, parseAs: "text" });
  return {
    imported: (imported.layout["pipes"] as { id: string }[]).map((pipe) => pipe.id),
    exported: await text(given(exported.data)),
    drawing: new TextEncoder().encode(await text(given(drawing.data))).length,
  };
}

async function records(layout: Layout): Promise<object> {
  const made = given((await service.recordSignOff({ body: { layout, signer: { name: "A. Miller" } } })).data);
  const page = given((await service.listRecords()).data);
  const shown = given((await service.showRecord({ path: { number: made.entry.sequence } })).data);
  if (!page.entries.some((entry) => entry.hash === shown.entry.hash)) throw new Error("it is not listed");
  return { signer: shown.entry.name, verdict: made.entry.verdict };
}

async function refusals(layout: Layout): Promise<object> {
  const [first, ...others] = layout.pipes;
  const broken = { ...layout, pipes: [{ ...given(first), length: 24 as unknown as string }, ...others] };
  const { error } = await service.checkLayout({ body: { layout: broken } });
  return { status: given(error).status, pointers: given(given(error).faults).map((fault) => fault.pointer) };
}

async function main(address: string, path: string): Promise<void> {
  client.setConfig({ baseUrl: address });
  const layout = JSON.parse(readFileSync(path, "utf8")) as Layout;
  const asked = { size: "NPS 2", material: "carbon steel", wall: "sch 40", jacket: "12 in" };
  const freeze = await service.estimateFreeze({ body: { ...asked, water_temperature: "60 degF", orientation: "horizontal" } });
  const told = {
    check: await checks(layout),
    plan: await plans(layout),
    freeze: given(given(freeze.data).estimate).outcome,
    files: await files(layout),
    record: await records(layout),
    refused: await refusals(layout),
  };
  console.log(JSON.stringify(told));
}

void main(given(process.argv[2]), given(process.argv[3]));
