"""Edges of the ice model, by hand: what happens at, just below and just above each bound.

A scripted run stands in for the solver where time, enthalpy and liquid must be known exactly. All
expected values are derived by hand from the rules the docstrings state. All pipes are invented.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Iterable
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
from numpy.typing import NDArray

from layoutcheck.physics.ice import mesh, model
from layoutcheck.physics.ice.answer import freeze_pipe
from layoutcheck.physics.ice.answer_types import FreezeOutcome, IceCourse
from layoutcheck.physics.ice.closure import Orientation
from layoutcheck.physics.ice.model import Case, Outcome
from layoutcheck.physics.ice.tables import liquid_enthalpy
from layoutcheck.physics.ice.transient import (
    Course,
    HeatBalanceError,
    Run,
    Setting,
    Thawed,
    _first_step,
    _is_steady,
    closing_time,
    freeze,
    march,
    settle,
    thaw,
)
from layoutcheck.physics.ranges import Range
from layoutcheck.quantities.materials import Material
from tests.physics.ice_cases import PIPE, ROUGH, but, setting

Numbers = NDArray[np.float64]
NEVER = 1e9


# A scripted run


class Scripted:
    """A run whose enthalpy is a given function of time; its heat of freezing is 100 J/m3.

    Rings are alike in area, slices in volume, so the liquid share is a plain mean.
    """

    def __init__(self, enthalpy: Callable[[float], Any], start: float = 0.0) -> None:
        self.law = enthalpy
        self.time = start
        self.steps: list[float] = []
        self.refused: list[float] = []
        self.refuse: Callable[[float], bool] = lambda _: False
        self.balanced = 0
        self.jacket_heat, self.jacket_rate, self.stored_rate = 3.0, 5.0, 7.0
        self.enthalpy = self._now()
        slices, rings = self.enthalpy.shape
        grid = SimpleNamespace(
            rings_of_water=rings,
            middles=0.01 + 0.02 * np.arange(slices),
            edges=np.linspace(0.0, 0.05, rings + 1),
        )
        self.setting = SimpleNamespace(mesh=grid, progress=0.1)

    def _now(self) -> Numbers:
        return np.array(self.law(self.time), dtype=np.float64)

    @property
    def liquid(self) -> Numbers:
        """Share of each slice that is liquid."""
        return np.asarray(np.clip(self.enthalpy / 100.0, 0.0, 1.0).mean(axis=1))

    @property
    def open_radius(self) -> Numbers:
        """Stand-in."""
        return 0.05 * np.sqrt(self.liquid)

    def try_step(self, step: float) -> bool:
        """Go on in time, or refuse."""
        if self.refuse(step):
            self.refused.append(step)
            return False
        self.steps.append(step)
        self.time += step
        self.enthalpy = self._now()
        return True

    def check_balance(self) -> None:
        """Count how often it is asked for."""
        self.balanced += 1

    def solid_volume(self) -> float:
        """Volume of ice, in slices."""
        return float((1.0 - self.liquid).sum())

    def surface_below_freezing(self) -> float:
        """Stand-in."""
        return 0.25


def run_of(scripted: Scripted) -> Run:
    return cast("Run", scripted)


def still(_: float) -> list[list[float]]:
    return [[100.0, 100.0]]


def never(_run: Run, _before: Numbers, _step: float) -> bool:
    return False


# March


def marched(script: Scripted, **changes: Any) -> bool:
    asked: dict[str, Any] = {"until": 10.0, "done": never, "first_step": 1.0, "progress": 0.1}
    return march(run_of(script), **{**asked, **changes})


def test_steps_grow_by_two_fifths_where_nothing_changes_and_end_on_time() -> None:
    script = Scripted(still)
    assert not marched(script)
    assert script.steps == pytest.approx([1.0, 1.4, 1.96, 2.744, 10.0 - 7.104], rel=1e-12)
    assert script.time == pytest.approx(10.0, rel=1e-15)
    assert script.balanced == 1


def test_no_step_is_shorter_than_a_millisecond_at_the_end() -> None:
    script = Scripted(still)
    assert not marched(script, until=1e-4)
    assert script.steps == [1e-3]
    assert not marched(script, until=script.time + 0.5, first_step=7.0)
    assert script.steps == pytest.approx([1e-3, 0.5])


def test_no_step_is_made_when_the_time_is_up() -> None:
    script = Scripted(still, start=10.0)
    assert not marched(script)
    assert script.steps == []
    assert script.balanced == 1


def test_steps_shrink_to_the_progress_wanted_but_never_below_three_tenths() -> None:
    """Half a slice melts in one step of 1 s: progress 0.2 asks for 0.4 s next, 0.05 for 0.3 s."""
    for progress, second in ((0.2, 0.4), (0.05, 0.3), (0.5, 1.0), (0.6, 1.2), (0.75, 1.4)):
        script = Scripted(lambda t: [[50.0 * min(t, 1.0)]])
        marched(script, progress=progress, until=1.1)
        assert script.steps[0] == 1.0
        script = Scripted(lambda t: [[50.0 * min(t, 1.0)]])
        marched(script, progress=progress)
        assert script.steps[1] == pytest.approx(second, rel=1e-12)


def test_a_refused_step_is_tried_again_at_two_fifths() -> None:
    script = Scripted(still)
    script.refuse = lambda step: step > 0.2
    assert marched(script, done=lambda *_: True)
    assert script.refused == pytest.approx([1.0, 0.4], rel=1e-12)
    assert script.steps == pytest.approx([0.16], rel=1e-12)


def test_no_step_that_settles_is_an_error() -> None:
    script = Scripted(still)
    script.refuse = lambda _: True
    with pytest.raises(HeatBalanceError) as raised:
        marched(script)
    assert str(raised.value) == "the freezing model found no step that settles"
    # 0.4 ** 15 is 1.07e-6, 0.4 ** 16 is 4.3e-7.
    assert script.refused == pytest.approx([0.4**k for k in range(16)], rel=1e-12)


def test_a_step_of_just_a_microsecond_is_still_tried() -> None:
    first = 1e-6 / 0.4
    assert first * 0.4 == 1e-6
    script = Scripted(still)
    script.refuse = lambda step: step > 1e-6
    assert marched(script, first_step=first, done=lambda *_: True)
    assert script.steps == [1e-6]


def test_done_is_told_the_step_and_the_liquid_before_it() -> None:
    told: list[tuple[float, float, float]] = []

    def done(run: Run, before: Numbers, step: float) -> bool:
        told.append((run.time, float(before[0]), step))
        return len(told) == 3

    script = Scripted(lambda t: [[100.0 - t]])
    assert marched(script, done=done)
    times = [1.0, 2.4, 4.36]
    assert [t for t, _, _ in told] == pytest.approx(times, rel=1e-12)
    assert [b for _, b, _ in told] == pytest.approx([1.0, 0.99, 0.976], rel=1e-12)
    assert [s for _, _, s in told] == pytest.approx([1.0, 1.4, 1.96], rel=1e-12)
    assert script.balanced == 1


# Steady


@pytest.mark.parametrize(
    ("change", "step", "time", "stored", "rate", "steady"),
    [
        (0.0, 1.0, 10.0, 0.0, 0.0, True),
        (0.0, 1.0, 10.0, 0.0099, 1.0, True),
        (0.0, 1.0, 10.0, 0.01, 1.0, False),
        (0.0, 1.0, 10.0, -0.02, 1.0, False),
        (0.0, 1.0, 10.0, -0.0099, 1.0, True),
        (0.0, 1.0, 10.0, 0.9e-11, -5.0, True),
        (0.0, 1.0, 10.0, 1.1e-11, -5.0, False),
        (0.001, 1.0, 9.99, 0.0, 1.0, True),
        (-0.001, 1.0, 10.01, 0.0, 1.0, False),
        (0.0625, 8.0, 1.0, 0.0, 1.0, True),
        (0.001, 0.5, 9.0, 0.0, 1.0, False),
        (0.2, 40.0, 1.0, 0.0, 1.0, True),
    ],
)
def test_steady_is_less_than_a_hundredth_of_growth_and_of_store(
    *, change: float, step: float, time: float, stored: float, rate: float, steady: bool
) -> None:
    now = SimpleNamespace(
        liquid=np.array([0.5, 0.25 + change]), time=time, stored_rate=stored, jacket_rate=rate
    )
    assert _is_steady(cast("Run", now), np.array([0.5, 0.25]), step) is steady


def test_just_a_hundredth_of_growth_is_not_steady() -> None:
    """A change of all in 100 s at 1 s: a hundredth; 1.0 / 100.0 is the very number."""
    now = SimpleNamespace(liquid=np.array([1.0]), time=1.0, stored_rate=0.0, jacket_rate=1.0)
    assert not _is_steady(cast("Run", now), np.array([0.0]), 100.0)
    assert _is_steady(cast("Run", now), np.array([0.0]), 100.1)


def test_the_first_step_is_a_thousandth_of_the_time_heat_takes_across_the_bore() -> None:
    """1e-3 * 0.05**2 / 1e-6 = 2.5 s; never less than 0.02 s."""
    script = Scripted(still)
    assert _first_step(run_of(script)) == pytest.approx(2.5, rel=1e-12)
    script.setting.mesh.edges = np.linspace(0.0, 0.001, 3)
    assert _first_step(run_of(script)) == 0.02


def test_settling_takes_long_steps_from_a_hundredth_of_the_time() -> None:
    for start, first in ((0.0, 1.0), (50.0, 1.0), (150.0, 1.5)):
        script = Scripted(still, start=start)
        script.stored_rate = 100.0
        assert not settle(run_of(script), limit=20.0)
        assert script.steps[:2] == pytest.approx([first, 1.4 * first])
        assert script.time == pytest.approx(start + 20.0)
    calm = Scripted(still)
    calm.stored_rate = 0.0
    assert settle(run_of(calm), limit=20.0)
    assert calm.steps == [1.0]


def test_settling_lets_five_times_as_much_freeze_in_a_step() -> None:
    """Half freezes in the first second: five times progress 0.1 is just that, so 1 s again."""
    script = Scripted(lambda t: [[100.0 - 50.0 * min(t, 1.0)]])
    settle(run_of(script), limit=1.5)
    assert script.steps == pytest.approx([1.0, 0.5])
    script = Scripted(lambda t: [[100.0 - 50.0 * min(t, 1.0)]])
    script.stored_rate = 100.0
    settle(run_of(script), limit=100.0)
    assert script.steps[1] == pytest.approx(1.0, rel=1e-12)


# Freeze


def test_a_freeze_of_no_time_is_its_start() -> None:
    script = Scripted(still)
    found = freeze(run_of(script), needed_half=0.0, horizon=0.0)
    assert found.steady is False
    assert found.course.times == [0.0]
    assert math.isinf(found.neck_at)
    assert math.isinf(found.needed_at)
    assert (found.plug_heat, found.plug_frost, found.plug_volume) == (3.0, 0.25, 0.0)


def test_a_slice_closes_when_its_axis_falls_through_nought() -> None:
    """Axis 20 - 10 t: nought at 2 s, within the first step of 2.5 s. The other ring lies lower."""
    script = Scripted(lambda t: [[20.0 - 10.0 * t, 5.0 - 10.0 * t]])
    found = freeze(run_of(script), needed_half=0.01, horizon=NEVER)
    assert script.steps == pytest.approx([2.5], rel=1e-12)
    assert found.neck_at == pytest.approx(2.0, rel=1e-12)
    assert found.needed_at == found.neck_at
    assert found.course.times == [0.0, *script.steps]


def test_a_small_fall_is_shared_out_as_evenly() -> None:
    """Axis from 0.2 to -0.2 in one step of 2.5 s: closed at half of it."""
    script = Scripted(lambda t: [[0.2 - 0.16 * t, -1.0]])
    found = freeze(run_of(script), needed_half=0.01, horizon=NEVER)
    assert found.neck_at == pytest.approx(1.25, rel=1e-12)


def test_an_axis_already_frozen_closes_at_the_start_of_the_step() -> None:
    """The outer ring freezes last here, which no pipe does: the time is kept within the step."""
    script = Scripted(lambda t: [[-20.0 - t, 10.0 - 10.0 * t]])
    found = freeze(run_of(script), needed_half=0.01, horizon=NEVER)
    assert found.neck_at == 0.0


def test_each_slice_keeps_the_time_it_first_closed() -> None:
    """The first slice closes at 2 s, the second at 4 s; half of 0.03 m is the second's middle."""
    script = Scripted(lambda t: [[20.0 - 10.0 * t], [40.0 - 10.0 * t]])
    found = freeze(run_of(script), needed_half=0.03, horizon=NEVER)
    assert found.closed_at.tolist() == pytest.approx([2.0, 4.0], rel=1e-12)
    assert found.needed_at == pytest.approx(4.0, rel=1e-12)
    assert found.steady is False


