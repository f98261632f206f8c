"""A pytest plugin that runs, for each mutant, the tests that reach it, until one fails.

Tests are collected once. Every try runs in a fork of that one process, so that nothing a mutant
leaves behind reaches another. First each test runs once and says which lines it runs; then each
mutant meets the tests that run the statement it changes: those that lately killed a neighbour
first, then the quick ones, for so many seconds at most. What none kills in that time is alive.
"""

from __future__ import annotations

import functools
import gc
import itertools
import json
import os
import pickle
import random
import select
import signal
import subprocess
import sys
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import coverage
import pytest
from _pytest.runner import runtestprotocol
from hypothesis import HealthCheck, Phase, settings
from mutmut.mutation import trampoline

from tests.mutation.mutants import PARTS, Mutant

# Quick tests that see what is worked out while modules load.
AFRESH = (
    "tests/conformance/test_conformance.py::test_the_cases_are_up_to_date",
    "tests/rules/test_manuals.py",
    "tests/report/test_explain.py",
    "tests/rules/test_cases.py",
)

QUICK = 0.6  # seconds of a traced test

# No shrinking: one failing example is enough.
settings.register_profile(
    "mutation",
    deadline=None,
    derandomize=True,
    database=None,
    phases=[Phase.explicit, Phase.generate],
    report_multiple_bugs=False,
    suppress_health_check=list(HealthCheck),
)


@dataclass(frozen=True)
class Order:
    """What is to be done: the mutants, workers, seconds of tests a mutant may meet, where to."""

    mutants: list[Mutant]
    jobs: int
    patience: float
    answers: Path


@dataclass
class Reach:
    """How long each test takes (s), and which lines of the copied files it runs."""

    seconds: dict[str, float] = field(default_factory=dict)
    tests_of: dict[tuple[str, int], list[str]] = field(default_factory=dict)

    def tests(self, mutant: Mutant) -> list[str]:
        """Give the tests that run the statement a mutant changes, in a good order.

        Quick ones by chance first, as neighbours often say the same; then the others by time.
        """
        first, last = mutant.lines
        found = {t for k in range(first, last + 1) for t in self.tests_of.get((mutant.file, k), [])}
        slow = sorted((t for t in found if self.seconds[t] > QUICK), key=self.seconds.__getitem__)
        quick = sorted(found.difference(slow))
        random.Random(mutant.name).shuffle(quick)
        return quick + slow


def pytest_addoption(parser: pytest.Parser) -> None:
    """Take the order as a file that the command wrote."""
    parser.addoption("--mutation-order", type=Path)


@pytest.hookimpl(tryfirst=True)
def pytest_runtestloop(session: pytest.Session) -> bool:
    """Take the place of pytest's own loop over the tests."""
    order: Order = pickle.loads(session.config.getoption("--mutation-order").read_bytes())
    items = {item.nodeid: item for item in session.items}
    forgotten = _warm_up(list(items.values()), order.mutants)
    kept = order.answers.with_suffix(".reach")
    if kept.exists():
        reach = pickle.loads(kept.read_bytes())
    else:
        reach = _find_reach(items, order.jobs, forgotten)
        kept.write_bytes(pickle.dumps(reach))
    _meet_all(items, order, reach)
    return True


def _warm_up(items: list[pytest.Item], mutants: list[Mutant]) -> list[Any]:
    """Run the tests once, for libraries, compiled loops and memos; forget what mutants may change.

    A freeze that is worked out once, for one, is kept where only rules are changed. Gives the memos
    that must be forgotten before each test.
    """
    trampoline.set_mutant_under_test("")
    for item in items:
        _run(item)
    forgotten = _kept_answers(mutants)
    for kept in forgotten:
        kept.cache_clear()
    gc.collect()
    gc.freeze()  # a fork then copies less
    return forgotten


def _kept_answers(mutants: list[Mutant]) -> list[Any]:
    """Give the memos of the packages that mutants change."""
    packages = tuple({".".join(m.name.split(".")[:2]) for m in mutants})
    found = [k for k in gc.get_objects() if isinstance(k, functools._lru_cache_wrapper)]
    return [k for k in found if k.__module__.startswith(packages)]


def _run(item: pytest.Item) -> bool:
    """Tell whether a test passes."""
    return not any(r.failed for r in runtestprotocol(item, log=False, nextitem=None))


def _find_reach(items: dict[str, pytest.Item], jobs: int, kept: list[Any]) -> Reach:
    """Run each test once and note which lines of the copied files it runs."""
    reach, root, names = Reach(), Path.cwd(), list(items)

    def entered(part: str) -> list[tuple[str, bool, float, list[tuple[str, int]]]]:
        trampoline.set_mutant_under_test("")
        return [(name, *_lines_of(items[name], root, kept)) for name in names[int(part) :: jobs]]

    for _, answers in _forked(list(map(str, range(jobs))), entered, jobs, lambda _: 3600):
        for name, passed, took, lines in answers:
            if not passed:
                print(f"left out, it fails without a mutant: {name}", file=sys.stderr)
                continue
            reach.seconds[name] = took
            for file, line in lines:
                reach.tests_of.setdefault((file, line), []).append(name)
    return reach


