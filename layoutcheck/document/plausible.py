"""What people state and hardly can mean: a few values refuse, more are asked about.

Every range is an own choice: common practice, no published source. They are wide, so that sound
sites are quiet. What is asked about stands as it is, and is undecided until the element says with
one word that it is meant: `meant: length`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

import shapely

from layoutcheck.document.faults import Fault, pointer_to, shown
from layoutcheck.document.models import (
    Asked,
    EquipmentKind,
    Layout,
    Moment,
    Room,
    SourceKind,
    Tightness,
    ValveState,
)
from layoutcheck.quantities import FluidKind
from layoutcheck.quantities.spoken import CoolantName

BAR = 1e5
MINUTE, HOUR = 60.0, 3600.0
CELSIUS = 273.15
# Highest that water stands above its own junction (m); how much colder than the air stated (K)
# cylinders are kept; most air changes (1/s).
HIGHEST_LEVEL = 30.0
COLDEST_STORE = 15.0
MOST_CHANGES = 30 / HOUR


class What(StrEnum):
    """What a value measures, so that whoever shows it can write it in people's units."""

    LENGTH = "length"
    AREA = "area"
    PRESSURE = "pressure"
    TEMPERATURE = "temperature"
    DURATION = "duration"
    MASS = "mass"
    COUNT = "count"
    RATE = "rate"


class Ask(StrEnum):
    """Why a value is asked about."""

    LOW = "lower than expected"
    HIGH = "higher than expected"
    HIGH_WATER = "water far above its junction"
    COLD_STORE = "colder than the air"
    FLAT_ROOM = "volume over floor area"
    MUCH_AIR = "flow over volume"
    OPEN_PROVEN = "open and proven"


@dataclass(frozen=True)
class Question:
    """One value that is asked about: of which thing, in which field, and what bounds it.

    of: the thing itself. value and limit: SI. meant: the document says that it is.
    """

    of: Asked
    kind: str
    id: str
    field: str
    ask: Ask
    what: What
    value: float
    limit: float
    meant: bool


@dataclass(frozen=True)
class _Range:
    field: str
    what: What
    low: float | None = None
    high: float | None = None


_WATER = _Range("water_temperature", What.TEMPERATURE, CELSIUS + 0.5, CELSIUS + 95)
_SPACE = _Range("clear_space", What.LENGTH, None, 2.0)
_JACKET = _Range("jacket", What.LENGTH, 0.1, 1.2)

# List or part -> what its elements are called, and the ranges of their fields.
_RANGES: dict[str, tuple[str, tuple[_Range, ...]]] = {
    "junctions": ("junction", (_Range("elevation", What.LENGTH, -60.0, 450.0),)),
    "pipes": ("pipe", (_Range("length", What.LENGTH, 0.02, 300.0), _WATER, _SPACE)),
    "valves": ("valve", (_Range("body", What.LENGTH, None, 1.2),)),
    "pumps": ("pump", (_Range("shutoff_head", What.PRESSURE, 0.05 * BAR, 25 * BAR),)),
    "sources": ("source", (_Range("pressure", What.PRESSURE, 0.05 * BAR, 25 * BAR),)),
    "plugs": ("plug", (_JACKET,)),
    "work": ("work", (_Range("duration", What.DURATION, 30 * MINUTE, 48 * HOUR),)),
    "planning": ("planning", (_JACKET,)),
    "site": (
        "site",
        (
            _WATER,
            _SPACE,
            _Range("air_temperature", What.TEMPERATURE, CELSIUS - 30, CELSIUS + 50),
        ),
    ),
    "site/rooms": (
        "room",
        (
            _Range("height", What.LENGTH, 1.2, 30.0),
            _Range("floor_area", What.AREA, 1.0, 20_000.0),
            _Range("flood_depth", What.LENGTH, 0.003, 0.5),
            _Range("air_changes", What.RATE, None, MOST_CHANGES),
        ),
    ),
    "site/stock": (
        "stock",
        (
            _Range("cylinders", What.COUNT, None, 100.0),
            _Range("storage_temperature", What.TEMPERATURE, CELSIUS - 30, CELSIUS + 55),
        ),
    ),
}
_MASSES = {
    CoolantName.CARBON_DIOXIDE: _Range("mass_each", What.MASS, 2.0, 50.0),
    CoolantName.NITROGEN: _Range("mass_each", What.MASS, 5.0, 250.0),
}
_MAIN = _Range("pressure", What.PRESSURE, 1 * BAR, None)

# What says nothing at all where it is nothing: list or part -> the field, and why.
_NOTHING = {
    "work": ("duration", "work takes time", '"3 h"'),
    "plugs": ("jacket", "a jacket has a length", '"12 in"'),
    "planning": ("jacket", "a jacket has a length", '"12 in"'),
}


