"""Natural convection in the water: a closure on the liquid's conductivity, not a theory.

What it is for. Conduction alone runs short when the water is warm: cooled water leaves the jacket
and warm water takes its place, and the ice front then has to freeze out that heat as well. A
published numerical study calls the effect qualitative (IHTC-10, 1994, 10.1615/IHTC10.1600,
abstract only), so no exact law is on offer. The closure here multiplies the liquid's conductivity

- across the pipe by the Raithby and Hollands (1975) effective-conductivity form for an annulus,
  `0.386 (Pr / (0.861 + Pr))**0.25 Ra**0.25` (from memory), and
- along the pipe, which is what brings heat from the warm water beyond the jacket, by the same form
  in a horizontal pipe, and in a vertical one by Globe and Dropkin's (1959) form for a layer heated
  from below, `0.069 Ra**(1/3) Pr**0.074` (from memory), over a height of at most three open
  diameters.

The Rayleigh number uses the bore that is still open, the warmest water in the slice, and the
greatest difference of density between that temperature and freezing (water is densest near 4
degC). Never below one. As the bore closes the factor falls back to one.

Never shorter than conduction. A larger conductivity also strips the start temperature faster, so
by itself it could bring a freeze forward. The model therefore runs every case twice, with the
closure and without, and each time it reports is the longer of the two (see `model`). That holds
whatever the closure does.
"""

from __future__ import annotations

from enum import StrEnum
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from layoutcheck.physics import properties
from layoutcheck.physics.properties import FREEZING_POINT

Numbers = NDArray[np.float64]

_GRAVITY = 9.80665
_HOTTEST = 100


class Orientation(StrEnum):
    """How the pipe lies."""

    HORIZONTAL = "horizontal"
    VERTICAL = "vertical"


@lru_cache(maxsize=1)
def _water_tables() -> tuple[Numbers, Numbers, Numbers]:
    """Relative temperature (K), Rayleigh number per cubic metre of size cubed, Prandtl number."""
    relative = np.linspace(0.0, _HOTTEST, 4 * _HOTTEST + 1)
    density = properties.water_density(relative + FREEZING_POINT)
    spread = (np.maximum.accumulate(density) - np.minimum.accumulate(density)) / density
    film = 0.5 * relative + FREEZING_POINT
    kinematic = properties.water_viscosity(film) / properties.water_density(film)
    diffusivity = properties.water_conductivity(film) / (
        properties.water_density(film) * properties.water_heat_capacity(film)
    )
    return relative, _GRAVITY * spread / (kinematic * diffusivity), kinematic / diffusivity


def mixing_factors(
    *,
    warmest: Numbers,
    open_diameter: Numbers,
    half_jacket: float,
    orientation: Orientation,
    strength: float,
) -> tuple[Numbers, Numbers]:
    """Give the factors on the liquid's conductivity for every slice.

    Parameters:
        warmest: warmest water in each slice, K above freezing.
        open_diameter: diameter of the bore still open in each slice, m.
        half_jacket: half the jacket's length, m; bounds the height of a vertical circulation.
        orientation: how the pipe lies.
        strength: 0 for conduction alone, 1 for the closure as written, 2 to double its excess.

    Returns:
        Factors across and along the pipe, each at least 1.
    """
    if strength <= 0.0:
        return np.ones_like(warmest), np.ones_like(warmest)
    relative, per_cube, prandtls = _water_tables()
    driving = np.interp(warmest, relative, per_cube)
    prandtl = np.interp(warmest, relative, prandtls)
    across = _annulus_form(driving * open_diameter**3, prandtl)
    if orientation is Orientation.HORIZONTAL:
        along = across
    else:
        height = np.minimum(half_jacket, 3.0 * open_diameter)
        along = 0.069 * np.cbrt(driving * height**3) * prandtl**0.074
        along = np.maximum(along, across)
    return _excess(across, strength), _excess(along, strength)


def _annulus_form(rayleigh: Numbers, prandtl: Numbers) -> Numbers:
    return np.asarray(0.386 * (prandtl / (0.861 + prandtl)) ** 0.25 * rayleigh**0.25)


def _excess(factor: Numbers, strength: float) -> Numbers:
    return np.asarray(1.0 + strength * np.maximum(factor - 1.0, 0.0), dtype=np.float64)