def test_a_steady_freeze_ends_without_a_plug() -> None:
    script = Scripted(still)
    script.stored_rate = 0.0
    found = freeze(run_of(script), needed_half=0.01, horizon=NEVER)
    assert found.steady is True
    assert script.steps == pytest.approx([2.5], rel=1e-12)
    assert math.isinf(found.needed_at)


def test_closing_within_the_first_second_counts() -> None:
    assert closing_time(np.array([0.01, 0.03]), np.array([0.5, 0.7]), 0.0) == 0.5
    assert closing_time(np.array([0.01, 0.03]), np.array([0.5, 0.7]), 0.02) == pytest.approx(0.6)


# Thaw


def test_a_pipe_without_ice_lets_go_at_once() -> None:
    script = Scripted(still)
    assert thaw(run_of(script), limit=100.0) == Thawed(0.0, 5.0)
    assert script.steps == [5.0]


def test_ice_lets_go_when_the_wall_rises_through_nought() -> None:
    """Rings at the wall: -10 + 4 t and -14 + 4 t; the later one passes nought at 3.5 s."""
    script = Scripted(lambda t: [[-50.0, -10.0 + 4.0 * t], [-50.0, -14.0 + 4.0 * t]])
    found = thaw(run_of(script), limit=5.0)
    assert found.released_at == pytest.approx(3.5, rel=1e-12)
    assert math.isinf(found.clear_at)


