"""Freezes that a second phone follows: kept in memory, for some hours, never judged.

Nothing here is the record of a job: that is on the phone that writes. Whoever knows a watch's id
can read it; only who knows its secret can add to it, and nobody can change or remove what is there.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True)
class WatchLimits:
    """How many watches are kept, how many bytes each may take, and for how long (s)."""

    watches: int
    bytes_each: int
    seconds: float


class WatchRefused(Exception):
    """Raised where something can not be added."""


class WrongSecret(WatchRefused):
    """The watch is another's."""


class NoRoom(WatchRefused):
    """There are as many watches as are kept; older ones go with time."""


class TooMuch(WatchRefused):
    """The watch would take more bytes than one may."""


@dataclass
class Kept:
    """One watch. sent: the writer's own clock when it last wrote, ms; heard: ours then, s."""

    secret: bytes
    sent: float
    heard: float
    plan: Mapping[str, Any] | None = None
    entries: dict[str, Mapping[str, Any]] = field(default_factory=dict)
    size: int = 0


class Watches:
    """The watches that are kept. Not for use by several threads at once."""

    def __init__(self, limits: WatchLimits, clock: Callable[[], float] = time.monotonic) -> None:
        """clock: seconds that only go on."""
        self._limits = limits
        self._clock = clock
        self._kept: dict[str, Kept] = {}

    def add(self, name: str, posted: Mapping[str, Any]) -> Kept:
        """Add entries to a watch, and begin it where it is new; an entry that is there stays as is.

        posted: secret, now (ms), entries with an id each, and the plan or None. Raises
        WatchRefused; then nothing was added.
        """
        self._forget_old()
        found, secret = self._kept.get(name), _digest(str(posted["secret"]))
        if found is not None and not hmac.compare_digest(found.secret, secret):
            raise WrongSecret
        if found is None and len(self._kept) >= self._limits.watches:
            raise NoRoom
        now = self._clock()
        kept = found or Kept(secret, float(posted["now"]), now)
        new = {e["id"]: e for e in posted["entries"] if e["id"] not in kept.entries}
        plan = posted["plan"] if kept.plan is None else None
        size = sum(map(_size, new.values())) + (0 if plan is None else _size(plan))
        if kept.size + size > self._limits.bytes_each:
            raise TooMuch
        kept.entries |= new
        kept.plan = kept.plan or plan
        kept.size += size
        kept.sent, kept.heard = float(posted["now"]), now
        self._kept[name] = kept
        return kept

    def get(self, name: str) -> tuple[Kept, float] | None:
        """Give a watch, and how long ago its writer was heard (s); None where there is none."""
        self._forget_old()
        kept = self._kept.get(name)
        return None if kept is None else (kept, self._clock() - kept.heard)

    def _forget_old(self) -> None:
        oldest = self._clock() - self._limits.seconds
        self._kept = {n: k for n, k in self._kept.items() if k.heard >= oldest}


def _digest(secret: str) -> bytes:
    return hashlib.sha256(secret.encode()).digest()


def _size(data: Mapping[str, Any]) -> int:
    return len(json.dumps(data, ensure_ascii=False).encode())
