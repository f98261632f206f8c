/** The log out: files, the judged log, a second phone, the record of sign-off. */

import type { VNode } from "preact";
import { useState } from "preact/hooks";
import { save, stem } from "../files";
import { bodyOf, fetchFile, post, Refusal, Silence } from "../service";
import { logCsv, logJson, logOf } from "./log.ts";
import { Field, Foot, Pages, plain, Press } from "./parts";
import type { Page } from "./parts";
import { store } from "./store";

const CSV = "text/csv;charset=utf-8";

export function Out(): VNode {
  const { plan, watch, state, shared } = store.known;
  const [says, setSays] = useState("");
  const log = (): ReturnType<typeof logOf> => logOf(plan!, state!);
  const name = `${stem(plan!.layout.name.replace(/[^\p{L}\p{N} -]/gu, "")) || "freeze"}-log`;
  const file = (text: string, type: string, ending: string): void => save(new Blob([text], { type }), `${name}.${ending}`);
  const judged = (form: "text" | "pdf", ending: string): void => {
    setSays("Asking…");
    void asked(async () => {
      save(await fetchFile(`v1/logs/${form}`, bodyOf(watch!.layout, { log: log() })), `${name}-judged.${ending}`);
      return "The judged log is saved.";
    }).then(setSays);
  };
  const pages: Page[] = [
    { name: "Log as CSV", body: <Press onPress={() => file(logCsv(log()), CSV, "csv")}>SAVE CSV</Press> },
    { name: "Log as JSON", body: <Press onPress={() => file(logJson(log()), "application/json", "json")}>SAVE JSON</Press> },
    { name: "Judged log, text", body: <Press onPress={() => judged("text", "txt")}>JUDGE, SAVE TEXT</Press> },
    { name: "Judged log, PDF", body: <Press onPress={() => judged("pdf", "pdf")}>JUDGE, SAVE PDF</Press> },
    { name: "All that was tapped", body: <Press onPress={() => file(`${JSON.stringify(store.everything(), null, 1)}\n`, "application/json", "taps.json")}>SAVE EVERYTHING</Press> },
    {
      name: "A second phone",
      body: watch!.shared ? (
        <p class="fact">
          Open this on the other phone; it can only read. {shared === "sent" ? "All is sent." : "Waits for the network."}
          <code class="address">{`${location.origin}${location.pathname}#follow=${watch!.name}`}</code>
        </p>
      ) : (
        <Press onPress={() => void store.share()}>LET A SECOND PHONE FOLLOW</Press>
      ),
    },
    { name: "Record of sign-off", body: <Sign onSays={setSays} log={() => logCsv(log())} /> },
    { name: "Another holds the phone", body: <Person /> },
    { name: "Put this freeze away", body: <Away /> },
  ];
  return (
    <>
      {says && (
        <p class="band b-look" role="status">
          {says}
        </p>
      )}
      <Pages pages={pages} label="The log out" />
      <Foot back={() => store.show("watch")} />
    </>
  );
}

async function asked(act: () => Promise<string>): Promise<string> {
  try {
    return await act();
  } catch (error) {
    if (error instanceof Silence) return "The service does not answer. Save the CSV, and judge it later.";
    if (error instanceof Refusal) return error.problem.faults?.[0]?.problem ?? error.problem.detail;
    throw error;
  }
}

interface Recorded {
  entry: { sequence: number };
  paper?: string;
}

/** The layout and its report go into the record; the note binds this log to them by its digest. */
function Sign({ log, onSays }: { log: () => string; onSays: (says: string) => void }): VNode {
  const [name, setName] = useState(store.known.watch!.by);
  const sign = async (): Promise<string> => {
    const { watch, plan } = store.known;
    const text = log();
    const note = `Freeze log of sheet ${plan!.sheet}: ${text.split("\r\n").length - 2} lines, ${await digestOf(text)}`;
    const signer = { name: plain(name), role: "keeps the log on site", note };
    const kept = (await post("v1/records", bodyOf(watch!.layout, { signer }), "application/json")) as Recorded;
    return `Entry ${kept.entry.sequence} is in the record. ${kept.paper ?? ""}`;
  };
  return (
    <>
      <p class="fact">Recording is not a permit. Save the CSV as well: the record keeps its digest.</p>
      <Field label="Who signs" value={name} onText={setName} />
      <Press off={!plain(name)} onPress={() => void asked(sign).then(onSays)}>
        RECORD
      </Press>
    </>
  );
}

async function digestOf(text: string): Promise<string> {
  if (!crypto.subtle) return `${new TextEncoder().encode(text).length} bytes`; // only a safe origin has it
  const digest = await crypto.subtle.digest("SHA-256", new TextEncoder().encode(text));
  return `sha256:${[...new Uint8Array(digest)].map((b) => b.toString(16).padStart(2, "0")).join("")}`;
}

function Person(): VNode {
  const [name, setName] = useState(store.known.watch!.by);
  return (
    <>
      <Field label="Who holds this phone now" value={name} onText={setName} />
      <Press off={!plain(name)} onPress={() => void store.begin(plain(name)).then(() => store.show("watch"))}>
        IT IS THIS PERSON
      </Press>
    </>
  );
}

function Away(): VNode {
  const over = store.state().jackets.every((j) => j.doing === "over");
  const [sure, setSure] = useState(false);
  return (
    <>
      <p class={over ? "fact" : "band b-stop"}>{over ? "Save the log first. What was tapped stays on this phone." : "Feeding of a jacket has not stopped yet."}</p>
      <Press kind="stop" onPress={() => (sure ? void store.putAway() : setSure(true))}>
        {sure ? "ONCE MORE: PUT AWAY" : "PUT AWAY"}
      </Press>
    </>
  );
}