def test_a_small_rise_at_the_wall_counts_and_is_shared_out_as_evenly() -> None:
    """From -0.2 to 0.3 in the first step of 5 s: through nought at two fifths of it."""
    script = Scripted(lambda t: [[-50.0, -0.2 + 0.1 * t]])
    assert thaw(run_of(script), limit=5.0).released_at == pytest.approx(2.0, rel=1e-12)


def test_a_wall_that_comes_to_nought_and_falls_back_has_not_let_go() -> None:
    script = Scripted(lambda t: [[-50.0, np.interp(t, [0.0, 5.0, 6.0, 100.0], [-10, 0, -4, -4])]])
    assert math.isinf(thaw(run_of(script), limit=50.0).released_at)


def test_only_slices_that_were_solid_hold_the_ice() -> None:
    """The second slice is part water, so what its wall does is nothing to the plug."""
    script = Scripted(lambda t: [[-50.0, -10.0 + 4.0 * t], [80.0, -90.0]])
    assert thaw(run_of(script), limit=5.0).released_at == pytest.approx(2.5, rel=1e-12)


def test_the_ice_is_gone_when_a_thousandth_is_left() -> None:
    """One slice; ice share 1 - t / 1024 at the start; a thousandth of it is left at 1022.98 s."""
    script = Scripted(lambda t: [[min(100.0, 100.0 * t / 1024.0) if t else 0.0]])
    found = thaw(run_of(script), limit=NEVER)
    assert found.clear_at == script.time
    assert script.time - script.steps[-1] < 1022.976 <= script.time


