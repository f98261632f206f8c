"""Measure speed and scale: `python -m tests.bench [--up-to PIPES]`.

Runs every size in a process of its own, keeps the numbers in measured.json, and writes the README's
table from them. The whole takes long at a million pipes: run it at night. With --up-to, the sizes
above keep the numbers they have. A run that takes more than an hour is stopped and left out.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

from tests.bench import table

README = Path(__file__).parents[2] / "README.md"
LONGEST = 3600  # s
MACHINE = "two cores of a shared machine"


def plan(up_to: int) -> Iterator[tuple[int, int, list[str]]]:
    """Give the runs: pipes, plugs, tasks."""
    for pipes in table.SIZES:
        if pipes > up_to:
            return
        for plugs in table.PLUGS:
            tasks = ["time"]
            if pipes == 10_000:
                tasks.append("plain")
            if plugs == table.USUAL and pipes <= 100_000:
                tasks += ["again", "report"]
            yield pipes, plugs, tasks
            if plugs == table.USUAL:
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


def measure(up_to: int) -> dict[str, Any]:
    """Run all sizes up to one and put the numbers with those that are kept."""
    kept = table.read() if table.MEASURED.exists() else {"runs": {}}
    for pipes, plugs, tasks in plan(up_to):
        found = run(pipes, plugs, tasks)
        print(table.key(pipes, plugs), tasks, json.dumps(found), flush=True)
        old = kept["runs"].get(table.key(pipes, plugs), {}) if tasks == ["memory"] else {}
        kept["runs"][table.key(pipes, plugs)] = old | found
    return kept | {"day": date.today().isoformat(), "machine": MACHINE}


def main() -> None:
    """Measure, keep, and write the README."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--up-to", type=int, default=table.SIZES[-1], help="largest size, pipes")
    table.write(measure(parser.parse_args().up_to))
    README.write_text(table.put_in(README.read_text(encoding="utf-8")), encoding="utf-8")


if __name__ == "__main__":
    main()
