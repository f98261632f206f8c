"""One implicit time step of the enthalpy method, for many pipes at once.

Why this method. An explicit step is limited by the thin, well-conducting wall (milliseconds in
copper), and a freeze lasts hours. So the step is fully implicit (backward Euler, finite volumes)
with Newton's method on the enthalpy: the temperature is linearised about the last iterate, the
enthalpy is then updated by the linear law, and the next temperature is read from the enthalpy (the
scheme Swaminathan and Voller described in 1993, from memory). The matrix is symmetric and
positive, its band is one ring wide. The last linear solve satisfies the heat balance of every cell
exactly, whatever the iteration error, so heat is conserved by construction.

Why many pipes at once. One pipe has a few hundred unknowns: calls on arrays that small spend their
time in overhead. So pipes are laid end to end as one long pipe whose joints carry no heat, each
with a step of its own length, and LAPACK (`dpbsv`) solves them all in one call. A pipe whose
iteration has settled is left alone while others go on, so its answer does not depend on its
neighbours.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dpbsv

from layoutcheck.physics.ice.lookup import Walls, Water
from layoutcheck.physics.ice.mesh import Mesh, end_to_end
from layoutcheck.physics.ice.tables import Tables

Numbers = NDArray[np.float64]
Flags = NDArray[np.bool_]
_Cells = tuple[slice, slice]
_Pair = tuple[Numbers, Numbers]

_ALIKE = 1e-4
"""Temperatures closer than this (K) take the conductivity at one of them: no 0 / 0."""

_ROUNDS_OF_CONDUCTANCE = 2
"""After this many rounds the conductances stay: a cell at freezing would else flip between ice and
stirred water for ever. The heat balance holds whatever they are."""

_ROUNDS_OF_SURFACE = 2
"""A surface's temperature and the resistances beside it depend on each other."""


@dataclass(frozen=True, slots=True)
class Mixing:
    """Factors on the liquid's conductivity.

    Attributes:
        across: the pipe, for each slice.
        along: from each slice to the next; the last entry of a pipe is not used.
    """

    across: Numbers
    along: Numbers


@dataclass(frozen=True, slots=True)
class Limits:
    """When an iteration has settled: largest mismatch of temperature (K), and most rounds."""

    mismatch: float
    rounds: int


@dataclass(slots=True)
class Taken:
    """Which pipes settled, the heat (W) that slices gave off, and temperatures (K)."""

    settled: Flags
    heat: Numbers
    temperature: Numbers


class Pipes:
    """Several pipes as one grid.

    Attributes:
        mesh: all slices.
        starts: index of each pipe's first slice.
        pipe: index of the pipe that each slice belongs to.
        film: conductance to the surroundings at each slice, W/(m2 K).
        outside: temperature of the surroundings there, K relative to freezing.
    """

    def __init__(
        self,
        meshes: Sequence[Mesh],
        tables: Sequence[Tables],
        surroundings: Sequence[tuple[Numbers, Numbers]],
    ) -> None:
        """Lay the pipes end to end. Water has the same curves in all of them."""
        counts = [mesh.slices.size for mesh in meshes]
        self.mesh = end_to_end(meshes)
        self.starts = np.concatenate([[0], np.cumsum(counts)[:-1]]).astype(np.intp)
        self.pipe = np.repeat(np.arange(len(counts)), counts)
        self.film = np.concatenate([film for film, _ in surroundings])
        self.outside = np.concatenate([outside for _, outside in surroundings])
        self.water = Water(tables[0])
        self.walls = Walls([one.wall for one in tables], counts)
        mesh = self.mesh
        self.volumes = mesh.slices[:, None] * mesh.areas
        rings = mesh.rings_of_water
        self.shares = mesh.areas[:, :rings] / mesh.areas[:, :rings].sum(axis=1)[:, None]
        gaps = np.append(0.5 * (mesh.slices[:-1] + mesh.slices[1:]), 1.0)
        linked = np.append(self.pipe[:-1] == self.pipe[1:], np.bool_(0))
        self.per_distance = np.where(linked, 1.0 / gaps, 0.0)

    @property
    def rings_of_water(self) -> int:
        """Rings that hold water or ice."""
        return self.mesh.rings_of_water

    @property
    def has_wall(self) -> bool:
        """Whether there is a wall beyond the water."""
        return bool(self.mesh.areas.shape[1] > self.mesh.rings_of_water)

    def temperatures(self, enthalpy: Numbers) -> tuple[Numbers, Numbers]:
        """Temperature of every cell (K, relative to freezing) and its slope against enthalpy."""
        rings = self.rings_of_water
        water, steepness = self.water.temperature(enthalpy[:, :rings])
        if not self.has_wall:
            return water, steepness
        wall, wall_steepness = self.walls.temperature(enthalpy[:, rings:])
        return np.hstack([water, wall]), np.hstack([steepness, wall_steepness])

    def only(self, which: Flags) -> Pipes:
        """Give the grid of some of the pipes."""
        rows = which[self.pipe]
        part = copy(self)
        part.mesh = Mesh(self.mesh.rings_of_water, *(field[rows] for field in self.mesh[1:]))
        counts = np.bincount(self.pipe, minlength=which.size)[which]
        part.pipe = np.repeat(np.arange(counts.size), counts)
        part.starts = np.concatenate([[0], np.cumsum(counts)[:-1]]).astype(np.intp)
        part.walls = self.walls.of_rows(rows)
        for name in ("film", "outside", "volumes", "shares", "per_distance"):
            setattr(part, name, getattr(self, name)[rows])
        return part

    def sums(self, of_slices: Numbers) -> Numbers:
        """Add up what each pipe's slices have."""
        return np.asarray(np.add.reduceat(of_slices, self.starts))

    def largest(self, of_slices: Numbers) -> Numbers:
        """Give the largest that any of a pipe's slices has."""
        return np.asarray(np.maximum.reduceat(of_slices, self.starts))


