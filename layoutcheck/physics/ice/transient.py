"""The course of freezes and thaws in time: step control, events, and the heat balance.

A level pipe is modelled by one half, from the middle of the jacket (a plane of symmetry) to a far
end without heat flow. A pipe that rises is modelled whole: its halves differ.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from layoutcheck.physics.ice.closure import across_factor, along_factor
from layoutcheck.physics.ice.mesh import Mesh
from layoutcheck.physics.ice.step import Limits, Mixing, Pipes, advance
from layoutcheck.physics.ice.tables import Tables, liquid_enthalpy, wall_enthalpy

Numbers = NDArray[np.float64]

BALANCE_TOLERANCE = 1e-3
"""Largest relative gap between heat given off and enthalpy lost."""

LIMITS = Limits(mismatch=2e-3, rounds=10)

_GROWTH = 1.4
_SHORTEST_STEP = 1e-6
STEADY = 0.01
LEISURE = 5.0
"""Hold and thaw take steps this much longer than the freeze: their times are wanted less finely."""


class HeatBalanceError(RuntimeError):
    """Heat given off and enthalpy lost do not agree: a fault of the solver, never of the input."""


@dataclass(frozen=True, slots=True)
class Room:
    """The room: film (W/(m2 K)) of pipe colder and of pipe warmer than it, temperature (K)."""

    warming: float
    cooling: float
    temperature: float


@dataclass(frozen=True, slots=True)
class Setting:
    """One run's grid, materials and surroundings; temperatures in K relative to freezing.

    Attributes:
        sides: 2 where the other half of the pipe is like the one modelled, 1 where all of it is.
        stirring: strength of the closure across the pipe, and along a level one.
        exchange: constant C of the exchange along a pipe that rises; 0 for a level one.
        progress: share of a slice's heat of freezing that may leave it in one step: the accuracy
            in time.
    """

    mesh: Mesh
    tables: Tables
    start: float
    half_jacket: float
    jacket_conductance: float
    coolant: float
    room: Room
    sides: int
    stirring: float
    exchange: float
    progress: float

    @property
    def under_jacket(self) -> NDArray[np.bool_]:
        """Slices under the jacket."""
        return np.abs(self.mesh.middles) < self.half_jacket


@dataclass(slots=True)
class Course:
    """The record of a run. Arrays are one entry for each time kept.

    `open_radius` is the radius of the bore still open at each slice; `heat` is what the jacket has
    taken from the whole pipe, J, and `rate` the heat flow into the jacket, W; `wall` is the
    temperature of the pipe's outer ring at each slice, K relative to freezing.
    """

    times: list[float] = field(default_factory=list)
    open_radius: list[Numbers] = field(default_factory=list)
    wall: list[Numbers] = field(default_factory=list)
    heat: list[float] = field(default_factory=list)
    rate: list[float] = field(default_factory=list)

    def note(self, run: Run) -> None:
        """Keep how a run stands now."""
        self.times.append(run.time)
        self.open_radius.append(run.open_radius)
        self.wall.append(run.temperature[:, -1].copy())
        self.heat.append(run.jacket_heat)
        self.rate.append(run.jacket_rate)


class Run:
    """The state of one pipe."""

    def __init__(self, setting: Setting, enthalpy: Numbers | None = None) -> None:
        """Start from even temperature, or from a state that another run left."""
        mesh = setting.mesh
        self.setting = setting
        self.time = 0.0
        rings = mesh.rings_of_water
        if enthalpy is None:
            enthalpy = np.empty_like(mesh.areas)
            enthalpy[:, :rings] = liquid_enthalpy(setting.tables, setting.start)
            enthalpy[:, rings:] = wall_enthalpy(setting.tables, setting.start)
        self.enthalpy = enthalpy
        self._volumes = mesh.slices[:, None] * mesh.areas
        self.under_jacket = setting.under_jacket
        self.first_energy = self.energy()
        self.given = 0.0
        self.turnover = 0.0
        self.jacket_heat = 0.0
        self.heat = np.zeros(mesh.slices.size)
        pipes = pipes_of([self])
        self.temperature, _ = pipes.temperatures(enthalpy)
        self.liquid = _liquid(pipes, enthalpy)

    def energy(self) -> float:
        """Enthalpy of all that is modelled, J."""
        return float((self._volumes * self.enthalpy).sum())

    @property
    def open_radius(self) -> Numbers:
        """Radius of the bore still open at each slice, m."""
        return np.asarray(self.setting.mesh.bore * np.sqrt(self.liquid), dtype=np.float64)

    @property
    def jacket_rate(self) -> float:
        """Heat flow into the jacket from the whole pipe, W."""
        return self.setting.sides * float(self.heat[self.under_jacket].sum())

    @property
    def stored_rate(self) -> float:
        """Heat flow that still comes out of store in the whole pipe, W."""
        return self.setting.sides * float(self.heat.sum())

    def check_balance(self) -> None:
        """Compare heat given off with enthalpy lost.

        Raises:
            HeatBalanceError: they differ by more than `BALANCE_TOLERANCE` of the heat turned over.
        """
        gap = abs(self.given - (self.first_energy - self.energy()))
        if not gap <= BALANCE_TOLERANCE * max(self.turnover, 1.0):
            raise HeatBalanceError(
                f"the freezing model lost track of {gap:.3g} J of {self.turnover:.3g} J"
            )

    def frost_bands(self) -> tuple[float, float]:
        """Length of bare pipe at or below freezing beyond each jacket end, m: before, after.

        In a pipe that rises 'before' is above the jacket. inf where the wall is so cold at the end
        of the pipe that is modelled: in a cold room the frost may go on for ever, and so may the
        ice.
        """
        return frost_bands(self.setting, self.temperature[:, -1])

    def solid_volume(self) -> float:
        """Volume of ice in the whole pipe, m3; inf where it may go on beyond what is modelled."""
        return math.inf if math.isinf(max(self.frost_bands())) else self.ice_volume()

    def ice_volume(self) -> float:
        """Volume of the ice that is modelled, in the whole pipe, m3."""
        mesh = self.setting.mesh
        bore = mesh.areas[:, : mesh.rings_of_water].sum(axis=1)
        return self.setting.sides * float((mesh.slices * bore * (1.0 - self.liquid)).sum())

    def solid_length(self) -> float:
        """Greatest length over which the bore is solid from wall to axis, m."""
        longest = length = 0.0
        for solid, thickness in zip(self.liquid <= 0.0, self.setting.mesh.slices, strict=True):
            length = length + float(thickness) if solid else 0.0
            longest = max(longest, length)
            if not solid and self.setting.sides == 2:
                break
        return self.setting.sides * longest


def frost_bands(setting: Setting, wall: Numbers) -> tuple[float, float]:
    """As `Run.frost_bands`, for the wall's temperatures (K relative to freezing)."""
    after = _band(setting, setting.mesh.middles, wall)
    if setting.sides == 2:
        return after, after
    return _band(setting, -setting.mesh.middles[::-1], wall[::-1]), after


