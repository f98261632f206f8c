"""Natural convection in the water: closures on the liquid's conductivity, not a theory.

Conduction alone runs short when the water is warm: cooled water leaves the jacket and warm water
takes its place, and the ice has to wait until that heat is out as well. Two closures multiply the
liquid's conductivity.

**Across the pipe**, and along a level one: the Raithby and Hollands (1975) effective-conductivity
form for an annulus, `0.386 (Pr / (0.861 + Pr))**0.25 Ra**0.25` (from memory). The Rayleigh number
uses the bore that is still open, the warmest water in the slice, and the greatest difference of
density between that temperature and freezing. Never below one.

**Along a pipe that rises**: where denser water stands on lighter water the column turns over, and
heat goes up it by eddies as wide as the pipe. Their diffusivity is taken as

    K = C d**2 sqrt(g |d rho / d z| / rho)

with d the open bore and z the height: the form after Cholemari and Arakeri, J. Fluid Mech. 621
(2009) 69 (abstract read; C about 0.9 is from memory, and its range is our own choice). Where
lighter water stands on denser, K is nought. Which way each side of a jacket goes follows by itself:

- below a jacket, water warmer than 4 degC is lighter than the cooled water on it: the whole column
  below is stirred and has to be cooled with the plug, as far as it reaches;
- once it has come down to about 4 degC, where water is densest, colder water no longer sinks, and
  the neck can close;
- above a jacket warm water floats on cold and stays. Only water there between 4 degC and the 8
  degC at which it weighs what ice-cold water does exchanges a little with the jacket.

A published numerical study tells the same story (10th Int. Heat Transfer Conf. 1994,
10.1615/IHTC10.1600, abstract only): warm water from below retards the ice, the neck parts the
column. It calls its result qualitative; so is this.
"""

from __future__ import annotations

from enum import StrEnum
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from layoutcheck.physics import properties
from layoutcheck.physics.properties import FREEZING_POINT
from layoutcheck.physics.ranges import Range

Numbers = NDArray[np.float64]

EXCHANGE = Range(0.3, 0.9, 1.8)
"""C of the exchange in a pipe that rises: 0.9 from memory, the range our own choice."""

EXCHANGE_OF_WARM = Range(0.3, 0.9, 6.0)
"""The same for water warmer than the start temperature of practice, where no practice holds the
range: an outside check, by a model of its own, found waits before any ice up to eight times as
long as C = 0.9 gives, and with these two high ends no high case is shorter than its figures."""

_GRAVITY = 9.80665
_HOTTEST = 100


class Orientation(StrEnum):
    """How the pipe lies."""

    HORIZONTAL = "horizontal"
    VERTICAL = "vertical"


@lru_cache(maxsize=1)
def _water_tables() -> tuple[Numbers, ...]:
    """By relative temperature (K): Rayleigh number per cubic metre of size cubed, Prandtl number,
    diffusivity (m2/s) and density (kg/m3)."""  # noqa: D205, D209
    relative = np.linspace(0.0, _HOTTEST, 4 * _HOTTEST + 1)
    density = properties.water_density(relative + FREEZING_POINT)
    spread = (np.maximum.accumulate(density) - np.minimum.accumulate(density)) / density
    film = 0.5 * relative + FREEZING_POINT
    kinematic = properties.water_viscosity(film) / properties.water_density(film)
    diffusivity = _diffusivity(film)
    driving = _GRAVITY * spread / (kinematic * diffusivity)
    return relative, driving, kinematic / diffusivity, _diffusivity(relative + 273.15), density


def _diffusivity(kelvin: Numbers) -> Numbers:
    capacity = properties.water_density(kelvin) * properties.water_heat_capacity(kelvin)
    return np.asarray(properties.water_conductivity(kelvin) / capacity)


def across_factor(*, warmest: Numbers, open_diameter: Numbers, strength: Numbers) -> Numbers:
    """Give the factor on the liquid's conductivity across the pipe.

    Parameters:
        warmest: warmest water in each slice, K above freezing.
        open_diameter: diameter of the bore still open in each slice, m.
        strength: 0 for conduction alone, 1 for the closure as written, 2 to double its excess.

    Returns:
        Factors, each at least 1.
    """
    relative, per_cube, prandtls, _, _ = _water_tables()
    rayleigh = np.interp(warmest, relative, per_cube) * open_diameter**3
    prandtl = np.interp(warmest, relative, prandtls)
    factor = 0.386 * (prandtl / (0.861 + prandtl)) ** 0.25 * rayleigh**0.25
    return np.asarray(1.0 + strength * np.maximum(factor - 1.0, 0.0), dtype=np.float64)


def along_factor(
    *, mean: Numbers, open_diameter: Numbers, per_distance: Numbers, exchange: Numbers
) -> Numbers:
    """Give the factor on the liquid's conductivity from each slice down to the next.

    Parameters:
        mean: mean temperature of each slice's water, K above freezing, from the top down.
        open_diameter: diameter of the bore still open in each slice, m.
        per_distance: one over the distance from each slice to the next, 1/m; 0 after the last.
        exchange: the constant C of each slice; 0 for a pipe that does not rise.

    Returns:
        Factors, each at least 1; the last is 1.
    """
    relative, _, _, diffusivities, densities = _water_tables()
    density = np.interp(mean, relative, densities)
    heavier = np.zeros_like(mean)
    heavier[:-1] = np.maximum(density[:-1] - density[1:], 0.0)
    width = open_diameter.copy()
    width[:-1] = np.minimum(open_diameter[:-1], open_diameter[1:])
    eddies = exchange * width**2 * np.sqrt(_GRAVITY * heavier * per_distance / density)
    return np.asarray(1.0 + eddies / np.interp(mean, relative, diffusivities))