def _mean(flow: Numbers, difference: Numbers, conductivity: Numbers) -> Numbers:
    """Mean conductivity between two temperatures; where they are alike, that at one of them."""
    alike = np.abs(difference) < _ALIKE
    return np.where(alike, conductivity, flow / np.where(alike, 1.0, difference))


@dataclass(frozen=True, slots=True)
class _Conductances:
    """Conductances (W/K): to the next ring, to the next slice, and to the surroundings."""

    radial: Numbers
    axial: Numbers
    surface: Numbers

    @classmethod
    def of(cls, pipes: Pipes, t: Numbers, mixing: Mixing) -> _Conductances:
        """Work them out at the temperatures t."""
        made = _Conducting(pipes, t, mixing)
        return cls(made.radial(), made.axial(), made.surface())

    def assemble(self, pipes: Pipes, t: Numbers) -> tuple[Numbers, Numbers]:
        """Give the band (lower, by column) and the heat (W) into each cell at temperatures t."""
        slices, rings = t.shape
        band = np.zeros((slices, rings, rings + 1))
        diagonal = band[:, :, 0]
        diagonal[:, :-1] += self.radial
        diagonal[:, 1:] += self.radial
        band[:, :-1, 1] -= self.radial
        inward = self.radial * (t[:, 1:] - t[:, :-1])
        heat = np.zeros_like(t)
        heat[:, :-1] += inward
        heat[:, 1:] -= inward
        axial = self.axial[:-1]
        diagonal[:-1] += axial
        diagonal[1:] += axial
        band[:-1, :, rings] -= axial
        upward = axial * (t[1:] - t[:-1])
        heat[:-1] += upward
        heat[1:] -= upward
        diagonal[:, -1] += self.surface
        heat[:, -1] += self.surface * (pipes.outside - t[:, -1])
        return band, heat


