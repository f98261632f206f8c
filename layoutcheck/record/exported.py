"""A record as one file (JSON Lines), to hand on, to put away, and to verify without a database.

Each line is an object: {"text": …, "digest": …} or {"entry": {…}, "hash": …}. A text stands before
the first entry that keeps it.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import asdict, fields
from typing import Any

from layoutcheck.document import Fault, LayoutFaults, read_text
from layoutcheck.record.chain import MOST_FAULTS, Clock, TextState, chain_faults, noted_faults
from layoutcheck.record.entry import Entry, Kept, digest_of
from layoutcheck.record.ledger import Ledger, Verified

_FIELDS = {f.name for f in fields(Entry)}


def export_lines(ledger: Ledger) -> Iterator[bytes]:
    """Write a record line by line. Raises RecordProblem."""
    written: set[str] = set()
    for kept in ledger.walk():
        for digest in kept.entry.texts.values():
            body = None if digest in written else ledger.text(digest)
            if body is not None:
                # A text that is not UTF-8 was changed; the digest will tell.
                yield _line({"text": body.decode(errors="replace"), "digest": digest})
            written.add(digest)
        yield _line({"entry": asdict(kept.entry), "hash": kept.hash})


def _line(data: object) -> bytes:
    return (json.dumps(data, ensure_ascii=False, default=str) + "\n").encode(errors="replace")


class ExportedRecord:
    """A record read from its file. Raises LayoutFaults where that is not one."""

    def __init__(self, data: bytes) -> None:
        """Read the lines. Nothing is verified yet."""
        self._texts: dict[str, bytes] = {}
        self.entries: list[Kept] = []
        for number, line in enumerate(data.splitlines(), 1):
            if line.strip():
                self._take(number, line)

    def walk(self) -> Iterator[Kept]:
        """Give the entries in the order in which they stand."""
        yield from self.entries

    def text(self, digest: str) -> bytes | None:
        """Give a text; None where it is not there."""
        return self._texts.get(digest)

    def verify(self, noted: Sequence[str] = ()) -> Verified:
        """Walk the entries in the order in which they stand."""
        state = TextState()
        for digest, body in self._texts.items():
            (state.sound if digest_of(body) == digest else state.changed).add(digest)
        hashes = [kept.hash for kept in self.entries]
        found = [*chain_faults(self.entries, state), *noted_faults(noted, hashes)]
        listed = tuple(found[:MOST_FAULTS])
        head = hashes[-1] if hashes else None
        clock = Clock()
        for kept in self.entries:
            clock.see(kept)
        return Verified(len(hashes), head, listed, len(found) > MOST_FAULTS, tuple(clock.remarks))

    def _take(self, number: int, line: bytes) -> None:
        data = _object(number, line)
        if set(data) == {"text", "digest"} and all(isinstance(v, str) for v in data.values()):
            if data["digest"] in self._texts:
                raise _unsound(number, "is a second text for one digest; each stands there once")
            self._texts[data["digest"]] = data["text"].encode()
        elif set(data) == {"entry", "hash"} and isinstance(data["hash"], str):
            self.entries.append(Kept(_entry(number, data["entry"]), data["hash"]))
        else:
            raise _unsound(number, "is neither a text nor an entry")


def _object(number: int, line: bytes) -> dict[str, Any]:
    try:
        data = read_text(line)
    except LayoutFaults as error:
        raise _unsound(number, f"can not be read: {error.faults[0].problem}") from None
    if not isinstance(data, dict):
        raise _unsound(number, "is not an object")
    return data


def _entry(number: int, data: object) -> Entry:
    if not isinstance(data, dict) or set(data) != _FIELDS:
        raise _unsound(number, "holds an entry without all its fields, or with others")
    numbered = isinstance(data["sequence"], int) and not isinstance(data["sequence"], bool)
    if not numbered or not all(isinstance(data[f], str) for f in ("layout", "pack", "report")):
        raise _unsound(number, "holds an entry with a field of a wrong kind")
    return Entry(**data)


def _unsound(number: int, problem: str) -> LayoutFaults:
    fault = Fault(
        pointer=f"/{number}",
        found=f"line {number}",
        problem=problem,
        example="a file as layoutcheck record export writes it",
    )
    return LayoutFaults([fault])