def _parts(layout: Layout, name: str) -> tuple[Asked, ...]:
    """Give the elements of a list, or a part of the document as the only one of its kind."""
    here: object = layout
    for step in name.split("/"):
        here = getattr(here, step)
    if isinstance(here, tuple):
        return here
    return (here,) if isinstance(here, Asked) else ()


def _place(layout: Layout, name: str, index: int) -> tuple[str | int, ...]:
    steps = tuple(name.split("/"))
    here: object = layout
    for step in steps:
        here = getattr(here, step)
    return (*steps, index) if isinstance(here, tuple) else steps


# --- what is refused -----------------------------------------------------------------------------


def implausible_faults(layout: Layout) -> Iterator[Fault]:
    """Find what can not be: no duration, no jacket, frozen water, a level below its own outlet."""
    for name, (field, problem, example) in _NOTHING.items():
        for index, item in enumerate(_parts(layout, name)):
            if getattr(item, field) == 0.0:
                place = pointer_to(*_place(layout, name, index), field)
                yield Fault(pointer=place, found="0", problem=problem, example=example)
    yield from _frozen(layout)
    yield from _levels(layout)
    yield from _spaces(layout)
    yield from _obstructions(layout)


def _frozen(layout: Layout) -> Iterator[Fault]:
    fluids = [layout.site.fluid, *(p.fluid for p in layout.pipes)]
    only_water = all(f is None or f.kind is FluidKind.WATER for f in fluids)
    for name in ("pipes", "site"):
        for index, item in enumerate(_parts(layout, name)):
            warmth = getattr(item, "water_temperature")  # noqa: B009 - of either kind
            if warmth is not None and warmth <= CELSIUS and only_water:
                yield Fault(
                    pointer=pointer_to(*_place(layout, name, index), "water_temperature"),
                    found=f"{warmth - CELSIUS:.4g} degC",
                    problem="water in pipe is warmer than 0 degC, or it is ice already",
                    example='"50 degF"',
                )
    for index, source in enumerate(layout.sources):
        if source.kind is SourceKind.MAIN and source.pressure == 0.0:
            yield Fault(
                pointer=pointer_to("sources", index, "pressure"),
                found="0",
                problem="a main without pressure feeds nothing",
                example='"60 psi"',
            )


def _standing(layout: Layout) -> Iterator[tuple[tuple[str | int, ...], Asked, float, float]]:
    """Give each stated water level (m), with the height (m) of where its water comes out."""
    height = {j.id: j.elevation for j in layout.junctions}
    ends = {p.id: (p.from_, p.to) for p in layout.pipes}
    for index, source in enumerate(layout.sources):
        low = height[source.junction]
        if source.level is not None and low is not None:
            yield ("sources", index), source, source.level, low
    for index, gear in enumerate(layout.equipment):
        at = ends[gear.pipe] if gear.pipe is not None else (gear.junction or "",)
        lows = [z for z in (height[name] for name in at) if z is not None]
        if gear.kind is EquipmentKind.TANK and gear.level is not None and len(lows) == len(at):
            yield ("equipment", index), gear, gear.level, min(lows)


def _levels(layout: Layout) -> Iterator[Fault]:
    for place, _, level, low in _standing(layout):
        if level < low:
            yield Fault(
                pointer=pointer_to(*place, "level"),
                found=f"{level:.3f} m, below the outlet at {low:.3f} m",
                problem="the water stands below the junction that it comes out at",
                example=f'"{low + 1.0:.3f} m"',
            )


def _spaces(layout: Layout) -> Iterator[Fault]:
    rooms = {r.id: r for r in layout.site.rooms}
    for name in ("pipes", "site"):
        for index, item in enumerate(_parts(layout, name)):
            room = rooms.get(getattr(item, "room") or layout.site.room or "")  # noqa: B009
            space = getattr(item, "clear_space")  # noqa: B009 - of either kind
            if room is None or room.height is None or space is None or space <= room.height:
                continue
            yield Fault(
                pointer=pointer_to(*_place(layout, name, index), "clear_space"),
                found=f"{space:.3f} m, in a room {room.height:.3f} m high",
                problem=f"is more free space than room {shown(room.id)} is high",
                example='"12 in"',
            )
    for index, room in enumerate(layout.site.rooms):
        if room.flood_depth is None or room.height is None:
            continue
        if room.flood_depth > room.height / 2:
            yield Fault(
                pointer=pointer_to("site", "rooms", index, "flood_depth"),
                found=f"{room.flood_depth:.3f} m, in a room {room.height:.3f} m high",
                problem="the depth that does harm is more than half the room's height",
                example='"4 in"',
            )


