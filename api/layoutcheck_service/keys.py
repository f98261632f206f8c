"""API keys: how they are made, kept and recognised.

A key holds 256 bits from the system's random source, so there is no dictionary to try it with and a
plain SHA-256 keeps it safely at rest. A slow hash, which a password needs, would only let strangers
make the service spend time. The file of keys holds digests alone: whoever reads it can not ask.
"""

from __future__ import annotations

import base64
import contextlib
import hashlib
import hmac
import os
import re
import secrets
import stat
import tempfile
import time
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, ValidationError

FORMAT: Literal["layoutcheck keys 1"] = "layoutcheck keys 1"
_KEY = re.compile(r"lck_([a-z2-7]{8})_[A-Za-z0-9_-]{43}")
# What an unknown key is held against, so that it costs the same time as a known one.
_NOTHING = hashlib.sha256(b"no key").hexdigest()
# How often the file is looked at for a change (s): so soon a revoked key is refused.
_LOOK_EVERY = 1.0


class Scope(StrEnum):
    """What a key may be good for."""

    CHECK = "check"
    PLAN = "plan"
    IMPORT = "import"
    RECORDS_READ = "records-read"
    RECORDS_WRITE = "records-write"
    METRICS = "metrics"


class KeysFault(Exception):
    """Raised when the file of keys can not be used. The message is one plain line."""


class Entry(BaseModel):
    """One key as the file keeps it: all but the key."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    id: Annotated[str, Field(pattern=r"^[a-z2-7]{8}$")]
    owner: Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9 ._@-]{0,79}$")]
    scopes: tuple[Scope, ...]
    sha256: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
    made: AwareDatetime
    expires: AwareDatetime


class KeyFile(BaseModel):
    """The file of keys. An owner may have several, so that a new one comes before the old goes."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    format: Literal["layoutcheck keys 1"]
    keys: tuple[Entry, ...]


def make_key(
    owner: str, scopes: Sequence[Scope], *, days: float, now: datetime | None = None
) -> tuple[str, Entry]:
    """Make a key. days: how long it is good. Gives the key, which is kept nowhere, and its entry.

    Raises KeysFault for an unsound owner.
    """
    made = (now or datetime.now(UTC)).replace(microsecond=0)
    name = base64.b32encode(secrets.token_bytes(5)).decode().lower()
    key = f"lck_{name}_{secrets.token_urlsafe(32)}"
    try:
        entry = Entry(
            id=name,
            owner=owner,
            scopes=tuple(sorted(set(scopes))),
            sha256=_digest(key),
            made=made,
            expires=made + timedelta(days=days),
        )
    except ValidationError:
        raise KeysFault("an owner is named by up to 80 of A-Z a-z 0-9 . _ @ - and spaces") from None
    return key, entry


def _digest(key: str) -> str:
    return hashlib.sha256(key.encode()).hexdigest()


class KeyRing:
    """The keys of a file, read again when the file changes."""

    def __init__(self, path: Path) -> None:
        """Read the file. Raises KeysFault."""
        self._path = path
        self._looked = -_LOOK_EVERY
        self._seen: tuple[int, int, int] | None = None
        self._entries: dict[str, Entry] = {}
        self.refresh()

    def entry_of(self, key: str) -> Entry | None:
        """Give the entry of a key; None for one that is unknown, revoked or out of date.

        Raises KeysFault where the file can not be used: then nobody gets in.
        """
        self.refresh()
        sound = _KEY.fullmatch(key)
        entry = self._entries.get(sound[1]) if sound else None
        # The id in a key is no secret. The digests are compared in constant time.
        same = hmac.compare_digest(_digest(key), entry.sha256 if entry else _NOTHING)
        if entry is None or not same or entry.expires <= datetime.now(UTC):
            return None
        return entry

    def refresh(self) -> None:
        """Read the file again if it has changed. Raises KeysFault."""
        now = time.monotonic()
        if now - self._looked < _LOOK_EVERY:
            return
        try:
            found = self._path.stat()
            seen = (found.st_mtime_ns, found.st_size, found.st_ino)
            if seen != self._seen:
                self._entries = {e.id: e for e in read_keys(self._path).keys}
                self._seen = seen
        except OSError as error:
            raise KeysFault(f"the file of keys can not be read: {error.strerror}.") from None
        self._looked = now


def read_keys(path: Path) -> KeyFile:
    """Read a file of keys. Raises KeysFault where it is unsound, or where others may write it."""
    try:
        if os.name == "posix" and path.stat().st_mode & (stat.S_IWGRP | stat.S_IWOTH):
            raise KeysFault("the file of keys can be written by others; take that right away.")
        found = KeyFile.model_validate_json(path.read_bytes())
    except OSError as error:
        raise KeysFault(f"the file of keys can not be read: {error.strerror}.") from None
    except ValidationError:
        raise KeysFault("the file of keys is not one that `layoutcheck keys` wrote.") from None
    if len({e.id for e in found.keys}) != len(found.keys):
        raise KeysFault("the file of keys holds one id twice.")
    return found


@contextlib.contextmanager
def changed_keys(path: Path) -> Iterator[list[Entry]]:
    """Give the entries of a file to change; it is written in one step, so it is never half there.

    One change waits for another, so that a revoked key does not come back. Raises KeysFault.
    """
    try:
        with path.with_name(path.name + ".lock").open("w") as lock:
            _hold(lock.fileno())
            entries = list(read_keys(path).keys) if path.exists() else []
            yield entries
            _write(path, KeyFile(format=FORMAT, keys=tuple(entries)))
    except OSError as error:
        raise KeysFault(f"the file of keys can not be written: {error.strerror}.") from None


def _hold(descriptor: int) -> None:
    with contextlib.suppress(ImportError):  # where there is none, one administrator at a time
        import fcntl  # noqa: PLC0415

        fcntl.flock(descriptor, fcntl.LOCK_EX)


def _write(path: Path, keys: KeyFile) -> None:
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=path.name)  # only its owner reads it
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as opened:
            opened.write(keys.model_dump_json(indent=2) + "\n")
            opened.flush()
            os.fsync(opened.fileno())
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