class _Conducting:
    """Works out conductances from temperatures."""

    def __init__(self, pipes: Pipes, t: Numbers, mixing: Mixing) -> None:
        self._pipes, self._mixing = pipes, mixing
        self._t = t
        rings = pipes.rings_of_water
        potential, conductivity = pipes.water.potential(t[:, :rings])
        self._cold = np.minimum(potential, 0.0)
        self._warm = potential - self._cold
        self._in_water = conductivity
        self._liquid = t[:, :rings] >= 0.0
        if pipes.has_wall:
            self._wall, self._in_wall = pipes.walls.potential(t[:, rings:])

    def _between(self, first: _Cells, second: _Cells, factor: Numbers) -> Numbers:
        """Mean conductivity of water between two sets of cells; the liquid's share is stirred."""
        rings = self._pipes.rings_of_water
        t = self._t[:, :rings]
        flow = self._cold[first] - self._cold[second]
        flow = flow + factor * (self._warm[first] - self._warm[second])
        there = self._in_water[first] * np.where(self._liquid[first], factor, 1.0)
        return _mean(flow, t[first] - t[second], there)

    def radial(self) -> Numbers:
        mesh, rings, t = self._pipes.mesh, self._pipes.rings_of_water, self._t
        across = self._mixing.across[:, None]
        out = np.empty((t.shape[0], t.shape[1] - 1))
        inner, outer = (slice(None), slice(0, rings - 1)), (slice(None), slice(1, rings))
        out[:, : rings - 1] = self._between(inner, outer, across)
        resistance = mesh.outer[:, :-1] + mesh.inner[:, 1:]
        if self._pipes.has_wall:
            difference = t[:, rings:-1] - t[:, rings + 1 :]
            flow = self._wall[:, :-1] - self._wall[:, 1:]
            out[:, rings:] = _mean(flow, difference, self._in_wall[:, :-1])
            out /= resistance
            out[:, rings - 1] = self._across_the_wall_face()
        else:
            out /= resistance
        return out * mesh.slices[:, None]

    def axial(self) -> Numbers:
        mesh, rings, t = self._pipes.mesh, self._pipes.rings_of_water, self._t
        out = np.zeros_like(t)
        one, other = (slice(0, -1), slice(None)), (slice(1, None), slice(None))
        out[:-1, :rings] = self._between(one, other, self._mixing.along[:-1, None])
        if self._pipes.has_wall:
            difference = t[:-1, rings:] - t[1:, rings:]
            out[:-1, rings:] = _mean(
                self._wall[:-1] - self._wall[1:], difference, self._in_wall[:-1]
            )
        return np.asarray(out * mesh.areas * self._pipes.per_distance[:, None])

    def _mean_water(self, a: Numbers, b: Numbers, factor: Numbers, at_a: _Pair) -> Numbers:
        """Mean conductivity of ice and water between two temperatures, one for each slice.

        at_a: potential at a, in ice and in liquid.
        """
        other = np.where(np.abs(a - b) < _ALIKE, a + 10.0 * _ALIKE, b)
        second, _ = self._pipes.water.potential(other)
        cold = np.minimum(second, 0.0)
        flow = at_a[0] - cold + factor * (at_a[1] - (second - cold))
        return np.asarray(flow / (a - other))

    def _mean_wall(self, a: Numbers, b: Numbers, at_a: Numbers) -> Numbers:
        """Mean conductivity of the wall between two temperatures; at_a: potential at a."""
        other = np.where(np.abs(a - b) < _ALIKE, a + 10.0 * _ALIKE, b)
        second, _ = self._pipes.walls.potential(other[:, None])
        return np.asarray((at_a - second[:, 0]) / (a - other))

    def _across_the_wall_face(self) -> Numbers:
        """Conductance (W/(m K)) from the last water ring to the first wall ring."""
        mesh, rings = self._pipes.mesh, self._pipes.rings_of_water
        water, wall = self._t[:, rings - 1], self._t[:, rings]
        in_ring = (self._cold[:, -1], self._warm[:, -1])
        surface, conductance = wall, wall
        for _ in range(_ROUNDS_OF_SURFACE):
            in_water = mesh.outer[:, rings - 1] / self._mean_water(
                water, surface, self._mixing.across, in_ring
            )
            in_wall = mesh.inner[:, rings] / self._mean_wall(wall, surface, self._wall[:, 0])
            conductance = 1.0 / (in_water + in_wall)
            surface = wall + (water - wall) * conductance * in_wall
        return conductance

    def surface(self) -> Numbers:
        """Conductance (W/K) from each slice's outermost ring to its surroundings."""
        pipes, mesh = self._pipes, self._pipes.mesh
        cell, film = self._t[:, -1], pipes.film * mesh.perimeter
        film_resistance = 1.0 / np.maximum(film, 1e-12)
        surface, conductance = cell, cell
        unstirred = np.ones_like(cell)
        for _ in range(_ROUNDS_OF_SURFACE):
            mean = (
                self._mean_wall(cell, surface, self._wall[:, -1])
                if pipes.has_wall
                else self._mean_water(
                    cell, surface, unstirred, (self._cold[:, -1], self._warm[:, -1])
                )
            )
            inside = mesh.outer[:, -1] / mean
            conductance = 1.0 / (inside + film_resistance)
            surface = cell + (pipes.outside - cell) * conductance * inside
        return np.where(film > 0.0, mesh.slices * conductance, 0.0)


