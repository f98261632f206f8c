"""What a layout still lacks, in the order that gets a plan: the whole site, then round the work."""

from __future__ import annotations

import json
import shlex
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from layoutcheck.document.ends import open_ends
from layoutcheck.document.models import (
    EquipmentKind,
    Junction,
    Layout,
    Moment,
    Pipe,
    SourceKind,
    Valve,
)
from layoutcheck.document.paths import Positions
from layoutcheck.document.unstated import unstated_of
from layoutcheck.importers.near_work import NearWork
from layoutcheck.quantities import Material, UnitSystem
from layoutcheck.quantities.units import FOOT
from layoutcheck.rules.declared import Blank
from layoutcheck.rules.registry import all_rules


@dataclass(frozen=True)
class ToFill:
    """One thing to fill in: where it goes, which elements lack it, why, a right example.

    field: its place, with '*' for an element's id. value: one that may be typed after it.
    """

    what: str
    why: str
    rules: tuple[str, ...]
    elements: tuple[str, ...]
    example: str
    field: str
    value: str

    @property
    def paste(self) -> str:
        """Give an option that states it: for the whole site, else for the first that lacks it."""
        first = self.elements[0] if self.elements else "*"
        stated = f"{self.field.replace('*', first)}={self.value}"
        return f"--set {shlex.quote(stated)}"


@dataclass(frozen=True)
class _Ask:
    what: str
    why: str
    example: str
    blank: Blank
    imperial: str
    metric: str = ""

    def of(self, layout: Layout, elements: Iterable[str]) -> ToFill:
        metric = layout.units is UnitSystem.METRIC and self.metric
        value = self.metric if metric else self.imperial
        for word, there in _PLACES.items():
            if word in value:
                value = value.replace(word, there(layout))
        return ToFill(
            self.what,
            self.why,
            tuple(name for name, rule in all_rules().items() if self.blank in rule.needs),
            tuple(elements),
            self.example,
            self.blank.value,
            value,
        )


def _named(field: str, items: Sequence[Valve | Junction | Pipe]) -> str:
    """Write the first of some elements as a field that names it."""
    return f"{field}: {json.dumps(items[0].id, ensure_ascii=False)}" if items else ""


def _at_end(layout: Layout) -> str:
    """Name a junction that nothing ends, where there is one."""
    ends = set(open_ends(layout))
    first = [j for j in layout.junctions if j.id in ends]
    return _named("junction", first or layout.junctions)


def _on_longest(layout: Layout) -> str:
    """Name the middle of the longest pipe: a joint without length holds no jacket."""
    if not layout.pipes:
        return _named("pipe", layout.pipes)
    positions = Positions(layout)
    longest = max(layout.pipes, key=lambda p: positions.measured_length(p) or 0.0)
    half = (positions.measured_length(longest) or 0.0) / 2
    metric = layout.units is UnitSystem.METRIC
    at = f"{half:.3f} m" if metric else f"{half / float(FOOT):.2f} ft"
    return f"{_named('pipe', [longest])}, station: {at}"


# What stands for an element that is there, so that it can be typed as it is.
_PLACES: dict[str, Callable[[Layout], str]] = {
    "{opened}": lambda layout: _named("valve", layout.valves) or _at_end(layout),
    "{end}": _at_end,
    "{on}": _on_longest,
}

