"""Measure speed and scale: `python -m tests.bench [PIPES ...]`, all sizes if none is named.

Runs every size with every number of plugs, each in a process of its own, keeps the numbers in
measured.json, and writes the table of MEASURED.md from them. Sizes that are not named keep what
they have. The whole takes long at a million pipes: run it at night, on a machine with no other
work. A run that takes more than an hour is stopped and left out.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
from collections.abc import Iterator, Sequence
from datetime import date
from pathlib import Path
from typing import Any

from tests.bench import table

TABLE = Path(__file__).parent / "MEASURED.md"
LONGEST = 3600  # s
PLAIN_AT = 10_000  # pipes
# Above this the joint mending, and heads and walls on every piece, take too long to run each time.
REPORT_UP_TO = 1_000  # pipes
MACHINE = "two cores of a shared machine"


def plan(sizes: Sequence[int]) -> Iterator[tuple[int, int, list[str]]]:
    """Give the runs: pipes, plugs, tasks. The plain version takes long with many plugs."""
    for pipes in sizes:
        for plugs in table.PLUGS:
            usual = plugs == table.USUAL
            tasks = ["time"]
            if pipes == PLAIN_AT and (plugs <= table.USUAL or table.SIZES[-1] in sizes):
                tasks.append("plain")
            if usual and pipes <= table.AGAIN_AT:
                tasks.append("again")
            if usual and pipes <= REPORT_UP_TO:
                tasks.append("report")
            yield pipes, plugs, tasks
            if usual:
                yield pipes, plugs, ["memory"]


def run(pipes: int, plugs: int, tasks: list[str]) -> dict[str, Any]:
    """Measure one site in a process of its own; empty if it takes too long."""
    command = [sys.executable, "-m", "tests.bench.measure", str(pipes), str(plugs), *tasks]
    try:
        done = subprocess.run(command, capture_output=True, text=True, check=True, timeout=LONGEST)
    except subprocess.TimeoutExpired:
        return {}
    found: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return found


def measure(sizes: Sequence[int]) -> None:
    """Run some sizes, and put the numbers with those that are kept."""
    for pipes, plugs, tasks in plan(sizes):
        found = run(pipes, plugs, tasks)
        print(table.key(pipes, plugs), *tasks, json.dumps(found), flush=True)
        kept = table.read()
        name = table.key(pipes, plugs)
        old = kept["runs"].get(name, {}) if tasks == ["memory"] else {}
        kept["runs"][name] = old | found
        table.write(kept | {"day": date.today().isoformat(), "machine": MACHINE})
    TABLE.write_text(table.put_in(TABLE.read_text(encoding="utf-8")), encoding="utf-8")


def main() -> None:
    """Measure the sizes named, or all."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("pipes", type=int, nargs="*", choices=[[], *table.SIZES])
    measure(parser.parse_args().pipes or table.SIZES)


if __name__ == "__main__":
    main()