def _solve(band: Numbers, right: Numbers) -> Numbers:
    """Solve the banded system; the answer has the shape of the right side."""
    unknowns = right.size
    lower = band.reshape(unknowns, band.shape[2]).T
    _, answer, info = dpbsv(lower, right.reshape(unknowns), lower=1, overwrite_ab=1)
    if info != 0:
        raise ArithmeticError(f"the banded system of the freezing model is singular ({info})")
    return np.asarray(answer).reshape(right.shape)


def advance(
    pipes: Pipes, enthalpy: Numbers, steps: Numbers, mixing: Mixing, limits: Limits
) -> Taken:
    """Advance the enthalpy of every cell by one time step, in place.

    Parameters:
        pipes: the grids.
        enthalpy: J/m3, slices by rings; overwritten for the pipes whose step settles.
        steps: s, one for each pipe.
        mixing: factors on the liquid's conductivity.
        limits: when an iteration has settled.

    Returns:
        Which pipes settled (the others are unchanged), the heat given off, and temperatures.
    """
    going = _Iteration.of(pipes, enthalpy, steps[pipes.pipe][:, None], mixing)
    unsettled = np.zeros(steps.size, dtype=np.bool_)
    taken = Taken(unsettled, np.zeros(pipes.pipe.size), going.t.copy())
    still = np.arange(steps.size)
    for number in range(1, limits.rounds + 1):
        if number <= _ROUNDS_OF_CONDUCTANCE:
            going.take_conductances()
        worst, given = going.next_round()
        # At least two rounds: the conductivities are those of the round before.
        settled = worst < limits.mismatch if number > 1 else np.zeros(still.size, dtype=np.bool_)
        if settled.any():
            now = np.zeros(steps.size, dtype=np.bool_)
            now[still[settled]] = True
            here = now[pipes.pipe]
            rows = settled[going.pipes.pipe]
            enthalpy[here], taken.heat[here] = going.new[rows], given[rows]
            taken.temperature[here] = going.t[rows]
            taken.settled[still[settled]] = True
            still = still[~settled]
            if not still.size:
                break
            going = going.only(~settled)
    return taken


@dataclass(slots=True)
class _Iteration:
    """Newton's iteration for some pipes."""

    pipes: Pipes
    mixing: Mixing
    old: Numbers
    new: Numbers
    storage: Numbers
    t: Numbers
    slope: Numbers
    conductances: _Conductances

    @classmethod
    def of(cls, pipes: Pipes, enthalpy: Numbers, step: Numbers, mixing: Mixing) -> _Iteration:
        t, slope = pipes.temperatures(enthalpy)
        none = _Conductances(t, t, t)
        return cls(pipes, mixing, enthalpy.copy(), enthalpy, pipes.volumes / step, t, slope, none)

    def take_conductances(self) -> None:
        self.conductances = _Conductances.of(self.pipes, self.t, self.mixing)

    def next_round(self) -> tuple[Numbers, Numbers]:
        """Solve once more; give each pipe's mismatch (K) and the heat (W) each slice gives off."""
        band, right = self.conductances.assemble(self.pipes, self.t)
        band[:, :, 0] += self.storage / self.slope
        right -= self.storage * (self.new - self.old)
        change = _solve(band, right)
        linear = self.t + change
        self.new = self.new + change / self.slope
        self.t, self.slope = self.pipes.temperatures(self.new)
        worst = self.pipes.largest(np.abs(self.t - linear).max(axis=1))
        return worst, self.conductances.surface * (linear[:, -1] - self.pipes.outside)

    def only(self, which: Flags) -> _Iteration:
        """Go on with some of the pipes."""
        rows = which[self.pipes.pipe]
        of = self.conductances
        return _Iteration(
            self.pipes.only(which),
            Mixing(self.mixing.across[rows], self.mixing.along[rows]),
            self.old[rows],
            self.new[rows],
            self.storage[rows],
            self.t[rows],
            self.slope[rows],
            _Conductances(of.radial[rows], of.axial[rows], of.surface[rows]),
        )
