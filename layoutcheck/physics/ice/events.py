"""What is watched for while a pipe freezes, is held, and thaws."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layoutcheck.physics.ice.transient import LEISURE, STEADY, Course, Job, Run, march

Numbers = NDArray[np.float64]

_STARTS = 64
"""A plug in a pipe that rises may stand anywhere: so many places between two slices are tried."""


@dataclass(frozen=True, slots=True)
class Frozen:
    """What one freeze came to. Times in s; infinite for what did not happen.

    Attributes:
        course: over time.
        closed_at: when each slice closed.
        ice_at: when the first ice stood at the wall.
        needed_at: when the bore was solid over the needed length.
        plug_heat: taken by the jacket until then, J.
        plug_rate: heat flow into the jacket then, W.
        plug_frost: bands of frost then, m.
        plug_volume: of ice then, m3.
        steady: whether nothing changed any more.
    """

    course: Course
    closed_at: Numbers
    ice_at: float
    needed_at: float
    plug_heat: float
    plug_rate: float
    plug_frost: tuple[float, float]
    plug_volume: float
    steady: bool

    @property
    def neck_at(self) -> float:
        """Time at which the neck closes, s."""
        return float(self.closed_at.min())


class _Freezing:
    """Notes when slices close; done when the plug stands or nothing changes."""

    def __init__(self, run: Run, needed: float) -> None:
        self.course = Course()
        self.course.note(run)
        self._needed = needed
        self.closed_at = np.full(run.setting.mesh.slices.size, math.inf)
        self.needed_at = self.ice_at = math.inf
        self._axis = run.enthalpy[:, 0].copy()
        self.steady = False

    def after(self, run: Run, before: Numbers, step: float) -> bool:
        newly = (run.liquid <= 0.0) & np.isinf(self.closed_at)
        if newly.any():
            # The ring on the axis freezes last; in a step its enthalpy is taken to fall evenly.
            fall = np.maximum(self._axis - run.enthalpy[:, 0], 1e-9)
            share = np.clip(self._axis / fall, 0.0, 1.0)
            self.closed_at[newly] = (run.time - step * (1.0 - share))[newly]
            self.needed_at = plug_time(run, self.closed_at, self._needed)
        if math.isinf(self.ice_at) and bool((run.liquid < 1.0).any()):
            self.ice_at = run.time
        self._axis = run.enthalpy[:, 0].copy()
        self.course.note(run)
        self.steady = is_steady(run, before, step)
        return self.steady or math.isfinite(self.needed_at)


def freeze(
    runs: Sequence[Run], *, needed: Sequence[float], horizons: Sequence[float]
) -> list[Frozen]:
    """Freeze until each bore is solid over its needed length, no more ice grows, or time is up.

    Parameters:
        runs: at their start.
        needed: solid length of each, m.
        horizons: latest time of each, s.

    Returns:
        What each freeze came to.
    """
    watches = [_Freezing(run, length) for run, length in zip(runs, needed, strict=True)]
    march(
        [
            Job(run, watch, horizon, _first_step(run), run.setting.progress)
            for run, watch, horizon in zip(runs, watches, horizons, strict=True)
        ]
    )
    return [
        Frozen(
            watch.course,
            watch.closed_at,
            watch.ice_at,
            watch.needed_at,
            run.jacket_heat,
            run.jacket_rate,
            run.frost_bands(),
            run.solid_volume(),
            watch.steady,
        )
        for run, watch in zip(runs, watches, strict=True)
    ]


def plug_time(run: Run, closed_at: Numbers, needed: float) -> float:
    """Time at which some length of the pipe is solid throughout, s."""
    if run.setting.sides == 2:
        return closing_time(run.setting.mesh.middles, closed_at, 0.5 * needed)
    return window_time(run.setting.mesh.middles, closed_at, needed)


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


def window_time(middles: Numbers, closed_at: Numbers, length: float) -> float:
    """Earliest time at which a stretch of a length is solid, wherever it lies: read between, s."""
    closed = np.flatnonzero(np.isfinite(closed_at))
    if closed.size < 2:
        return math.inf
    best = math.inf
    for group in np.split(closed, np.flatnonzero(np.diff(closed) > 1) + 1):
        at, times = middles[group], closed_at[group]
        room = float(at[-1] - at[0]) - length
        if room < 0.0:
            continue
        for start in at[0] + np.linspace(0.0, room, _STARTS):
            ends = np.interp([start, start + length], at, times)
            inside = times[(at > start) & (at < start + length)]
            best = min(best, float(max(ends.max(), inside.max(initial=0.0))))
    return best


class _Holding:
    """Notes the heat that the jacket takes; done when nothing changes any more."""

    def __init__(self, run: Run) -> None:
        self.times, self.heat = [run.time], [run.jacket_heat]
        self.steady = False

    def after(self, run: Run, before: Numbers, step: float) -> bool:
        self.times.append(run.time)
        self.heat.append(run.jacket_heat)
        self.steady = is_steady(run, before, step)
        return self.steady


@dataclass(frozen=True, slots=True)
class Held:
    """A hold: heat (J) taken since the plug stood, at times (s) since then; then at `rate` (W)."""

    times: Numbers
    heat: Numbers
    rate: float
    steady: bool


class _Thawing:
    """Notes when the ice lets go of the wall and when it is gone.

    The ice lets go when water stands at the wall all along the stretch that was solid: from then
    on the plug holds nothing, long before it has melted.
    """

    def __init__(self, run: Run) -> None:
        self._solid = run.liquid <= 0.0
        self._at_wall = run.setting.mesh.rings_of_water - 1
        self._wall = run.enthalpy[self._solid, self._at_wall].copy()
        self._whole = run.ice_volume()
        self.released, self.clear = math.inf, math.inf

    def after(self, run: Run, before: Numbers, step: float) -> bool:
        now = run.enthalpy[self._solid, self._at_wall]
        if math.isinf(self.released) and bool((now > 0.0).all()):
            # Within a step the enthalpy is taken to rise evenly.
            share = np.clip(-self._wall / np.maximum(now - self._wall, 1e-9), 0.0, 1.0)
            self.released = run.time - step * (1.0 - float(share.max(initial=0.0)))
        self._wall = now.copy()
        if run.ice_volume() <= 1e-3 * self._whole:
            self.clear = run.time
        return math.isfinite(self.clear)


@dataclass(frozen=True, slots=True)
class Thawed:
    """Times after the jacket comes off, s; infinite for what did not happen within the limit."""

    released_at: float
    clear_at: float


def hold_and_thaw(
    held: Sequence[Run], bare: Sequence[Run], *, hold_limit: float, thaw_limit: float
) -> tuple[list[Held], list[Thawed]]:
    """Go on with the jackets filled, and let other pipes warm, all at once.

    Parameters:
        held: at the moment their plugs stand; stepped until nothing changes, or the limit.
        bare: pipes with the jacket off, at time 0.
        hold_limit: longest hold, s.
        thaw_limit: longest thaw, s.
    """
    holds, thaws = [_Holding(run) for run in held], [_Thawing(run) for run in bare]
    jobs = [
        Job(run, watch, run.time + hold_limit, max(0.01 * run.time, 1.0), _leisure(run))
        for run, watch in zip(held, holds, strict=True)
    ]
    jobs += [
        Job(run, watch, thaw_limit, 5.0, _leisure(run))
        for run, watch in zip(bare, thaws, strict=True)
    ]
    march(jobs)
    return (
        [
            Held(
                np.array(watch.times) - watch.times[0],
                np.array(watch.heat) - watch.heat[0],
                run.jacket_rate,
                watch.steady,
            )
            for run, watch in zip(held, holds, strict=True)
        ],
        [Thawed(watch.released, watch.clear) for watch in thaws],
    )


def _leisure(run: Run) -> float:
    return LEISURE * run.setting.progress


def _first_step(run: Run) -> float:
    """A small share of the time heat takes to cross the bore, s."""
    bore = float(run.setting.mesh.bore[0])
    return max(0.02, 1e-3 * bore * bore / 1e-6)


def is_steady(run: Run, before: Numbers, step: float) -> bool:
    """Nothing freezes any more and what the jacket takes is what the room gives."""
    growth = float(np.abs(run.liquid - before).max()) / step
    return growth * run.time < STEADY and abs(run.stored_rate) < STEADY * max(run.jacket_rate, 1e-9)
