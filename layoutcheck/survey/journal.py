"""The journal: every finished item, written down and flushed to the disk before it counts.

A text file beside the result, one line for each entry, only ever added to. Each line begins with
its own CRC-32, so a line that a kill cut short is known and dropped; what it held is asked again.
Only one survey at a time may write to a journal.
"""

from __future__ import annotations

import json
import os
import sys
import zlib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any, BinaryIO

if sys.platform != "win32":
    import fcntl


class Busy(Exception):
    """Raised when another survey writes to the same journal."""


@dataclass(frozen=True)
class Entry:
    """One thing to write down: its key, and what it holds as JSON data."""

    key: str
    holds: dict[str, Any]


class Journal:
    """The entries of a file by their keys. In memory is where they stand, not what they hold."""

    def __init__(self, path: Path) -> None:
        """Open or begin a journal. Raises Busy, or OSError where it can not be written."""
        self.path = path
        self.dropped = 0
        self._at: dict[str, tuple[int, int]] = {}
        new = not path.exists()
        self._file: BinaryIO = path.open("a+b")
        try:
            _lock(self._file)
            self._load()
        except BaseException:
            self._file.close()
            raise
        if new:
            flush_folder(path.parent)

    def __enter__(self) -> Journal:
        """Give the journal."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close the file, and with it the lock."""
        self._file.close()

    def __contains__(self, key: str) -> bool:
        """Tell whether a key is written down."""
        return key in self._at

    def __len__(self) -> int:
        """Give the number of keys."""
        return len(self._at)

    def add(self, entries: Iterable[Entry]) -> None:
        """Write entries down; when this comes back they are on the disk. A known key is left."""
        new = [e for e in entries if e.key not in self._at]
        lines = [_line(e) for e in new]
        if not lines:
            return
        start = self._file.seek(0, os.SEEK_END)
        self._file.write(b"".join(lines))
        self._file.flush()
        os.fsync(self._file.fileno())
        for entry, line in zip(new, lines, strict=True):
            self._at[entry.key] = (start, len(line))
            start += len(line)

    def read(self, key: str) -> dict[str, Any]:
        """Give what an entry holds."""
        start, length = self._at[key]
        self._file.seek(start)
        entry = _entry(self._file.read(length))
        assert entry is not None, "what was sound when it was read stays sound"
        return entry.holds

    def _load(self) -> None:
        """Find every sound line. A last line without its end is cut off."""
        self._file.seek(0)
        start = 0
        for line in self._file:
            if not line.endswith(b"\n"):
                self._file.truncate(start)
                self.dropped += 1
                break
            entry = _entry(line)
            if entry is None:
                self.dropped += 1
            else:
                self._at[entry.key] = (start, len(line))
            start += len(line)


def flush_folder(folder: Path) -> None:
    """Flush a folder's own entry, so that a new file's name survives a power cut."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:  # a system on which a folder can not be opened
        return
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _lock(stream: BinaryIO) -> None:
    if sys.platform == "win32":
        return  # no such lock there; nothing guards against two surveys
    try:
        fcntl.flock(stream, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        raise Busy("another survey is writing to the same result") from None


def _line(entry: Entry) -> bytes:
    text = json.dumps({"key": entry.key, **entry.holds}, separators=(",", ":")).encode()
    return b"%08x %s\n" % (zlib.crc32(text), text)


def _entry(line: bytes) -> Entry | None:
    """Read a line; None where it is not sound."""
    check, _, text = line.rstrip(b"\n").partition(b" ")
    if check != b"%08x" % zlib.crc32(text):
        return None
    holds = json.loads(text)
    return Entry(holds.pop("key"), holds)