def _band(setting: Setting, middles: Numbers, wall: Numbers) -> float:
    if wall[-1] <= 0.0:
        return math.inf
    beyond = int(np.flatnonzero(wall <= 0.0)[-1]) if (wall <= 0.0).any() else -1
    if beyond < 0:
        return 0.0
    a, b = wall[beyond], wall[beyond + 1]
    place = middles[beyond] + (middles[beyond + 1] - middles[beyond]) * (-a / (b - a))
    return max(float(place) - setting.half_jacket, 0.0)


def pipes_of(runs: Sequence[Run]) -> Pipes:
    """Lay the pipes of some runs end to end."""
    surroundings = []
    for run in runs:
        of = run.setting
        under = of.under_jacket
        surroundings.append(
            (
                np.where(under, of.jacket_conductance, of.room.warming),
                np.where(under, of.coolant, of.room.temperature),
            )
        )
    settings = [run.setting for run in runs]
    return Pipes([of.mesh for of in settings], [of.tables for of in settings], surroundings)


def _liquid(pipes: Pipes, enthalpy: Numbers) -> Numbers:
    water = enthalpy[:, : pipes.rings_of_water]
    return np.asarray((np.clip(water / pipes.water.latent, 0.0, 1.0) * pipes.shares).sum(axis=1))


class Watch(Protocol):
    """Looks at a run after each of its steps, and ends it."""

    def after(self, run: Run, before: Numbers, step: float) -> bool:
        """Say whether the run is done, given the liquid shares before the step, and its length."""


@dataclass(slots=True)
class Job:
    """One run to be marched until its watch ends it, or its time (s) is up.

    Attributes:
        step: length of the next step, s.
        progress: share of a slice's heat of freezing that may leave it in one step.
        ended: whether the watch ended it.
    """

    run: Run
    watch: Watch
    until: float
    step: float
    progress: float
    ended: bool = False


def march(jobs: Sequence[Job]) -> None:
    """Step runs together, each with steps of its own, until each is done.

    Raises:
        HeatBalanceError: heat was lost, or no step however short settles.
    """
    going = [job for job in jobs if job.run.time < job.until]
    while going:
        going = _Together(going).until_one_ends()
    for job in jobs:
        job.run.check_balance()


