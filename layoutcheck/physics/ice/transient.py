"""The course of one freeze and one thaw in time: step control, events, and the heat balance.

Half of the pipe is modelled, from the middle of the jacket (a plane of symmetry) to a far end
without heat flow. In a vertical pipe the two halves differ; the half that is modelled is the one
fed with warm water.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from layoutcheck.physics.ice import kernel
from layoutcheck.physics.ice.closure import Orientation, mixing_factors
from layoutcheck.physics.ice.mesh import Mesh
from layoutcheck.physics.ice.tables import Tables, liquid_enthalpy, wall_enthalpy

Numbers = NDArray[np.float64]

BALANCE_TOLERANCE = 1e-3
"""Largest relative gap between heat given off and enthalpy lost."""

_TEMPERATURE_TOLERANCE = 2e-3
_MOST_ITERATIONS = 10
_GROWTH = 1.4
_STEADY = 0.01
_LEISURE = 5.0
"""Hold and thaw take steps this much longer than the freeze: their times are wanted less finely."""


class HeatBalanceError(RuntimeError):
    """Heat given off and enthalpy lost do not agree: a fault of the solver, never of the input."""


@dataclass(frozen=True, slots=True)
class Setting:
    """One run's grid, materials and surroundings; temperatures in K relative to freezing."""

    mesh: Mesh
    tables: Tables
    start: float
    half_jacket: float
    jacket_conductance: float
    coolant: float
    ambient_conductance: float
    ambient: float
    orientation: Orientation
    mixing: float
    progress: float
    """Share of a slice's bore that may freeze in one step: the accuracy in time."""


@dataclass(slots=True)
class Course:
    """The record of a run. Arrays are one entry for each time kept.

    `open_radius` is the radius of the bore still open at each slice; `heat` is what the jacket has
    taken from the whole pipe (both halves), J, and `rate` the heat flow into the jacket, W.
    """

    times: list[float] = field(default_factory=list)
    open_radius: list[Numbers] = field(default_factory=list)
    heat: list[float] = field(default_factory=list)
    rate: list[float] = field(default_factory=list)