def _lines_of(
    item: pytest.Item, root: Path, kept: list[Any]
) -> tuple[bool, float, list[tuple[str, int]]]:
    """Run a test, every kept answer forgotten; tell whether it passes, its time and lines."""
    for answers in kept:
        answers.cache_clear()
    traced = coverage.Coverage(
        data_file=None, messages=False, include=[str(root / p) for p in PARTS]
    )
    traced.set_option("run:disable_warnings", ["no-data-collected"])
    start = time.process_time()
    with traced.collect():
        passed = _run(item)
    took = time.process_time() - start
    data = traced.get_data()
    files = {f: str(Path(f).relative_to(root)) for f in data.measured_files()}
    return passed, took, [(files[f], k) for f in files for k in data.lines(f) or ()]


def _meet_all(items: dict[str, pytest.Item], order: Order, reach: Reach) -> None:
    killers: dict[str, list[str]] = defaultdict(list)
    mutants = {m.name: m for m in order.mutants}
    called = {m.function for m in order.mutants if reach.tests(m)}

    def chosen(name: str) -> list[str]:
        able = reach.tests(mutants[name])
        first = [t for t in reversed(killers[mutants[name].function]) if t in able]
        taken: list[str] = []
        total = 0.0
        for test in dict.fromkeys(first[:3] + able):
            if not taken or total + reach.seconds[test] <= order.patience:
                taken.append(test)
                total += reach.seconds[test]
        return taken

    def meet(name: str) -> list[str]:
        trampoline.set_mutant_under_test(name)
        if not reach.tests(mutants[name]):
            return [] if mutants[name].function in called else _meet_afresh()
        return list(itertools.islice((t for t in chosen(name) if not _run(items[t])), 1))

    def limit(name: str) -> int:
        if not reach.tests(mutants[name]):
            return 300
        return int(10 + 6 * sum(reach.seconds[t] for t in chosen(name)))

    # In no order, so that what is known after a while holds for the whole.
    names = list(mutants)
    random.Random(1).shuffle(names)
    done, start = 0, time.monotonic()
    with order.answers.open("a", encoding="utf-8") as out:
        for name, killer in _forked(names, meet, order.jobs, limit):
            if killer is None:
                killed_by = "it never ended, or ended the process"
            else:
                killed_by = killer[0] if killer else ""
            if killer:
                kept = killers[mutants[name].function]
                if killed_by in kept:
                    kept.remove(killed_by)
                kept.append(killed_by)
            out.write(json.dumps({"mutant": name, "killed_by": killed_by}) + "\n")
            out.flush()
            done += 1
            if done % 100 == 0:
                spent = time.monotonic() - start
                print(f"{done} of {len(names)} in {spent:.0f} s", file=sys.stderr, flush=True)


def _meet_afresh() -> list[str]:
    """Let a mutant that is called only while modules load meet a few tests in a new process."""
    command = [sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", *AFRESH]
    ran = subprocess.run(
        [*command, "-p", "tests.mutation.runner"], capture_output=True, check=False
    )
    return [] if ran.returncode == 0 else ["a new process"]


def _forked(
    names: Any, work: Callable[[str], Any], jobs: int, limit: Callable[[str], float]
) -> Iterator[tuple[str, Any]]:
    """Run work(name) in a fork for each name; give name and answer, None where it did not end."""
    waiting = list(reversed(list(names)))
    running: dict[int, tuple[str, int, float]] = {}
    while waiting or running:
        while waiting and len(running) < jobs:
            name = waiting.pop()
            end = time.monotonic() + limit(name)
            process, reader = _fork(name, work)
            running[reader] = (name, process, end)
        ready, _, _ = select.select(list(running), [], [], 0.5)
        now = time.monotonic()
        late = [r for r, (_, _, end) in running.items() if r not in ready and end < now]
        for reader in late:
            os.kill(running[reader][1], signal.SIGKILL)
        for reader in [*ready, *late]:
            name, process, _ = running.pop(reader)
            with os.fdopen(reader, "rb") as pipe:
                told = b"" if reader in late else pipe.read()
            os.waitpid(process, 0)
            yield name, (json.loads(told) if told else None)


def _fork(name: str, work: Callable[[str], Any]) -> tuple[int, int]:
    reader, writer = os.pipe()
    process = os.fork()
    if process:
        os.close(writer)
        return process, reader
    try:
        os.close(reader)
        quiet = os.open(os.devnull, os.O_WRONLY)
        os.dup2(quiet, 1)
        os.dup2(quiet, 2)
        with os.fdopen(writer, "wb") as pipe:
            pipe.write(json.dumps(work(name)).encode())
    finally:
        os._exit(0)
