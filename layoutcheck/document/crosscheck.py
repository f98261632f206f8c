"""Faults that no single field can show: references, doubles, and what can not be built."""

from __future__ import annotations

import json
import math
import re
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from typing import Any

from layoutcheck.document.by_ref import REFERENCES
from layoutcheck.document.ends import SHUT, end_faults, pipes_at
from layoutcheck.document.faults import Fault, as_typed, pointer_to, shown
from layoutcheck.document.models import (
    ELEMENT_LISTS,
    Equipment,
    EquipmentKind,
    Layout,
    Outlet,
    Pipe,
    Pump,
    Source,
    Valve,
)
from layoutcheck.document.near import KnownIds
from layoutcheck.document.paths import Positions, SnapFailure, Snapper
from layoutcheck.document.placing import plug_faults
from layoutcheck.document.plausible import implausible_faults
from layoutcheck.document.waters import fluid_faults
from layoutcheck.quantities import (
    QuantityError,
    UnitSystem,
    explicit_dimensions,
    feet_and_inches,
    pipe_dimensions,
)
from layoutcheck.seen import looks

# A station may lie past its pipe's end by this much (m) before it is a fault: it is far below
# anything a tape can show and above what arithmetic on feet and inches leaves over.
STATION_SLACK = 1e-6

# How far (m) from the end of its pipe a valve is set in an example: 6 in.
_INSET = 0.1524

# These may stand anywhere near a valve; on which side of it a tank is decides what is cut off.
_HEAT = {EquipmentKind.HEATER, EquipmentKind.COOLER}


def reference_faults(data: Mapping[str, Any]) -> Iterator[Fault]:
    """Find doubled ids and references to nothing, in the raw document.

    Works on whatever is there, so that these faults are told together with those of fields.
    """
    known = {name: _ids(data.get(name)) for name in ELEMENT_LISTS}
    site = data.get("site")
    rooms = _ids(site.get("rooms")) if isinstance(site, Mapping) else KnownIds(Counter())
    yield from _doubles(data)
    for where, field, value in _named(data):
        target = rooms if field == "room" else known.get(REFERENCES.get(field, ""))
        if target is None or not isinstance(value, str) or value in target.ids:
            continue
        kind = "room" if field == "room" else REFERENCES[field][:-1]
        yield Fault(
            pointer=pointer_to(*where, field),
            found=shown(value),
            problem=f"names a {kind} that the document does not have",
            example=target.near(value),
        )
    yield from _kept_faults(data, known["outlets"])


def known_id(data: Mapping[str, Any], field: str, example: str) -> str | None:
    """Give an id of the document for a field that names an element; None where it is none.

    example: kept where it is such an id already.
    """
    site = data.get("site")
    rooms = site.get("rooms") if isinstance(site, Mapping) else None
    if field != "room" and field not in REFERENCES:
        return None
    if re.fullmatch('"[^"]*"', example) is None:  # not an id: fields to put in its place
        return None
    known = _ids(rooms if field == "room" else data.get(REFERENCES[field]))
    if not known.ids or example.strip('"') in known.ids:
        return None
    return known.near("")


def _kept_faults(data: Mapping[str, Any], outlets: KnownIds) -> Iterator[Fault]:
    """Find outlets to keep in service that the document does not have."""
    planning = data.get("planning")
    kept = planning.get("keep_in_service") if isinstance(planning, Mapping) else None
    for index, value in enumerate(kept if isinstance(kept, list) else ()):
        if isinstance(value, str) and value not in outlets.ids:
            yield Fault(
                pointer=pointer_to("planning", "keep_in_service", index),
                found=shown(value),
                problem="names an outlet that the document does not have",
                example=outlets.near(value),
            )


def _ids(items: object) -> KnownIds:
    if not isinstance(items, list):
        return KnownIds(Counter())
    named = (i.get("id") for i in items if isinstance(i, Mapping))
    return KnownIds(Counter(i for i in named if isinstance(i, str)))


