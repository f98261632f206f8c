"""The low, the likely and the high case of a pipe, and the grid that each is run on."""

from __future__ import annotations

import math
from dataclasses import dataclass

from layoutcheck.physics.coolant import COOLANT_TEMPERATURE
from layoutcheck.physics.ice import mesh as grids
from layoutcheck.physics.ice.inputs import (
    COVERED_PIPE,
    SOLID_LENGTH_SPREAD,
    START_TEMPERATURE_SPREAD,
    FreezeInputs,
)
from layoutcheck.physics.ice.tables import pipe_tables
from layoutcheck.physics.ice.transient import Room, Setting
from layoutcheck.physics.properties import FREEZING_POINT, WALLS


@dataclass(frozen=True, slots=True)
class Resolution:
    """Rings and slices of the grid, and the share of a slice's heat that may leave in one step.

    slices: under half a jacket.
    """

    water_rings: int = 8
    wall_rings: int = 1
    slices: int = 6
    progress: float = 0.05


STANDARD = Resolution()
"""Against one twice as fine in rings, slices and steps (our own runs, likely case; 1/2 to 12 in,
every wall that figures are kept for, both coolants; 120 level pipes and 12 columns of 1 to 6 in):
time to the plug -1.4 to +2.2 % in level pipe, -0.8 to +3.9 % with a column, heat -2.3 to +6.7 %.
A test holds it to 2.5, 4 and 8 %. The model's error is taken as 25 %."""
ROUGH = Resolution(slices=3, progress=0.2)
"""For what is only compared with another run on it."""
FINE = Resolution(water_rings=16, wall_rings=2, slices=12, progress=0.02)
"""Twice as fine in every way: the error of the standard grid is measured against it."""


@dataclass(frozen=True, slots=True)
class Case:
    """One of the three cases.

    Attributes:
        mixing: strength of the closure across the pipe, and along a level one.
        exchange: constant of the exchange along a pipe that rises.
        room: film of pipe colder and of pipe warmer than the room, W/(m2 K).
    """

    name: str
    start_temperature: float
    conductance: float
    needed: float
    mixing: float
    exchange: float
    room: tuple[float, float]


def cases_of(inputs: FreezeInputs) -> tuple[Case, Case, Case]:
    """Spread the uncertain inputs into a low, a likely and a high case (by time to plug)."""
    needed, start = inputs.solid_length, inputs.start_temperature
    longest = max(needed, min(needed * (1.0 + SOLID_LENGTH_SPREAD), inputs.jacket_length))
    film, level = inputs.ambient_conductance, inputs.is_level
    exchange = inputs.exchange
    return (
        Case(
            "low",
            max(start - START_TEMPERATURE_SPREAD, FREEZING_POINT),
            inputs.conductance.high,
            needed * (1.0 - SOLID_LENGTH_SPREAD),
            0.0 if level else 0.5,
            exchange.low,
            (film.low, film.high),
        ),
        Case(
            "likely",
            start,
            inputs.conductance.likely,
            needed,
            1.0,
            exchange.likely,
            (film.likely, min(film.likely, COVERED_PIPE.likely)),
        ),
        Case(
            "high",
            start + START_TEMPERATURE_SPREAD,
            inputs.conductance.low,
            longest,
            2.0,
            exchange.high,
            (film.high, min(film.low, COVERED_PIPE.low)),
        ),
    )


def setting_of(inputs: FreezeInputs, case: Case, resolution: Resolution) -> Setting:
    """Make the grid, the material tables and the surroundings of one run."""
    half = 0.5 * inputs.jacket_length
    slices, first_edge = _slices_of(inputs, case, resolution)
    mesh = grids.cylinder(
        ring_edges=grids.ring_edges(
            inside_radius=inputs.inside_radius,
            wall=inputs.wall,
            water_rings=resolution.water_rings,
            wall_rings=resolution.wall_rings,
        ),
        rings_of_water=resolution.water_rings,
        slices=slices,
        first_edge=first_edge,
    )
    return Setting(
        mesh=mesh,
        tables=pipe_tables(inputs.material),
        start=case.start_temperature - FREEZING_POINT,
        half_jacket=half,
        jacket_conductance=case.conductance,
        coolant=COOLANT_TEMPERATURE[inputs.coolant] - FREEZING_POINT,
        room=Room(*case.room, inputs.ambient_temperature - FREEZING_POINT),
        sides=1 if case.exchange > 0.0 else 2,
        stirring=case.mixing,
        exchange=case.exchange,
        progress=resolution.progress,
    )


def _slices_of(
    inputs: FreezeInputs, case: Case, resolution: Resolution
) -> tuple[grids.Numbers, float]:
    """Slices of the half that is modelled, or of a whole pipe with the column below it."""
    under = _slices(inputs, resolution)
    reach = _reach(inputs)
    if case.exchange <= 0.0:
        half = 0.5 * inputs.jacket_length
        return grids.slice_thicknesses(half_jacket=half, beyond=reach, under_jacket=under), 0.0
    fineness = resolution.slices / STANDARD.slices
    return grids.slices_of_a_column(
        jacket=inputs.jacket_length,
        above=reach,
        below=max(reach, inputs.column),
        under_jacket=2 * under,
        growth=1.4 ** (1.0 / fineness),
    )


def _slices(inputs: FreezeInputs, resolution: Resolution) -> int:
    """More slices under a long jacket, so that none is longer than two thirds of a diameter."""
    at_most = 0.67 * inputs.outside_diameter
    return min(max(resolution.slices, math.ceil(0.5 * inputs.jacket_length / at_most)), 40)


def _reach(inputs: FreezeInputs) -> float:
    """Bare pipe to model beyond the jacket: eight diameters, or four decay lengths."""
    conductivity = float(WALLS[inputs.material].conductivity(FREEZING_POINT))
    radius = 0.5 * inputs.outside_diameter
    carried = conductivity * math.pi * (radius**2 - inputs.inside_radius**2)
    carried += 3.0 * math.pi * inputs.inside_radius**2
    film = max(inputs.ambient_conductance.low, 2.0)
    decay = math.sqrt(carried / (film * 2.0 * math.pi * radius))
    return max(8.0 * inputs.outside_diameter, 4.0 * decay)
