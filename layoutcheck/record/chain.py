"""Whether a chain of entries is whole: what is wrong with it, and where.

A hash chain shows that an entry was changed, taken out, put in or moved, as long as what follows
was left as it was. It can not show that entries at the end were cut off, nor that everything
from some entry on was rewritten with new hashes. Only a hash noted elsewhere shows that.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from enum import StrEnum

from layoutcheck.document.faults import shown
from layoutcheck.record.entry import BEGINNING, PAPER_DIGITS, Kept, canonical, digest_of, hash_of

# How far round its place an entry's own number is looked for, to say where it stood.
_REACH = 1000
# Past so many, one more tells nobody anything.
MOST_FAULTS = 50


class FaultKind(StrEnum):
    """What is wrong with a record."""

    CHANGED = "changed"
    REMOVED = "removed"
    MOVED = "moved"
    INSERTED = "inserted"
    UNLINKED = "unlinked"
    LEFT_OVER = "left over"
    UNGUARDED = "unguarded"
    DAMAGED = "damaged"
    NOTED_HASH_MISSING = "noted hash missing"


@dataclass(frozen=True)
class ChainFault:
    """One thing that is wrong. sequence: the entry's number as it stands; None for the whole."""

    kind: FaultKind
    sequence: int | None
    says: str


@dataclass
class TextState:
    """Which texts are there: those that bear out their digest, and those that do not."""

    sound: set[str] = field(default_factory=set)
    changed: set[str] = field(default_factory=set)


def chain_faults(kept: Iterable[Kept], texts: TextState) -> Iterator[ChainFault]:
    """Walk the entries in the order of their numbers and give every fault.

    texts is compared with what the entries name; it is not altered.
    """
    last: Kept | None = None
    last_sound = True
    used: set[str] = set()
    for one in kept:
        found = list(_own_faults(one, texts))
        sound = not any(f.kind in {FaultKind.CHANGED, FaultKind.MOVED} for f in found)
        gap = _gap(last, one)
        if gap is not None:
            found.insert(0, gap)
        elif sound and last_sound and one.entry.previous != _hash(last):
            found.append(_unlinked(last, one))
        yield from found
        used.update(one.entry.texts.values())
        last, last_sound = one, sound
    # What is damaged may hold a value of any kind.
    for digest in sorted((texts.sound | texts.changed) - used, key=str):
        name = shown(str(digest)[:12])
        says = f"A text belongs to no entry (SHA-256 {name}…): its entry was taken out."
        yield ChainFault(FaultKind.LEFT_OVER, None, says)


def _hash(last: Kept | None) -> str:
    return BEGINNING if last is None else last.hash


def _gap(last: Kept | None, one: Kept) -> ChainFault | None:
    due = 1 if last is None else last.entry.sequence + 1
    number = one.entry.sequence
    if number > due:
        which = f"Entry {due} is" if number == due + 1 else f"Entries {due} to {number - 1} are"
        return ChainFault(FaultKind.REMOVED, due, f"{which} not there.")
    if number < due:
        says = f"Entry {number} stands where none belongs: it was put in."
        return ChainFault(FaultKind.INSERTED, number, says)
    return None


def _unlinked(last: Kept | None, one: Kept) -> ChainFault:
    number = one.entry.sequence
    if last is None:
        says = f"Entry {number} is not the first of its chain: entries before it were taken out."
    else:
        before = last.entry.sequence
        says = (
            f"Entry {number} does not follow entry {before} as it stands: entry {before} was "
            "changed or exchanged and given a new hash, or one between them was taken out."
        )
    return ChainFault(FaultKind.UNLINKED, number, says)


def _own_faults(one: Kept, texts: TextState) -> Iterator[ChainFault]:
    number = one.entry.sequence
    if not _bears_out(one):
        was = _recorded_as(one)
        if was is None:
            says = f"Entry {number} was changed: it does not bear out its hash."
            yield ChainFault(FaultKind.CHANGED, number, says)
        else:
            why = "others were taken out or moved" if was > number else "one was put in or moved"
            says = f"Entry {number} was recorded as entry {was}: {why}."
            yield ChainFault(FaultKind.MOVED, number, says)
    for what, digest in one.entry.texts.items():
        if digest in texts.sound:
            continue
        how = "was changed" if digest in texts.changed else "is not there"
        yield ChainFault(FaultKind.CHANGED, number, f"The {what} of entry {number} {how}.")


def _bears_out(one: Kept) -> bool:
    try:
        return hash_of(one.entry) == one.hash
    except ValueError:
        return False


def _recorded_as(one: Kept) -> int | None:
    """Find the number that an entry bore when its hash was made; None if it fits none near."""
    number = one.entry.sequence
    try:
        whole = canonical(one.entry)
    except ValueError:
        return None
    # Only the number differs. A quote inside a text is escaped, so this stands there once.
    before, _, after = whole.partition(b'"sequence":%d,' % number)
    for step in range(1, _REACH + 1):
        for other in (number + step, number - step):
            if digest_of(b'%s"sequence":%d,%s' % (before, other, after)) == one.hash:
                return other
    return None


# Clocks of several machines differ by less; an own choice.
_CLOCKS_DIFFER = timedelta(minutes=1)


class Clock:
    """Watches the times of entries: one earlier than that of the entry before is remarked on.

    It is no fault of the chain. A clock was wrong, or somebody set it to give an entry another day.
    """

    def __init__(self) -> None:
        """Nothing has been seen yet."""
        self.remarks: list[str] = []
        self._latest: datetime | None = None

    def see(self, one: Kept) -> None:
        """Take the next entry in the order of the chain."""
        try:
            at = datetime.fromisoformat(one.entry.at).astimezone(UTC)
        except (ValueError, TypeError, OverflowError):
            return
        if self._latest is not None and at < self._latest - _CLOCKS_DIFFER:
            number = one.entry.sequence
            if len(self.remarks) < MOST_FAULTS:
                self.remarks.append(
                    f"Entry {number} bears an earlier time than an entry before it: a clock was "
                    "wrong or was set back."
                )
        else:
            self._latest = at if self._latest is None else max(at, self._latest)


# A hash as it may be noted: shortened, in groups, behind the name of its kind.
NOTED = rf"^(sha256:|SHA256:)?([\s:-]*[0-9A-Fa-f]){{{PAPER_DIGITS},64}}[\s:-]*$"


class UnsoundHash(ValueError):
    """Raised where a noted hash is not one. The message is a plain line."""


def noted_hash(text: str) -> str:
    """Read a hash as it may stand on paper: at least 40 hexadecimal digits, spaces between.

    Raises UnsoundHash.
    """
    digits = re.sub(r"[\s:-]", "", text.lower().removeprefix("sha256:"))
    if not re.fullmatch(rf"[0-9a-f]{{{PAPER_DIGITS},64}}", digits):
        raise UnsoundHash(
            f"a noted hash has {PAPER_DIGITS} to 64 hexadecimal digits (0-9, a-f); "
            f"this one has {len(digits)} characters."
        )
    return digits


def noted_faults(noted: Sequence[str], hashes: Collection[str]) -> Iterator[ChainFault]:
    """Look for hashes that were noted elsewhere, in full or shortened for paper."""
    for one in noted:
        if not any(h.startswith(one) for h in hashes):
            says = (
                f"No entry bears the noted hash {one[:12]}…: entries were cut off at "
                "the end or rewritten, or it was noted from another record."
            )
            yield ChainFault(FaultKind.NOTED_HASH_MISSING, None, says)