class _Together:
    """Some runs as one array, until the first of them ends."""

    def __init__(self, jobs: list[Job]) -> None:
        self._jobs = jobs
        runs = [job.run for job in jobs]
        self._pipes = pipes = pipes_of(runs)
        self._enthalpy = np.concatenate([run.enthalpy for run in runs])
        self._temperature = np.concatenate([run.temperature for run in runs])
        self._liquid = np.concatenate([run.liquid for run in runs])
        ends = [*pipes.starts[1:].tolist(), pipes.pipe.size]
        self._spans = [slice(a, b) for a, b in zip(pipes.starts.tolist(), ends, strict=True)]
        settings = [run.setting for run in runs]
        count = [span.stop - span.start for span in self._spans]
        self._stirring = np.repeat([of.stirring for of in settings], count)
        self._exchange = np.repeat([of.exchange for of in settings], count)
        self._in_room = np.concatenate([~run.under_jacket for run in runs])
        self._warming = np.repeat([of.room.warming for of in settings], count)
        self._cooling = np.repeat([of.room.cooling for of in settings], count)
        self._steps = np.array([job.step for job in jobs])
        for run, span in zip(runs, self._spans, strict=True):
            run.enthalpy, run.temperature = self._enthalpy[span], self._temperature[span]

    def until_one_ends(self) -> list[Job]:
        """Step until at least one run is done; give those that are not."""
        while True:
            self._step()
            going = [job for job in self._jobs if not self._is_over(job)]
            if len(going) < len(self._jobs):
                for job, step in zip(self._jobs, self._steps, strict=True):
                    job.step = float(step)
                return going

    @staticmethod
    def _is_over(job: Job) -> bool:
        return job.ended or job.run.time >= job.until

    def _mixing(self) -> Mixing:
        pipes = self._pipes
        water = self._temperature[:, : pipes.rings_of_water]
        liquid = np.clip(self._enthalpy[:, : pipes.rings_of_water] / pipes.water.latent, 0.0, 1.0)
        weight = liquid * pipes.shares
        mean = (weight * np.maximum(water, 0.0)).sum(axis=1) / np.maximum(self._liquid, 1e-12)
        width = 2.0 * pipes.mesh.bore * np.sqrt(self._liquid)
        warmest = np.maximum(water.max(axis=1), 0.0)
        across = across_factor(warmest=warmest, open_diameter=width, strength=self._stirring)
        along = along_factor(
            mean=mean,
            open_diameter=width,
            per_distance=pipes.per_distance,
            exchange=self._exchange,
        )
        return Mixing(across, np.where(self._exchange > 0.0, along, across))

    def _step(self) -> None:
        pipes, before = self._pipes, self._liquid
        water = self._enthalpy[:, : pipes.rings_of_water]
        held = (water * pipes.shares).sum(axis=1)
        colder = self._temperature[:, -1] < pipes.outside
        film = np.where(colder, self._warming, self._cooling)
        pipes.film = np.where(self._in_room, film, pipes.film)
        left = np.array([job.until - job.run.time for job in self._jobs])
        steps = np.minimum(self._steps, np.maximum(left, 1e-3))
        taken = advance(pipes, self._enthalpy, steps, self._mixing(), LIMITS)
        self._temperature[:] = taken.temperature
        self._liquid = _liquid(pipes, self._enthalpy)
        now = (self._enthalpy[:, : pipes.rings_of_water] * pipes.shares).sum(axis=1)
        change = pipes.largest(np.abs(now - held)) / pipes.water.latent
        progress = np.array([job.progress for job in self._jobs])
        factor = np.clip(progress / np.maximum(change, 1e-12), 0.3, _GROWTH)
        self._steps = steps * np.where(taken.settled, factor, 0.4)
        if (self._steps[~taken.settled] < _SHORTEST_STEP).any():
            raise HeatBalanceError("the freezing model found no step that settles")
        given, turnover = pipes.sums(taken.heat), pipes.sums(np.abs(taken.heat))
        for at in np.flatnonzero(taken.settled).tolist():
            job, span, step = self._jobs[at], self._spans[at], float(steps[at])
            run = job.run
            run.time += step
            run.heat, run.liquid = taken.heat[span], self._liquid[span]
            run.given += step * float(given[at])
            run.turnover += step * float(turnover[at])
            run.jacket_heat += step * run.jacket_rate
            job.ended = job.watch.after(run, before[span], step)