class Run:
    """The state of one half pipe, stepped in time."""

    def __init__(self, setting: Setting, enthalpy: Numbers | None = None) -> None:
        """Start from even temperature, or from a state that another run left."""
        mesh = setting.mesh
        self.setting = setting
        self.time = 0.0
        if enthalpy is None:
            enthalpy = np.empty((mesh.slices.size, mesh.areas.size))
            water = mesh.rings_of_water
            enthalpy[:, :water] = liquid_enthalpy(setting.tables, setting.start)
            enthalpy[:, water:] = wall_enthalpy(setting.tables, setting.start)
        self.enthalpy = enthalpy
        self._volumes = mesh.slices[:, None] * mesh.areas[None, :]
        self._shares = mesh.areas[: mesh.rings_of_water] / mesh.areas[: mesh.rings_of_water].sum()
        self._first_energy = self._energy()
        self._given = 0.0
        self._turnover = 0.0
        self.jacket_heat = 0.0
        self.heat = np.zeros(mesh.slices.size)
        under = mesh.middles < setting.half_jacket
        self.under_jacket = under
        self._outside = (
            np.where(under, setting.jacket_conductance, setting.ambient_conductance),
            np.where(under, setting.coolant, setting.ambient),
        )
        self.temperature = np.empty_like(enthalpy)
        self._refresh()

    def _refresh(self) -> None:
        kernel.temperatures(self.setting.mesh, self.setting.tables, self.enthalpy, self.temperature)
        water = self.enthalpy[:, : self.setting.mesh.rings_of_water]
        self.liquid = np.clip(water / self.setting.tables.latent, 0.0, 1.0) @ self._shares

    def _energy(self) -> float:
        return float((self._volumes * self.enthalpy).sum())

    @property
    def open_radius(self) -> Numbers:
        """Radius of the bore still open at each slice, m."""
        bore = self.setting.mesh.edges[self.setting.mesh.rings_of_water]
        return np.asarray(bore * np.sqrt(self.liquid), dtype=np.float64)

    @property
    def jacket_rate(self) -> float:
        """Heat flow into the jacket from the whole pipe, W."""
        return 2.0 * float(self.heat[self.under_jacket].sum())

    @property
    def stored_rate(self) -> float:
        """Heat flow that still comes out of store in the whole pipe, W."""
        return 2.0 * float(self.heat.sum())

    def try_step(self, step: float) -> bool:
        """Advance by `step` seconds; say whether it settled (else nothing has changed)."""
        setting = self.setting
        mixing = mixing_factors(
            warmest=np.maximum(self.temperature[:, : setting.mesh.rings_of_water].max(axis=1), 0.0),
            open_diameter=2.0 * self.open_radius,
            half_jacket=setting.half_jacket,
            orientation=setting.orientation,
            strength=setting.mixing,
        )
        rounds = kernel.advance(
            setting.mesh,
            setting.tables,
            self.enthalpy,
            step,
            self._outside,
            mixing,
            (_TEMPERATURE_TOLERANCE, _MOST_ITERATIONS),
            self.heat,
        )
        if rounds == 0:
            return False
        self.time += step
        self._given += step * float(self.heat.sum())
        self._turnover += step * float(np.abs(self.heat).sum())
        self.jacket_heat += step * self.jacket_rate
        self._refresh()
        return True

    def check_balance(self) -> None:
        """Compare heat given off with enthalpy lost.

        Raises:
            HeatBalanceError: they differ by more than `BALANCE_TOLERANCE` of the heat turned over.
        """
        gap = abs(self._given - (self._first_energy - self._energy()))
        if not gap <= BALANCE_TOLERANCE * max(self._turnover, 1.0):
            raise HeatBalanceError(
                f"the freezing model lost track of {gap:.3g} J of {self._turnover:.3g} J"
            )

    def surface_below_freezing(self) -> float:
        """Length of bare pipe beyond one jacket end with its wall at or below freezing, m.

        inf where the wall is so cold at the end of the pipe that is modelled: in a cold room the
        frost may go on for ever, and so may the ice.
        """
        mesh = self.setting.mesh
        wall = self.temperature[:, -1]
        if wall[-1] <= 0.0:
            return math.inf
        first = int(np.flatnonzero(wall > 0.0)[0])
        if first == 0:
            return 0.0
        a, b = wall[first - 1], wall[first]
        place = mesh.middles[first - 1] + (mesh.middles[first] - mesh.middles[first - 1]) * (
            -a / (b - a)
        )
        return max(float(place) - self.setting.half_jacket, 0.0)

    def solid_volume(self) -> float:
        """Volume of ice in the whole pipe, m3; inf where it may go on beyond what is modelled."""
        if math.isinf(self.surface_below_freezing()):
            return math.inf
        bore = self.setting.mesh.areas[: self.setting.mesh.rings_of_water].sum()
        return 2.0 * float((self.setting.mesh.slices * (1.0 - self.liquid)).sum() * bore)

    def solid_length(self) -> float:
        """Length over which the bore is solid from wall to axis, about the jacket's middle, m."""
        open_slices = np.flatnonzero(self.liquid > 0.0)
        closed = int(open_slices[0]) if open_slices.size else self.liquid.size
        return 2.0 * float(self.setting.mesh.slices[:closed].sum())


def march(
    run: Run,
    *,
    until: float,
    done: Callable[[Run, Numbers, float], bool],
    first_step: float,
    progress: float,
) -> bool:
    """Step a run until `done` says so, or its time reaches `until`.

    Parameters:
        run: the state; stepped in place.
        until: latest time, s.
        done: called after each step with the run, the liquid shares before it, and its length (s).
        first_step: s.
        progress: share of a slice's bore that may freeze or melt in one step.

    Returns:
        Whether `done` ended it.

    Raises:
        HeatBalanceError: heat was lost, or no step however short settles.
    """
    step = first_step
    while run.time < until:
        step = min(step, max(until - run.time, 1e-3))
        before = run.liquid
        while not run.try_step(step):
            step *= 0.4
            if step < 1e-6:
                raise HeatBalanceError("the freezing model found no step that settles")
        finished = done(run, before, step)
        change = float(np.abs(run.liquid - before).max())
        step *= min(_GROWTH, max(0.3, progress / max(change, 1e-12)))
        if finished:
            run.check_balance()
            return True
    run.check_balance()
    return False


@dataclass(frozen=True, slots=True)
class Frozen:
    """What one freeze came to. Times in s; infinite for what did not happen."""

    course: Course
    closed_at: Numbers
    needed_at: float
    plug_heat: float
    plug_frost: float
    plug_volume: float
    steady: bool

    @property
    def neck_at(self) -> float:
        """Time at which the neck closes, s."""
        return float(self.closed_at[0])


