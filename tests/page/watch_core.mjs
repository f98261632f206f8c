// Runs the watch's core for its tests: a list of questions on stdin, a list of answers on stdout.
import { readFileSync } from "node:fs";

const core = await import(process.argv[2]);
const SESSION = "a session";

/** A crew that does what it is told, each time late by up to so many ms; and what it wrote down. */
function crew({ plan, seed, late, proofAt, work, start, lookEvery }) {
  let state = seed;
  const random = () => ((state = (state * 1103515245 + 12345) % 2147483648) / 2147483648);
  const entries = [];
  let now = start;
  const write = (said) => {
    const stamp = { wall: now, mono: now - start, session: SESSION };
    entries.push({ id: core.idOf(said, entries, String(entries.length)), n: core.nextPlace(entries), by: "A. Reed", ...stamp, ...said });
  };
  const seen = () => core.fold(plan, entries, { wall: now, mono: now - start, session: SESSION });
  write({ kind: "started", zone: 60 });
  const wait = new Map();
  let looked = start;
  for (let guard = 0; guard < 200000; guard += 1, now += 5000) {
    const told = seen();
    for (const jacket of told.jackets) {
      const { plug, doing, feed, number, until } = jacket;
      const due = doing === "begin" || doing === "top up" || ((doing === "inject" || doing === "topping") && now >= until);
      const key = `${plug.id} ${doing} ${feed} ${number}`;
      if (due && !wait.has(key)) wait.set(key, now + Math.floor((random() * late) / 1000) * 1000);
      if (!due || now < wait.get(key)) continue;
      const open = doing === "inject" || doing === "topping";
      write({ kind: open ? "ended" : "began", plug: plug.id, feed, number });
      if (open) write({ kind: "mass", plug: plug.id, feed, number, mass: { value: Number(jacket.planned.mass.toFixed(2)), unit: "kg" } });
    }
    const after = seen();
    for (const { plug, proven, due, doing } of after.jackets) {
      if (proven || doing === "inject" || after.zero === null) continue;
      const at = proofAt === null ? due : after.zero + proofAt * plug.due * 1000;
      if (at !== null && now >= at) write({ kind: "tested", plug: plug.id, passed: true, text: "far gauge 60 psi, stood still" });
    }
    if (lookEvery && now - looked >= lookEvery * 1000) {
      looked = now;
      write({ kind: "air", carbon_dioxide: 0.001, oxygen: 0.208 });
    }
    const last = seen();
    const safe = last.jackets.every((j) => j.proven && j.due !== null && now >= j.due);
    if (safe && !last.opened) write({ kind: "opened" });
    else if (last.opened && !last.closed && now >= last.opened.at + work * 1000) write({ kind: "closed" });
    else if (last.closed && now >= last.closed.at + 60000) {
      for (const j of last.jackets) if (j.doing === "hold") write({ kind: "stopped", plug: j.plug.id });
      if (seen().jackets.every((j) => j.doing === "over")) break;
    }
  }
  return { entries, state: seen(), log: core.logOf(plan, seen()), csv: core.logCsv(core.logOf(plan, seen())), json: core.logJson(core.logOf(plan, seen())) };
}

const functions = {
  crew,
  standing: ({ courses, plug, looks, off }) => core.standing(courses, plug, looks, off),
  fold: ({ plan, entries, now }) => core.fold(plan, entries, now),
  ids: ({ list, random }) => list.reduce((all, said) => [...all, { ...said, id: core.idOf(said, all, random), n: all.length + 1 }], []).map((e) => e.id),
  csv: ({ log }) => core.logCsv(log),
};
const plain = (key, value) => (value === Infinity ? "inf" : value === -Infinity ? "-inf" : value instanceof Set ? [...value] : value);
const questions = JSON.parse(readFileSync(0, "utf8"));
process.stdout.write(JSON.stringify(questions.map(([name, given]) => functions[name](given) ?? null), plain));