def test_thawing_lets_five_times_as_much_melt_in_a_step() -> None:
    """Half melts in the first step of 5 s: five times progress 0.1 is just that, so 5 s again."""
    script = Scripted(lambda t: [[min(100.0, 10.0 * t)]])
    assert thaw(run_of(script), limit=NEVER) == Thawed(0.0, 10.0)
    assert script.steps == pytest.approx([5.0, 5.0], rel=1e-12)


# The state of a real run


def all_ice(of: Setting) -> Run:
    return Run(of, np.full((of.mesh.slices.size, of.mesh.areas.size), -1e6))


def test_a_fresh_run_is_in_balance_and_tells_what_it_loses() -> None:
    run = Run(setting())
    run.check_balance()
    run._given = 1e-3  # just the tolerance, on the least turnover of 1 J
    run.check_balance()
    run._given = -1.5e-3
    with pytest.raises(HeatBalanceError) as raised:
        run.check_balance()
    assert str(raised.value) == "the freezing model lost track of 0.0015 J of 0 J"
    run._given, run._turnover = 2.5, 2000.0
    with pytest.raises(
        HeatBalanceError, match=r"^the freezing model lost track of 2.5 J of 2e\+03"
    ):
        run.check_balance()
    run._given = math.nan
    with pytest.raises(HeatBalanceError):
        run.check_balance()


