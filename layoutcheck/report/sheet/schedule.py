"""A plug's schedule in the form in which a crew fills it in."""

from __future__ import annotations

from itertools import pairwise

from layoutcheck.physics.schedule import StepKind
from layoutcheck.quantities import UnitSystem
from layoutcheck.report.figures import coarse
from layoutcheck.report.freeze_text import clock
from layoutcheck.report.model import FreezePart, StepPart
from layoutcheck.report.sheet.model import Cycle, Times, TopUp

_INJECT = {StepKind.INJECT.value, StepKind.INJECT_FURTHER.value}
_WAIT = {StepKind.WAIT.value, StepKind.WAIT_FURTHER.value}

_PATIENCE = 1.5


def times_of(freeze: FreezePart, units: UnitSystem) -> Times | None:
    """Give a plug's times; None where there is no schedule."""
    if freeze.coolant is None:
        return None
    steps = freeze.coolant.steps
    top_ups = [s for s in steps if s.kind == StepKind.TOP_UP.value]
    return Times(
        cycles=_cycles(steps, units),
        expected=_moment(steps, StepKind.PLUG_EXPECTED),
        due=_moment(steps, StepKind.PLUG_DUE),
        give_up=clock(give_up(steps)),
        top_ups=tuple(TopUp(i, clock(s.start.value)) for i, s in enumerate(top_ups, start=1)),
        each_top_up=f"{top_ups[0].duration.shown}, {coarse(top_ups[0].mass, units)}"
        if top_ups
        else "",
        ends=_moment(steps, StepKind.HOLD_ENDS),
    )


def give_up(steps: tuple[StepPart, ...]) -> float:
    """Give when to stop, s: half as long again as a plug is given, never beyond the hold.

    Own choice, no published source.
    """
    due, ends = (
        next(s.start.value for s in steps if s.kind == kind.value)
        for kind in (StepKind.PLUG_DUE, StepKind.HOLD_ENDS)
    )
    return min(_PATIENCE * due, ends)


def _moment(steps: tuple[StepPart, ...], kind: StepKind) -> str:
    return next(clock(s.start.value) for s in steps if s.kind == kind.value)


def _cycles(steps: tuple[StepPart, ...], units: UnitSystem) -> tuple[Cycle, ...]:
    """Put each injection on one line with the wait that follows it."""
    found: list[Cycle] = []
    for step, after in pairwise(steps):
        if step.kind not in _INJECT:
            continue
        stop = step.start.value + step.duration.value
        until = stop + after.duration.value if after.kind in _WAIT else stop
        found.append(
            Cycle(
                number=len(found) + 1,
                begin=clock(step.start.value),
                inject=step.duration.shown,
                stop=clock(stop),
                mass=coarse(step.mass, units),
                until=clock(until),
                further=step.kind == StepKind.INJECT_FURTHER.value,
            )
        )
    return tuple(found)
