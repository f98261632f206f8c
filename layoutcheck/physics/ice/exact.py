"""Exact and analytic solutions that the freezing model is held against.

They are for tests and for the tool's own self-test; no answer is made from them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import erf, erfc, erfcx

Numbers = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Phase:
    """A phase with constant properties: conductivity W/(m K), heat capacity J/(m3 K)."""

    conductivity: float
    heat_capacity: float

    @property
    def diffusivity(self) -> float:
        """Heat diffusivity, m2/s."""
        return self.conductivity / self.heat_capacity


@dataclass(frozen=True, slots=True)
class NeumannSlab:
    """Neumann's two-phase solution: a half space of liquid, its face held below freezing.

    Attributes:
        ice: the solid.
        liquid: the liquid, of the same density.
        latent: heat of freezing, J/m3.
        face: temperature of the face, K below freezing (a negative number).
        start: temperature of the liquid at the start, K above freezing (zero or more).

    Source:
        Carslaw and Jaeger, Conduction of Heat in Solids, 2nd ed. 1959, section 11.2; from memory,
        the balance at the front was derived again by hand.
    """

    ice: Phase
    liquid: Phase
    latent: float
    face: float
    start: float

    @property
    def root(self) -> float:
        """The constant `a` in `front = 2 a sqrt(diffusivity of ice * time)`."""
        found = brentq(self._gap_at_front, 1e-6, 10.0, xtol=1e-14)
        return float(found)

    def _gap_at_front(self, a: float) -> float:
        """Heat into the ice less heat out of the liquid less heat of freezing (W s^0.5 / m2)."""
        ice, liquid = self.ice, self.liquid
        ratio = math.sqrt(ice.diffusivity / liquid.diffusivity)
        into_ice = (
            -ice.conductivity
            * self.face
            * math.exp(-a * a)
            / (math.sqrt(math.pi * ice.diffusivity) * float(erf(a)))
        )
        b = a * ratio
        # erfcx(b) is exp(b*b) erfc(b), which does not overflow in its parts.
        from_liquid = (
            liquid.conductivity
            * self.start
            / (math.sqrt(math.pi * liquid.diffusivity) * float(erfcx(b)))
        )
        return into_ice - from_liquid - self.latent * a * math.sqrt(ice.diffusivity)

    def front(self, time: float) -> float:
        """Depth of the ice, m, after a time in s."""
        return 2.0 * self.root * math.sqrt(self.ice.diffusivity * time)

    def temperature(self, depth: Numbers, time: float) -> Numbers:
        """Temperature, K relative to freezing, at depths in m after a time in s."""
        a = self.root
        in_ice = self.face * (
            1.0 - erf(depth / (2.0 * math.sqrt(self.ice.diffusivity * time))) / float(erf(a))
        )
        b = a * math.sqrt(self.ice.diffusivity / self.liquid.diffusivity)
        far = erfc(depth / (2.0 * math.sqrt(self.liquid.diffusivity * time)))
        in_liquid = self.start * (1.0 - far / float(erfc(b)))
        return np.asarray(np.where(depth < self.front(time), in_ice, in_liquid))

    def heat_taken(self, time: float) -> float:
        """Heat that has left through the face, J/m2, after a time in s."""
        rate_constant = (
            -self.ice.conductivity
            * self.face
            / (math.sqrt(math.pi * self.ice.diffusivity) * float(erf(self.root)))
        )
        return 2.0 * rate_constant * math.sqrt(time)


def wall_resistance(
    *, inside_radius: float, wall: float, wall_conductivity: float, film: float
) -> float:
    """Resistance of wall and jacket, without the factor 2 pi and for a metre of pipe.

    Parameters:
        inside_radius: m.
        wall: thickness, m.
        wall_conductivity: W/(m K).
        film: conductance from the outer surface to the coolant, W/(m2 K); infinite for none.

    Returns:
        m K/W. Derived by hand from steady conduction through a composite cylinder.
    """
    outside = inside_radius + wall
    return 1.0 / (film * outside) + math.log(outside / inside_radius) / wall_conductivity


def composite_cylinder_heat_flow(
    *,
    radii: tuple[float, ...],
    conductivities: tuple[float, ...],
    film: float,
    difference: float,
) -> float:
    """Steady heat flow through coaxial layers and a film on the outermost surface.

    Parameters:
        radii: layer edges from the inside out, m; one more than there are layers.
        conductivities: of the layers from the inside out, W/(m K).
        film: conductance of the outer surface, W/(m2 K).
        difference: temperature across layers and film, K.

    Returns:
        W for a metre of pipe. Textbook heat conduction, derived by hand.
    """
    resistance = 1.0 / (film * radii[-1])
    for inner, outer, conductivity in zip(radii, radii[1:], conductivities, strict=False):
        resistance += math.log(outer / inner) / conductivity
    return 2.0 * math.pi * difference / resistance


def quasi_steady_cylinder_time(
    *,
    inside_radius: float,
    open_radius: float,
    latent: float,
    ice_conductivity: float,
    resistance: float,
    difference: float,
) -> float:
    """Time for ice to grow inward from the wall of a pipe full of water at the freezing point.

    The heat stored in ice and wall is left out: exact as the Stefan number goes to zero.

    Parameters:
        inside_radius: m.
        open_radius: radius still open at the end, m; 0 for a closed bore.
        latent: heat of freezing, J/m3.
        ice_conductivity: W/(m K).
        resistance: of wall and jacket, m K/W (see `wall_resistance`).
        difference: freezing point less coolant temperature, K.

    Returns:
        s.

    Source:
        London A.L. and Seban R.A. (1943), Trans. ASME 65, 771; the form is from memory and was
        derived again by hand: `dt = latent r (resistance + ln(R/r)/k) dr / difference`.
    """
    big, small = inside_radius**2, open_radius**2
    logarithm = 0.0
    if open_radius > 0.0:
        logarithm = 0.5 * small * math.log(inside_radius / open_radius)
    through_ice = (0.25 * (big - small) - logarithm) / ice_conductivity
    through_wall = 0.5 * (big - small) * resistance
    return latent * (through_ice + through_wall) / difference
