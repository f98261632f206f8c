"""A second model of a riser that freezes, by another method than the one it checks.

One height has three numbers: the water's mean temperature, the share of the bore that is open, and
the wall's temperature. The ice is quasi-steady (London and Seban's ring, heat of freezing raised by
half its undercooling), the water gives its heat to it over the resistance of a ring of stirred
water, and what is written down is integrated by scipy's stiff solver with its own control of the
error. No grid over the radius, no enthalpy method, no tables.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.integrate import solve_ivp

from layoutcheck.physics import properties
from layoutcheck.physics.ice.inputs import FreezeInputs

LATENT = 917.0 * 333.5e3
WATER = 4.19e6
ICE = 917.0 * 1900.0
WALL = 7850.0 * 420.0
STEEL = 50.0
SOLID = 1e-3
"""Share of the bore below which a height counts as closed."""

Numbers = np.ndarray
_CELSIUS = np.linspace(0.0, 100.0, 1001)
_DENSITY = properties.water_density(_CELSIUS + 273.15)


def ice_potential(t: Numbers) -> Numbers:
    """Integral of the ice's conductivity from t (degC, below zero) to zero, W/m."""
    return np.asarray(
        9.828 / 0.0057 * (np.exp(-0.0057 * (t + 273.15)) - math.exp(-0.0057 * 273.15))
    )


def stirred(t: Numbers, width: Numbers, strength: float) -> Numbers:
    """Raithby and Hollands' factor on the conductivity across a bore of some width (m)."""
    peak = np.maximum.accumulate(_DENSITY)
    least = np.minimum.accumulate(_DENSITY)
    spread = np.interp(t, _CELSIUS, (peak - least) / _DENSITY)
    film = 273.15 + 0.5 * t
    kinematic = properties.water_viscosity(film) / properties.water_density(film)
    diffusivity = properties.water_conductivity(film) / WATER
    rayleigh = 9.81 * spread * width**3 / (kinematic * diffusivity)
    prandtl = kinematic / diffusivity
    factor = 0.386 * (prandtl / (0.861 + prandtl)) ** 0.25 * rayleigh**0.25
    return np.asarray(1.0 + strength * np.maximum(factor - 1.0, 0.0))


@dataclass(frozen=True)
class Riser:
    """A pipe that rises, cut into equal heights, with the figures of one case."""

    inputs: FreezeInputs
    exchange: float
    strength: float = 1.0
    jacket: float = 58.0
    film: tuple[float, float] = (10.0, 2.0)
    coolant: float = -78.46
    heights: int = 12

    @property
    def step(self) -> float:
        return self.inputs.jacket_length / self.heights

    @property
    def places(self) -> Numbers:
        """Distance below the jacket's middle, m."""
        top = -0.5 * self.inputs.jacket_length - 0.6
        return np.arange(top, self.inputs.column, self.step) + 0.5 * self.step

    def rates(self, state: Numbers) -> Numbers:
        """How fast water (K/s), open share (1/s) and wall (K/s) change."""
        water, share, wall = state.reshape(3, -1)
        share = np.clip(share, 0.0, 1.0)
        solid, iced = share <= SOLID, (share < 1.0 - 1e-9) | (wall < 0.0)
        bore, outside = 2.0 * self.inputs.inside_radius, self.inputs.outside_diameter
        area, metal = math.pi / 4 * bore**2, math.pi / 4 * (outside**2 - bore**2)
        width = bore * np.sqrt(share)
        conducted = 0.58 * stirred(np.clip(water, 0.0, 99.0), width, self.strength)
        given = 8.0 * math.pi * conducted * (water - np.where(iced, 0.0, wall))
        given = np.where(solid, 0.0, given)
        ring = np.maximum(0.5 * np.log(1.0 / np.maximum(share, SOLID)), 2e-3)
        through = 2.0 * math.pi * ice_potential(np.minimum(wall, 0.0)) / ring
        through = np.where(iced, through, given)
        through = np.where(solid, 0.0, through)
        along = self._along(water, share, width)
        # Wall and ice carry heat along the pipe.
        between = np.diff((STEEL * metal + 2.4 * area * (1.0 - share)) * wall) / self.step
        heat = through + self._outside(wall)
        heat[:-1] += between / self.step
        heat[1:] -= between / self.step
        # Ice of a height that is closed is as cold as its wall and stores heat with it.
        stored = WALL * metal + np.where(solid, ICE * area, 0.0)
        raised = LATENT + 0.5 * ICE * np.maximum(-wall, 0.0)
        opening = np.where(iced & ~solid, (given - through) / (raised * area), 0.0)
        opening = np.where((share >= 1.0) & (opening > 0.0), 0.0, opening)
        cooling = (along - given) / (WATER * area * np.maximum(share, 0.02))
        cooling = np.where(solid, 0.0, cooling)
        return np.concatenate([cooling, opening, heat / stored])

    def _along(self, water: Numbers, share: Numbers, width: Numbers) -> Numbers:
        rho = np.interp(water, _CELSIUS, _DENSITY)
        heavier = np.maximum(rho[:-1] - rho[1:], 0.0)
        narrow = np.minimum(width[:-1], width[1:])
        eddies = self.exchange * narrow**2 * np.sqrt(9.81 * heavier / 1000.0 / self.step)
        carried = WATER * (eddies + 1.4e-7) * np.diff(water) / self.step * math.pi / 4 * narrow**2
        heat = np.zeros_like(water)
        heat[:-1] += carried / self.step
        heat[1:] -= carried / self.step
        return heat

    def _outside(self, wall: Numbers) -> Numbers:
        under = np.abs(self.places) < 0.5 * self.inputs.jacket_length
        room = self.inputs.ambient_temperature - 273.15
        warming, cooling = self.film
        film = np.where(under, self.jacket, np.where(wall > room, cooling, warming))
        around = np.where(under, self.coolant, room)
        return film * math.pi * self.inputs.outside_diameter * (around - wall)

    def plug(self, needed: float, longest: float) -> float:
        """Time (s) until some stretch of the needed length is closed."""
        start = self.inputs.start_temperature - 273.15
        count = self.places.size
        state = np.concatenate([np.full(count, start), np.ones(count), np.full(count, start)])
        run = max(1, round(needed / self.step))

        def open_now(_: float, y: Numbers) -> float:
            share = y[count : 2 * count]
            windows = np.lib.stride_tricks.sliding_window_view(share, run).max(axis=1)
            return float(windows.min() - 2.0 * SOLID)

        open_now.terminal = True  # type: ignore[attr-defined]
        found = solve_ivp(
            lambda _, y: self.rates(y), (0.0, longest), state, "BDF", rtol=1e-4, atol=1e-4,
            events=open_now, jac_sparsity=self._sparsity(count), max_step=60.0,
        )  # fmt: skip
        ended = found.t_events
        return math.inf if ended is None or not ended[0].size else float(ended[0][0])

    @staticmethod
    def _sparsity(count: int) -> Numbers:
        near = np.eye(count) + np.eye(count, k=1) + np.eye(count, k=-1)
        return np.tile(near, (3, 3))
