"""Invented sites of any size for the benchmarks: a campus of like buildings on looped yard mains.

Nothing in them is taken from a real place. The same (pipes, plugs, seed) give the same document.

    yard:      mains NPS 8 in rows, tied together by every fourth column, so they are looped; two
               feeds from the town, a raised tank for every 25 buildings
    building:  a service pipe with a reducer and a stop valve; a riser of ten floors that narrows
               half way up; two wings on each floor; a heating loop of its own with a pump, a
               heater and an expansion vessel; every third building has its riser tied back to the
               yard through a shut valve (proven, not proven, nothing said, or passing)
    wing:      by turns a branch (a joint, a tee with a tap, a capped end) and a ring (fed at one
               corner, two taps); both with a valve that a job may be done on
    plan:      drawn to scale, floors one above the other a hand apart, so a riser is a point; one
               duct for each building; here and there a pipe with a corner, with a covering that is
               fixed, with little space stated, with warm water

A job opens the valve of a wing and has two plugs, one on either side of it. On a branch the second
only holds back the water of the wing; on a ring both must hold. The taps of its wing are locked
off but for one bleed. Some plugs are marked by a drawn point, which is snapped to its pipe. The
jobs are spread over the whole site. Every other job is sound; the rest break a rule each, by turns
(FAULTS).
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache
from typing import Any

Row = dict[str, Any]

FLOORS = 10
FLOOR_HEIGHT = 3.5
GAP = 80.0  # between buildings, m

# What is wrong with a job; every other job is sound. The first that leaves some work open to the
# water is the eleventh, so with 20 plugs or fewer all work is cut off, and with 48 or more not.
FAULTS = (
    "near the riser",
    "at the valve",
    "tap may draw",
    "by a shut valve",
    "too near each other",
    "little space",
    "on the riser",
    "valve not stated",
    "warm water",
    "near the end",
    "first plug left out",
    "leans on a valve",
)
SOUND = "nothing"


@dataclass
class Campus:
    """A site in the making."""

    random: random.Random
    jobs: dict[int, str]
    junctions: list[Row] = field(default_factory=list)
    pipes: list[Row] = field(default_factory=list)
    valves: list[Row] = field(default_factory=list)
    pumps: list[Row] = field(default_factory=list)
    equipment: list[Row] = field(default_factory=list)
    sources: list[Row] = field(default_factory=list)
    outlets: list[Row] = field(default_factory=list)
    obstructions: list[Row] = field(default_factory=list)
    opened: list[Row] = field(default_factory=list)
    plugs: list[Row] = field(default_factory=list)

    def junction(self, name: str, at: tuple[float, float, float], fitting: str = "tee") -> str:
        x, y, z = at
        row: Row = {"id": name, "elevation": metres(z), "at": [x, y], "fitting": fitting}
        if fitting == "weld":
            del row["fitting"]
        self.junctions.append(row)
        return name

    def pipe(self, name: str, ends: tuple[str, str], size: str, length: float) -> str:
        row: Row = {
            "id": name,
            "from": ends[0],
            "to": ends[1],
            "size": size,
            "material": "copper" if size in _COPPER else "carbon steel",
            "wall": "type L" if size in _COPPER else "sch 40",
            "length": metres(length),
        }
        self.pipes.append(row)
        return name


@dataclass(frozen=True)
class Wing:
    """Where the parts of a job lie: pipes and stations (m)."""

    name: str
    riser: str
    lead: str
    places: tuple[tuple[str, float], tuple[str, float]]
    valve_pipe: str
    valve_face: float
    end: tuple[str, float]


_COPPER = ("NPS 1/2", "NPS 1", "NPS 2")


@cache
def metres(value: float) -> str:
    """Write a length to the millimetre."""
    return f"{round(value, 3):g} m"


def campus(pipes: int, plugs: int, seed: int = 1) -> Row:
    """Invent a site of at least `pipes` pipes (at most 150 more) with `plugs` plugs.

    plugs: at most one in four pipes. A plug that a faulty job leaves out stands on a spare wing.
    """
    buildings = max(1, round(pipes / PIPES_EACH + 0.499))
    wings = buildings * FLOORS * 2
    wanted = (plugs + 1) // 2
    assert wanted <= wings, f"{pipes} pipes have room for {2 * wings} plugs"
    source = random.Random(seed)
    chosen = sorted(source.sample(range(wings), wanted))
    made = Campus(
        random=source,
        jobs={
            wing: SOUND if number % 2 else FAULTS[(number // 2) % len(FAULTS)]
            for number, wing in enumerate(chosen)
        },
    )
    columns = max(2, round(buildings**0.5))
    _yard(made, buildings, columns)
    for number in range(buildings):
        _building(made, number, columns)
    return _document(made, plugs)


def _place(number: int, columns: int) -> tuple[float, float]:
    return GAP * (number % columns), GAP * (number // columns)


def _yard(made: Campus, buildings: int, columns: int) -> None:
    for number in range(buildings):
        x, y = _place(number, columns)
        made.junction(f"Y{number}", (x, y, -1.5))
        if number % columns:
            made.pipe(f"YP{number}", (f"Y{number - 1}", f"Y{number}"), "NPS 8", GAP)
        if number >= columns and (number % columns) % 4 == 0:
            made.pipe(f"YC{number}", (f"Y{number - columns}", f"Y{number}"), "NPS 8", GAP)
            made.valves.append(
                {
                    "id": f"YV{number}",
                    "kind": "gate",
                    "state": "open",
                    "pipe": f"YC{number}",
                    "station": "40 m",
                    "body": "0.3 m",
                }
            )
    for end in sorted({0, buildings - 1}):
        made.junction(f"F{end}", (*_beside(_place(end, columns)), -1.5), "flange")
        made.pipe(f"FP{end}", (f"F{end}", f"Y{end}"), "NPS 8", 10.0)
        made.sources.append(
            {"id": f"TOWN{end}", "junction": f"F{end}", "kind": "main", "pressure": "600 kPa"}
        )


def _beside(place: tuple[float, float]) -> tuple[float, float]:
    return place[0], place[1] - 10.0


def _building(made: Campus, number: int, columns: int) -> None:
    name, (x, y) = f"B{number}", _place(number, columns)
    made.junction(f"{name}-in", (x + 10, y, -1.5), "reducer")
    foot = made.junction(f"{name}-R0", (x + 20, y, -1.5), "elbow")
    made.pipe(f"{name}-S1", (f"Y{number}", f"{name}-in"), "NPS 4", 10.0)
    made.pipe(f"{name}-S2", (f"{name}-in", foot), "NPS 3", 10.0)
    made.valves.append(
        {
            "id": f"{name}-SV",
            "kind": "gate",
            "state": "open",
            "pipe": f"{name}-S1",
            "station": "5 m",
            "body": "0.25 m",
        }
    )
    for floor in range(1, FLOORS + 1):
        z = FLOOR_HEIGHT * floor - 1.5
        top = made.junction(f"{name}-R{floor}", (x + 20, y, z), "cross" if floor < 10 else "tee")
        size = "NPS 3" if floor <= FLOORS // 2 else "NPS 2 1/2"
        made.pipe(f"{name}-R{floor}P", (f"{name}-R{floor - 1}", top), size, FLOOR_HEIGHT)
        for side, make in enumerate((_branch, _ring)):
            wing = (number * FLOORS + floor - 1) * 2 + side
            # A hand apart in plan, so that a drawn point means one floor's pipe.
            at = (x + 20, round(y + 0.05 * floor, 2), z)
            make(made, f"{name}-{floor}{'WE'[side]}", at, top, made.jobs.get(wing))
    _heating(made, name, (x + 20, y + 5, -1.0))
    if number % 3 == 2:
        _tie(made, number, columns)
    if number % 25 == 24:
        _tank(made, name, (x + 20, y))
    made.obstructions.append(_duct(name, x, y))


def _tie(made: Campus, number: int, columns: int) -> None:
    """Tie the riser's top back to the yard through a shut valve."""
    name, (x, y) = f"B{number}", _place(number, columns)
    head = f"{name}-R{FLOORS}"
    z = FLOOR_HEIGHT * FLOORS - 1.5
    made.junction(f"{name}-T", (x, y, z), "elbow")
    made.pipe(f"{name}-T1", (head, f"{name}-T"), "NPS 2", 20.0)
    made.pipe(f"{name}-T2", (f"{name}-T", f"Y{number}"), "NPS 2", FLOOR_HEIGHT * FLOORS)
    states: list[Row] = [
        {"state": "closed", "tightness": "proven"},
        {"state": "closed", "tightness": "not proven"},
        {"state": "closed"},
        {"state": "passing"},
    ]
    valve: Row = {"id": f"{name}-TV", "kind": "globe", "pipe": f"{name}-T1", "station": "10 m"}
    made.valves.append(valve | {"body": "0.2 m"} | states[(number // 3) % 4])


def _tank(made: Campus, name: str, at: tuple[float, float]) -> None:
    z = FLOOR_HEIGHT * FLOORS + 1.5
    made.junction(f"{name}-K", (*at, z), "flange")
    made.pipe(f"{name}-KP", (f"{name}-R{FLOORS}", f"{name}-K"), "NPS 2", 3.0)
    level = metres(z + 2.0)
    made.sources.append(
        {"id": f"{name}-TANK", "junction": f"{name}-K", "kind": "raised tank", "level": level}
    )


def _duct(name: str, x: float, y: float) -> Row:
    """Put a duct across the wings near the riser, under the ceiling of the fourth floor."""
    z = 4 * FLOOR_HEIGHT - 1.5
    outline = [[x + 23, y - 1], [x + 24, y - 1], [x + 24, y + 1], [x + 23, y + 1]]
    return {
        "id": f"{name}-DUCT",
        "outline": outline,
        "bottom": metres(z + 0.1),
        "top": metres(z + 0.5),
    }


def _branch(
    made: Campus, name: str, at: tuple[float, float, float], top: str, fault: str | None
) -> None:
    """Lay a dead branch: joint, valve, tee with a tap, capped end. Five pipes."""
    x, y, z = at
    joint = made.junction(f"{name}-a", (x + 12, y, z), "weld")
    tee = made.junction(f"{name}-b", (x + 24, y, z))
    tap = made.junction(f"{name}-t", (x + 24, y + 3, z + 1.0), "other")
    turned = made.random.random() < 0.2
    end = made.junction(f"{name}-c", (x + 30, y - 3 if turned else y, z), "cap")
    first = made.pipe(f"{name}-1", (top, joint), "NPS 2", 12.0)
    second = made.pipe(f"{name}-2", (joint, tee), "NPS 2", 12.0)
    made.pipe(f"{name}-3", (tee, tap), "NPS 1/2", 4.0)
    last = 9.0 if turned else 6.0
    made.pipe(f"{name}-4", (tee, end), "NPS 1", last)
    if turned:
        made.pipes[-1]["via"] = [[x + 30, y]]
    _vary(made)
    _wing_valve(made, name, second, fault)
    _outlet(made, name, tap, fault, "bleed")
    if fault is not None:
        wing = Wing(
            name=name,
            riser=f"{top}P",
            lead=first,
            places=((first, 8.0), (second, 9.0)),
            valve_pipe=second,
            valve_face=6.2,
            end=(f"{name}-4", last - 0.3),
        )
        _job(made, wing, fault)
        if len(made.opened) % 5 == 4 and made.plugs[-1]["pipe"] == second:
            _by_point(made.plugs[-1], (x + 12, y))


def _ring(
    made: Campus, name: str, at: tuple[float, float, float], top: str, fault: str | None
) -> None:
    """Lay a ring fed at one corner, with a valve in its far side. Seven pipes."""
    x, y, z = at
    corners = [(4.0, 0.0), (16.0, 0.0), (16.0, 8.0), (4.0, 8.0)]
    names = [
        made.junction(f"{name}-{i}", (x - dx, y - 2 - dy, z), "elbow" if i == 2 else "tee")
        for i, (dx, dy) in enumerate(corners)
    ]
    made.pipe(f"{name}-f", (top, names[0]), "NPS 2", 6.0)
    sides = [
        made.pipe(f"{name}-r{i}", (names[i], names[(i + 1) % 4]), "NPS 2", length)
        for i, length in enumerate((12.0, 8.0, 12.0, 8.0))
    ]
    for i, corner in ((1, corners[1]), (3, corners[3])):
        tap = made.junction(
            f"{name}-t{i}", (x - corner[0] - 1, y - 2 - corner[1], z - 1.5), "other"
        )
        made.pipe(f"{name}-p{i}", (names[i], tap), "NPS 1/2", 2.5)
        _outlet(made, f"{name}{i}", tap, fault, "bleed" if i == 1 else "locked off")
    _vary(made)
    _wing_valve(made, name, sides[2], fault)
    if fault is not None:
        wing = Wing(
            name=name,
            riser=f"{top}P",
            lead=f"{name}-f",
            places=((sides[1], 4.0), (sides[3], 5.0)),
            valve_pipe=sides[2],
            valve_face=0.3,
            end=(f"{name}-p3", 2.2),
        )
        _job(made, wing, fault)


def _vary(made: Campus) -> None:
    """Give some pipe of the wing just laid a corner, a covering, or little space."""
    row = made.pipes[-made.random.randrange(1, 5)]
    chance = made.random.random()
    if chance < 0.10:
        row["covering"] = "fixed"
    elif chance < 0.25:
        row["covering"] = "insulation"
    elif chance < 0.33:
        row["clear_space"] = "0.05 m"
    elif chance < 0.43:
        row["water_temperature"] = "30 degC"


def _wing_valve(made: Campus, name: str, pipe: str, fault: str | None) -> None:
    row: Row = {"id": f"{name}-V", "kind": "ball", "pipe": pipe, "station": "6 m", "body": "0.2 m"}
    if fault != "valve not stated":
        row["state"] = "open"
    made.valves.append(row)


def _outlet(made: Campus, name: str, junction: str, fault: str | None, state: str) -> None:
    row: Row = {"id": f"{name}-O", "junction": junction}
    if fault is not None and not (fault == "tap may draw" and state == "bleed"):
        row["state"] = state
    made.outlets.append(row)


def _job(made: Campus, wing: Wing, fault: str) -> None:
    """Open the wing's valve, and mark a plug on either side."""
    name = wing.name
    made.opened.append({"valve": f"{name}-V"})
    first, second = wing.places
    if fault == "near the riser":
        first = (first[0], 0.4)
    elif fault == "at the valve":
        second = (second[0], wing.valve_face)
    elif fault == "on the riser":
        first = (wing.riser, 1.5)
    elif fault == "too near each other":
        # On either side of the valve, which is opened between them.
        first, second = (wing.valve_pipe, 5.55), (wing.valve_pipe, 6.45)
    elif fault == "near the end":
        second = wing.end
    _spoil(made, wing, fault)
    kept = [first, second]
    if fault in {"first plug left out", "leans on a valve"}:
        kept = [second]
    for letter, (pipe, station) in zip("AB", kept, strict=False):
        made.plugs.append(_plug(f"{name}-{letter}", pipe, station))


def _spoil(made: Campus, wing: Wing, fault: str) -> None:
    """Change the wing itself, where that is what is wrong."""
    pipe, station = wing.places[1]
    row = next(p for p in reversed(made.pipes) if p["id"] == pipe)
    for said in ("clear_space", "water_temperature", "covering"):
        row.pop(said, None)
    if fault == "little space":
        row["clear_space"] = "0.05 m"
    elif fault == "warm water":
        row["water_temperature"] = "30 degC"
    elif fault == "by a shut valve":
        made.valves.append(_shut(f"{wing.name}-X", pipe, station - 0.7) | {"tightness": "proven"})
    elif fault == "leans on a valve":
        made.valves.append(_shut(f"{wing.name}-X", wing.lead, 3.0))


def _shut(name: str, pipe: str, station: float) -> Row:
    place = {"pipe": pipe, "station": metres(station), "body": "0.1 m"}
    return {"id": name, "kind": "ball", "state": "closed", **place}


def _plug(name: str, pipe: str, station: float) -> Row:
    return {"id": name, "pipe": pipe, "station": metres(station), "jacket": "0.3 m"}


def _by_point(plug: Row, start: tuple[float, float]) -> None:
    """Mark a plug by a point drawn a little beside its pipe instead of by a station."""
    station = float(plug.pop("station").removesuffix(" m"))
    del plug["pipe"]
    plug["point"] = [start[0] + station, start[1] + 0.01]


def _heating(made: Campus, name: str, at: tuple[float, float, float]) -> None:
    """Lay the building's own closed loop with a pump and a heater. Five pipes."""
    x, y, z = at
    corners = [(0.0, 0.0, 0.0), (6.0, 0.0, 0.0), (6.0, 4.0, 2.0), (0.0, 4.0, 2.0)]
    names = [
        made.junction(f"{name}-H{i}", (x + dx, y + dy, z + dz), "tee" if i == 0 else "elbow")
        for i, (dx, dy, dz) in enumerate(corners)
    ]
    for i in range(4):
        made.pipe(f"{name}-HP{i}", (names[i], names[(i + 1) % 4]), "NPS 2", 6.0)
    vessel = made.junction(f"{name}-HX", (x - 2, y, z), "flange")
    made.pipe(f"{name}-HP4", (names[0], vessel), "NPS 1", 2.0)
    made.sources.append(
        {
            "id": f"{name}-X",
            "junction": vessel,
            "kind": "expansion vessel",
            "pressure": "150 kPa",
            "volume": "80 L",
        }
    )
    made.pumps.append(
        {"id": f"{name}-P", "pipe": f"{name}-HP0", "station": "3 m", "shutoff_head": "60 kPa"}
    )
    made.equipment.append(
        {"id": f"{name}-BOILER", "kind": "heater", "pipe": f"{name}-HP2", "station": "3 m"}
    )


# A service of 2, a riser of 10, wings of 4 and 7, heating of 5, and one of the yard.
PIPES_EACH = 2 + FLOORS + FLOORS * (4 + 7) + 5 + 1


def _spare(made: Campus, plugs: int) -> Iterator[Row]:
    """Stand what plugs are missing on heating loops and service pipes."""
    wanted = plugs - len(made.plugs)
    for number in range(wanted):
        building = number % max(1, len(made.obstructions))
        station = 2.0 + 0.9 * (number // max(1, len(made.obstructions)))
        yield _plug(f"SPARE-{number}", f"B{building}-S2", station)


def _document(made: Campus, plugs: int) -> Row:
    marked = made.plugs[:plugs]
    marked += _spare(made, plugs)
    return {
        "format": "layoutcheck layout 1",
        "name": f"Invented campus of {len(made.pipes)} pipes with {plugs} plugs",
        "note": "Invented for the benchmarks.",
        "units": "metric",
        "drawing": {"kind": "plan", "scale": "1 m", "snap_within": 0.5},
        "junctions": made.junctions,
        "pipes": made.pipes,
        "valves": made.valves,
        "pumps": made.pumps,
        "equipment": made.equipment,
        "sources": made.sources,
        "outlets": made.outlets,
        "work": {
            "open": made.opened,
            "duration": "3 h",
            "if_a_plug_goes": "The keeper shuts the building's stop valve.",
        },
        "plugs": marked,
        "site": SITE | {"obstructions": made.obstructions},
    }


# Stated and generous, so that where a plug stands decides.
SITE: Row = {
    "water_temperature": "12 degC",
    "air_temperature": "20 degC",
    "clear_space": "0.6 m",
    "room": "R",
    "rooms": [
        {
            "id": "R",
            "volume": "20000 m3",
            "floor_area": "4000 m2",
            "height": "5 m",
            "air_changes": "10 per hour",
            "below_ground": False,
            "carbon_dioxide_meter": True,
            "oxygen_meter": True,
            "flood_depth": "1 m",
        }
    ],
    "stock": [
        {
            "coolant": "carbon dioxide",
            "cylinders": 10000,
            "mass_each": "20 kg",
            "storage_temperature": "18 degC",
            "dip_tube": True,
            "high_pressure": True,
            "upright": True,
        }
    ],
}
