"""A layout document in the making: elements, where each value came from, and what was assumed."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path
from typing import Any

from layoutcheck.document.faults import Fault, LayoutFaults, shown
from layoutcheck.document.models import ELEMENT_LISTS, FORMAT
from layoutcheck.quantities.names import NO_NAMES, Names
from layoutcheck.seen import looks, without_unseen

Document = dict[str, Any]

# Told every so many elements: (what is being done, how many are done, how many there are).
Progress = Callable[[str, int, int], None]

# Lengths are written to the micrometre: far below a tape's reading, far above the noise of units.
_DIGITS = 6

_UNKNOWN = "unknown"
_LONGEST_ID = 80
_LONGEST_TEXT = 500


class NoteKind(StrEnum):
    """What a note of an import tells."""

    ASSUMED = "assumption"
    GAP = "gap"
    LEFT_OUT = "left out"


@dataclass(frozen=True)
class Note:
    """Something that was assumed, is missing or was left out, with the elements it concerns."""

    kind: NoteKind
    says: str
    elements: tuple[str, ...]


@dataclass(frozen=True)
class Origin:
    """Where the values of one field came from, with the elements they belong to."""

    field: str
    origin: str
    elements: tuple[str, ...]


@dataclass(frozen=True)
class Source:
    """What was read. kind: 'IFC', 'DXF', 'network file', 'sheets'. detail: schema, units."""

    name: str
    kind: str
    detail: str


@dataclass(frozen=True)
class Imported:
    """A raw layout document that parse_layout accepts, and all that is to be said of it.

    read: how many elements of each class the file has; taken: how many of them were read.
    """

    document: Document
    source: Source
    read: dict[str, int]
    taken: dict[str, int]
    notes: tuple[Note, ...]
    origins: tuple[Origin, ...]


def metres(value: float) -> str:
    """Write a length or a height (m) as the document holds it."""
    return f"{rounded(value)!r} m"


def rounded(value: float) -> float:
    """Round a length (m) to what is written, and never to minus zero."""
    return round(value, _DIGITS) + 0.0


def plain(text: object, limit: int = _LONGEST_TEXT) -> str:
    """Make a text of somebody else's file fit for the document: one line, nothing unseen."""
    given = text if isinstance(text, str) else str(text or "")
    if given.isascii() and given.isprintable():  # most names, and there are many
        return " ".join(given[: 4 * limit].split())[:limit].rstrip()
    return " ".join(without_unseen(given[: 4 * limit]).split())[:limit].rstrip()


def one_fault(*, found: str, problem: str, example: str, pointer: str = "") -> LayoutFaults:
    """Make the one clear error of a file that can not be used."""
    fault = Fault(pointer=pointer, found=shown(found), problem=problem, example=example)
    return LayoutFaults([fault])


def reason_of(error: Exception, path: Path) -> str:
    """Give a reader's own words for what went wrong, without the path it was given."""
    words = str(error) or type(error).__name__
    return shown(plain(words.replace(str(path), path.name)), 160)


def no_progress(what: str, done: int, total: int) -> None:
    """Tell nobody."""


@dataclass
class Draft:
    """Collects elements under ids that are unique in their list.

    names: a user's own names of materials, sizes and walls.
    """

    name: str
    units: str = "metric"
    note: str = ""
    names: Names = NO_NAMES
    drawing: Document = field(default_factory=dict)
    site: Document = field(default_factory=dict)
    lists: dict[str, list[Document]] = field(default_factory=lambda: {k: [] for k in ELEMENT_LISTS})
    read: Counter[str] = field(default_factory=Counter)
    taken: Counter[str] = field(default_factory=Counter)
    _ids: dict[str, set[str]] = field(default_factory=lambda: defaultdict(set))
    _next: Counter[tuple[str, str]] = field(default_factory=Counter)
    _notes: dict[tuple[NoteKind, str], dict[str, None]] = field(
        default_factory=lambda: defaultdict(dict)
    )
    _origins: dict[tuple[str, str], list[str]] = field(default_factory=lambda: defaultdict(list))

    def free_id(self, where: str, wanted: object) -> str:
        """Give an id that no element of a list has yet, as near to the wanted one as can be."""
        base = plain(wanted, _LONGEST_ID) or where.rstrip("s")
        own, taken = base, self._ids[where]
        while looks(own) in taken:
            self._next[where, base] += 1
            own = f"{base} #{self._next[where, base] + 1}"
        taken.add(looks(own))
        return own

    def add(self, where: str, wanted: object, /, **fields: object) -> str:
        """Put an element into a list and give its id; fields that are None are left out."""
        own = self.free_id(where, wanted)
        element: Document = {"id": own}
        element.update({k.rstrip("_"): v for k, v in fields.items() if v is not None})
        if element.get("material") == _UNKNOWN:  # not stated, so that the site's own may hold
            del element["material"]
        self.lists[where].append(element)
        return own

    def fill(self, where: str, own: str, /, **fields: object) -> None:
        """Put more fields on the element of a list that was put in last under an id."""
        element = next(e for e in reversed(self.lists[where]) if e["id"] == own)
        element.update({k.rstrip("_"): v for k, v in fields.items() if v is not None})

    def say(self, kind: NoteKind, says: str, *elements: str) -> None:
        """Note something that concerns some elements; the same words are told once for all."""
        self._notes[kind, says].update(dict.fromkeys(elements))

    def assume(self, says: str, *elements: str) -> None:
        """Note an assumption."""
        self.say(NoteKind.ASSUMED, says, *elements)

    def gap(self, says: str, *elements: str) -> None:
        """Note a gap."""
        self.say(NoteKind.GAP, says, *elements)

    def leave_out(self, says: str, *elements: str) -> None:
        """Note what was not read."""
        self.say(NoteKind.LEFT_OUT, says, *elements)

    def origin(self, of: str, came_from: str, element: str) -> None:
        """Note where the value of a field came from."""
        self._origins[of, came_from].append(element)

    def document(self) -> Document:
        """Give the document."""
        head: Document = {"format": FORMAT, "name": plain(self.name) or "imported", "note": ""}
        head |= {"note": plain(self.note), "units": self.units}
        if self.drawing:
            head["drawing"] = self.drawing
        head |= {k: v for k, v in self.lists.items() if v or k in {"junctions", "pipes"}}
        if self.site:
            head["site"] = self.site
        return head

    def finished(self, source: Source) -> Imported:
        """Close the draft."""
        return Imported(
            document=self.document(),
            source=source,
            read=dict(sorted(self.read.items())),
            taken=dict(sorted(self.taken.items())),
            notes=tuple(Note(k, says, tuple(of)) for (k, says), of in self._notes.items()),
            origins=tuple(
                Origin(of, came, tuple(ids)) for (of, came), ids in self._origins.items()
            ),
        )