def freeze(run: Run, *, needed_half: float, horizon: float) -> Frozen:
    """Freeze until the bore is solid over the needed length, no more ice grows, or time is up.

    Parameters:
        run: at its start.
        needed_half: half the needed solid length, m.
        horizon: latest time, s.

    Returns:
        What the freeze came to.
    """
    course, middles = Course(), run.setting.mesh.middles
    closed_at = np.full(middles.size, math.inf)
    axis = {"before": run.enthalpy[:, 0].copy()}
    _note(course, run)
    steady = False

    def after(state: Run, before: Numbers, step: float) -> bool:
        nonlocal steady
        newly = (state.liquid <= 0.0) & np.isinf(closed_at)
        # The ring on the axis freezes last; within a step its enthalpy is taken to fall evenly.
        fall = np.maximum(axis["before"] - state.enthalpy[:, 0], 1e-9)
        share = np.clip(axis["before"] / fall, 0.0, 1.0)
        closed_at[newly] = (state.time - step * (1.0 - share))[newly]
        axis["before"] = state.enthalpy[:, 0].copy()
        _note(course, state)
        steady = _is_steady(state, before, step)
        return steady or math.isfinite(closing_time(middles, closed_at, needed_half))

    march(
        run,
        until=horizon,
        done=after,
        first_step=_first_step(run),
        progress=run.setting.progress,
    )
    return Frozen(
        course,
        closed_at,
        closing_time(middles, closed_at, needed_half),
        run.jacket_heat,
        run.surface_below_freezing(),
        run.solid_volume(),
        steady,
    )


def closing_time(middles: Numbers, closed_at: Numbers, half_length: float) -> float:
    """Time at which all of the half length is solid: read between slice middles, s."""
    end = int(np.searchsorted(middles, half_length))
    if end >= middles.size:
        return math.inf
    first = max(end - 1, 0)
    if not np.isfinite(closed_at[: end + 1]).all():
        return math.inf
    between = np.interp(half_length, middles[first : end + 1], closed_at[first : end + 1])
    return float(max(between, closed_at[:end].max(initial=0.0)))


def settle(run: Run, *, limit: float) -> bool:
    """Go on with the jacket filled until the heat flow is steady; say whether it became so."""
    return march(
        run,
        until=run.time + limit,
        done=_is_steady,
        first_step=max(0.01 * run.time, 1.0),
        progress=_LEISURE * run.setting.progress,
    )


@dataclass(frozen=True, slots=True)
class Thawed:
    """Times after the jacket comes off, s; infinite for what did not happen within the limit."""

    released_at: float
    clear_at: float


def thaw(run: Run, *, limit: float) -> Thawed:
    """Let the room warm the pipe; note when the ice lets go of the wall and when it is gone.

    The ice lets go when water stands at the wall all along the stretch that was solid: from then
    on the plug holds nothing, long before it has melted.
    """
    solid = run.liquid <= 0.0
    at_wall = run.setting.mesh.rings_of_water - 1
    wall = {"before": run.enthalpy[solid, at_wall].copy()}
    whole = run.solid_volume()
    released, clear = math.inf, math.inf

    def after(state: Run, before: Numbers, step: float) -> bool:
        nonlocal released, clear
        now = state.enthalpy[solid, at_wall]
        if math.isinf(released) and bool((now > 0.0).all()):
            # Within a step the enthalpy is taken to rise evenly.
            share = np.clip(-wall["before"] / np.maximum(now - wall["before"], 1e-9), 0.0, 1.0)
            released = state.time - step * (1.0 - float(share.max(initial=0.0)))
        wall["before"] = now.copy()
        if state.solid_volume() <= 1e-3 * whole:
            clear = state.time
        return math.isfinite(clear)

    march(
        run,
        until=limit,
        done=after,
        first_step=5.0,
        progress=_LEISURE * run.setting.progress,
    )
    return Thawed(released, clear)


def _first_step(run: Run) -> float:
    """A small share of the time heat takes to cross the bore, s."""
    bore = float(run.setting.mesh.edges[run.setting.mesh.rings_of_water])
    return max(0.02, 1e-3 * bore * bore / 1e-6)


def _is_steady(run: Run, before: Numbers, step: float) -> bool:
    """Nothing freezes any more and what the jacket takes is what the room gives."""
    growth = float(np.abs(run.liquid - before).max()) / step
    return growth * run.time < _STEADY and abs(run.stored_rate) < _STEADY * max(
        run.jacket_rate, 1e-9
    )


def _note(course: Course, run: Run) -> None:
    course.times.append(run.time)
    course.open_radius.append(run.open_radius)
    course.heat.append(run.jacket_heat)
    course.rate.append(run.jacket_rate)
