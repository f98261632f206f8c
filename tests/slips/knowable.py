"""What of a slip can be known from the document alone: marks that a sketch does not hold together.

Written down before the hunt, apart from the library, in networkx and plain comparisons: so it is a
second opinion on what the library asks. The kinds and the ranges are those of the project's
contract: common practice, no published source. A slip that makes none of these marks states another
site, as sound as the one that was meant (a pipe of 12 ft for one of 21 ft): no reader could tell.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Any

import networkx as nx

from layoutcheck.document import Layout
from layoutcheck.document.models import EquipmentKind, FittingKind, SourceKind
from tests.slips.keyboard import Document

Mark = tuple[str, str]

_ENDS = {FittingKind.CAP, FittingKind.BLIND}
_MEET = {FittingKind.TEE: 3, FittingKind.CROSS: 4, FittingKind.CAP: 1, FittingKind.BLIND: 1}
_IN_LINE = {FittingKind.ELBOW, FittingKind.REDUCER, FittingKind.COUPLING, FittingKind.UNION}


def marks_of(document: Document, layout: Layout) -> frozenset[Mark]:
    """Give the marks, each with the element that bears it."""
    found = set(_shape(layout))
    for check in (_at_junctions, _ranges, _kinds, _twice):
        found |= set(check(layout))
    return frozenset(found | set(_texts(document, ())) | set(_odd_units(document)))


def _graph(layout: Layout) -> Any:
    graph: Any = nx.MultiGraph()
    graph.add_nodes_from(j.id for j in layout.junctions)
    graph.add_edges_from((p.from_, p.to, p.id) for p in layout.pipes)
    return graph


def _shape(layout: Layout) -> Iterator[Mark]:
    graph = _graph(layout)
    pipes = {p.id: p for p in layout.pipes}
    plugs = {p.pipe for p in layout.plugs} | {w.pipe for w in _opened(layout)}
    wanted = {pipes[i].from_ for i in plugs if i in pipes}
    wanted |= {w.junction for w in _opened(layout) if w.junction}
    for group in (layout.valves, layout.pumps):
        for thing in group:
            if any(thing.id in {w.valve, w.pump} for w in _opened(layout)):
                wanted.add(thing.junction or pipes[thing.pipe or ""].from_)
    if any(p.point is not None for p in layout.plugs):
        return  # where a drawn point lies is the library's own question
    for part in nx.connected_components(graph):
        if not part & wanted:
            yield from (("island", node) for node in part)
    yield from (("pipe to itself", p.id) for p in layout.pipes if p.from_ == p.to)
    for node in graph:
        met = [getattr(pipes[i].size, "inches", None) for _, _, i in graph.edges(node, keys=True)]
        sizes = [inches for inches in met if inches is not None]
        fitting = next(j.fitting for j in layout.junctions if j.id == node)
        if len(sizes) == 2 and max(sizes) > 2 * min(sizes) and fitting is not FittingKind.REDUCER:
            yield "step in size", node


def _opened(layout: Layout) -> tuple[Any, ...]:
    return layout.work.open if layout.work else ()


def _at_junctions(layout: Layout) -> Iterator[Mark]:
    degree = dict(_graph(layout).degree())
    waters = Counter(x.junction for x in layout.sources)
    waters += Counter(x.junction for x in layout.outlets)
    things = Counter(x.junction for x in layout.valves)
    things += Counter(x.junction for x in (*layout.pumps, *layout.equipment))
    for joint in layout.junctions:
        meets, water, fitting = degree[joint.id], waters[joint.id], joint.fitting
        if meets == 0:
            yield "no pipe at it", joint.id
        on_it = water or things[joint.id] or joint.goes_on is not None
        if meets == 1 and not on_it and fitting not in _ENDS:
            yield "open end", joint.id
        if meets > 1 and water:
            yield "end in the run", joint.id
        if water > 1:
            yield "two ends at one junction", joint.id
        if fitting in _ENDS and water:
            yield "an end on a cap", joint.id
        asked = _MEET.get(fitting) if fitting else None
        extra = water + things[joint.id]
        if (asked is not None and not meets <= asked <= meets + extra) or (
            fitting in _IN_LINE and meets > 2
        ):
            yield "fitting does not fit", joint.id


def _out(value: float | None, low: float, high: float) -> bool:
    return value is not None and not low * (1 - 1e-9) <= value <= high * (1 + 1e-9)


_ICE = 273.15


def _ranges(layout: Layout) -> Iterator[Mark]:
    site, work = layout.site, layout.work
    rows: list[tuple[str, str, float | None, float, float]] = []
    if work:
        rows.append(("duration", "work", work.duration, 1800.0, 48 * 3600.0))
    for i, s in enumerate(site.stock):
        low, high = (2.0, 50.0) if s.coolant.value == "carbon dioxide" else (5.0, 250.0)
        rows += [
            ("mass_each", str(i), s.mass_each, low, high),
            ("cylinders", str(i), s.cylinders, 0, 100),
            ("storage_temperature", str(i), s.storage_temperature, _ICE - 30, _ICE + 55),
        ]
    for own, water in (
        ("site", site.water_temperature),
        *((p.id, p.water_temperature) for p in layout.pipes),
    ):
        rows.append(("water_temperature", own, water, _ICE + 0.5, _ICE + 95))
    rows.append(("air_temperature", "site", site.air_temperature, _ICE - 30, _ICE + 50))
    rows.append(("clear_space", "site", site.clear_space, 0, 2))
    for p in layout.pipes:
        rows += [
            ("length", p.id, p.length, 0.02, 300.0),
            ("clear_space", p.id, p.clear_space, 0, 2),
        ]
    for j in layout.junctions:
        rows.append(("elevation", j.id, j.elevation, -60.0, 450.0))
    for x in layout.sources:
        low = 1e5 if x.kind is SourceKind.MAIN else 0.05e5
        rows.append(("pressure", x.id, x.pressure, low, 25e5))
    for pump in layout.pumps:
        rows.append(("shutoff_head", pump.id, pump.shutoff_head, 0.05e5, 25e5))
    for plug in layout.plugs:
        rows.append(("jacket", plug.id, plug.jacket, 0.1, 1.2))
    for valve in layout.valves:
        rows.append(("body", valve.id, valve.body, 0, 1.2))
    for r in site.rooms:
        rows += _room_rows(r)
    yield from ((f"range of {name}", own) for name, own, x, low, high in rows if _out(x, low, high))
    yield from _levels(layout)


def _room_rows(r: Any) -> list[tuple[str, str, float | None, float, float]]:
    over = r.volume / r.floor_area if r.volume and r.floor_area else None
    changes = r.ventilation / r.volume if r.ventilation is not None and r.volume else None
    high = min(0.5, r.height / 2) if r.height else 0.5
    return [
        ("height", r.id, r.height, 1.2, 30),
        ("floor_area", r.id, r.floor_area, 1, 20000),
        ("volume over area", r.id, over, 1.2, 30),
        ("air_changes", r.id, r.air_changes, 0, 30 / 3600),
        ("ventilation over volume", r.id, changes, 0, 30 / 3600),
        ("flood_depth", r.id, r.flood_depth, 0.003, high),
    ]


def _levels(layout: Layout) -> Iterator[Mark]:
    heights = {j.id: j.elevation for j in layout.junctions}
    ends = {p.id: (p.from_, p.to) for p in layout.pipes}
    for x in layout.sources:
        yield from _level(x.id, x.level, [heights[x.junction]])
    for e in layout.equipment:
        at = [e.junction] if e.junction else list(ends[e.pipe or ""])
        yield from _level(e.id, e.level, [heights[j] for j in at])


def _level(own: str, level: float | None, heights: list[float | None]) -> Iterator[Mark]:
    known = [h for h in heights if h is not None]
    if level is not None and known and not min(known) <= level <= max(known) + 30.0:
        yield "level of a tank", own


def _kinds(layout: Layout) -> Iterator[Mark]:
    for x in layout.equipment:
        if x.kind is not EquipmentKind.TANK and (x.level is not None or x.volume is not None):
            yield "no tank and yet water", x.id
    for s in layout.sources:
        if s.level is not None and s.kind is not SourceKind.RAISED_TANK:
            yield "a level and no tank", s.id
    for o in layout.site.obstructions:
        if o.top is not None and o.bottom is not None and o.top <= o.bottom:
            yield "top under bottom", o.id
    for r in layout.site.rooms:
        if r.volume and r.floor_area and r.height:
            whole = r.floor_area * r.height
            if abs(r.volume - whole) > 0.05 * max(r.volume, whole):
                yield "volume against area and height", r.id


def _twice(layout: Layout) -> Iterator[Mark]:
    for group in (layout.site.stock, layout.waivers, _opened(layout)):
        for entry, times in Counter(repr(x) for x in group).items():
            if times > 1:
                yield "twice", entry
    for name in ("valves", "fittings", "pumps", "equipment", "plugs"):
        spots = Counter(
            (x.junction if hasattr(x, "junction") else None, x.pipe, x.station)
            for x in getattr(layout, name)
        )
        yield from (("two at one spot", str(s)) for s, n in spots.items() if n > 1 and s[1])


def _texts(here: Any, path: tuple[str, ...]) -> Iterator[Mark]:
    """A number with a leading zero, as in '040 psi'."""
    if isinstance(here, dict):
        for key, value in here.items():
            if key not in {"id", "name", "note", "reason", "by", "until"}:
                yield from _texts(value, (*path, str(key)))
    elif isinstance(here, list):
        for i, value in enumerate(here):
            yield from _texts(value, (*path, str(i)))
    elif isinstance(here, str) and path and not _refers(path):
        words = here.replace("-", " ").split()
        if any(w[0] == "0" and w[1:2].isdigit() for w in words):
            yield "leading zero", "/".join(path)


def _refers(path: tuple[str, ...]) -> bool:
    return path[-1] in {"from", "to", "junction", "pipe", "valve", "pump", "room", "subject"}


_METRIC = {"m", "mm", "cm", "bar", "kPa", "degC", "kg", "m2", "m3", "L"}
_IMPERIAL = {"in", "ft", "psi", "degF", "lb", "ft2", "ft3", "gal", "cfm"}


def _odd_units(document: Document) -> Iterator[Mark]:
    """A unit of the other system among many of one."""
    found: dict[str, list[str]] = {"metric": [], "imperial": []}
    for where, text in _quantities(document, ()):
        words = set(text.split())
        if words & _METRIC:
            found["metric"].append(where)
        if words & _IMPERIAL:
            found["imperial"].append(where)
    few, many = sorted(found.values(), key=len)
    if len(many) >= 10 * len(few):
        yield from (("unit of the other system", where) for where in few)


def _quantities(here: Any, path: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    if isinstance(here, dict):
        for key, value in here.items():
            yield from _quantities(value, (*path, str(key)))
    elif isinstance(here, list):
        for i, value in enumerate(here):
            yield from _quantities(value, (*path, str(i)))
    elif isinstance(here, str) and here[:1] in "0123456789-." and here:
        yield "/".join(path), here
