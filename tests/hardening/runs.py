"""Start workers with bounds on memory and time, and go on after a file that ends one."""

from __future__ import annotations

import json
import resource
import subprocess
import sys
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).parents[2]
MEMORY = 4 * 1024**3  # address space of a worker (bytes); what it loads takes 1.5 of them
SLOWEST = (
    20.0  # processor seconds for one small file; our own promise, with room for a busy machine
)


@dataclass
class Outcomes:
    """What came of many files."""

    counts: Counter[str] = field(default_factory=Counter)
    crashed: list[str] = field(default_factory=list)
    died: list[int] = field(default_factory=list)
    slowest: tuple[float, int] = (0.0, -1)


def many(kind: str, *, first: int, count: int, patience: float) -> Outcomes:
    """Read spoilt files first … first + count - 1. patience: seconds a worker may take in all."""
    found = Outcomes()
    end = first + count
    while first < end:
        ran = _worker(kind, first, end - first, patience)
        begun = first
        for line in ran.stdout.splitlines():
            told = json.loads(line)
            begun = told.get("begins", begun)
            if "outcome" not in told:
                continue
            found.counts[told["outcome"]] += 1
            found.slowest = max(found.slowest, (told["took"], told["number"]))
            if told["outcome"] == "crashed":
                found.crashed.append(f"{kind} {told['number']}: {told['why']}")
            first = told["number"] + 1
        if first < end:
            assert begun == first, ran.stderr[-2000:]  # it died while reading, not before
            found.died.append(begun)
            first = begun + 1
    return found


def bounded(memory: int = MEMORY) -> None:
    """Bound the memory of a process that is about to start."""
    resource.setrlimit(resource.RLIMIT_AS, (memory, memory))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _worker(kind: str, first: int, count: int, patience: float) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "tests.hardening.worker", kind, str(first), str(count)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=patience,
        check=False,
        preexec_fn=bounded,
    )