def _doubles(data: Mapping[str, Any]) -> Iterator[Fault]:
    """Find ids that two entries of one list share: which of the two is meant would be a guess.

    Ids that only look the same are shared too: nobody on site could tell them apart.
    """
    site = data.get("site")
    places: list[tuple[tuple[str, ...], object]] = [
        ((name,), data.get(name)) for name in ELEMENT_LISTS
    ]
    if isinstance(site, Mapping):
        places += [(("site", name), site.get(name)) for name in ("rooms", "obstructions")]
    for place, items in places:
        seen: dict[str, str] = {}
        for index, item in enumerate(items if isinstance(items, list) else ()):
            own = item.get("id") if isinstance(item, Mapping) else None
            if not isinstance(own, str):
                continue
            look = looks(own)
            if look in seen:
                same = "is the id" if seen[look] == own else "looks the same as the id"
                yield Fault(
                    pointer=pointer_to(*place, index, "id"),
                    found=shown(own),
                    problem=f"{same} of another entry of {place[-1]} too",
                    example=f'"{shown(own)}-2"',
                )
            seen.setdefault(look, own)


def _named(data: Mapping[str, Any]) -> Iterator[tuple[tuple[str | int, ...], str, object]]:
    """Give every field that may name another element, with its place."""
    work = data.get("work")
    opened = work.get("open") if isinstance(work, Mapping) else None
    lists: list[tuple[tuple[str, ...], object]] = [
        ((name,), data.get(name)) for name in ELEMENT_LISTS
    ]
    lists.append((("work", "open"), opened))
    for place, items in lists:
        for index, item in enumerate(items if isinstance(items, list) else ()):
            if isinstance(item, Mapping):
                for field in (*REFERENCES, "room"):
                    if field in item:
                        yield (*place, index), field, item[field]
    site = data.get("site")
    if isinstance(site, Mapping) and "room" in site:
        yield ("site",), "room", site["room"]


def model_faults(layout: Layout) -> Iterator[Fault]:
    """Find what can not be built although each field is sound. Needs sound references."""
    lengths: dict[str, float] = {}
    positions = Positions(layout)
    for index, pipe in enumerate(layout.pipes):
        yield from _size_faults(pipe, index)
        length = positions.measured_length(pipe)
        if length is None:
            continue
        lengths[pipe.id] = length
        yield from _height_faults(positions, pipe, index, length)
    yield from _station_faults(layout, lengths)
    yield from _valve_faults(layout, lengths)
    yield from _body_faults(layout)
    yield from _blind_faults(layout)
    yield from end_faults(layout)
    yield from implausible_faults(layout)
    yield from _snap_faults(layout)
    yield from plug_faults(layout, lengths)
    yield from fluid_faults(layout)


def _size_faults(pipe: Pipe, index: int) -> Iterator[Fault]:
    explicit = (pipe.outside_diameter, pipe.wall_thickness)
    try:
        if None not in explicit:
            explicit_dimensions(pipe.outside_diameter or 0.0, pipe.wall_thickness or 0.0)
        elif explicit != (None, None):
            raise QuantityError(
                "half a size",
                "needs both outside_diameter and wall_thickness, or neither",
                '"outside_diameter": "2.375 in", "wall_thickness": "0.154 in"',
            )
        elif pipe.sized:
            pipe_dimensions(pipe.size, pipe.material, pipe.wall)
    except QuantityError as error:
        yield Fault(
            pointer=pointer_to("pipes", index, "wall" if pipe.wall else "size"),
            found=shown(
                f"{pipe.size.text}, {pipe.material.value}, wall {pipe.wall or 'not stated'}"
            ),
            problem=error.problem,
            example=as_typed(error.example),
        )


def _height_faults(positions: Positions, pipe: Pipe, index: int, length: float) -> Iterator[Fault]:
    low = positions.junctions[pipe.from_].elevation
    high = positions.junctions[pipe.to].elevation
    if low is None or high is None:
        return
    rise = abs(high - low)
    length += pipe.from_body + pipe.to_body
    if rise > length + max(1e-3, 1e-6 * length):
        yield Fault(
            pointer=pointer_to("pipes", index, "length"),
            found=f"{length:.3f} m long",
            problem=f"is shorter than the rise of {rise:.3f} m between its two ends",
            example=f'"length": "{math.ceil(rise * 1000) / 1000} m"',
        )


