"""Neumann's exact solution, which the freezing model is held against; no answer is made from it."""

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
