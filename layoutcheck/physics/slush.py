"""Where mixtures with water begin to freeze, and how much of them stays liquid however cold it is.

Cooled below its freezing point a mixture gives off ice, and what is left liquid is the richer for
it: at each temperature just so rich that it would begin to freeze there (its liquidus). So the
liquid share is `w / w_liquidus(T)`: the lever rule of any phase diagram. What comes of it is slush,
ice with liquid between its grains and along the wall. How much liquid a plug may have in it and
still hold was found in no publication, so nothing above a trace is taken to hold.

Freezing points: A. Melinder's curves for propylene and ethylene glycol, as CoolProp's
incompressible liquids carry them (MPG and MEG, 0 to 60 % by mass). They are kept in a table, made
anew by a test.
"""

from __future__ import annotations

import functools
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

import numpy as np

from layoutcheck.physics.figures import Figure, Status
from layoutcheck.quantities import Fluid, FluidKind
from layoutcheck.quantities.fluids import ShareBasis

TABLE = Path(__file__).with_name("freezing_points.json")

WATER_DENSITY = Figure(998.2, "kg/m3", "water at 20 degC, handbook value", Status.MEMORY)
GLYCOL_DENSITY: Mapping[FluidKind, Figure] = MappingProxyType(
    {
        FluidKind.PROPYLENE_GLYCOL: Figure(
            1036.0, "kg/m3", "pure propylene glycol at 20 degC, handbook value", Status.MEMORY
        ),
        FluidKind.ETHYLENE_GLYCOL: Figure(
            1113.0, "kg/m3", "pure ethylene glycol at 20 degC, handbook value", Status.MEMORY
        ),
    }
)
TRACE = Figure(
    0.005,
    "1",
    "share by mass up to which water counts as plain: by the lever rule a fiftieth of it is still "
    "liquid at -10 degC",
    Status.OWN_CHOICE,
)


@dataclass(frozen=True)
class FreezingPoints:
    """The table: rows equally far apart in the share by mass, from none to the largest.

    largest: share by mass. points: K, by kind.
    """

    largest: float
    points: Mapping[str, tuple[float, ...]]

    @property
    def shares(self) -> np.ndarray:
        """Give the share by mass of each row."""
        return np.linspace(0.0, self.largest, len(next(iter(self.points.values()))))


@functools.lru_cache(maxsize=1)
def freezing_points() -> FreezingPoints:
    """Give the table, read once."""
    rows = json.loads(TABLE.read_text(encoding="utf-8"))
    return FreezingPoints(rows["largest"], {k: tuple(v) for k, v in rows["points"].items()})


def share_by_mass(fluid: Fluid) -> float | None:
    """Give the share by mass of what is in the water; None where it is not known.

    By volume is taken as parts of the two liquids before they were mixed, at 20 degC.
    """
    if fluid.kind is FluidKind.WATER:
        return 0.0
    if fluid.share is None or fluid.basis is ShareBasis.MASS:
        return fluid.share
    density = GLYCOL_DENSITY.get(fluid.kind)
    if density is None:
        return None
    heavy = fluid.share * density.value
    return heavy / (heavy + (1.0 - fluid.share) * WATER_DENSITY.value)


def freezing_point(fluid: Fluid) -> float | None:
    """Give the temperature (K) at which a glycol begins to freeze; None where it is not known.

    Known for propylene and ethylene glycol up to 60 % by mass.
    """
    share, table = share_by_mass(fluid), freezing_points()
    points = table.points.get(fluid.kind.value)
    if share is None or points is None or share > table.largest:
        return None
    return float(np.interp(share, table.shares, points))


def still_liquid(fluid: Fluid, temperature: float) -> float | None:
    """Give the share by mass of a glycol that is liquid at a temperature (K); None if not known.

    Colder than the table goes, the value at its end: what is left liquid there may freeze too.
    """
    share, table = share_by_mass(fluid), freezing_points()
    points = table.points.get(fluid.kind.value)
    if share is None or points is None or share > table.largest:
        return None
    # The points fall with the share, so both columns are turned round to be read by temperature.
    richness = float(np.interp(temperature, points[::-1], table.shares[::-1]))
    return 1.0 if richness <= share else share / richness


def is_as_water(fluid: Fluid, trace: float = TRACE.value) -> bool:
    """Tell whether a fluid is plain water, or water with no more than a trace of glycol in it."""
    if fluid.kind is FluidKind.WATER:
        return True
    share = share_by_mass(fluid)
    return fluid.kind in GLYCOL_DENSITY and share is not None and share <= trace