def _station_faults(layout: Layout, lengths: Mapping[str, float]) -> Iterator[Fault]:
    rows: list[tuple[tuple[str | int, ...], str | None, float | None]] = []
    for name in ("fittings", "valves", "pumps", "equipment", "plugs"):
        for index, item in enumerate(getattr(layout, name)):
            rows.append(((name, index, "station"), item.pipe, item.station))
    for index, work in enumerate(layout.work.open if layout.work else ()):
        rows.append((("work", "open", index, "start"), work.pipe, work.start))
        rows.append((("work", "open", index, "end"), work.pipe, work.end))
        if work.start is not None and work.end is not None and work.start > work.end:
            yield Fault(
                pointer=pointer_to("work", "open", index, "end"),
                found=f"{work.end:.3f} m, before the start at {work.start:.3f} m",
                problem="the opened length ends before it starts",
                example='"start": "3 ft", "end": "4 ft 6 in"',
            )
    for place, pipe, station in rows:
        if pipe is None or station is None or pipe not in lengths:
            continue
        if station > lengths[pipe] + STATION_SLACK:
            yield Fault(
                pointer=pointer_to(*place),
                found=f"{station:.4f} m",
                problem=f"lies past the end of pipe {shown(pipe)}, "
                f"which is {lengths[pipe]:.4f} m long",
                example=f'"{round(lengths[pipe] / 2, 3)} m"',
            )


def _valve_faults(layout: Layout, lengths: Mapping[str, float]) -> Iterator[Fault]:
    degree = pipes_at(layout)
    tanks = [g for g in layout.equipment if g.kind is EquipmentKind.TANK]
    ends: tuple[Source | Outlet | Equipment, ...] = (*layout.sources, *layout.outlets, *tanks)
    terminals = Counter(x.junction for x in ends if x.junction is not None)
    taken: set[tuple[str, float]] = set()
    inline: list[tuple[str, int, Valve | Pump]] = []
    inline += [("valves", i, v) for i, v in enumerate(layout.valves)]
    inline += [("pumps", i, p) for i, p in enumerate(layout.pumps)]
    for name, index, item in inline:
        if item.junction is None:
            spot = (f"pipe {item.pipe}", item.station or 0.0)
            half = getattr(item, "body", 0.0) / 2
            inside = lengths.get(item.pipe or "", math.inf)
            if half > (item.station or 0.0) + STATION_SLACK or (
                (item.station or 0.0) + half > inside + STATION_SLACK
            ):
                yield _fault(name, index, "station", spot, "its body reaches past the pipe's end")
        else:
            spot = (f"junction {item.junction}", 0.0)
            pipes_there = degree[item.junction]
            if pipes_there > 2:
                problem = f"sits at a junction of {pipes_there} pipes: on which of them is it?"
                yield _fault(name, index, "junction", spot, problem, _beside(layout, item))
            elif pipes_there == 2 and terminals[item.junction]:
                problem = "shares its junction with a source, outlet or tank: on which side of it?"
                yield _fault(name, index, "junction", spot, problem, _beside(layout, item))
        if spot in taken:
            yield _fault(name, index, "id", spot, "stands at the same place as another one")
        taken.add(spot)


def _body_faults(layout: Layout) -> Iterator[Fault]:
    """Find valves that reach into each other, and tanks of which no side of a valve is told."""
    rows: dict[str, list[_Span]] = defaultdict(list)
    for index, valve in enumerate(layout.valves):
        if valve.pipe is not None:
            middle, half = valve.station or 0.0, valve.body / 2
            rows[valve.pipe].append(("valves", index, middle - half, middle + half))
    for name, items in (("pumps", layout.pumps), ("equipment", layout.equipment)):
        for index, item in enumerate(items):
            if item.pipe is not None and getattr(item, "kind", None) not in _HEAT:
                at = item.station or 0.0
                rows[item.pipe].append((name, index, at, at))
    for pipe, spans in rows.items():
        for one, two in _near_pairs(spans):
            low, high = max(one[2], two[2]), min(one[3], two[3])
            points = one[2] == one[3] and two[2] == two[3]
            # Two points at one place that are valves or pumps are told elsewhere.
            told = points and "equipment" not in (one[0], two[0])
            if low < high - STATION_SLACK or (_one_place(one, two) and not told):
                spot = (f"pipe {pipe}", low)
                problem = "stands in the body of another one: on which side of it?"
                yield _fault(two[0], two[1], "station", spot, problem)


