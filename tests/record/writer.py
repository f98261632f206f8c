"""Processes that record and tell of each entry once it is acknowledged; to be killed at will."""

from __future__ import annotations

import contextlib
import itertools
import multiprocessing
import os
import signal
from multiprocessing.connection import Connection

from layoutcheck.record import Draft, Ledger, Signer
from layoutcheck.record.problems import RecordProblem

# Number and hash of each entry that was acknowledged.
Told = list[tuple[int, str]]


def draft(name: str, number: int, size: int) -> Draft:
    """An invented entry. size: how long its layout and report are (bytes)."""
    filling = f"{name} {number} ".encode() * (size // 8 + 1)
    return Draft(
        signer=Signer(name, "writer (invented)"),
        site="Halden Court (invented)",
        verdict="undecided",
        version="0.0.0",
        judged_on=None,
        layout_format="json",
        layout=b'{"layout": "' + filling[:size] + b'"}',
        pack=b'name = "invented"\n',
        report=b'{"report": "' + filling[:size] + b'"}',
    )


class Writer:
    """A process that records, and what it has told so far."""

    def __init__(self, where: str, name: str, *, times: int | None, size: int) -> None:
        """Start it. times: how many entries; None: until it is killed. size: see `draft`."""
        self._ear, mouth = _PROCESSES.Pipe(duplex=False)
        self._process = _PROCESSES.Process(target=_record, args=(mouth, where, name, times, size))
        self._process.start()
        mouth.close()
        self.told: Told = []
        assert self._ear.recv() == "ready"

    def hear(self, many: int) -> None:
        """Wait until so many more entries are acknowledged."""
        self.told += [self._ear.recv() for _ in range(many)]

    def kill(self) -> Told:
        """Kill it where it stands; give the entries that it has told of."""
        self._process.kill()
        return self._end(-signal.SIGKILL)

    def wait(self) -> Told:
        """Wait until it is done; give its entries."""
        return self._end(0)

    def wait_for_failure(self) -> Told:
        """Wait until it ends with a plain problem; give its entries."""
        return self._end(2)

    @property
    def runs(self) -> bool:
        return self._process.is_alive()

    def _end(self, code: int) -> Told:
        with contextlib.suppress(EOFError, OSError):  # a word cut short by death tells nothing
            while True:
                self.told.append(self._ear.recv())
        self._process.join(timeout=60)
        assert self._process.exitcode == code
        return self.told


def _record(mouth: Connection, where: str, name: str, times: int | None, size: int) -> None:
    ledger = Ledger(where)
    mouth.send("ready")
    try:
        for number in itertools.count() if times is None else range(times):
            kept = ledger.append(draft(name, number, size))
            mouth.send((kept.entry.sequence, kept.hash))
    except RecordProblem:
        os._exit(2)


# A server that has all modules loaded makes the writers, or each would take a second to begin.
_PROCESSES = multiprocessing.get_context("forkserver")
_PROCESSES.set_forkserver_preload(["__main__", "tests.record.writer"])
