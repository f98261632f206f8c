"""The cases whose answers pinned.json holds: every function, at and beside each of its edges."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

import numpy as np

from layoutcheck.physics import (
    air,
    coolant,
    coolant_need,
    figures,
    loss,
    properties,
    schedule,
    strength,
    trapped,
    wall,
)
from layoutcheck.physics.air import Release, Room, RoomAir
from layoutcheck.physics.coolant import Coolant, Supply
from layoutcheck.physics.coolant_need import CoolantNeed, Count, Handling, Jacket
from layoutcheck.physics.figures import Status
from layoutcheck.physics.loss import Layer, Space
from layoutcheck.physics.ranges import Range
from layoutcheck.physics.schedule import Delivery, Step, StepKind
from layoutcheck.physics.trapped import PipeSegment
from layoutcheck.quantities.materials import Material
from tests.physics.pinned import Case, Cases, table_of

CO2, LN2 = Coolant.CARBON_DIOXIDE, Coolant.NITROGEN
ODD = {"zero": 0.0, "negative": -0.5, "nan": math.nan, "infinite": math.inf}
HAIR = 1.0 + 2.0**-52


def odd_in(label: str, make: Callable[..., object], good: dict[str, Any]) -> Cases:
    """Put each odd value in the place of each good number, one at a time."""
    return {
        f"{label}{name} {kind}": partial(make, **{**good, name: odd})
        for name, value in good.items()
        if isinstance(value, float)
        for kind, odd in ODD.items()
    }


def over(
    label: str, make: Callable[..., object], name: str, values: Sequence[Any], **rest: Any
) -> Cases:
    """Call with each of some values of one argument."""
    return {f"{label}{name} {v!r}": partial(make, **rest, **{name: v}) for v in values}


# --- figures and ranges -----------------------------------------------------------------------

_EDGES = (5e-324, 1e308, -5e-324, -0.0, *ODD.values())

FIGURES: Cases = {
    **{f"positive {v!r}": partial(figures.require_positive, length=v) for v in _EDGES},
    **{f"not negative {v!r}": partial(figures.require_not_negative, mass=v) for v in _EDGES},
    "positive, second and third wrong": partial(figures.require_positive, a=1.0, b=0.0, c=-1.0),
    "not negative, second and third wrong": partial(
        figures.require_not_negative, a=0.0, b=-2.0, c=-1.0
    ),
    "positive, none": figures.require_positive,
}

_RANGE = Range(-1.0, 2.0, 5.0)
RANGES: Cases = {
    "not a number": lambda: Range(0.0, math.nan, 1.0),
    "low above likely": lambda: Range(2.0, 1.0, 3.0),
    "likely above high": lambda: Range(1.0, 3.0, 2.0),
    "endless": lambda: Range(-math.inf, 0.0, math.inf),
    "no width": lambda: Range.exactly(3.5),
    "spanning, rising": lambda: Range.spanning(1.0, 2.0, 4.0),
    "spanning, falling": lambda: Range.spanning(4.0, 2.0, 1.0),
    "values": lambda: _RANGE.values,
    "map, rising": lambda: _RANGE.map(lambda x: x**3),
    "map, falling": lambda: _RANGE.map(lambda x: 10.0 - x),
    "map, a hill": lambda: _RANGE.map(lambda x: -((x - 2.0) ** 2)),
    "scaled": lambda: _RANGE.scaled(3.0),
    "scaled, negative": lambda: _RANGE.scaled(-3.0),
    "plus": lambda: _RANGE.plus(Range(0.5, 0.75, 7.0)),
}

# --- strength ---------------------------------------------------------------------------------


def _holding(low: float, bore: float = 0.0525, **rest: float) -> Any:
    return strength.holding_pressure(
        bore=bore, plug_length=Range(low, low + 0.1, low + 0.5), **rest
    )


def _long(bore: float = 0.0525, pressure: float = 3e5, **rest: float) -> float | None:
    return strength.plug_length_needed(bore=bore, pressure=pressure, **rest)


_FORCES = {"bore": 0.05, "factor": 4.0, "adhesion": 0.2e6, "compression": 5.0e6}
STRENGTH: Cases = {
    **over("holding, ", _holding, "low", (0.0, 0.01, 0.105, 0.3, 0.33, 2.0)),
    **over("holding, ", _holding, "factor", (0.0, 0.999, 1.0, 2.5, math.inf, math.nan), low=0.2),
    **over("holding, ", _holding, "adhesion", (0.28e6, 1.0), low=0.2),
    **over("holding, ", _holding, "compression", (1.0e6, 1.0), low=0.2),
    "both limits alike": partial(_holding, 1.0, bore=0.5, adhesion=1e6, compression=8e6),
    **odd_in("holding, ", _holding, {"low": 0.1, **_FORCES}),
    **over("needed, ", _long, "pressure", (0.0, 1e3, 1.25e6, 1.25e6 * HAIR)),
    **over("needed, ", _long, "factor", (0.999, 1.0, 2.5)),
    **odd_in("needed, ", _long, {"pressure": 3e5, **_FORCES}),
    "holds just that": lambda: [_holding(0.105).holds(p) for p in (4e5 / HAIR, 4e5, 4e5 * HAIR)],
    "margins": lambda: [_holding(0.105).margin(p) for p in (0.0, 4e5, 5e5)],
}

# --- trapped water ----------------------------------------------------------------------------


def _pipe(material: Material = Material.CARBON_STEEL, **rest: Any) -> PipeSegment:
    return PipeSegment(**{"bore": 0.0525, "wall": 0.0039, "length": 2.5, **rest}, material=material)


def _rating(material: Material, rating: float | None) -> object:
    pipe = _pipe(material, rating=rating, restraint=0.9)
    return (pipe.volume, pipe.stretch(), pipe.limit())


def _shut(share: float = 0.01, *, pipes: Sequence[PipeSegment] = (), **rest: float) -> object:
    segments = list(pipes) or [_pipe(), _pipe(Material.COPPER, length=0.75, bore=0.028)]
    asked = {
        "frozen_volume": share * sum(pipe.volume for pipe in segments),
        "start_pressure": 2.5e5,
        "coldest_temperature": 194.69,
        **rest,
    }
    return trapped.trapped_pressure(segments=segments, **asked)


_GOOD_PIPE = {"bore": 0.05, "wall": 0.004, "length": 1.0, "restraint": 1.0, "rating": 1e6}
TRAPPED: Cases = {
    "walls": table_of("trapped", "WALL_STRENGTH"),
    **{
        f"{m}, rating {rating}": partial(_rating, m, rating)
        for m in Material
        for rating in (None, 1e5, 1e9)
    },
    **odd_in("pipe, ", _pipe, _GOOD_PIPE),
    **over("", _shut, "share", (0.0, 1e-6, 0.001, 0.5, 1.0, 1.0 + 0.9e-9, 1.0 + 2e-9, -0.1)),
    **over("", _shut, "start_pressure", (0.0, -5e4, 1e7, 5e7)),
    **over("", _shut, "coldest_temperature", (273.15, 280.0, 272.65, 1e-9, 0.0, -1.0, math.inf)),
    **over("", _shut, "bulk_modulus", (2.03e9, 1.0, 0.0, -1.0, math.nan)),
    "no pipe": lambda: trapped.trapped_pressure(
        segments=[], frozen_volume=0.0, start_pressure=0.0, coldest_temperature=200.0
    ),
    "one without a limit": partial(_shut, pipes=[_pipe(), _pipe(Material.CAST_IRON)]),
    "none with a limit": partial(_shut, pipes=[_pipe(Material.UNKNOWN)]),
    "rated": partial(_shut, 0.02, pipes=[_pipe(rating=9e5), _pipe(Material.PVC, rating=6e5)]),
    "ice of pipes that take more": partial(_shut, 0.02, pipes=[_pipe(Material.PEX, wall=0.02)]),
    "constants by hand": lambda: (trapped.expansion_ratio(), trapped.pressure_per_kelvin()),
}

# --- wall -------------------------------------------------------------------------------------

_NAMES = (None, "", "  ", " A. Invented, engineer ")
_RATIOS = (None, 0.0, 0.125, 0.3, 0.3 * HAIR, 0.31, 1.5)


def _verdicts() -> Cases:
    found: Cases = {}
    for material in Material:
        for cold in Coolant:
            ask = partial(wall.wall_verdict, material=material, coolant=cold)
            for name in _NAMES:
                found[f"{material}, {cold}, accepted by {name!r}"] = partial(ask, accepted_by=name)
            if material in (Material.CARBON_STEEL, Material.GALVANIZED_STEEL):
                found |= {
                    f"{material}, {cold}, {k}": c
                    for k, c in over("", ask, "stress_ratio", _RATIOS).items()
                }
    return found


def _minimum(cold: Coolant, share: float, **rest: Any) -> object:
    temperature = coolant.COOLANT_TEMPERATURE[cold] * share
    return wall.wall_verdict(
        material=Material.PEX, coolant=cold, stated_minimum=temperature, **rest
    )


_steel = partial(wall.wall_verdict, material=Material.CARBON_STEEL, coolant=CO2)
_STRESS = {"pressure": 7e5, "bore": 0.0525, "wall": 0.0039, "allowable": 117e6}
_JUST = {"just met": 1.0, "a hair warmer": HAIR, "a hair colder": 1.0 / HAIR}
WALL: Cases = {
    "without evidence": table_of("wall", "_FIXED"),
    **_verdicts(),
    **{
        f"{cold}, minimum {name}": partial(_minimum, cold, share)
        for cold in Coolant
        for name, share in _JUST.items()
    },
    "against a minimum nobody accepts": partial(_minimum, LN2, 1.5, accepted_by="A. Invented"),
    **over("steel, ", _steel, "stated_minimum", (0.0, -1.0, math.nan, math.inf)),
    **over("steel, ", _steel, "stress_ratio", (-0.1, math.nan, math.inf)),
    **over("steel, ", _steel, "limit", (0.05, 0.125, 0.2), stress_ratio=0.125),
    "high stress, accepted": partial(_steel, stress_ratio=0.5, accepted_by="A. Invented"),
    "low stress, accepted": partial(_steel, stress_ratio=0.1, accepted_by="A. Invented"),
    "stress": partial(wall.stress_ratio, **_STRESS),
    **odd_in("stress, ", wall.stress_ratio, _STRESS),
}

# --- properties -------------------------------------------------------------------------------

_OF_WATER = (
    properties.ice_conductivity,
    properties.ice_heat_capacity,
    properties.water_conductivity,
    properties.water_viscosity,
    properties.water_density,
    properties.water_heat_capacity,
)
_KELVIN = (77.36, 194.69, 250.0, 273.15, 277.13, 283.15, 288.4, 300.0, 368.0, 373.15)


_SINGLE: Any = np.array([280.0, 300.5], dtype=np.float32)


def _wall_at(material: Material) -> object:
    found = properties.WALLS[material]
    at = np.array([60.0, 77.0, 88.0, 194.69, 260.0, 350.0, 400.0])
    return (found.conductivity(at), found.heat_capacity(at), found.conductivity(100))


PROPERTIES: Cases = {
    "walls": table_of("properties", "WALLS"),
    **{f"{f.__name__}, of many": partial(f, np.array(_KELVIN)) for f in _OF_WATER},
    **{f"{f.__name__}, of one": partial(f, 280) for f in _OF_WATER},
    **{f"{f.__name__}, of single precision": partial(f, _SINGLE) for f in _OF_WATER[2:]},
    # The ice is worked out in single precision then, and only told in double.
    "kinds of the ice": lambda: [str(f(_SINGLE).dtype) for f in _OF_WATER[:2]],
    **{f"wall of {m}": partial(_wall_at, m) for m in properties.WALLS},
}

# --- loss of the plug -------------------------------------------------------------------------


def _drain(*layers: tuple[float, float, float], fills: float | None = None, **rest: Any) -> object:
    space = None if fills is None else Space(fills, 1.0)
    stack = [Layer(*layer) for layer in layers]
    return loss.loss_by_draining(**{"bore": 0.05, **rest}, layers=stack, space=space)


_SOURCE = partial(loss.loss_from_source, bore=0.05)
_OPENING = {"bore": 0.05, "head": 10.0, "coefficient": 0.8}
_TANK, _RISER = (3.0, 4.0, 2.0), (0.0, 3.0, 0.5)
_FILLS = (1e-30, 1e-6, 1.0, 2.0, 2.0 * HAIR, 2.5, 3.5, 3.5 * (1 + 1e-12), 3.5 * (1 + 2e-12), 9.0)
LOSS: Cases = {
    **odd_in("layer, ", Layer, {"bottom": 1.0, "top": 2.0, "area": 0.5}),
    **odd_in("space, ", Space, {"floor_area": 20.0, "depth": 0.05}),
    "upside down": lambda: Layer(2.0, 1.0, 0.5),
    "layer": lambda: Layer(1.0, 3.5, 0.4),
    "space": lambda: Space(20.0, 0.05),
    **over("head, ", loss.head_from_pressure, "pressure", (-1e5, 0.0, 1.0, 9806.65, 4e5, math.nan)),
    **over(
        "outflow, ", partial(loss.outflow, bore=0.05, head=10.0), "coefficient", (1.0, HAIR, 1e-9)
    ),
    **odd_in("outflow, ", loss.outflow, _OPENING),
    "outflow without head": partial(loss.outflow, bore=0.05, head=0.0, coefficient=1.0),
    **over("source, ", _SOURCE, "pressure", (-1.0, 0.0, 1e-3, 4e5), space=Space(20.0, 0.05)),
    "source into no space": partial(_SOURCE, pressure=4e5),
    "source through a known opening": partial(
        _SOURCE, pressure=4e5, space=Space(1.0, 1.0), coefficient=Range(0.5, 0.7, 0.9)
    ),
    "source through nothing": partial(_SOURCE, pressure=4e5, bore=0.0),
    **over("", partial(_drain, _RISER, _TANK), "fills", (None, *_FILLS)),
    "any order": partial(_drain, _TANK, _RISER, fills=2.5),
    "through a known opening": partial(_drain, _RISER, coefficient=Range(0.5, 0.7, 0.9), fills=0.5),
    "nothing above": partial(_drain, fills=1.0),
    "nothing above, no space": _drain,
    "no bore": partial(_drain, _RISER, bore=0.0),
    "just touching": partial(_drain, (0.0, 3.0 + 1e-9, 0.5), _TANK),
    "overlapping": partial(_drain, (0.0, (3.0 + 1e-9) * HAIR, 0.5), _TANK),
    "parts": lambda: list(loss._parts([Layer(*_TANK), Layer(*_RISER)], 2.5)),
    "parts, all but rounding": lambda: list(loss._parts([Layer(*_TANK)], 2.0 * (1 - 1e-12))),
    "parts, down to the opening but rounding": lambda: list(
        loss._parts([Layer(0.0, 1.0, 1.0)], 1.0 - 1e-12)
    ),
    "parts, down to the opening but more": lambda: list(
        loss._parts([Layer(0.0, 1.0, 1.0)], 1.0 - 2e-12)
    ),
    "parts, none": lambda: list(loss._parts([Layer(*_TANK)], 0.0)),
    "parts, too little to see": lambda: list(loss._parts([Layer(*_TANK)], 1e-30)),
}

# --- schedule ---------------------------------------------------------------------------------


def _plug(mass: float = 8.0, rate: float = 2e-3, cold: Coolant = CO2) -> CoolantNeed:
    """Make an invented need: `mass` until the plug stands, and `rate` while it is held."""
    nothing = Range.exactly(0.0)
    return CoolantNeed(
        coolant=cold,
        fill=Range(0.2 * mass, 0.25 * mass, 0.4 * mass),
        freeze=Range(0.5 * mass, 0.75 * mass, 1.5 * mass),
        hold=nothing,
        reserve=nothing,
        total=nothing,
        hold_rate=Range(0.5 * rate, rate, 2.0 * rate),
        cylinders=Count(0, 0, 0),
        share_reaching_pipe=nothing,
        cooling=1e5,
    )


_DELIVERY: dict[str, Any] = {
    "rate": 0.01,
    "injection": 300.0,
    "wait": 300.0,
    "shortest_wait": 60.0,
    "top_up_interval": 300.0,
    "source": "invented",
    "status": Status.OWN_CHOICE,
}


def _plan(
    mass: float = 5.0,
    *,
    likely: float = 600.0,
    high: float = 700.0,
    hold: float = 90.0,
    rate: float = 2e-3,
    **habits: float,
) -> object:
    found = schedule.make_schedule(
        need=_plug(mass, rate),
        freeze_time=Range(0.5 * likely, likely, high),
        hold_time=hold,
        delivery=Delivery(**{**_DELIVERY, **habits}),
    )
    return _lines(found)


def _lines(found: schedule.Schedule) -> object:
    """Give a schedule with one short list for each step."""
    steps = [[s.kind.value, s.start, s.duration, s.mass] for s in found.steps]
    due = found.start_of(StepKind.PLUG_DUE)
    rate = found.delivery.rate
    return [found.injections, found.nozzles, rate, found.top_up_interval, due, found.mass, *steps]


def _usual(cold: Coolant, low: float = 1400.0, high: float = 2300.0, hold: float = 1e3) -> object:
    return _lines(
        schedule.make_schedule(
            need=_plug(cold=cold), freeze_time=Range(low, 1800.0, high), hold_time=hold
        )
    )


def _cycle_steps(length: float, injection: float, end: float, begin: float = 10.0) -> object:
    cycle = schedule._Cycle(injection, length, 4.0)
    return schedule._cycle_steps(
        begin=begin, end=end, cycle=cycle, inject=StepKind.INJECT, wait=StepKind.WAIT
    )


def _top_ups(end: float, interval: float = 2.0, rate: float = 1.0, begin: float = 10.0) -> object:
    return schedule._top_ups(
        begin=begin, end=end, interval=interval, used=lambda time: rate * time, discharge=8.0
    )


_EMPTY = schedule.Schedule((), 0, 0, 1.0, Delivery(**_DELIVERY))
_SECONDS = (0.0, 1e-9, 15.0 + 1e-8, 15.0 + 2e-8, 30.0, 44.0)
SCHEDULE: Cases = {
    **odd_in("delivery, ", Delivery, _DELIVERY),
    "deliveries": table_of("schedule", "DELIVERY"),
    "instructions": table_of("schedule", "INSTRUCTIONS"),
    "steps": lambda: [Step(10.0, 5.0, kind, 0.5) for kind in StepKind],
    "waits alike": lambda: Delivery(**{**_DELIVERY, "shortest_wait": 300.0}),
    "shortest wait longer": lambda: Delivery(**{**_DELIVERY, "shortest_wait": 300.0 * HAIR}),
    "no such step": lambda: _EMPTY.start_of(StepKind.TOP_UP),
    "empty": lambda: _EMPTY,
    **over("up, ", schedule._up, "seconds", _SECONDS),
    **over("up by five, ", partial(schedule._up, clock=5.0), "seconds", (12.0, 15.0)),
    **{f"by habit, {cold}": partial(_usual, cold) for cold in Coolant},
    **over("", partial(_usual, CO2), "low", (0.0, -1.0)),
    **over("", partial(_usual, CO2), "high", (1800.0, 1801.0, math.inf)),
    **over("", partial(_usual, CO2), "hold", (0.0, 302.0, -1.0, math.inf, math.nan)),
    **over("plan, ", _plan, "likely", (10.0, 300.0, 301.0, 899.0, 901.0, 1503.0), high=2000.0),
    **over("plan, ", _plan, "mass", (0.0, 0.1, 5.4, 5.4 * (1 + 5e-10), 5.4 * (1 + 1e-6), 20.0)),
    **over("plan, ", _plan, "rate", (0.0, 1e-4, 0.01, 0.01 * (1 + 5e-10), 0.011, 0.02, 0.05)),
    **over("plan, ", _plan, "high", (600.0, 600.0 + 1e-8, 601.0, 615.0, 1300.0)),
    **over("plan, ", _plan, "top_up_interval", (5.0, 15.0, 29.0, 30.0, 600.0)),
    **over("plan, ", _plan, "shortest_wait", (0.0, 50.0, 600.0), wait=600.0, likely=600.0),
    **over(
        "cycles, ",
        _cycle_steps,
        "end",
        (10.0, 10.0 + 1e-9, 10.5, 11.0, 11.9, 12.0),
        length=1.0,
        injection=0.5,
    ),
    **over("cycles, ", _cycle_steps, "injection", (0.0, 0.75, 1.0), length=1.0, end=12.25),
    **over("top-ups, ", _top_ups, "end", (10.0, 10.0 + 1e-9, 10.25, 12.0, 12.5, 15.0)),
    **over("top-ups, ", _top_ups, "rate", (0.0, 0.01, 4.0), interval=12.0, end=40.0),
    "cycles, none in a sliver": partial(_cycle_steps, 1.0, 0.5, 1e-9, 0.0),
    "cycles, one in more": partial(_cycle_steps, 1.0, 0.5, 1.001e-9, 0.0),
    "top-ups, none in a sliver": partial(_top_ups, 1e-9, rate=80.0, begin=0.0),
    "top-ups, one in more": partial(_top_ups, 1.001e-9, rate=80.0, begin=0.0),
    "jacket lasts": lambda: [
        schedule._interval(_plug(mass, 1e-2), Delivery(**_DELIVERY))
        for mass in (0.0, 1.5, 3.0, 8.9, 9.0, 1e3)
    ],
}

# --- coolant ----------------------------------------------------------------------------------


def _handling(
    low: float = 0.5, high: float = 0.9, leak: float = 2.0, packing: float = 300.0
) -> Any:
    return Handling(
        Range(low, 0.5 * (low + high), high),
        Range(leak, 4.0, 8.0),
        Range(packing, 500.0, 800.0),
        "invented",
        Status.OWN_CHOICE,
    )


def _supply(cold: Coolant = CO2, warm: float | None = 293.15, **rest: Any) -> Supply:
    return Supply(cold, **{"cylinder_mass": 22.68, **rest}, cylinder_temperature=warm)


_NEEDED: dict[str, Any] = {
    "heat_to_freeze": Range(3e5, 4e5, 5e5),
    "freeze_time": Range(1400.0, 1800.0, 2300.0),
    "hold_heat": Range(2.88e5, 5.76e5, 8.64e5),
    "hold_time": 7200.0,
    "jacket": Jacket(0.0603, 0.1103, 0.3048),
    "supply": Supply(LN2, 100.0),
    "ambient_temperature": 293.15,
}
_NOTHING = Range.exactly(0.0)


def _needed(**rest: Any) -> CoolantNeed:
    return coolant_need.coolant_needed(**{**_NEEDED, **rest})


def _spans(name: str) -> Cases:
    """Put each odd value at the low and at the high end of a range that is asked for."""
    kinds = {
        "low negative": Range(-1.0, 1.0, 2.0),
        "high endless": Range(0.0, 1.0, math.inf),
        "nothing": _NOTHING,
        "all endless": Range.exactly(math.inf),
    }
    return {f"{name} {kind}": partial(_needed, **{name: span}) for kind, span in kinds.items()}


COOLANT: Cases = {
    "temperatures": table_of("coolant", "COOLANT_TEMPERATURE"),
    "handling": table_of("coolant", "HANDLING"),
    **odd_in("handling, ", _handling, {"low": 0.6, "high": 0.8, "leak": 1.0, "packing": 1.0}),
    "nothing kept or leaked": partial(_handling, 1e-9, 1.0, 0.0, 0.0),
    "more than all kept": partial(_handling, 0.5, HAIR),
    **odd_in(
        "jacket, ", Jacket, {"pipe_outside_diameter": 0.06, "outside_diameter": 0.11, "length": 0.3}
    ),
    "no gap": lambda: Jacket(0.06, 0.06, 0.3),
    "jacket": lambda: Jacket(0.06, 0.11, 0.3),
    "usual jacket": lambda: Jacket.round_pipe(pipe_outside_diameter=0.0603, length=0.3048),
    **over("supply, ", _supply, "usable", (1e-9, 1.0, HAIR, *ODD.values())),
    **over("supply, ", _supply, "cylinder_mass", tuple(ODD.values())),
    "cylinder of unknown temperature": partial(_supply, warm=None),
    "vessel": partial(_supply, LN2, None),
    "vessel of a stated temperature": partial(_supply, LN2, 293.15),
    "vessel of a stated share": partial(_supply, LN2, None, usable=0.5),
    "vessels smaller than a kilogram": lambda: coolant_need.cylinders_for(
        1.0, Supply(LN2, 0.5, usable=0.5)
    ),
    "a quarter of a joule": partial(
        _needed,
        heat_to_freeze=Range.exactly(0.25),
        jacket=Jacket(1e-6, 2e-6, 1e-6),
        handling=_handling(0.5, 0.9, 0.0, 0.0),
    ),
    "a vessel so small that its share is nothing": lambda: coolant_need.cylinders_for(
        1.0, Supply(LN2, 5e-324, usable=0.4)
    ),
    "usual": _needed,
    **{
        k: c
        for name in ("heat_to_freeze", "freeze_time", "hold_heat")
        for k, c in _spans(name).items()
    },
    **over("needed, ", _needed, "hold_time", (0.0, -1.0, math.inf)),
    **over("needed, ", _needed, "ambient_temperature", (77.355, 78.355, 70.0, 0.0, math.nan)),
    **over("needed, ", _needed, "reserve_fraction", (0.0, 0.5, -0.1, math.inf)),
    "handled otherwise": partial(_needed, handling=_handling()),
    "no share": partial(
        _needed,
        heat_to_freeze=_NOTHING,
        handling=_handling(0.5, 0.9, 0.0, 0.0),
        freeze_time=_NOTHING,
        hold_heat=_NOTHING,
    ),
    "lasts for ever": lambda: _plug(8.0, 0.0),
    "lasts": lambda: _plug(8.0, 2e-3),
    **over(
        "cylinders for ",
        partial(
            coolant_need.cylinders_for, supply=_supply(LN2, None, cylinder_mass=10.0, usable=0.5)
        ),
        "mass",
        (0.0, 5.0, 5.0 * HAIR, 12.0, -1.0, math.nan),
    ),
}

# Worked out by CoolProp, whose last digits are its own.
CYLINDER: Cases = {
    **over("snow, ", coolant.snow_yield, "cylinder_temperature", (216.592, 250.0, 293.15, 304.0)),
    **over(
        "usable, ", coolant.usable_fraction, "cylinder_temperature", (216.592, 250.0, 293.15, 304.0)
    ),
    **over(
        "snow, ", coolant.snow_yield, "cylinder_temperature", (216.591, 304.13, 310.0, math.nan)
    ),
    **over("usable, ", coolant.usable_fraction, "cylinder_temperature", (216.58, 304.13, -1.0)),
    **over("supply, ", _supply, "warm", (263.15, 293.15, 303.0)),
    "a stated share": partial(_supply, usable=0.5),
    "usual": partial(_needed, supply=_supply()),
    "cold room": partial(_needed, supply=_supply(), ambient_temperature=190.0),
    "too warm": partial(_needed, supply=_supply(warm=310.0)),
    "nearly nothing to draw": lambda: coolant_need.cylinders_for(1.0, _supply(warm=304.1)),
}

# --- air --------------------------------------------------------------------------------------

_BURST = (Release(300.0, 0.009), Release(300.0, 0.0))
_DAY = _BURST * 3 + (Release(35.0, 0.009), Release(265.0, 0.0)) * 12
_ROOMS = {
    "closed": Room(60.0, 0.0),
    "aired": Room(60.0, 0.05, 288.15, 600e-6),
    "small": Room(6.0, 0.001),
    "large": Room(2500.0, 0.3),
}
_RELEASES: dict[str, tuple[Release, ...]] = {
    "nothing": (),
    "pause": (Release(500.0, 0.0),),
    "burst": _BURST[:1],
    "late": (Release(1000.0, 0.0), Release(60.0, 0.05)),
    "day": _DAY,
    "long": (Release(40_000.0, 2e-4), Release(600.0, 4e-3), Release(5000.0, 0.0)),
    "sudden": (Release(1.0, 3.0),),
}


def _rooms() -> Cases:
    return {
        f"{cold}, {name} room, {what}": partial(
            air.room_air, room=room, coolant=cold, releases=releases
        )
        for cold in Coolant
        for name, room in _ROOMS.items()
        for what, releases in _RELEASES.items()
    }


def _story(name: str) -> object:
    """Give the history of a room at, before and between the edges of its stretches."""
    found = air._history(_ROOMS[name], CO2, _DAY[:5])
    times = np.array([-900.0, 0.0, 0.001, 150.0, 300.0, 451.0, 600.0, 1300.0, 1e4, 1e6])
    return (found.share(times), found.total(times), found.mean(times, 900.0))


def _oxygen_at(share: float) -> object:
    """Ask when the oxygen falls too low, if the worst is a share of the gas that does it."""
    found = air._history(_ROOMS["small"], LN2, _DAY[:5])
    gas = 1.0 - air.OXYGEN_LIMIT.value / air.OXYGEN_IN_AIR.value
    return air._oxygen_crossing(found, air._Worst(0.0, 300.0, gas * share))


def _danger_at(window: float, share: float) -> object:
    """Ask when the limit of immediate danger is broken, for a worst of a share of it."""
    room = _ROOMS["small"]
    found = air._history(room, CO2, _DAY[:5])
    gas = (air.DANGER_LIMIT.value - room.background) / (1.0 - room.background)
    worst = air._Worst(window, 300.0, gas * share)
    return air._crossing(found, worst, air.AirLimit.DANGER, air.DANGER_LIMIT, room)


def _outcome(cold: Coolant, peak: float, quarter: float, eight: float, oxygen: float) -> RoomAir:
    return RoomAir(cold, peak, quarter, eight, oxygen, crossed={})


def _hill(top: float) -> tuple[float, float]:
    """Look for the top of a curve that has it at `top`."""
    return air._refined(lambda x: 1.0 - (x - top) ** 2, _LINE)


def _suffice(cold: Coolant, *held: air.Meter) -> bool:
    return air.meters_suffice(cold, frozenset(held))


_LINE = np.array([0.0, 1.0, 4.0])
_STEPS = (
    Step(10.0, 20.0, StepKind.INJECT, 0.4),
    Step(30.0, 20.0, StepKind.WAIT, 0.0),
    Step(50.0, 10.0, StepKind.INJECT, 0.1),
    Step(25.0, 30.0, StepKind.INJECT, 0.9),
)
AIR: Cases = {
    "meters": table_of("air", "METER_STATEMENT"),
    "meters that suffice": lambda: [
        [_suffice(cold), *(_suffice(cold, one) for one in air.Meter), _suffice(cold, *air.Meter)]
        for cold in Coolant
    ],
    **odd_in("release, ", Release, {"duration": 10.0, "rate": 0.1}),
    **odd_in(
        "room, ", Room, {"volume": 9.0, "fresh_air": 0.1, "temperature": 290.0, "background": 5e-4}
    ),
    "releases": lambda: air.releases_of(_STEPS),
    "releases of none": lambda: air.releases_of(()),
    "releases of a wait": lambda: air.releases_of(_STEPS[1:2]),
    "releases, rounded": lambda: air.releases_of(
        [Step(0.0, 1.0, StepKind.INJECT, m) for m in (0.1, 0.2, 0.3)]
        + [Step(0.0, 2.0, StepKind.INJECT, 0.7), Step(5.0, 2.0, StepKind.INJECT, 0.7)]
    ),
    "volume of carbon dioxide": partial(air.gas_volume, 2.0, CO2, 293.15),
    "volume of nitrogen": partial(air.gas_volume, 2.0, LN2, 280.0),
    "lag": lambda: air._lag(np.array([0.0, 1e-9, 5e-5, 9.9e-5, 1e-4, 1e-3, 0.5, 1.5, 50.0])),
    "history": lambda: air._history(_ROOMS["aired"], CO2, _DAY[:5]),
    **{f"history of the {name} room": partial(_story, name) for name in _ROOMS},
    **_rooms(),
    "oxygen just at its limit": lambda: _oxygen_at(1.0),
    "oxygen just below": lambda: _oxygen_at(HAIR),
    **{
        f"danger, {window} s, {share} of what breaks it": partial(_danger_at, window, share)
        for window in (0.0, 900.0)
        for share in (0.9, 1.0, HAIR)
    },
    "severe by oxygen": lambda: _outcome(CO2, 0.001, 0.001, 0.001, 0.19),
    "severe by peak": lambda: _outcome(CO2, 0.05, 0.001, 0.001, 0.209),
    "severe by quarter": lambda: _outcome(CO2, 0.001, 0.05, 0.001, 0.209),
    "severe by day": lambda: _outcome(CO2, 0.001, 0.001, 0.05, 0.209),
    "severe by nothing": lambda: _outcome(LN2, 0.05, 0.05, 0.05, 0.209),
    **{
        f"refined, top at {top}": partial(_hill, top)
        for top in (-1.0, 0.0, 0.03, 0.5, 1.0, 3.95, 4.0, 5.0)
    },
    **{
        f"first above {limit}, before {last}": partial(
            air._first_above, lambda x: x, _LINE, limit, last
        )
        for limit in (-1.0, 0.0, 0.03, 0.5, 1.0, 1.2, 3.9, 9.0)
        for last in (0.0, 0.75, 4.0)
    },
    **{
        f"knots, {w} s": partial(air._knots, air._history(_ROOMS["aired"], CO2, _DAY[:5]), w)
        for w in (0.0, 300.0, 900.0, 28800.0)
    },
}


def _airing(cold: Coolant, volume: float, background: float, what: str) -> float | None:
    room = Room(volume, 0.7, 290.0, background)
    return air.fresh_air_needed(room=room, coolant=cold, releases=_RELEASES[what])


# Found by a root search that ends within a thousandth.
AIRING: Cases = {
    f"{cold}, {volume} m3, {background} before, {what}": partial(
        _airing, cold, volume, background, what
    )
    for cold in Coolant
    for volume in (5.0, 60.0)
    for background in (420e-6, 4000e-6, 5000e-6)
    for what in ("nothing", "burst", "day")
}
AIRING["more than 2 m3/s"] = partial(_airing, CO2, 5.0, 4900e-6, "day")

GROUPS: dict[str, dict[str, Case]] = {
    "figures": FIGURES,
    "ranges": RANGES,
    "strength": STRENGTH,
    "trapped": TRAPPED,
    "wall": WALL,
    "properties": PROPERTIES,
    "loss": LOSS,
    "schedule": SCHEDULE,
    "coolant": COOLANT,
    "cylinder": CYLINDER,
    "air": AIR,
    "airing": AIRING,
}
