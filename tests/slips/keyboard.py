"""Slips of the keyboard: what a tired hand makes of one statement of a layout document.

Each slip is one wrong key, one wrong line, one statement left out or typed twice. Which slips are
likely is common practice, no published source; the classes are those of a typist: a key dropped,
doubled, exchanged with its neighbour in the text or on the board, a point misplaced, a wrong word
of a short list, a unit of the other habit, a line copied and not changed.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from enum import Enum
from typing import Any

from layoutcheck.document import models
from layoutcheck.quantities import Material
from layoutcheck.quantities.spoken import CoolantName

Document = dict[str, Any]
Path = tuple[str | int, ...]

# Fields that name another element, and the list that it stands in.
REFERENCES = {
    "from": "junctions",
    "to": "junctions",
    "junction": "junctions",
    "pipe": "pipes",
    "valve": "valves",
    "pump": "pumps",
    "room": "rooms",
    "subject": "plugs",
}
_WORDS: dict[tuple[str, str], type[Enum]] = {
    ("junctions", "fitting"): models.FittingKind,
    ("fittings", "kind"): models.FittingKind,
    ("valves", "kind"): models.ValveKind,
    ("valves", "state"): models.ValveState,
    ("valves", "tightness"): models.Tightness,
    ("outlets", "state"): models.OutletState,
    ("sources", "kind"): models.SourceKind,
    ("equipment", "kind"): models.EquipmentKind,
    ("pipes", "flow"): models.PipeFlow,
    ("pipes", "covering"): models.Covering,
    ("pipes", "material"): Material,
    ("stock", "coolant"): CoolantName,
    ("plugs", "coolant"): CoolantName,
}
# A unit, and those that a hand used to another system or another scale types in its place.
_UNITS = {
    "in": ("ft", "mm", "cm"),
    "ft": ("in", "m"),
    "m": ("mm", "ft", "cm"),
    "mm": ("m", "in", "cm"),
    "psi": ("kPa", "bar", "ft of water"),
    "bar": ("psi", "kPa"),
    "kPa": ("psi", "bar"),
    "degF": ("degC",),
    "degC": ("degF",),
    "lb": ("kg",),
    "kg": ("lb",),
    "h": ("min",),
    "min": ("h", "s"),
    "ft2": ("m2",),
    "m2": ("ft2",),
    "ft3": ("m3", "gal"),
    "m3": ("ft3", "L"),
    "gal": ("L", "ft3"),
    "L": ("gal", "m3"),
    "cfm": ("m3/s",),
    "DN": ("NPS",),
    "NPS": ("DN",),
}
_UNIT = re.compile(
    r"(?<![A-Za-z])(" + "|".join(sorted(_UNITS, key=len, reverse=True)) + r")(?![A-Za-z0-9/])"
)
_QUANTITY = re.compile(r"^(?:-?[\d.]|DN|NPS)")
# Free words: no rule reads them but for being there.
_FREE = {
    "name",
    "note",
    "reason",
    "by",
    "format",
    "low_temperature_accepted_by",
    "if_a_plug_goes",
    "ref",
    "rule",
}


@dataclass(frozen=True)
class Slip:
    """One slip: its class, the field it befell, where, and what was typed.

    value: the value there afterwards; DROP to leave it out; ADD to put an element behind a list.
    """

    kind: str
    field: str
    path: Path
    value: Any
    how: str = "set"

    def done_to(self, document: Document) -> Document:
        """Give the document with the slip in it; what it does not touch is shared."""
        return _changed(document, self.path, self)


def _changed(here: Any, path: Path, slip: Slip) -> Any:
    made = copy.copy(here)
    if len(path) > 1:
        made[path[0]] = _changed(here[path[0]], path[1:], slip)
    elif slip.how == "drop":
        del made[path[0]]
    elif slip.how == "add":
        made[path[0]] = [*here[path[0]], slip.value]
    else:
        made[path[0]] = slip.value
    return made


def slips_of(document: Document) -> Iterator[Slip]:
    """Give every likely slip of every statement, each once."""
    for path, value in _statements(document, ()):
        seen = {repr(value)}
        for slip in _of_statement(document, path, value):
            key = f"{slip.how}{slip.value!r}{slip.path}"
            if key not in seen and (slip.how != "set" or repr(slip.value) not in seen):
                seen.add(key)
                yield slip
    yield from _of_elements(document)


def _statements(here: Any, path: Path) -> Iterator[tuple[Path, Any]]:
    if isinstance(here, dict):
        for key, value in here.items():
            yield from _statements(value, (*path, key))
    elif isinstance(here, list):
        for index, value in enumerate(here):
            yield from _statements(value, (*path, index))
    elif path:
        yield path, here


def field_of(path: Path) -> str:
    """Name a field by where it stands: 'pipes.length', 'site.rooms.height'."""
    return ".".join(p for p in path if isinstance(p, str))


def _list_and_field(path: Path) -> tuple[str, str]:
    names = [p for p in path if isinstance(p, str)]
    return (names[-2] if len(names) > 1 else "", names[-1])


def _of_statement(document: Document, path: Path, value: Any) -> Iterator[Slip]:
    field = field_of(path)
    home, name = _list_and_field(path)
    if name in {"format", "note"} or path == ("name",) or isinstance(value, date):
        return

    def slip(kind: str, now: Any) -> Slip:
        return Slip(kind, field, path, now)

    if isinstance(path[-1], str):
        yield Slip("statement left out", field, path, None, "drop")
    yield from (slip("another's statement", v) for v in _of_others(document, path))
    if isinstance(value, bool):
        yield slip("word swapped", not value)
    elif isinstance(value, int | float):
        yield from (slip(kind, v) for kind, v in _numbers(value))
    elif name in REFERENCES:
        yield from (slip("another's id", i) for i in _near_ids(document, name, value))
        yield from (slip("key", v) for _, v in _keys(value))
    elif name == "id":
        yield from (slip("key", v) for _, v in _keys(value))
    elif words := _words(home, name, path):
        yield from (slip("word swapped", w.value) for w in words if w.value != value)
    elif name not in _FREE and _QUANTITY.match(value):
        yield from (slip("unit", v) for v in _other_units(value))
        yield from (slip(kind, v) for kind, v in _digits(value))


def _words(home: str, name: str, path: Path) -> tuple[Enum, ...]:
    if name in {"freezing", "working"}:  # how a valve or an outlet stands at one moment
        home, name = str(path[0]), "state"
    kind = _WORDS.get((home, name))
    return tuple(kind) if kind else ()


def _of_others(document: Document, path: Path) -> Iterator[Any]:
    """What the two neighbours of an element in its list state in the same field."""
    spots = [(i, p) for i, p in enumerate(path) if isinstance(p, int)]
    if not spots or path[-1] == "id":
        return
    spot, number = spots[0]
    here: Any = document
    for step in path[:spot]:
        here = here[step]
    for beside in (number - 1, number + 1):
        if 0 <= beside < len(here):
            value: Any = here[beside]
            for step in path[spot + 1 :]:
                value = _step(value, step)
            if value is not None:
                yield value


def _step(value: Any, step: str | int) -> Any:
    if isinstance(value, dict) and isinstance(step, str):
        return value.get(step)
    if isinstance(value, list) and isinstance(step, int) and step < len(value):
        return value[step]
    return None


def _near_ids(document: Document, name: str, value: str) -> Iterator[str]:
    """The ids of the same list that look most like the one meant, and one that does not."""
    where = REFERENCES[name]
    holder = document.get("site", {}) if where == "rooms" else document
    ids = sorted(e["id"] for e in holder.get(where, []) if e["id"] != value)
    ids.sort(key=lambda i: (_distance(i, value), i))
    yield from ids[:4]
    if len(ids) > 8:
        yield ids[len(ids) * 2 // 3]


def _distance(a: str, b: str) -> int:
    """Keys to press to make one text of another (Levenshtein)."""
    row = list(range(len(b) + 1))
    for i, x in enumerate(a, 1):
        before, row[0] = row[0], i
        for j, y in enumerate(b, 1):
            before, row[j] = row[j], min(row[j] + 1, row[j - 1] + 1, before + (x != y))
    return row[-1]


def _keys(text: str) -> Iterator[tuple[str, str]]:
    """Drop, double and transpose keys at the end of an id, where ids differ."""
    last = len(text) - 1
    for at in range(max(0, last - 1), last + 1):
        yield "dropped", text[:at] + text[at + 1 :]
        yield "doubled", text[: at + 1] + text[at:]
        if at < last and text[at] != text[at + 1]:
            yield "transposed", text[:at] + text[at + 1] + text[at] + text[at + 2 :]


def _other_units(text: str) -> Iterator[str]:
    for found in _UNIT.finditer(text):
        for unit in _UNITS[found[0]]:
            yield text[: found.start()] + unit + text[found.end() :]


# The keys beside each digit on the board's row of digits.
_BESIDE = {
    d: "1234567890"[max(0, i - 1) : i] + "1234567890"[i + 1 : i + 2]
    for i, d in enumerate("1234567890")
}


def _digits(text: str) -> Iterator[tuple[str, str]]:
    spots = [i for i, c in enumerate(text) if c.isdigit() and not _in_unit(text, i)]
    for i in spots:
        if len(spots) > 1:
            yield "digit dropped", text[:i] + text[i + 1 :]
        yield "digit doubled", text[: i + 1] + text[i:]
        for key in _BESIDE[text[i]]:
            yield "digit beside", text[:i] + key + text[i + 1 :]
        if i + 1 in spots and text[i] != text[i + 1]:
            yield "digits transposed", text[:i] + text[i + 1] + text[i] + text[i + 2 :]
    for found in re.finditer(r"\d+(?:\.\d+)?", text):
        if not _in_unit(text, found.start()):
            for number in _points(found[0]):
                yield "point moved", text[: found.start()] + number + text[found.end() :]
    if "-" in text[:1]:
        yield "sign dropped", text[1:]
    elif text[:1].isdigit():
        yield "sign put in", "-" + text


def _in_unit(text: str, at: int) -> bool:
    return at > 0 and text[at - 1].isalpha()


def _points(number: str) -> Iterator[str]:
    whole, _, part = number.partition(".")
    if part:
        yield whole + part
        yield (whole[:-1] or "0") + "." + whole[-1:] + part
        yield whole + part[0] + "." + (part[1:] or "0")
    else:
        yield (whole[:-1] or "0") + "." + whole[-1]
        yield whole + "0"


def _numbers(value: Any) -> Iterator[tuple[str, Any]]:
    for kind, made in _digits(f"{value:g}"):
        try:
            number: Any = float(made)
        except ValueError:
            continue
        if number != value:
            yield kind, int(made) if isinstance(value, int) and "." not in made else number


def _of_elements(document: Document) -> Iterator[Slip]:
    """Leave out an element, type it twice, or copy it and change only its id."""
    for path, entries in _lists(document, ()):
        for index, element in enumerate(entries):
            yield Slip("element left out", field_of(path), (*path, index), None, "drop")
            if isinstance(element, dict):
                yield Slip("element twice", field_of(path), path, element, "add")
                if "id" in element:
                    again = {**element, "id": element["id"] + "-2"}
                    yield Slip("element copied", field_of(path), path, again, "add")


def _lists(here: Any, path: Path) -> Iterator[tuple[Path, list[Any]]]:
    if isinstance(here, dict):
        for key, value in here.items():
            yield from _lists(value, (*path, key))
    elif isinstance(here, list) and here and isinstance(here[0], dict):
        yield path, here
        for index, value in enumerate(here):
            if isinstance(value, dict):
                yield from _lists(value, (*path, index))