# What stands on a pipe: its list, its index there, and where its body begins and ends (m).
_Span = tuple[str, int, float, float]


def _near_pairs(spans: list[_Span]) -> Iterator[tuple[_Span, _Span]]:
    """Give the pairs whose bodies meet, each in the order of the document. Equipment is no pair.

    Goes along the pipe, so that many things that stand apart cost no more than sorting them.
    """
    order = sorted(range(len(spans)), key=lambda i: spans[i][2])
    inline: list[int] = []
    tanks: list[int] = []
    for here in order:
        begin = spans[here][2] - STATION_SLACK
        is_tank = spans[here][0] == "equipment"
        inline = [i for i in inline if spans[i][3] >= begin]
        tanks = tanks if is_tank else [i for i in tanks if spans[i][3] >= begin]
        for there in inline if is_tank else (*inline, *tanks):
            yield spans[min(here, there)], spans[max(here, there)]
        (tanks if is_tank else inline).append(here)


def _one_place(one: _Span, two: _Span) -> bool:
    """Tell whether a point lies inside a body, or on another point."""
    (start, end), (low, high) = one[2:], two[2:]
    if start < end and low < high:
        return False
    if start == end and low == high:
        return abs(start - low) <= STATION_SLACK and not one[0] == two[0] == "equipment"
    return start < high - STATION_SLACK and low < end - STATION_SLACK


def _beside(layout: Layout, item: Valve | Pump) -> str:
    """Give a place on a pipe next to the junction of something: a little before the pipe's end."""
    there = [p for p in layout.pipes if item.junction in {p.from_, p.to}]
    pipe = next((p for p in there if p.to == item.junction and p.length is not None), there[0])
    inset = max(_INSET, getattr(item, "body", 0.0))
    if pipe.length is None:
        station = inset
    else:
        inset = min(inset, pipe.length / 2)
        station = inset if pipe.from_ == item.junction else pipe.length - inset
    metric = layout.units is UnitSystem.METRIC
    said = f"{station:.3f} m" if metric else feet_and_inches(station)
    return f'"pipe": {json.dumps(pipe.id, ensure_ascii=False)}, "station": "{said}"'


def _fault(
    name: str,
    index: int,
    field: str,
    spot: tuple[str, float],
    problem: str,
    example: str = '"pipe": "P2", "station": "12 ft"',
) -> Fault:
    return Fault(
        pointer=pointer_to(name, index, field),
        found=f"{shown(spot[0])}, station {spot[1]:.3f} m",
        problem=problem,
        example=example,
    )


def _blind_faults(layout: Layout) -> Iterator[Fault]:
    """Find caps and blinds with pipe on both sides: read as an opening they would be a lie."""
    degree = pipes_at(layout)
    problem = "a cap or blind ends a pipe, and here pipe goes on beyond it"
    example = "end the pipe at a junction of its own that has the cap or blind"
    for index, junction in enumerate(layout.junctions):
        if junction.fitting in SHUT and degree[junction.id] > 1:
            yield Fault(
                pointer=pointer_to("junctions", index, "fitting"),
                found=str(junction.fitting),
                problem=problem,
                example=example,
            )
    for index, fitting in enumerate(layout.fittings):
        if fitting.kind in SHUT:
            yield Fault(
                pointer=pointer_to("fittings", index, "kind"),
                found=str(fitting.kind),
                problem=problem,
                example=example,
            )


def _snap_faults(layout: Layout) -> Iterator[Fault]:
    drawn = [(i, p.point) for i, p in enumerate(layout.plugs) if p.point is not None]
    snapper = Snapper(layout) if drawn else None
    for index, point in drawn:
        assert snapper is not None
        try:
            snapper.snap(point)
        except SnapFailure as failure:
            yield Fault(
                pointer=pointer_to("plugs", index, "point"),
                found=shown(point),
                problem=failure.problem,
                example=failure.example,
            )