def test_what_a_run_gives_is_what_its_enthalpy_loses() -> None:
    """1e-6: the solver's round-off. The two ways of counting meet only if both are right."""
    run = Run(setting())
    before = float((run.enthalpy * run._volumes).sum())
    for step in (10.0, 60.0, 200.0):
        assert run.try_step(step)
    assert run._given == pytest.approx(before - float((run.enthalpy * run._volumes).sum()), 1e-6)
    assert run._turnover >= abs(run._given)


def test_a_step_that_does_not_settle_is_not_made() -> None:
    of = dataclasses.replace(setting(), jacket_conductance=1e7)
    run = Run(of)
    before = run.enthalpy.copy()
    assert not run.try_step(1e3)
    assert (run.time, run.jacket_heat, run._given, run._turnover) == (0.0, 0.0, 0.0, 0.0)
    assert (run.enthalpy == before).all()


def test_a_pipe_as_warm_as_its_room_settles_at_once() -> None:
    of = dataclasses.replace(setting(), start=15.0, coolant=15.0, ambient=15.0)
    run = Run(of)
    assert run.try_step(60.0)
    assert run.time == 60.0
    assert run.jacket_rate == pytest.approx(0.0, abs=1e-9)


def test_solid_ice_from_end_to_end() -> None:
    of = setting()
    run = all_ice(of)
    length = float(of.mesh.slices.sum())
    assert run.solid_length() == pytest.approx(2.0 * length, rel=1e-12)
    assert math.isinf(run.surface_below_freezing()), "the wall is cold at the end of the grid"
    assert math.isinf(run.solid_volume())
    run.temperature[-1, -1] = 1.0
    assert run.solid_volume() == pytest.approx(2.0 * length * math.pi * 0.026**2, rel=1e-12)
    assert (run.open_radius == 0.0).all()


def test_frost_ends_where_the_wall_is_above_freezing() -> None:
    """The wall is read in straight lines between slice middles; at freezing it counts as cold."""
    of = setting()
    run, middles = all_ice(of), of.mesh.middles
    run.temperature[:, -1] = -1.0
    run.temperature[-1, -1] = 0.0
    assert math.isinf(run.surface_below_freezing())
    run.temperature[-1, -1] = 3.0
    place = middles[-2] + 0.25 * (middles[-1] - middles[-2])
    assert run.surface_below_freezing() == pytest.approx(place - of.half_jacket, rel=1e-12)
    run.temperature[1:, -1] = 1.0
    assert run.surface_below_freezing() == 0.0
    run.temperature[0, -1] = 1.0
    assert run.surface_below_freezing() == 0.0


