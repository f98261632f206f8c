"""The words of the short form, taken from the document's own models.

One text says of one element what a person would say: 'R2 at 4 ft, gate, closed, proven'. Between
commas stands a place, a word that only one field of that element can hold ('closed'), a field by
its name with a value ('body 6 in'), or a value whose unit tells which field is meant ('60 psi').
"""

from __future__ import annotations

import difflib
import types
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cache
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel

from layoutcheck.document import models
from layoutcheck.quantities import (
    Material,
    QuantityError,
    parse_air_change_rate,
    parse_area,
    parse_elevation,
    parse_flow,
    parse_head,
    parse_length,
    parse_material,
    parse_pressure,
    parse_volume,
)
from layoutcheck.quantities.spoken import Spoken

# At one of the two moments only: 'open while working'.
WHILE = " while "


@dataclass(frozen=True)
class Kind:
    """What may be said of one kind of element.

    model: its model. example: a whole text. placed: whether the text begins with a place. bare: the
    fields that a bare quantity may be meant for, tried in order, each with its reader. amount: a
    right bare quantity. synonyms: words of the trade, each with its field and value.
    """

    model: type[BaseModel]
    example: str
    placed: bool = False
    bare: Mapping[str, Callable[[object], object]] = field(default_factory=dict)
    amount: str = ""
    synonyms: Mapping[str, tuple[str, Any]] = field(default_factory=dict)


# Words that say nothing without the field's name: 'flow none'.
_SAY_WHICH = {"none", "other", "unknown"}
# Fields that are spelt in another way as well.
_SPELT = {"shut-off head": "shutoff_head", "head": "shutoff_head"}
_OF_A_ROOM: dict[str, Callable[[object], object]] = {
    "floor_area": parse_area,
    "volume": parse_volume,
    "air_changes": parse_air_change_rate,
    "ventilation": parse_flow,
    "height": parse_length,
}

KINDS: dict[str, Kind] = {
    "junctions": Kind(
        models.Junction, "12 ft, tee", bare={"elevation": parse_elevation}, amount="12 ft"
    ),
    "pipes": Kind(
        models.Pipe,
        "A to B, 2 in, 20 ft, carbon steel, sch 40",
        bare={"length": parse_length, "material": parse_material},
        amount="20 ft",
    ),
    "fittings": Kind(models.Fitting, "R2 at 4 ft, elbow", placed=True),
    "valves": Kind(models.Valve, "R2 at 4 ft, gate, closed, proven", placed=True),
    "pumps": Kind(
        models.Pump,
        "R2 at 4 ft, locked off",
        placed=True,
        bare={"shutoff_head": parse_head},
        amount="40 ft",
    ),
    "equipment": Kind(models.Equipment, "R2 at 4 ft, heater", placed=True),
    "sources": Kind(
        models.Source, "A, 60 psi", placed=True, bare={"pressure": parse_pressure}, amount="60 psi"
    ),
    "outlets": Kind(models.Outlet, "B, locked off", placed=True),
    "plugs": Kind(models.Plug, "R2 at 8 ft, jacket 12 in", placed=True),
    "rooms": Kind(
        models.Room,
        "40 ft x 25 ft x 15 ft, 6 per hour",
        bare=_OF_A_ROOM,
        synonyms={"above ground": ("below_ground", False)},
    ),
    "stock": Kind(
        models.Stock,
        "8 x 50 lb carbon dioxide, 68 degF, dip tube, high pressure, upright",
        amount="68 degF",
    ),
}


@cache
def words_of(name: str) -> dict[str, tuple[str, Any]]:
    """Give the words that only one field of an element can hold, each with its field and value."""
    kind = KINDS[name]
    found: dict[str, tuple[str, Any]] = dict(kind.synonyms)
    for name_of, about in kind.model.model_fields.items():
        holds = list(_held(about.annotation))
        for held in holds:
            if isinstance(held, type) and issubclass(held, StrEnum):
                told = {word.value: (name_of, word.value) for word in held}
                if issubclass(held, Spoken):
                    told |= {word: (name_of, value) for word, value in held.also().items()}
                found.update({w: said for w, said in told.items() if w not in _SAY_WHICH})
        if bool in holds:
            found.setdefault(name_of.replace("_", " "), (name_of, True))
    return found


@cache
def named_fields(name: str) -> dict[str, str]:
    """Give the fields that are told by name before their value: 'jacket 12 in'."""
    fields = KINDS[name].model.model_fields
    skipped = {"id", "ref", "at", "via", "point", "from_", "to", "junction", "pipe", "station"}
    named = {f.replace("_", " "): f for f in fields if f not in skipped}
    return named | {said: f for said, f in _SPELT.items() if f in fields}


@cache
def with_moments(name: str, one: str) -> bool:
    """Tell whether a field may be said of one moment only."""
    held = _held(KINDS[name].model.model_fields[one].annotation)
    return any(isinstance(h, type) and issubclass(h, BaseModel) for h in held)


def nearest_word(name: str, word: str) -> str | None:
    """Give what was most likely meant by a word that says nothing; None if nothing is like it."""
    if word[:1].isdigit():
        return KINDS[name].amount or None
    known = [*words_of(name), *named_fields(name)]
    if "material" in KINDS[name].bare:
        known += [m.value for m in Material]
    near = difflib.get_close_matches(word.lower(), known, n=1, cutoff=0.6)
    return near[0] if near and near[0] not in named_fields(name) else None


def _held(annotation: Any) -> Any:  # noqa: ANN401 - types are values here
    origin = get_origin(annotation)
    if origin in {Union, types.UnionType}:
        for part in get_args(annotation):
            yield from _held(part)
    elif origin is Annotated:
        yield from _held(get_args(annotation)[0])
    else:
        yield annotation


def meant(name: str, word: str) -> tuple[str, Any] | None:
    """Find what a word between commas says of an element: its field and value; None if unknown."""
    low = " ".join(word.lower().split())
    if low in words_of(name):
        return words_of(name)[low]
    by_name = [label for label in named_fields(name) if low.startswith(f"{label} ")]
    if by_name:
        label = max(by_name, key=len)
        return named_fields(name)[label], " ".join(word.split())[len(label) + 1 :].strip()
    for one, read in KINDS[name].bare.items():
        try:
            read(word)
        except QuantityError:
            continue
        return one, word
    return None