_MATERIAL = _Ask(
    "what the pipe is made of",
    "The cold makes some walls brittle, and it decides how fast they freeze.",
    '"site": {"material": "carbon steel"}',
    Blank.MATERIAL,
    "carbon steel",
)
_WATER = _Ask(
    "the temperature of the water",
    "The time and the coolant of each freeze depend on it.",
    '"site": {"water_temperature": "60 degF"}',
    Blank.WATER,
    "60 degF",
    "15 degC",
)
_FLUID = _Ask(
    "what fills the pipes, by a sample looked at and tested",
    "Glycol and brine leave slush, not a plug. Not stated, it is taken as plain water.",
    '"site": {"fluid": "plain water"}',
    Blank.FLUID,
    "plain water",
)
_CLEAR = _Ask(
    "the free space round the pipes, seen on site",
    "The jacket and hands need room.",
    '"site": {"clear_space": "12 in"}',
    Blank.CLEAR_SPACE,
    "12 in",
    "0.3 m",
)
_ROOM = _Ask(
    "the room of the pipes: floor area, height, air changes, meters, flood depth",
    "Gas from the coolant pushes out the air; water that gets loose fills the room.",
    '"site": {"room": "plant", "rooms": [{"id": "plant", "floor_area": "200 ft2", …}]}',
    Blank.ROOMS,
    "{floor_area: 200 ft2, height: 10 ft, air_changes: 6 per hour, flood_depth: 4 in, "
    "carbon_dioxide_meter: false}",
    "{floor_area: 20 m2, height: 3 m, air_changes: 6 per hour, flood_depth: 0.1 m, "
    "carbon_dioxide_meter: false}",
)
_IN_ROOM = _Ask(
    "the room that the pipes run in",
    "The gas and the water go into that room.",
    '"site": {"room": "plant"}',
    Blank.IN_ROOM,
    "plant",
)
_STOCK = _Ask(
    "the coolant on hand and where it is stored",
    "It is compared with what freeze, hold and reserve take.",
    '"site": {"stock": [{"coolant": "carbon dioxide", "cylinders": 4, "mass_each": "50 lb"}]}',
    Blank.STOCK,
    "[{coolant: carbon dioxide, cylinders: 4, mass_each: 50 lb, storage_temperature: 65 degF}]",
    "[{coolant: carbon dioxide, cylinders: 4, mass_each: 30 kg, storage_temperature: 18 degC}]",
)
_WORK = _Ask(
    "what will be opened, and for how long",
    "Without the work there is nothing to cut off.",
    '"work": {"open": [{"valve": "V7"}], "duration": "3 h"}',
    Blank.WORK,
    "{open: [{{opened}}], duration: 3 h}",
)
_NO_SOURCE = _Ask(
    "where water is pressed in: mains, pumps, raised tanks, vessels",
    "Without a source nothing has to be cut off, and the answer would be worth nothing.",
    '"sources": [{"id": "main", "junction": "J1", "kind": "main", "pressure": "60 psi"}]',
    Blank.SOURCES,
    "{{end}, kind: main, pressure: 60 psi}",
    "{{end}, kind: main, pressure: 4 bar}",
)
_PRESSURE = _Ask(
    "the highest pressure of each source",
    "It decides the pressure at a plug.",
    '"pressure": "60 psi"',
    Blank.PRESSURE,
    "60 psi",
    "4 bar",
)
_STATE = _Ask(
    "how each valve stands while freezing and while working",
    "A valve of unknown state is taken as open for water and as closed for setbacks.",
    '"state": "closed"',
    Blank.VALVE_STATE,
    "closed",
)
_TIGHT = _Ask(
    "whether each closed valve was shown to hold",
    "A single closed valve that nobody has proven is a barrier in doubt.",
    '"tightness": "proven"',
    Blank.TIGHTNESS,
    "not proven",
)
_PUMPS = _Ask(
    "for each pump, whether it is locked off, else its rise at no flow",
    "A pump not locked off may run, and move or press the water at a plug.",
    '"locked_off": true',
    Blank.PUMP_LOCK,
    "true",
)
_END = _Ask(
    "what ends each pipe that ends with nothing on it: a cap, a source, an outlet, or it goes on",
    "Water may come in or leave there, and nobody has said that it can not.",
    '"goes_on": "fed"',
    Blank.END,
    "fed",
)
_LENGTH = _Ask(
    "the length of each pipe",
    "Every distance along the pipe depends on it.",
    '"length": "24 ft 6 in"',
    Blank.LENGTH,
    "24 ft 6 in",
    "7.5 m",
)
_SIZE = _Ask(
    "the nominal size of each pipe",
    "Setbacks, ice and coolant depend on it.",
    '"size": "NPS 2"',
    Blank.SIZE,
    "NPS 2",
    "DN 50",
)
_HEIGHT = _Ask(
    "the height of each junction",
    "Head, draining and natural circulation depend on heights.",
    '"elevation": "14 ft"',
    Blank.HEIGHT,
    "14 ft",
    "4.2 m",
)
_LEVEL = _Ask(
    "the water level of each tank",
    "It decides the pressure at a plug.",
    '"level": "40 ft"',
    Blank.LEVEL,
    "40 ft",
    "12 m",
)
_OUTLET = _Ask(
    "how each outlet stands",
    "An outlet not stated may draw, and water then moves.",
    '"state": "locked off"',
    Blank.OUTLET_STATE,
    "locked off",
)
_PLUGS = _Ask(
    "where the plugs are to be frozen (plan proposes places)",
    "Without plugs no place is judged.",
    '"plugs": [{"id": "A", "pipe": "P2", "station": "12 ft", "jacket": "12 in"}]',
    Blank.PLUGS,
    "{{on}, jacket: 12 in}",
    "{{on}, jacket: 0.3 m}",
)