def _obstructions(layout: Layout) -> Iterator[Fault]:
    for index, item in enumerate(layout.site.obstructions):
        place = ("site", "obstructions", index)
        if item.bottom is not None and item.top is not None and item.top <= item.bottom:
            yield Fault(
                pointer=pointer_to(*place, "top"),
                found=f"{item.top:.3f} m, with its bottom at {item.bottom:.3f} m",
                problem="the top of an obstruction lies above its bottom",
                example=f'"{item.bottom + 1.0:.3f} m"',
            )
        if shapely.Polygon(item.outline).area == 0.0:
            yield Fault(
                pointer=pointer_to(*place, "outline"),
                found=shown(list(item.outline)),
                problem="the outline holds no area",
                example="[[0, 0], [4, 0], [4, 3]]",
            )


# --- what is asked -------------------------------------------------------------------------------


def questions(layout: Layout) -> Iterator[Question]:
    """Give every value that is asked about, and those the document says are meant."""
    for name, (kind, ranges) in _RANGES.items():
        for item in _parts(layout, name):
            for one in ranges:
                yield from _outside(kind, item, one)
    for source in layout.sources:
        if source.kind is SourceKind.MAIN and (source.pressure or 0.0) >= 0.05 * BAR:
            yield from _outside("source", source, _MAIN)
    for line in layout.site.stock:
        yield from _outside("stock", line, _MASSES[line.coolant])
    yield from _high_water(layout)
    yield from _cold_store(layout)
    for room in layout.site.rooms:
        yield from _room(room)
    yield from _open_and_proven(layout)


def _name(kind: str, item: Asked) -> str:
    """Name a thing that has no id after its kind, or after its coolant."""
    return str(getattr(item, "id", None) or getattr(item, "coolant", None) or kind)


def _asked(
    kind: str, item: Asked, field: str, ask: Ask, what: What, value: float, limit: float
) -> Question:
    return Question(
        item, kind, _name(kind, item), field, ask, what, value, limit, item.means(field)
    )


def _outside(kind: str, item: Asked, within: _Range) -> Iterator[Question]:
    value = getattr(item, within.field)
    if value is None:
        return
    if within.low is not None and value < within.low:
        yield _asked(kind, item, within.field, Ask.LOW, within.what, value, within.low)
    if within.high is not None and value > within.high:
        yield _asked(kind, item, within.field, Ask.HIGH, within.what, value, within.high)


def _high_water(layout: Layout) -> Iterator[Question]:
    for place, item, level, low in _standing(layout):
        if level - low > HIGHEST_LEVEL:
            kind = "source" if place[0] == "sources" else "tank"
            over = level - low
            yield _asked(kind, item, "level", Ask.HIGH_WATER, What.LENGTH, over, HIGHEST_LEVEL)


def _cold_store(layout: Layout) -> Iterator[Question]:
    air = layout.site.air_temperature
    for line in layout.site.stock:
        kept = line.storage_temperature
        if air is not None and kept is not None and kept < air - COLDEST_STORE:
            field, limit = "storage_temperature", air - COLDEST_STORE
            yield _asked("stock", line, field, Ask.COLD_STORE, What.TEMPERATURE, kept, limit)


_ROOM_HEIGHT = (1.2, 30.0)


def _room(room: Room) -> Iterator[Question]:
    """Ask of a room's volume over its floor area, and of its flow of air over its volume."""
    volume = room.volume
    if volume is not None and room.floor_area and room.height is None:
        height, (low, high) = volume / room.floor_area, _ROOM_HEIGHT
        if not low <= height <= high:
            limit = low if height < low else high
            yield _asked("room", room, "volume", Ask.FLAT_ROOM, What.LENGTH, height, limit)
    if volume is None and room.floor_area is not None and room.height is not None:
        volume = room.floor_area * room.height
    if room.ventilation is not None and volume and room.air_changes is None:
        rate = room.ventilation / volume
        if rate > MOST_CHANGES:
            yield _asked("room", room, "ventilation", Ask.MUCH_AIR, What.RATE, rate, MOST_CHANGES)


def _open_and_proven(layout: Layout) -> Iterator[Question]:
    """Ask of valves said to be proven tight, and to stand open at both moments."""
    for valve in layout.valves:
        states = {valve.at(moment) for moment in Moment}
        if states == {ValveState.OPEN} and valve.tightness is Tightness.PROVEN:
            yield _asked("valve", valve, "tightness", Ask.OPEN_PROVEN, What.COUNT, 0.0, 0.0)
