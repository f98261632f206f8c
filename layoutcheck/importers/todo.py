"""What a layout still lacks, in the order in which it matters for the rules."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from layoutcheck.document.ends import open_ends
from layoutcheck.document.models import EquipmentKind, Layout, Moment, SourceKind


@dataclass(frozen=True)
class ToFill:
    """One thing to fill in by hand: which elements lack it, why it matters, a right example."""

    what: str
    why: str
    rules: tuple[str, ...]
    elements: tuple[str, ...]
    example: str


@dataclass(frozen=True)
class _Ask:
    what: str
    why: str
    rules: str
    example: str

    def of(self, elements: Iterable[str]) -> ToFill:
        return ToFill(self.what, self.why, tuple(self.rules.split()), tuple(elements), self.example)


_STATE = _Ask(
    "how each valve stands while freezing and while working",
    "A valve of unknown state is taken as open for water and as closed for setbacks.",
    "isolation no-flow-at-plug closed-valve-setback trapped-water",
    '"state": "closed"',
)
_TIGHT = _Ask(
    "whether each closed valve was shown to hold",
    "A single closed valve that nobody has proven is a barrier in doubt.",
    "barrier-in-doubt",
    '"tightness": "proven"',
)
_END = _Ask(
    "what ends each pipe that ends with nothing on it: a cap, a source, an outlet, or it goes on",
    "Water may come in or leave there, and nobody has said that it can not.",
    "open-end isolation no-flow-at-plug closed-end-setback",
    '"goes_on": "fed"',
)
_NO_SOURCE = _Ask(
    "where water is pressed in: mains, pumps, raised tanks, vessels",
    "Without a source nothing has to be cut off, and the answer would be worth nothing.",
    "isolation no-flow-at-plug holding-pressure",
    '"sources": [{"id": "main", "junction": "J1", "kind": "main", "pressure": "60 psi"}]',
)
_PRESSURE = _Ask(
    "the highest pressure of each source",
    "The head at a plug is made of it.",
    "holding-pressure plug-loss",
    '"pressure": "60 psi"',
)
_PUMPS = _Ask(
    "for each pump, whether it is locked off, else its rise at no flow",
    "A pump not locked off may run, and move or press the water at a plug.",
    "no-flow-at-plug holding-pressure",
    '"locked_off": true',
)
_HEIGHT = _Ask(
    "the height of each junction",
    "Head, draining and natural circulation depend on heights.",
    "holding-pressure isolation plug-loss natural-circulation",
    '"elevation": "14 ft"',
)
_LEVEL = _Ask(
    "the water level of each tank",
    "The head at a plug is made of it.",
    "holding-pressure plug-loss",
    '"level": "40 ft"',
)
_WORK = _Ask(
    "what will be opened, and for how long",
    "Without the work there is nothing to cut off.",
    "isolation trapped-water coolant-on-hand",
    '"work": {"open": [{"valve": "V7"}], "duration": "3 h"}',
)
_PLUGS = _Ask(
    "where the plugs are to be frozen",
    "Without plugs no place is judged.",
    "flowing-line-setback plug-spacing straight-run",
    '"plugs": [{"id": "A", "pipe": "P2", "station": "12 ft", "jacket": "12 in"}]',
)
_WATER = _Ask(
    "the temperature of the water",
    "The time and the coolant of each freeze depend on it.",
    "start-temperature coolant-on-hand",
    '"site": {"water_temperature": "60 degF"}',
)
_MATERIAL = _Ask(
    "what each pipe is made of",
    "The cold makes some walls brittle.",
    "wall-material",
    '"material": "carbon steel"',
)
_CLEAR = _Ask(
    "the free space round the pipes, seen on site",
    "The jacket and hands need room.",
    "jacket-clearance",
    '"site": {"clear_space": "12 in"}',
)
_ROOM = _Ask(
    "the room of each pipe: floor area, height, air changes, meters, flood depth",
    "Coolant let off takes the air's place; water let go fills the room.",
    "room-air plug-loss",
    '"site": {"room": "plant", "rooms": [{"id": "plant", "floor_area": "200 ft2", …}]}',
)
_STOCK = _Ask(
    "the coolant on hand and where it is stored",
    "Freeze, hold and reserve are held against it.",
    "coolant-on-hand cylinder-temperature",
    '"site": {"stock": [{"coolant": "carbon dioxide", "cylinders": 4, "mass_each": "50 lb"}]}',
)
_OUTLET = _Ask(
    "how each outlet stands",
    "An outlet not stated may draw, and water then moves.",
    "no-flow-at-plug flowing-line-setback",
    '"state": "locked off"',
)


def to_fill_in(layout: Layout) -> tuple[ToFill, ...]:
    """List what to fill in by hand, what matters most first; nothing is listed that is there."""
    found = [*_valves(layout), *_pressures(layout), *_heights(layout), *_job(layout)]
    found += _site(layout)
    unstated = (o.id for o in layout.outlets if None in {o.at(m) for m in Moment})
    return tuple(t for t in (*found, _OUTLET.of(unstated)) if t.elements)


def _valves(layout: Layout) -> list[ToFill]:
    unstated = [v.id for v in layout.valves if None in {v.at(m) for m in Moment}]
    shut = [
        v.id for v in layout.valves if v.tightness is None and "closed" in {v.at(m) for m in Moment}
    ]
    return [_STATE.of(unstated), _TIGHT.of(shut)]


def _pressures(layout: Layout) -> list[ToFill]:
    bare = [
        s.id
        for s in layout.sources
        if s.pressure is None and not (s.kind is SourceKind.RAISED_TANK and s.level is not None)
    ]
    pumps = [
        p.id
        for p in layout.pumps
        if p.shutoff_head is None and not all(p.is_locked(m) for m in Moment)
    ]
    none = [] if layout.sources else ["sources"]
    return [
        _NO_SOURCE.of(none),
        _END.of(open_ends(layout)),
        _PRESSURE.of(bare),
        _PUMPS.of(pumps),
    ]


def _heights(layout: Layout) -> list[ToFill]:
    tanks = [g.id for g in layout.equipment if g.kind is EquipmentKind.TANK and g.level is None]
    return [_HEIGHT.of(j.id for j in layout.junctions if j.elevation is None), _LEVEL.of(tanks)]


def _job(layout: Layout) -> list[ToFill]:
    return [
        _WORK.of([] if layout.work else ["work"]),
        _PLUGS.of([] if layout.plugs else ["plugs"]),
    ]


def _site(layout: Layout) -> list[ToFill]:
    site = layout.site
    warm = site.water_temperature is None
    tight = site.clear_space is None
    lost = site.room is None
    rooms = [
        r.id
        for r in site.rooms
        if (r.floor_area is None and r.volume is None)
        or (r.ventilation is None and r.air_changes is None)
        or r.flood_depth is None
        or r.carbon_dioxide_meter is None
    ]
    homeless = [p.id for p in layout.pipes if lost and p.room is None]
    return [
        _WATER.of(p.id for p in layout.pipes if warm and p.water_temperature is None),
        _MATERIAL.of(p.id for p in layout.pipes if p.material.value == "unknown"),
        _CLEAR.of(p.id for p in layout.pipes if tight and p.clear_space is None),
        _ROOM.of([*rooms, *homeless]),
        _STOCK.of([] if site.stock else ["stock"]),
    ]