def test_a_slice_whose_middle_is_at_the_jackets_end_is_bare() -> None:
    of = setting()
    edge = float(of.mesh.middles[2])
    run = Run(dataclasses.replace(of, half_jacket=edge))
    assert run.under_jacket.tolist() == [True, True] + [False] * (of.mesh.slices.size - 2)


def test_open_radius_is_that_of_the_liquids_cross_section() -> None:
    """A slice with half its bore's area liquid is open over the radius times sqrt(1/2)."""
    of = setting()
    latent = of.tables.latent
    run = Run(of, np.full((of.mesh.slices.size, of.mesh.areas.size), 0.5 * latent))
    assert run.open_radius.tolist() == pytest.approx(
        [0.026 * math.sqrt(0.5)] * of.mesh.slices.size, rel=1e-12
    )
    assert liquid_enthalpy(of.tables, 0.0) == pytest.approx(latent, rel=1e-12)


# Grid


def test_bare_pipe_is_covered_and_no_further() -> None:
    """By hand: 1 covers 1; 1 + 1.25 covers 1.1; a length just covered needs no more."""

    def lengths(beyond: float) -> list[float]:
        found = mesh.slice_thicknesses(half_jacket=2.0, beyond=beyond, under_jacket=2)
        return [float(x) for x in found]

    assert lengths(0.0) == [1.0, 1.0]
    assert lengths(1.0) == [1.0, 1.0, 1.0]
    assert lengths(1.1) == [1.0, 1.0, 1.0, 1.25]
    assert lengths(2.25) == [1.0, 1.0, 1.0, 1.25]
    assert lengths(2.26) == [1.0, 1.0, 1.0, 1.25, 1.5625]


# Putting three cases together


def course_of(name: str, open_now: float) -> IceCourse:
    return IceCourse(name, (0.0, 9.0), (0.01,), ((0.026,), (open_now,)), (0.0, 1.0), (2.0, 3.0))


def outcome(name: str, base: float, **changes: Any) -> Outcome:
    """Make an outcome of one case in which every figure is another one."""
    case = Case(name, 290.0, 58.0, 0.12, 1.0, 10.0)
    found = Outcome(
        case,
        base + 1.0,
        base + 2.0,
        course_of(name, 0.0),
        steady=True,
        hold_rate=base + 3.0,
        heat=base + 4.0,
        plug_rate=base + 5.0,
        frost=(base + 6.0, base + 7.0),
        volume=(base + 8.0, base + 9.0),
        solid_length=base + 10.0,
        early_thaw=Thawed(base + 11.0, base + 12.0),
        thawed=Thawed(base + 13.0, base + 14.0),
    )
    return dataclasses.replace(found, **changes)


def three(**changes: Any) -> tuple[Outcome, Outcome, Outcome]:
    """Low, likely and high, 100 apart; changes by name of the case."""
    named = zip(("low", "likely", "high"), (100.0, 200.0, 300.0), strict=True)
    low, likely, high = (outcome(n, base, **changes.get(n, {})) for n, base in named)
    return low, likely, high


def test_an_answer_widens_every_range_by_a_quarter() -> None:
    found = model._assemble(PIPE, three())
    assert found.outcome is FreezeOutcome.CLOSES
    assert found.inputs == PIPE
    assert found.needed_solid_length == 0.12
    expected = {
        "time_to_neck_closed": (101.0, 201.0, 301.0),
        "time_to_plug": (102.0, 202.0, 302.0),
        "hold_heat_rate": (103.0, 203.0, 303.0),
        "heat_taken": (104.0, 204.0, 304.0),
        "heat_rate_at_plug": (105.0, 205.0, 305.0),
        "frost_band_at_plug": (106.0, 206.0, 306.0),
        "frost_band_in_hold": (107.0, 207.0, 307.0),
        "ice_volume_at_plug": (108.0, 208.0, 308.0),
        "ice_volume_in_hold": (109.0, 209.0, 309.0),
        "solid_length_in_hold": (110.0, 210.0, 310.0),
        # Both ends of the hold: the early thaw of the low case, the late one of the high case.
        "time_to_release": (111.0, 211.0, 313.0),
        "time_to_thaw": (112.0, 214.0, 314.0),
    }
    for name, (low, likely, high) in expected.items():
        span = getattr(found, name)
        assert span.values == pytest.approx((0.75 * low, likely, 1.25 * high), rel=1e-12), name


