"""A second freezing model, written with the general finite-volume library FiPy.

Not a test by itself: the comparison and the benchmark load it. It shares the question with the
product (pipe, jacket, property formulas, grid lines, closure off), and nothing of its solver: FiPy
builds and solves the matrix, conductivities come from closed-form integrals, and the heat of
freezing enters as a source that is corrected from sweep to sweep.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from fipy import CellVariable, CylindricalGrid2D, DiffusionTerm, FaceVariable, ImplicitSourceTerm
from fipy.solvers import LinearLUSolver

FREEZING = 273.15
ICE_DENSITY, LATENT_HEAT = 916.7, 333.43e3
MUSH = 0.01


@dataclass(frozen=True)
class Question:
    """A half pipe: grid lines in m, film in W/(m2 K), temperatures in K above freezing."""

    rings: np.ndarray
    rings_of_water: int
    slices: np.ndarray
    half_jacket: float
    wall_conductivity: float
    wall_heat_capacity: float
    jacket_film: float
    coolant: float
    room_film: float
    room: float
    start: float
    progress: float


def ice_potential(t: np.ndarray) -> np.ndarray:
    """Integral of 9.828 exp(-0.0057 T) from freezing, W/m."""
    scale = 9.828 / 0.0057
    return scale * (np.exp(-0.0057 * FREEZING) - np.exp(-0.0057 * (t + FREEZING)))


def ice_enthalpy(t: np.ndarray) -> np.ndarray:
    """Integral of 917 (152.5 + 7.122 T) from freezing, J/m3."""
    kelvin = t + FREEZING
    return ICE_DENSITY * (152.5 * t + 3.561 * (kelvin**2 - FREEZING**2))


def ice_temperature(h: np.ndarray) -> np.ndarray:
    """Inverse of `ice_enthalpy`: the root of a quadratic."""
    linear = 152.5 + 2 * 3.561 * FREEZING
    inside = np.maximum(linear**2 + 4 * 3.561 * h / ICE_DENSITY, 0.0)
    return (-linear + np.sqrt(inside)) / (2 * 3.561)


class FiPyFreeze:
    """The state of the half pipe and its equation."""

    def __init__(self, question: Question, liquid: tuple[float, float]) -> None:
        """Set up; `liquid` is conductivity (W/(m K)) and heat capacity (J/(m3 K)) of the water."""
        self.q, self.liquid = question, liquid
        self.latent = ICE_DENSITY * LATENT_HEAT
        dr, dz = np.diff(question.rings), question.slices
        self.mesh = CylindricalGrid2D(dr=list(dr), dz=list(dz))
        self.shape = (dz.size, dr.size)
        self.water = np.tile(np.arange(dr.size) < question.rings_of_water, dz.size)
        self.t = CellVariable(mesh=self.mesh, value=question.start)
        self.k = FaceVariable(mesh=self.mesh, value=1.0)
        self.capacity = CellVariable(mesh=self.mesh, value=1.0)
        self.source = CellVariable(mesh=self.mesh, value=0.0)
        self.film = CellVariable(mesh=self.mesh, value=0.0)
        self.equation = (
            DiffusionTerm(coeff=self.k)
            - ImplicitSourceTerm(coeff=self.capacity + self.film)
            + self.source
            == 0.0
        )
        self.solver = LinearLUSolver()
        middles = np.cumsum(dz) - 0.5 * dz
        under = middles < question.half_jacket
        self.outside = np.where(under, question.coolant, question.room)
        self.outer_film = np.where(under, question.jacket_film, question.room_film)
        self.h = np.where(
            self.water,
            self.latent + liquid[1] * question.start,
            question.wall_heat_capacity * question.start,
        )

    def read(self, h: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Temperature and heat capacity (J/(m3 K)) at an enthalpy."""
        frozen = ice_temperature(np.minimum(h, 0.0)) - MUSH
        between = h / self.latent * MUSH - MUSH
        thawed = (h - self.latent) / self.liquid[1]
        wet = np.where(h < 0.0, frozen, np.where(h < self.latent, between, thawed))
        of_ice = ICE_DENSITY * (152.5 + 7.122 * (frozen + FREEZING))
        wet_capacity = np.where(
            h < 0.0, of_ice, np.where(h < self.latent, self.latent / MUSH, self.liquid[1])
        )
        wall = self.q.wall_heat_capacity
        return (
            np.where(self.water, wet, h / wall),
            np.where(self.water, wet_capacity, wall),
        )

    def conductivities(self, t: np.ndarray) -> None:
        """Fill the face conductivities: exact means between cell temperatures."""
        one, two = self.mesh._adjacentCellIDs
        a, b = t[one], t[two]
        both = self.water[one] & self.water[two]
        apart = np.where(np.abs(a - b) < 1e-4, 1e-3, a - b)
        low = a - apart
        mean = (self.water_potential(a) - self.water_potential(low)) / apart
        face = np.where(both, mean, self.q.wall_conductivity)
        mixed = self.water[one] != self.water[two]
        # At the wall the ice is between the water ring and the wall ring's own temperature.
        half_water = self.q.rings[1] - self.q.rings[0]
        half_wall = np.diff(self.q.rings)[self.q.rings_of_water]
        series = (half_water + half_wall) / (
            half_water / mean + half_wall / self.q.wall_conductivity
        )
        self.k.setValue(np.where(mixed, series, face))

    def water_potential(self, t: np.ndarray) -> np.ndarray:
        return ice_potential(np.minimum(t, 0.0)) + self.liquid[0] * np.maximum(t, 0.0)

    def step(self, dt: float, sweeps: int = 8) -> bool:
        """Advance; say whether the sweeps settled (else nothing has changed)."""
        h = self.h.copy()
        t, capacity = self.read(h)
        outer = np.diff(self.q.rings)[-1]
        resistance = 0.5 * outer / self.q.wall_conductivity + 1.0 / self.outer_film
        radius = self.q.rings[-1]
        per_volume = radius / (radius - 0.5 * outer) / outer / resistance
        film = np.zeros(self.shape)
        film[:, -1] = per_volume
        warm = np.zeros(self.shape)
        warm[:, -1] = per_volume * self.outside
        self.film.setValue(film.ravel())
        for sweep in range(sweeps):
            self.conductivities(t)
            self.capacity.setValue(capacity / dt)
            self.source.setValue((capacity * t - (h - self.h)) / dt + warm.ravel())
            self.equation.solve(var=self.t, solver=self.solver)
            linear = np.array(self.t.value)
            h = h + capacity * (linear - t)
            t, capacity = self.read(h)
            if sweep > 0 and np.abs(t - linear).max() < 2e-3:
                self.h = h
                return True
        return False

    def liquid_shares(self) -> np.ndarray:
        n = self.q.rings_of_water
        areas = np.diff(self.q.rings[: n + 1] ** 2)
        water = self.h.reshape(self.shape)[:, :n] / self.latent
        return np.clip(water, 0.0, 1.0) @ (areas / areas.sum())


def closing_time(question: Question, liquid: tuple[float, float], horizon: float) -> float:
    """Time until the slice at the jacket's middle is solid to the axis, s."""
    model = FiPyFreeze(question, liquid)
    time, step = 0.0, 1.0
    while time < horizon:
        before, axis = model.liquid_shares(), model.h[0]
        while not model.step(step):
            step *= 0.4
        time += step
        if model.liquid_shares()[0] <= 0.0:
            return time - step * (1.0 - axis / (axis - model.h[0]))
        change = np.abs(model.liquid_shares() - before).max()
        step *= min(1.4, max(0.3, question.progress / max(change, 1e-12)))
    raise AssertionError("the pipe did not close")
