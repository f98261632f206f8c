"""Write a plug's freeze, coolant and schedule as parts of a report."""

from __future__ import annotations

import math
from collections.abc import Callable

from layoutcheck.physics.ice.answer_types import FreezeAnswer, Uncertain
from layoutcheck.physics.ranges import Range
from layoutcheck.physics.schedule import Step
from layoutcheck.quantities.rough import rough_duration
from layoutcheck.report.containers import CONTAINER
from layoutcheck.report.freeze_signs import course_parts, signs_of
from layoutcheck.report.model import CoolantPart, FreezePart, Measure, Span, StepPart
from layoutcheck.rules.estimates import CoolantPlan, Freeze
from layoutcheck.rules.outcome import Amount, Dimension, estimated

BEYOND = (
    "the pressure is more than this tool trusts ice of any length to hold; a rule pack "
    "may set another strength (holding-pressure, compression)"
)

Write = Callable[[Amount], Measure]


def freeze_part(freeze: Freeze, plan: CoolantPlan, write: Write) -> FreezePart:
    """Write what the model says of one plug.

    write: turns an amount into a measure in the document's units.
    """
    answer = freeze.answer
    if answer is None:
        why = BEYOND if freeze.beyond else "not known"
        return FreezePart(outcome="not known", reason=why, missing=freeze.missing)
    timed = plan.schedule is not None
    courses = course_parts(answer)
    return FreezePart(
        outcome=answer.outcome.value,
        reason=answer.reason,
        missing=tuple(dict.fromkeys((*answer.missing, *plan.missing))),
        needed_solid_length=write(estimated(answer.needed_solid_length, Dimension.LENGTH)),
        time_to_neck_closed=_span(answer.time_to_neck_closed, Dimension.DURATION, write),
        time_to_plug=_span(answer.time_to_plug, Dimension.DURATION, write),
        frost_band=_span(answer.frost_band_at_plug, Dimension.LENGTH, write),
        time_to_thaw=_span(answer.time_to_thaw, Dimension.DURATION, write),
        time_to_release=_span(answer.time_to_release, Dimension.DURATION, write),
        due=write(Amount(plan.due, Dimension.DURATION)) if timed else None,
        hold=write(estimated(plan.hold, Dimension.DURATION)) if timed else None,
        coolant=_coolant(plan, write),
        signs=signs_of(courses, write),
        courses=courses,
        grounds=_grounds(answer, write),
        assumptions=answer.assumptions,
    )


_DECIDES = {
    Uncertain.JACKET: "How well the jacket touches the pipe",
    Uncertain.START: "The water's start temperature",
    Uncertain.LENGTH: "The length of ice that is needed",
    Uncertain.WATER: "How the water mixes by itself",
    Uncertain.ROOM: "The heat that the room gives",
}


def _grounds(answer: FreezeAnswer, write: Write) -> tuple[str, ...]:
    """Say which input decides the range and by how much, and how far the answer reaches."""
    said, decides, inputs = [], answer.deciding, answer.inputs
    if decides is not None:
        likely, alone = (
            rough_duration(time) if math.isfinite(time) else "no plug"
            for time in (decides.likely, decides.alone)
        )
        said.append(f"{_DECIDES[decides.what]} decides the range: alone it turns {likely} into "
                    f"{alone}.")  # fmt: skip
    if inputs.extrapolated is not None:
        said.append(
            "Extrapolated from the one point that the jacket was fitted to, 2 in pipe: this one "
            f"is {inputs.extrapolated:.2g} times as wide."
        )
    return tuple(said)


def _span(of: Range | None, dimension: Dimension, write: Write) -> Span | None:
    return None if of is None else _sure_span(of, dimension, write)


def _sure_span(of: Range, dimension: Dimension, write: Write) -> Span:
    low, likely, high = (write(estimated(value, dimension)) for value in of.values)
    return Span(low=low, likely=likely, high=high)


def _coolant(plan: CoolantPlan, write: Write) -> CoolantPart | None:
    need, schedule = plan.need, plan.schedule
    if need is None or schedule is None:
        return None
    each = write(estimated(*plan.container))
    noun = CONTAINER[need.coolant] + ("" if plan.cylinders == 1 else "s")
    return CoolantPart(
        fill=_sure_span(need.fill, Dimension.MASS, write),
        freeze=_sure_span(need.freeze, Dimension.MASS, write),
        hold=_sure_span(need.hold, Dimension.MASS, write),
        reserve=_sure_span(need.reserve, Dimension.MASS, write),
        total=_sure_span(need.total, Dimension.MASS, write),
        on_hand=write(estimated(plan.mass, Dimension.MASS)),
        cylinder=each,
        cylinders=plan.cylinders,
        comes_in=f"{plan.cylinders} {noun} of {each.shown}",
        nozzles=schedule.nozzles,
        top_up_interval=write(estimated(schedule.top_up_interval, Dimension.DURATION)),
        steps=tuple(_step(step, write) for step in schedule.steps),
    )


def _step(step: Step, write: Write) -> StepPart:
    return StepPart(
        # Times are whole seconds by the schedule's clock: to be read off a watch, so not rounded.
        start=write(Amount(step.start, Dimension.DURATION)),
        duration=write(Amount(step.duration, Dimension.DURATION)),
        kind=step.kind.value,
        mass=write(estimated(step.mass, Dimension.MASS)),
        instruction=step.instruction,
    )