def to_fill_in(layout: Layout) -> tuple[ToFill, ...]:
    """List what to fill in by hand, in the order that gets a plan; nothing is listed that is there.

    First what is stated once for the whole site, then the work, then what the piping round it
    lacks, as far as the nearest valves; all of it where no work is stated.
    """
    near = NearWork(layout)
    found = [
        *_site(layout),
        _WORK.of(layout, [] if layout.work else ["work"]),
        *_water(layout, near),
        *_pipework(layout, near),
        _PLUGS.of(layout, [] if layout.plugs else ["plugs"]),
    ]
    return tuple(t for t in found if t.elements)


def _site(layout: Layout) -> list[ToFill]:
    site, pipes = layout.site, layout.pipes
    rooms = [
        r.id
        for r in site.rooms
        if (r.floor_area is None and r.volume is None)
        or (r.ventilation is None and r.air_changes is None)
        or r.flood_depth is None
        or r.carbon_dioxide_meter is None
    ]
    homeless = [p.id for p in pipes if site.room is None and p.room is None]
    unsaid = [p.id for p in pipes if site.fluid is None and p.fluid is None]
    warm, tight = site.water_temperature is None, site.clear_space is None
    bare = [p.id for p in pipes if p.material is Material.UNKNOWN]
    return [
        _MATERIAL.of(layout, bare),
        _WATER.of(layout, (p.id for p in pipes if warm and p.water_temperature is None)),
        _FLUID.of(layout, unsaid),
        _CLEAR.of(layout, (p.id for p in pipes if tight and p.clear_space is None)),
        _ROOM.of(layout, rooms or (["plant"] if homeless and not site.rooms else [])),
        _IN_ROOM.of(layout, homeless),
        _STOCK.of(layout, [] if site.stock else ["stock"]),
    ]


def _water(layout: Layout, near: NearWork) -> list[ToFill]:
    bare = [
        s.id
        for s in layout.sources
        if s.pressure is None and not (s.kind is SourceKind.RAISED_TANK and s.level is not None)
    ]
    valves = [v for v in layout.valves if near.has(v)]
    unstated = [v.id for v in valves if None in {v.at(m) for m in Moment}]
    shut = [v.id for v in valves if v.tightness is None and "closed" in {v.at(m) for m in Moment}]
    pumps = [
        p.id
        for p in layout.pumps
        if p.shutoff_head is None and not all(p.is_locked(m) for m in Moment)
    ]
    return [
        _NO_SOURCE.of(layout, [] if layout.sources else ["sources"]),
        _PRESSURE.of(layout, bare),
        _STATE.of(layout, unstated),
        _TIGHT.of(layout, shut),
        _PUMPS.of(layout, pumps),
    ]


def _pipework(layout: Layout, near: NearWork) -> list[ToFill]:
    facts = [u for own, us in unstated_of(layout).items() if near.pipe(own) for u in us]
    heights = [j.id for j in layout.junctions if j.elevation is None and near.junction(j.id)]
    tanks = [g.id for g in layout.equipment if g.kind is EquipmentKind.TANK and g.level is None]
    taps = [o for o in layout.outlets if None in {o.at(m) for m in Moment} and near.has(o)]
    return [
        _LENGTH.of(layout, (u.pipe for u in facts if u.field == "length")),
        _SIZE.of(layout, (u.pipe for u in facts if u.field == "size")),
        _END.of(layout, (own for own in open_ends(layout) if near.junction(own))),
        _HEIGHT.of(layout, heights),
        _LEVEL.of(layout, tanks),
        _OUTLET.of(layout, (o.id for o in taps)),
    ]