def test_a_range_takes_its_ends_from_whichever_case_has_them() -> None:
    for low, likely, high in ((3.0, 1.0, 2.0), (1.0, 3.0, 2.0), (3.0, 2.0, 1.0)):
        found = model._range(low, likely, high)
        assert found.values == pytest.approx((0.75, likely, 3.75), rel=1e-12)


@pytest.mark.parametrize("case", ["low", "likely", "high"])
@pytest.mark.parametrize("end", ["early_thaw", "thawed"])
def test_ice_that_outlasts_the_watch_gives_no_thaw_time(case: str, end: str) -> None:
    found = model._assemble(PIPE, three(**{case: {end: Thawed(math.inf, 9.0)}}))
    assert found.time_to_release is None
    assert found.time_to_thaw is not None
    found = model._assemble(PIPE, three(**{case: {end: Thawed(9.0, math.inf)}}))
    assert found.time_to_release is not None
    assert found.time_to_thaw is None


def test_one_case_that_fails_leaves_it_undecided_with_its_reason() -> None:
    """The last that fails gives the reason, unless the likely case fails itself."""
    failed = {"plug": math.inf}
    for names, outcome_is, told in (
        (("high",), FreezeOutcome.UNDECIDED, "high"),
        (("low",), FreezeOutcome.UNDECIDED, "low"),
        (("low", "high"), FreezeOutcome.UNDECIDED, "high"),
        (("likely",), FreezeOutcome.DOES_NOT_CLOSE, "likely"),
        (("likely", "high"), FreezeOutcome.DOES_NOT_CLOSE, "likely"),
        (("low", "likely", "high"), FreezeOutcome.DOES_NOT_CLOSE, "likely"),
    ):
        found = model._assemble(PIPE, three(**dict.fromkeys(names, failed)))
        assert found.outcome is outcome_is
        assert found.reason.startswith(f"in the {told} case the neck closes but the ice does not")
        assert found.time_to_plug is None
        assert found.inputs == PIPE
        assert found.needed_solid_length == 0.12
        assert [one.case for one in found.courses] == ["low", "likely", "high"]
        assert len(found.assumptions) == 11
        assert found.time_to_neck_closed is not None
        assert found.time_to_neck_closed.values == pytest.approx((75.75, 201.0, 376.25))


def test_a_neck_left_open_gives_no_neck_time() -> None:
    found = model._assemble(PIPE, three(high={"plug": math.inf, "neck": math.inf}))
    assert found.outcome is FreezeOutcome.UNDECIDED
    assert found.time_to_neck_closed is None


def why_not(*, open_now: float, steady: bool, **inputs: Any) -> str:
    failed = outcome(
        "high", 0.0, neck=math.inf, plug=math.inf, steady=steady, course=course_of("high", open_now)
    )
    return model._why_not(but(**inputs), failed)


