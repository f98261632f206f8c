"""The schedule: the practice point, and that no plan puts in less than is needed."""

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layoutcheck.physics.coolant import Coolant, Supply
from layoutcheck.physics.coolant_need import CoolantNeed, Jacket, coolant_needed
from layoutcheck.physics.ranges import Range
from layoutcheck.physics.schedule import DELIVERY, Schedule, StepKind, make_schedule

POUND = 0.45359237
MINUTE = 60.0


def need(*, heat: float = 4e5, rate: float = 80.0, hold: float = 7200.0) -> CoolantNeed:
    return coolant_needed(
        heat_to_freeze=Range(0.8 * heat, heat, 1.25 * heat),
        freeze_time=Range(1400.0, 1800.0, 2300.0),
        hold_heat=Range(0.5 * rate * hold, rate * hold, 1.5 * rate * hold),
        hold_time=hold,
        jacket=Jacket.round_pipe(pipe_outside_diameter=0.0603, length=0.3048),
        supply=Supply(Coolant.CARBON_DIOXIDE, 22.68, 293.15),
        ambient_temperature=293.15,
    )


USUAL = Range(1400.0, 1800.0, 2300.0)


def plan(*, time: Range = USUAL, hold: float = 7200.0) -> Schedule:
    return make_schedule(need=need(hold=hold), freeze_time=time, hold_time=hold)


def test_the_practice_point() -> None:
    """Common practice, no published source: three 5-minute injections with 5-minute waits, 30 min.

    The time is given here (the ice model is fitted to it), the mass comes from the balance, and the
    nozzle's discharge is 18 lb in 15 minutes. What is tested is that they fit together.
    """
    schedule = plan()
    injections = [step for step in schedule.steps if step.kind is StepKind.INJECT]
    waits = [step for step in schedule.steps if step.kind is StepKind.WAIT]
    assert (schedule.injections, len(injections), schedule.nozzles) == (3, 3, 1)
    for step in (*injections, *waits):
        assert step.duration == pytest.approx(5.0 * MINUTE, abs=1.25 * MINUTE)
    assert schedule.start_of(StepKind.PLUG_EXPECTED) == 30.0 * MINUTE
    assert schedule.mass_of(StepKind.INJECT) == pytest.approx(18.0 * POUND, rel=0.25)


def test_top_ups_every_5_to_10_minutes() -> None:
    """Common practice, no published source."""
    starts = [step.start for step in plan().steps if step.kind is StepKind.TOP_UP]
    gaps = [later - earlier for earlier, later in itertools.pairwise(starts)]
    assert len(starts) > 10
    assert all(5.0 * MINUTE <= gap <= 10.0 * MINUTE for gap in gaps)


def test_top_ups_come_sooner_when_the_jacket_runs_low_but_a_person_can_do_them() -> None:
    """Two minutes at the least: own choice. What is needed is put in all the same."""
    hot = need(rate=3000.0, hold=3600.0)
    schedule = make_schedule(need=hot, freeze_time=Range(1400, 1800, 2300), hold_time=3600.0)
    assert 0.5 * hot.jacket_lasts < 2.0 * MINUTE
    assert schedule.top_up_interval == 2.0 * MINUTE
    assert schedule.mass_of(StepKind.TOP_UP) >= hot.hold.likely


def test_top_ups_follow_the_heat_of_the_hold() -> None:
    """Half of the hold's mass in its first sixth: the first top-ups are the greatest, by hand."""
    wanted = need(hold=7200.0)
    mass = wanted.hold.likely

    def used(time: float) -> float:
        return mass * (0.5 * min(time / 1200.0, 1.0) + 0.5 * max(0.0, time - 1200.0) / 6000.0)

    schedule = make_schedule(need=wanted, freeze_time=USUAL, hold_time=7200.0, hold_used=used)
    top_ups = [step.mass for step in schedule.steps if step.kind is StepKind.TOP_UP]
    assert top_ups == sorted(top_ups, reverse=True)
    assert mass <= math.fsum(top_ups) <= mass * 1.25  # each is rounded up to a watch's 5 s
    early = [s.mass for s in schedule.steps if s.kind is StepKind.TOP_UP][:4]
    assert math.fsum(early) == pytest.approx(0.5 * mass, rel=0.15)


def test_the_plug_is_due_only_at_the_high_time() -> None:
    schedule = plan(time=Range(1000.0, 1800.0, 5000.0), hold=3600.0)
    due = schedule.start_of(StepKind.PLUG_DUE)
    assert 5000.0 <= due < 5015.0
    assert schedule.start_of(StepKind.TOP_UP) == due
    assert schedule.start_of(StepKind.HOLD_ENDS) == due + 3600.0
    further = [step for step in schedule.steps if step.kind is StepKind.INJECT_FURTHER]
    assert further
    assert all(step.start < due for step in further)


def test_a_big_pipe_needs_more_than_one_nozzle() -> None:
    big = need(heat=4e6)
    schedule = make_schedule(need=big, freeze_time=Range(1400, 1800, 2300), hold_time=600.0)
    assert schedule.nozzles > 1
    rate = DELIVERY[Coolant.CARBON_DIOXIDE].rate * schedule.nozzles
    assert schedule.mass_of(StepKind.INJECT) <= rate * 1800.0


@settings(deadline=None)
@given(
    heat=st.floats(min_value=1e4, max_value=1e7),
    rate=st.floats(min_value=0.0, max_value=2e3),
    likely=st.floats(min_value=60.0, max_value=4e4),
    late=st.floats(min_value=1.0, max_value=3.0),
    hold=st.floats(min_value=0.0, max_value=3e4),
)
def test_every_plan_is_sound(
    heat: float, rate: float, likely: float, late: float, hold: float
) -> None:
    wanted = need(heat=heat, rate=rate, hold=hold)
    schedule = make_schedule(
        need=wanted, freeze_time=Range(likely / 2, likely, likely * late), hold_time=hold
    )
    end = 0.0
    for step in schedule.steps:
        assert step.mass >= 0.0
        assert step.duration >= 0.0
        assert step.start >= end - 1e-6  # steps never overlap
        end = step.start + step.duration
    assert schedule.mass_of(StepKind.INJECT) >= wanted.until_plug.likely * (1.0 - 1e-9)
    assert schedule.mass_of(StepKind.TOP_UP) >= wanted.hold.likely * (1.0 - 1e-9) - 1e-6
    assert schedule.start_of(StepKind.PLUG_EXPECTED) >= likely - 1e-6
    assert schedule.start_of(StepKind.PLUG_DUE) >= likely * late - 1e-6
    held = schedule.start_of(StepKind.HOLD_ENDS) - schedule.start_of(StepKind.PLUG_DUE)
    assert held >= hold - 1e-6


def test_a_freeze_that_never_ends_has_no_schedule() -> None:
    with pytest.raises(ValueError, match="finite"):
        plan(time=Range(1400.0, 1800.0, math.inf))


def test_the_crew_is_never_told_that_time_proves_a_plug() -> None:
    due = next(step for step in plan().steps if step.kind is StepKind.PLUG_DUE)
    assert "Time alone proves nothing" in due.instruction
