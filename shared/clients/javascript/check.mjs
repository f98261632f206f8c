// Check a layout over HTTP. Usage: node check.mjs ADDRESS LAYOUT.json [PACK.toml] [DAY]
//
// Prints the verdict and what does not hold. Exit codes: 0 compliant, 1 not compliant, 2 refused,
// 3 undecided, 4 fault. Anything but 'compliant' is no leave to freeze, and neither is 'compliant'
// alone: local codes, the site's permit system and licensed practice decide.

import { readFile } from "node:fs/promises";

const EXIT_CODES = { compliant: 0, "not compliant": 1, undecided: 3, fault: 4 };

const [address, layoutPath, packPath, day] = process.argv.slice(2);
const body = { layout: JSON.parse(await readFile(layoutPath, "utf8")) };
if (packPath) body.pack = await readFile(packPath, "utf8");
if (day) body.on = day;

const answer = await fetch(`${address}/v1/checks`, {
  method: "POST",
  headers: { "Content-Type": "application/json" },
  body: JSON.stringify(body),
});
const given = await answer.json();

if (answer.ok) {
  console.log(given.verdict);
  for (const finding of given.findings) {
    if (["broken", "undecided", "fault"].includes(finding.outcome)) {
      console.log(`  ${finding.outcome}: ${finding.rule}: ${finding.says}`);
    }
  }
  process.exitCode = EXIT_CODES[given.verdict] ?? 4;
} else {
  console.log(`refused: ${given.title}`);
  for (const fault of given.faults ?? []) {
    console.log(`  ${fault.pointer}: ${fault.problem}`);
  }
  process.exitCode = 2;
}
