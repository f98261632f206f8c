"""Enthalpy and heat-flow potential of a material, tabulated for the solver's inner loop.

Enthalpy `H` (J/m3) is counted from ice at the freezing point. The heat-flow potential is
`Q(T) = integral of k dT` from the freezing point (W/m): with it the mean conductivity between two
cells is exact even when the ice front lies between them. Temperatures here are relative to the
freezing point (K), so that the front sits at zero and keeps its precision.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from layoutcheck.physics import properties
from layoutcheck.physics.properties import FREEZING_POINT, WALLS
from layoutcheck.quantities.materials import Material

Numbers = NDArray[np.float64]

MUSH_WIDTH = 0.01
"""Width of the interval in which water turns to ice, K. Small enough to leave no trace in the
answers (the tests compare with the sharp-front solution), large enough to keep the matrix
regular."""

_COLDEST = -210.0
_HOTTEST = 105.0
_POINTS = 421


class Curve(NamedTuple):
    """One material's `T(H)` and `Q(T)`, each on an even grid so that a look-up costs one step."""

    first_enthalpy: float
    enthalpy_step: float
    temperature_of: Numbers
    first_temperature: float
    temperature_step: float
    potential_of: Numbers


class Tables(NamedTuple):
    """What one pipe is made of: ice, liquid and wall curves, and the heat of freezing, J/m3."""

    ice: Curve
    liquid: Curve
    wall: Curve
    latent: float
    mush: float


def curve(
    *,
    first: float,
    last: float,
    heat_capacity: Callable[[Numbers], Numbers],
    conductivity: Callable[[Numbers], Numbers],
    enthalpy_at_zero: float,
) -> Curve:
    """Tabulate a material between two relative temperatures.

    Parameters:
        first: lowest relative temperature, K.
        last: highest relative temperature, K.
        heat_capacity: volumetric, J/(m3 K), of relative temperature.
        conductivity: W/(m K), of relative temperature.
        enthalpy_at_zero: enthalpy at the freezing point, J/m3.

    Returns:
        The curve. Outside the grid the solver goes on along the end segments.
    """
    fine = np.linspace(first, last, 20 * (_POINTS - 1) + 1)
    enthalpy = _integral(heat_capacity(fine), fine)
    enthalpy += enthalpy_at_zero - np.interp(0.0, fine, enthalpy)
    potential = _integral(conductivity(fine), fine)
    potential -= np.interp(0.0, fine, potential)
    even = np.linspace(enthalpy[0], enthalpy[-1], _POINTS)
    temperatures = np.linspace(first, last, _POINTS)
    return Curve(
        float(even[0]),
        float(even[1] - even[0]),
        np.interp(even, enthalpy, fine),
        first,
        float(temperatures[1] - temperatures[0]),
        np.interp(temperatures, fine, potential),
    )


def _integral(values: Numbers, at: Numbers) -> Numbers:
    """Integral from the first point to each point, by trapezia."""
    return np.concatenate([[0.0], np.cumsum(np.diff(at) * (values[1:] + values[:-1]) / 2.0)])


def _ice() -> Curve:
    return curve(
        first=_COLDEST,
        last=0.0,
        heat_capacity=lambda t: (
            properties.ICE_DENSITY * properties.ice_heat_capacity(t + FREEZING_POINT)
        ),
        conductivity=lambda t: properties.ice_conductivity(t + FREEZING_POINT),
        enthalpy_at_zero=0.0,
    )


def _liquid(latent: float) -> Curve:
    return curve(
        first=0.0,
        last=_HOTTEST,
        heat_capacity=lambda t: (
            properties.water_density(t + FREEZING_POINT)
            * properties.water_heat_capacity(t + FREEZING_POINT)
        ),
        conductivity=lambda t: properties.water_conductivity(t + FREEZING_POINT),
        enthalpy_at_zero=latent,
    )


@lru_cache(maxsize=16)
def pipe_tables(material: Material) -> Tables:
    """Tabulate ice, water and one wall material.

    The heat of freezing is that of the ice which fills the bore (917 kg/m3): water grows by 9 %
    when it freezes, and the surplus is pushed along the pipe. Heat carried with that surplus is
    left out.

    Parameters:
        material: one of `properties.WALLS`.

    Returns:
        The tables.

    Raises:
        KeyError: no heat properties are known for the material.
    """
    wall = WALLS[material]
    latent = properties.ICE_DENSITY * properties.LATENT_HEAT
    metal = curve(
        first=_COLDEST,
        last=_HOTTEST,
        heat_capacity=lambda t: wall.density * wall.heat_capacity(t + FREEZING_POINT),
        conductivity=lambda t: wall.conductivity(t + FREEZING_POINT),
        enthalpy_at_zero=0.0,
    )
    return Tables(_ice(), _liquid(latent), metal, latent, MUSH_WIDTH)


def constant_tables(
    *,
    ice: tuple[float, float],
    liquid: tuple[float, float],
    wall: tuple[float, float],
    latent: float,
    mush: float = MUSH_WIDTH,
) -> Tables:
    """Make tables with constant properties, for comparison with exact solutions.

    Parameters:
        ice: conductivity W/(m K) and volumetric heat capacity J/(m3 K).
        liquid: the same for the liquid.
        wall: the same for the wall.
        latent: heat of freezing, J/m3.
        mush: width of the freezing interval, K.

    Returns:
        The tables.
    """

    def flat(values: tuple[float, float], first: float, last: float, zero: float) -> Curve:
        return curve(
            first=first,
            last=last,
            heat_capacity=lambda t: np.full_like(t, values[1]),
            conductivity=lambda t: np.full_like(t, values[0]),
            enthalpy_at_zero=zero,
        )

    return Tables(
        flat(ice, _COLDEST, 0.0, 0.0),
        flat(liquid, 0.0, _HOTTEST, latent),
        flat(wall, _COLDEST, _HOTTEST, 0.0),
        latent,
        mush,
    )


def liquid_enthalpy(tables: Tables, relative_temperature: float) -> float:
    """Enthalpy of liquid water, J/m3, at a temperature (K) above the freezing point."""
    return _enthalpy(tables.liquid, relative_temperature)


def wall_enthalpy(tables: Tables, relative_temperature: float) -> float:
    """Enthalpy of the wall, J/m3, at a temperature (K) relative to the freezing point."""
    return _enthalpy(tables.wall, relative_temperature)


def _enthalpy(of: Curve, relative_temperature: float) -> float:
    steps = np.arange(of.temperature_of.size) * of.enthalpy_step + of.first_enthalpy
    return float(np.interp(relative_temperature, of.temperature_of, steps))
