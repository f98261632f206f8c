"""Several processes record at once: the chain never forks, and no acknowledged entry is lost."""

from __future__ import annotations

import threading
from collections.abc import Sequence

from layoutcheck.record import Ledger
from tests.record.writer import Writer, draft


def test_processes_take_turns_from_the_very_first_entry(where: str) -> None:
    names = ("Ann", "Bob", "Cy", "Di")
    writers = [Writer(where, f"{name} (invented)", times=8, size=2000) for name in names]
    told = sorted(entry for writer in writers for entry in writer.wait())
    kept = list(Ledger(where).walk())
    assert told == [(k.entry.sequence, k.hash) for k in kept]
    assert [number for number, _ in told] == list(range(1, 33))
    assert Ledger(where).verify().whole
    by_name = [k.entry.name.split()[0] for k in kept]
    assert all(by_name.count(name) == 8 for name in names)


def test_threads_take_turns_too(where: str) -> None:
    failed: list[BaseException] = []

    def record(name: str) -> None:
        try:
            for number in range(4):
                Ledger(where).append(draft(name, number, 100))
        except BaseException as error:
            failed.append(error)

    _together([threading.Thread(target=record, args=(f"T{n}",)) for n in range(4)])
    assert not failed
    assert Ledger(where).verify().whole
    assert Ledger(where).count() == 16


def test_who_reads_sees_a_whole_record_at_any_moment(where: str) -> None:
    Ledger(where).append(draft("Ann Invented", 0, 100))
    seen: list[int] = []
    writer = Writer(where, "Bob Invented", times=10, size=5000)
    while writer.runs:
        found = Ledger(where).verify()
        assert found.whole, found.faults
        seen.append(found.entries)
    assert len(writer.wait()) == 10
    assert seen == sorted(seen)
    assert Ledger(where).verify().entries == 11


def _together(threads: Sequence[threading.Thread]) -> None:
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=120)
