"""Twice the load that the service carries: no wrong answer, the others told so, memory flat.

A short version, which counts answers and looks at no clock, runs always; the whole one (200 clients
for five minutes) is `pytest -m nightly`.
"""

from __future__ import annotations

import hashlib
import json
import statistics
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from layoutcheck.report import check_document
from layoutcheck.report.portions import portions_json
from tests.api.load import Load, Seen, put_load
from tests.api.riser import riser
from tests.api.running import Running, running

MEGABYTE = 1024 * 1024
# Caches of the libraries still fill a little; a leak of one answer a request would be a hundred
# times this.
DRIFT = 0.05
ROOM = 10 * MEGABYTE


def questions() -> tuple[list[str], list[str]]:
    """Ten documents with ten different answers, and digests of the library's usual portions."""
    bodies, digests = [], []
    for number in range(10):
        layout = riser(f"{number}", station=f"{5 + number / 4} ft")
        bodies.append(json.dumps({"layout": layout}))
        digests.append(hashlib.sha256(portions_json(check_document(layout)).encode()).hexdigest())
    assert len(set(digests)) == len(digests)
    return bodies, digests


def family(pid: int) -> list[int]:
    """A process and all that came from it."""
    found = [pid]
    for parent in found:
        for children in Path(f"/proc/{parent}/task").glob("*/children"):
            found += [int(child) for child in children.read_text().split()]
    return found


def memory(pid: int) -> int:
    """Memory of a process and all that came from it (bytes); what is shared counts once.

    'Pss' of proc(5): each page divided by the number of processes that share it.
    """
    total = 0
    for one in family(pid):
        try:
            text = Path(f"/proc/{one}/smaps_rollup").read_text()
        except OSError:
            continue
        total += int(text.partition("\nPss:")[2].split()[0]) * 1024
    return total


@contextmanager
def watched(service: Running, every: float) -> Iterator[list[int]]:
    """Take the memory now and then while a block runs."""
    taken: list[int] = []
    done = threading.Event()

    def watch() -> None:
        while not done.wait(every):
            taken.append(memory(service.process.pid))

    thread = threading.Thread(target=watch)
    thread.start()
    try:
        yield taken
    finally:
        done.set()
        thread.join()


def overload(service: Running, *, clients: int, seconds: float) -> None:
    bodies, digests = questions()

    def load(clients: int, seconds: float, rate: float = 0.0) -> Seen:
        path = "/v1/checks"
        return put_load(Load(service.address, path, bodies, digests, clients, seconds, rate=rate))

    calm = load(1, min(5.0, seconds / 2))
    top = load(4, min(20.0, seconds / 2))
    with watched(service, seconds / 60) as taken:
        seen = load(clients, seconds, rate=2 * top.rate)
    end = time.monotonic()
    after = load(1, min(5.0, seconds / 2))
    print(
        f"\ncarries {top.rate:.1f} a second; {clients} clients for {seconds:g} s at twice that: "
        f"{seen.right} right, {seen.wrong} wrong, {seen.refused} refused, "
        f"{dict(seen.failed)} else; right ones took {seen.at(0.5):.3f} s, 99 % within "
        f"{seen.at(0.99):.3f} s; refusals took {statistics.median(seen.refusals_took):.4f} s; "
        f"memory {taken[len(taken) // 5] / MEGABYTE:.0f} MB, at the end "
        f"{taken[-1] / MEGABYTE:.0f} MB; alone {calm.at(0.5):.4f} s before, "
        f"{after.at(0.5):.4f} s after"
    )
    assert calm.right and after.right
    for each in (calm, top, seen, after):
        assert each.wrong == 0
        assert not each.failed
    assert seen.refused > 0.2 * seen.right  # it was too much
    assert seen.right > 0.5 * top.rate * seconds  # and what it carries was still done
    early, late = _parts(taken)
    assert late < early * (1 + DRIFT) + ROOM
    assert time.monotonic() - end < 30
    assert after.refused == 0
    # Medians on a machine that others use too: three times leaves room for them.
    assert after.at(0.5) < 3 * calm.at(0.5)


def _parts(taken: list[int]) -> tuple[float, float]:
    """The usual memory in the second fifth and in the last."""
    fifth = max(1, len(taken) // 5)
    return statistics.median(taken[fifth : 2 * fifth]), statistics.median(taken[-fifth:])


@pytest.mark.slow
def test_more_clients_than_there_is_room_for_get_a_right_answer_or_are_told_to_wait() -> None:
    bodies, digests = questions()
    with running(max_waiting=8) as service:

        def load(clients: int, each: int) -> Seen:
            address = service.address
            return put_load(Load(address, "/v1/checks", bodies, digests, clients, each=each))

        much, after = load(40, 3), load(1, 5)
    assert much.right + much.refused == 40 * 3
    assert much.right and much.refused
    assert (after.right, after.refused) == (5, 0)
    for each in (much, after):
        assert each.wrong == 0
        assert not each.failed


@pytest.mark.nightly
def test_five_minutes_of_two_hundred_clients_at_twice_the_load() -> None:
    with running() as service:
        overload(service, clients=200, seconds=300)