def test_why_a_pipe_does_not_close_word_by_word() -> None:
    """Inside radius 0.026 m; 'no ice' means more than 99 % of it open."""
    just = 0.99 * but().inside_radius
    grows_no_more = (
        "in the high case the ice stops growing with a bore of {} mm still open: "
        "the pipe and the water bring as much heat as the jacket takes"
    )
    none = "in the high case no ice forms: the pipe brings as much heat as the jacket takes"
    still_open = (
        "in the high case the bore is still open ({} mm) after {} h, the longest freeze that is "
        "watched"
    )
    assert why_not(open_now=0.026, steady=True) == none
    assert why_not(open_now=math.nextafter(just, 1.0), steady=True) == none
    assert why_not(open_now=just, steady=True) == grows_no_more.format(51)
    assert why_not(open_now=0.01, steady=True) == grows_no_more.format(20)
    assert why_not(open_now=0.026, steady=False) == still_open.format(52, 48)
    # 719.55 h is told as 720; a bore of 1.2 m as 1200 mm.
    wide = {"outside_diameter": 2.0, "wall": 0.01, "horizon": 719.55 * 3600.0}
    assert why_not(open_now=0.6, steady=False, **wide) == still_open.format(1200, 720)
    assert why_not(open_now=0.6, steady=True, **wide) == grows_no_more.format(1200)


def test_a_neck_without_its_length_is_told_with_the_length() -> None:
    failed = outcome("low", 0.0, plug=math.inf)
    assert model._why_not(PIPE, failed) == (
        "in the low case the neck closes but the ice does not become solid over 0.120 m: "
        "the jacket is too short or too poor for this pipe"
    )


def test_a_course_is_thinned_to_moments_spread_evenly() -> None:
    """100 records thin to 48: every entry k * 99 / 47, rounded; the first and the last are kept."""
    rows = [float(k) for k in range(100)]
    run = SimpleNamespace(setting=SimpleNamespace(mesh=SimpleNamespace(middles=np.array([0.5]))))
    course = Course(rows, [np.array([0.1 * k]) for k in rows], [2 * k for k in rows], rows[::-1])
    found = model._thinned("low", course, cast("Run", run))
    kept = [float(round(k * 99 / 47)) for k in range(48)]
    assert found.case == "low"
    assert found.positions == (0.5,)
    assert list(found.times) == kept
    assert [row[0] for row in found.open_radii] == pytest.approx([0.1 * k for k in kept])
    assert list(found.heat) == [2 * k for k in kept]
    assert list(found.rate) == [99 - k for k in kept]
    few = Course(rows[:3], course.open_radius[:3], rows[:3], rows[:3])
    assert model._thinned("low", few, cast("Run", run)).times == (0.0, 1.0, 2.0)


def test_a_pipe_without_its_jacket_stands_wholly_in_the_room() -> None:
    of = setting(mixing=1.0, orientation=Orientation.VERTICAL)
    assert model._without_jacket(of) == dataclasses.replace(
        of, jacket_conductance=of.ambient_conductance, coolant=of.ambient, mixing=0.0
    )


def counted(monkeypatch: pytest.MonkeyPatch, inputs: Any, cases: Iterable[int]) -> list[int]:
    """Count the freezes that each case takes."""
    calls: list[float] = []

    def counting(run: Run, **asked: Any) -> Any:
        calls.append(run.setting.mixing)
        return freeze(run, **asked)

    monkeypatch.setattr(model, "freeze", counting)
    found = []
    for which in cases:
        before = len(calls)
        model.run_case(inputs, model.cases_of(inputs)[which], ROUGH)
        found.append(len(calls) - before)
    assert calls == [0.0, 0.0, 1.0, 0.0, 2.0]
    return found


def test_the_low_case_is_run_once_and_the_others_with_the_closure_too(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert counted(monkeypatch, PIPE, (0, 1, 2)) == [1, 2, 2]


def test_a_pipe_report_of_an_unknown_wall_needs_no_run() -> None:
    found = freeze_pipe(but(material=Material.UNKNOWN, jacket_conductance=Range(1.0, 2.0, 3.0)))
    assert found.outcome is FreezeOutcome.UNDECIDED
    assert found.pipe.material is Material.UNKNOWN
    assert found.pipe.jacket_conductance.model_dump() == {
        "low": 1.0,
        "likely": 2.0,
        "high": 3.0,
        "unit": "W/(m2 K)",
    }
    assert found.courses == ()
