"""One text for one element: read, with a note for each field of which part says so."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from layoutcheck.document.faults import Fault, shown
from layoutcheck.document.odd_units import system_of
from layoutcheck.document.short.model import LongForm, Origin, example_of, fault_at
from layoutcheck.document.short.words import (
    KINDS,
    WHILE,
    meant,
    nearest_word,
    with_moments,
    words_of,
)
from layoutcheck.quantities import QuantityError, UnitSystem, parse_length, parse_volume

# The key of an element that is written as fields, with its text beside them.
RUN = "run"
# States nothing: what stands there is not known.
NOT_KNOWN = ("", "?")
# The field for what looks odd and is meant, said as often as there is something: 'meant length'.
MEANT = "meant"
_WALL = re.compile(
    r"(sch(edule)?\.? *\w+|type [klm]|std|xs|xxs|sdr *[\d.]+|pn *\d+|(medium|heavy)( series)?)",
    re.I,
)
_STOCK = re.compile(
    r"(\d+) *(?:x|of|(?:cylinders?|dewars?) of) *([\d.]+ *[a-z]+) +(?:of +)?([a-z][a-z0-9 ]*)", re.I
)
_SQUARE_FOOT = 0.3048**2
_STORED_AT = re.compile(r"(?:stored )?(?:at )?(-?[\d.]+ *(?:deg)? *[CFK])", re.I)


def element(
    made: LongForm, name: str, item: tuple[str, object], places: tuple[str, str]
) -> dict[str, Any]:
    """Write one element out. places: where it was typed, and where it comes to stand."""
    key, value = item
    typed, written = places
    if value is None:
        value = {}
    if isinstance(value, str):
        made.origins[written] = Origin(typed, value, example=example_of(name))
        return {"id": key, **said_by(made, name, value, (typed, written))}
    made.origins[written] = Origin(typed)
    if not isinstance(value, Mapping):
        made.faults.append(
            fault_at(typed, value, "must be a text, or an object with named fields", name)
        )
        return {"id": key}
    fields = dict(value)
    if isinstance(fields.get(RUN), str):
        text = fields.pop(RUN)
        run = f"{typed}/{RUN}"
        said = said_by(made, name, text, (run, written))
        fields = {**said, **fields}
    return {"id": key, **fields}


def said_by(made: LongForm, name: str, text: str, places: tuple[str, str]) -> dict[str, Any]:
    """Read one text; note for each field which part of it says so."""
    typed, written = places
    parts = [part.strip() for part in text.split(",")]
    found: dict[str, Any] = {}
    if name == "pipes":
        rest = _pipe_ends(made, parts, (text, typed), found)
    elif KINDS[name].placed:
        rest = _place(parts, found)
    elif name == "stock":
        rest = _stock(made, parts, (text, typed), found)
    elif name == "rooms":
        rest = [part for part in parts if not _room_sides(part, found)]
    else:
        rest = parts
    told = dict(found)
    said = [part for part in rest if part not in NOT_KNOWN]
    unknown = [part for part in said if not _add(made, name, part, (text, typed), told)]
    if unknown:
        made.faults.append(_not_understood(name, unknown, (text, typed)))
    for one, value in told.items():
        part = value if isinstance(value, str) else None
        made.origins[f"{written}/{one}"] = Origin(typed, text, part, example_of(name))
    if name == "sources":
        told.setdefault("kind", "main")
    return told


def _pipe_ends(
    made: LongForm, parts: list[str], typed: tuple[str, str], found: dict[str, Any]
) -> list[str]:
    start, to, stop = parts[0].partition(" to ")
    if not to:
        made.faults.append(
            fault_at(typed[1], typed[0], "does not begin with the two ends of the pipe", "pipes")
        )
        return []
    found["from"], found["to"] = start.strip(), stop.strip()
    if len(parts) > 1 and parts[1] not in NOT_KNOWN:
        found["size"] = parts[1]
    rest = []
    for part in parts[2:]:
        if _WALL.fullmatch(part):
            found["wall"] = f"{part} series" if part in {"medium", "heavy"} else part
        else:
            rest.append(part)
    return rest


def _place(parts: list[str], found: dict[str, Any]) -> list[str]:
    first = parts[0].removeprefix("at ").strip()
    pipe, at, station = first.rpartition(" at ")
    if at:
        found["pipe"], found["station"] = pipe.strip(), station.strip()
    else:
        found["junction"] = first
    return parts[1:]


def _stock(
    made: LongForm, parts: list[str], typed: tuple[str, str], found: dict[str, Any]
) -> list[str]:
    match = _STOCK.fullmatch(parts[0])
    coolant = match and meant("plugs", match[3])
    if match is None or coolant is None or coolant[0] != "coolant":
        made.faults.append(
            fault_at(typed[1], typed[0], "does not begin with cylinders, mass and coolant", "stock")
        )
        return []
    holds = "volume_each" if _is(parse_volume, match[2]) else "mass_each"
    found.update({"cylinders": int(match[1]), holds: match[2], "coolant": coolant[1]})
    rest = []
    for part in parts[1:]:
        stored = _STORED_AT.fullmatch(part)
        if stored is not None:
            found["storage_temperature"] = stored[1]
        else:
            rest.append(part)
    return rest


def _room_sides(part: str, found: dict[str, Any]) -> bool:
    """Read the sides of a room, '20 m x 15 m' or with its height: '20 m x 15 m x 6 m'."""
    sides = [side.strip() for side in part.split(" x ")]
    if len(sides) not in {2, 3} or not all(_is(parse_length, side) for side in sides):
        return False
    area = parse_length(sides[0]) * parse_length(sides[1])
    feet = system_of(sides[0]) is UnitSystem.IMPERIAL  # said again in the units typed
    found["floor_area"] = f"{area / _SQUARE_FOOT:.12g} ft2" if feet else f"{area:.12g} m2"
    if len(sides) > 2:
        found["height"] = sides[2]
    return True


def _is(read: Callable[[object], object], text: str) -> bool:
    try:
        read(text)
    except QuantityError:
        return False
    return True


def _add(
    made: LongForm, name: str, part: str, typed: tuple[str, str], told: dict[str, Any]
) -> bool:
    """Note what one part says; give whether it was understood."""
    word, _, moment = part.partition(WHILE)
    said = meant(name, word.strip())
    if said is None or (moment and not with_moments(name, said[0])):
        return False
    one, value = said
    if one == MEANT:
        told[one] = [*told.get(one, ()), value.replace(" ", "_")]
    elif moment and _is_moments(told, one):
        told[one] = {**told.get(one, {}), moment.strip(): value}
    elif one in told:
        problem = f"says {one.replace('_', ' ')} twice"
        made.faults.append(fault_at(typed[1], typed[0], problem, name))
    else:
        told[one] = value
    return True


def _is_moments(told: Mapping[str, Any], one: str) -> bool:
    return one not in told or isinstance(told[one], dict)


def _not_understood(name: str, parts: Sequence[str], typed: tuple[str, str]) -> Fault:
    """Say which parts of a text nothing is known of, with the nearest words in their place."""
    text, pointer = typed
    right = [p.strip() for p in text.split(",")]
    for part in parts:
        word, while_, moment = part.partition(WHILE)
        near = nearest_word(name, word)
        instead = f"{near}{while_}{moment}" if near else ""
        right = [instead if p == part else p for p in right]
    told = " and ".join(f"'{shown(part, 40)}'" for part in parts)
    known = ", ".join(sorted(words_of(name)))
    return Fault(
        pointer=pointer,
        found=shown(text),
        problem=f"{told}: not understood here; the words are {known}",
        example=f'"{", ".join(p for p in right if p)}"',
    )
