"""Two workers against one, in one run: the same works, on the same machine, one after the other.

Starting a worker, compiling what it needs and filling its caches is left out on both sides: a
survey is hours long. It wants a machine with two free cores: where other processes wait for them
too, two workers get no more of the processor than one. The printed time of the processor shows
how the work was shared out all the same.
"""

from __future__ import annotations

import os
import time
from dataclasses import dataclass
from pathlib import Path

import pytest

from layoutcheck.document import parse_layout, read_text
from layoutcheck.survey.cluster import DaskPool, pool_at
from layoutcheck.survey.items import Choice, Settings, items_of
from layoutcheck.survey.journal import Journal
from layoutcheck.survey.run import Survey
from layoutcheck.survey.sites import find_sites
from layoutcheck.survey.tasks import AskItems, run_task
from tests.survey.made_buildings import town

LEAST = 1.7
PAIRS = 6


@dataclass(frozen=True)
class Took:
    """The time (s) of a survey by the clock, and of the processor for each of its workers."""

    clock: float
    workers: tuple[float, ...]
    works: int


def survey(folder: Path, result: Path, workers: int) -> Took:
    """Survey a folder by warm workers."""
    with pool_at(None, workers) as pool:
        for site in find_sites(folder).found[:24]:
            content = site.read()
            items = items_of(parse_layout(read_text(content.data, suffix=content.suffix)))
            pool.on_each(run_task, AskItems(content, items, Settings()))
        before = pool.on_each(time.process_time)
        start = time.perf_counter()
        works = asked(folder, result, pool)
        clock = time.perf_counter() - start
        after = pool.on_each(time.process_time)
    return Took(clock, tuple(after[name] - before[name] for name in before), works)


def asked(folder: Path, result: Path, pool: DaskPool) -> int:
    """Ask every valve of a folder; the table and the picture are made once, whatever asks."""
    choices = frozenset({Choice.EVERY_VALVE})
    with Journal(result) as journal:
        run = Survey(find_sites(folder).found, choices, Settings(steps=20), journal)
        run.run(pool)
    return run.standing.asked


@pytest.mark.bench
@pytest.mark.skipif((os.cpu_count() or 1) < 2, reason="two workers need two cores")
def test_two_workers_are_at_least_1_7_times_one(tmp_path: Path) -> None:
    folder = town(tmp_path / "town", buildings=60, floors=6)
    (folder / "cut-short.json").unlink()
    best = 0.0
    # Others may use the machine meanwhile; the best pair is the one they disturbed least.
    for pair in range(PAIRS):
        one = survey(folder, tmp_path / f"{pair}-one", 1)
        two = survey(folder, tmp_path / f"{pair}-two", 2)
        assert one.works == two.works
        best = max(best, one.clock / two.clock)
        print(
            f"{one.works} works: {one.clock:.1f} s by one worker, {two.clock:.1f} s by two: "
            f"{one.clock / two.clock:.2f} times. Processor: {one.workers[0]:.1f} s; "
            + " + ".join(f"{t:.1f}" for t in two.workers)
        )
        if best >= LEAST:
            break
    assert best >= LEAST
