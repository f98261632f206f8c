"""An injection schedule a crew can follow: inject, wait, repeat, then top up until the work ends.

The mass comes from `coolant`; the time from the ice. This module only cuts the mass into
injections. The one thing it needs besides is how fast the nozzle discharges, a stated property of
the crew's equipment. The default for carbon dioxide is common practice, no published source: about
18 lb in three injections of five minutes for a 2 in line. It turns kilograms into minutes and
changes no mass, so it is not a second fitted parameter of the model.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from layoutcheck.physics.coolant import Coolant
from layoutcheck.physics.coolant_need import CoolantNeed
from layoutcheck.physics.figures import Status, require_not_negative, require_positive
from layoutcheck.physics.ranges import Range

_POUND = 0.45359237
_MINUTE = 60.0
_CLOCK = 15.0  # times are rounded up to this many seconds, to be read off a watch
_TOP_UP_CLOCK = 5.0  # a top-up lasts half a minute or so, and is rounded up more finely
_SHORTEST_INTERVAL = 2.0 * _MINUTE  # own choice: what one person keeps up for hours
_JACKET_SHARE_USED = 0.5  # own choice: never let more than half of the filling go between top-ups
_SLIVER = 1e-9


Used = Callable[[float], float]
"""kg drawn in the first so many seconds of a hold."""


class StepKind(StrEnum):
    """What happens in a step."""

    INJECT = "inject"
    WAIT = "wait"
    PLUG_EXPECTED = "plug expected"
    INJECT_FURTHER = "inject further"
    WAIT_FURTHER = "wait further"
    PLUG_DUE = "plug due"
    TOP_UP = "top-up"
    HOLD_ENDS = "hold ends"


INSTRUCTIONS: Mapping[StepKind, str] = MappingProxyType(
    {
        StepKind.INJECT: "Inject.",
        StepKind.WAIT: "Close the nozzle and wait.",
        StepKind.PLUG_EXPECTED: "The plug may stand now. Look for its signs and prove it.",
        StepKind.INJECT_FURTHER: "Inject further unless the plug is proven.",
        StepKind.WAIT_FURTHER: "Close the nozzle and wait unless the plug is proven.",
        StepKind.PLUG_DUE: "Prove the plug before anything is opened. Time alone proves nothing. "
        "If it is not proven, do not open: go on injecting and find out why.",
        StepKind.TOP_UP: "Top up.",
        StepKind.HOLD_ENDS: "The planned hold ends. The line must be closed up by now.",
    }
)


@dataclass(frozen=True, slots=True)
class Step:
    """One line of the schedule.

    Parameters:
        start: s from the first injection.
        duration: s; 0 for a moment.
        kind: what happens.
        mass: kg of liquid that leaves the nozzles in the step.
    """

    start: float
    duration: float
    kind: StepKind
    mass: float

    @property
    def end(self) -> float:
        """End of the step, s."""
        return self.start + self.duration

    @property
    def instruction(self) -> str:
        """What the crew does, in a sentence."""
        return INSTRUCTIONS[self.kind]


@dataclass(frozen=True, slots=True)
class Delivery:
    """How the coolant is put in.

    Parameters:
        rate: discharge of one nozzle, kg/s of liquid.
        injection: usual length of an injection, s.
        wait: usual length of a wait, s.
        shortest_wait: a wait is never shorter, s.
        top_up_interval: longest time between top-ups while holding, s.
        source: where these come from.
        status: how far that was checked.
    """

    rate: float
    injection: float
    wait: float
    shortest_wait: float
    top_up_interval: float
    source: str
    status: Status

    def __post_init__(self) -> None:
        """Refuse a nozzle that gives nothing and cycles of no length."""
        require_positive(
            rate=self.rate, injection=self.injection, top_up_interval=self.top_up_interval
        )
        require_not_negative(wait=self.wait, shortest_wait=self.shortest_wait)
        if self.shortest_wait > self.wait:
            raise ValueError("the shortest wait is longer than the usual wait")

    @property
    def cycle(self) -> float:
        """One injection with its wait, s."""
        return self.injection + self.wait


DELIVERY: Mapping[Coolant, Delivery] = MappingProxyType(
    {
        Coolant.CARBON_DIOXIDE: Delivery(
            rate=18.0 * _POUND / (15.0 * _MINUTE),
            injection=5.0 * _MINUTE,
            wait=5.0 * _MINUTE,
            shortest_wait=1.0 * _MINUTE,
            top_up_interval=5.0 * _MINUTE,
            source="three 5-minute injections of 18 lb in all; a top-up every 5 to 10 minutes, "
            "of which the shorter is taken",
            status=Status.PRACTICE,
        ),
        Coolant.NITROGEN: Delivery(
            rate=0.02,
            injection=5.0 * _MINUTE,
            wait=1.0 * _MINUTE,
            shortest_wait=0.0,
            top_up_interval=5.0 * _MINUTE,
            source="a jacket kept full by hand; no published figure was found",
            status=Status.OWN_CHOICE,
        ),
    }
)


@dataclass(frozen=True, slots=True)
class Schedule:
    """Steps in order of time.

    The plan runs to the high time of the freeze, so its mass may pass the likely need. What must be
    on hand is the high total of the need or the mass of the plan, whichever is more.

    Parameters:
        steps: in order; moments have no duration.
        injections: how many are planned until the plug is expected.
        nozzles: how many must discharge at once to put the mass in.
        top_up_interval: s between the starts of top-ups.
        delivery: what it was planned with.
    """

    steps: tuple[Step, ...]
    injections: int
    nozzles: int
    top_up_interval: float
    delivery: Delivery

    def mass_of(self, *kinds: StepKind) -> float:
        """Coolant put in by the steps of these kinds, kg."""
        return math.fsum(step.mass for step in self.steps if step.kind in kinds)

    @property
    def mass(self) -> float:
        """Coolant put in by all steps, kg."""
        return math.fsum(step.mass for step in self.steps)

    def start_of(self, kind: StepKind) -> float:
        """Start of the first step of a kind, s.

        Raises:
            ValueError: there is none.
        """
        for step in self.steps:
            if step.kind is kind:
                return step.start
        raise ValueError(f"the schedule has no step '{kind}'")


def _up(seconds: float, clock: float = _CLOCK) -> float:
    return math.ceil(seconds / clock - _SLIVER) * clock


@dataclass(frozen=True, slots=True)
class _Cycle:
    """One injection and its wait, the same for all of a freeze."""

    injection: float
    length: float
    mass: float


def _cycles(
    *, mass: float, time: float, delivery: Delivery, fewest: int
) -> tuple[int, int, _Cycle]:
    """Number of injections, number of nozzles, and the cycle that puts the mass in.

    fewest: nozzles that the hold needs; they are open in the freeze as well.
    """
    count = max(1, round(time / delivery.cycle))
    length = max(_up(time / count), _up(delivery.shortest_wait) + _CLOCK)
    room = length - _up(delivery.shortest_wait)
    nozzles = max(1, fewest, math.ceil(mass / (count * delivery.rate * room) - _SLIVER))
    injection = _up(mass / (count * delivery.rate * nozzles))
    return count, nozzles, _Cycle(injection, length, injection * delivery.rate * nozzles)


def _cycle_steps(
    *, begin: float, end: float, cycle: _Cycle, inject: StepKind, wait: StepKind
) -> list[Step]:
    """Repeat a cycle from `begin` to `end`; the last one is cut off at the end."""
    steps: list[Step] = []
    number = 0
    while (start := begin + number * cycle.length) < end - _SLIVER:
        stop = min(start + cycle.length, end)
        injecting = min(cycle.injection, stop - start)
        share = injecting / cycle.injection if cycle.injection > 0.0 else 0.0
        if injecting > 0.0:
            steps.append(Step(start, injecting, inject, cycle.mass * share))
        if stop - start > injecting:
            steps.append(Step(start + injecting, stop - start - injecting, wait, 0.0))
        number += 1
    return steps


def _interval(need: CoolantNeed, delivery: Delivery) -> float:
    """Time between top-ups: that of practice, less if the jacket would run low, s.

    Never shorter than one person can keep up: where the jacket holds less than that, it has to be
    fed all the time, and what is planned for an interval is put in over it.
    """
    longest = min(delivery.top_up_interval, _JACKET_SHARE_USED * need.jacket_lasts)
    return max(_SHORTEST_INTERVAL, math.floor(longest / _CLOCK) * _CLOCK)


def _top_ups(
    *, begin: float, end: float, interval: float, used: Used, discharge: float
) -> list[Step]:
    """Top up at even intervals; each puts in what the interval after it uses."""
    steps: list[Step] = []
    number = 0
    while (start := begin + number * interval) < end - _SLIVER:
        stop = min(start + interval, end)
        mass = used(stop - begin) - used(start - begin)
        lasting = min(_up(mass / discharge, _TOP_UP_CLOCK), stop - start)
        if lasting > 0.0:
            steps.append(Step(start, lasting, StepKind.TOP_UP, lasting * discharge))
        number += 1
    return steps


def make_schedule(
    *,
    need: CoolantNeed,
    freeze_time: Range,
    hold_time: float,
    hold_used: Used | None = None,
    delivery: Delivery | None = None,
) -> Schedule:
    """Cut the coolant of one plug into steps.

    Injections of equal length put the likely mass in by the likely time. They go on until the high
    time unless the plug is proven. Only then do top-ups and the time for the work begin: the plan
    does not count on a plug that is early.

    Parameters:
        need: masses of the plug, from `coolant_needed`.
        freeze_time: until the plug stands, s, finite.
        hold_time: from the plug being due to the end of the work, s.
        hold_used: kg likely drawn in the first so many seconds of the hold; None spreads the hold's
            mass evenly.
        delivery: nozzle and habits; None takes the stated default for the coolant.

    Returns:
        The schedule. Its masses are those of the rounded times, so they are never below the need.

    Raises:
        ValueError: a time is negative or infinite.
    """
    for value in freeze_time.values:
        require_positive(freeze_time=value)
    require_not_negative(hold_time=hold_time)
    chosen = delivery or DELIVERY[need.coolant]
    used = hold_used or (lambda time: need.hold_rate.likely * time)
    interval = _interval(need, chosen)
    # The first top-up is the greatest: the heat of the hold only falls.
    most = used(min(interval, hold_time)) if hold_time > 0.0 else 0.0
    count, nozzles, cycle = _cycles(
        mass=need.until_plug.likely,
        time=freeze_time.likely,
        delivery=chosen,
        fewest=math.ceil(most / (chosen.rate * interval) - _SLIVER),
    )
    expected = count * cycle.length
    due = max(expected, _up(freeze_time.high))
    ends = due + _up(hold_time)
    discharge = chosen.rate * nozzles
    steps = [
        *_cycle_steps(
            begin=0.0, end=expected, cycle=cycle, inject=StepKind.INJECT, wait=StepKind.WAIT
        ),
        Step(expected, 0.0, StepKind.PLUG_EXPECTED, 0.0),
        *_cycle_steps(
            begin=expected,
            end=due,
            cycle=cycle,
            inject=StepKind.INJECT_FURTHER,
            wait=StepKind.WAIT_FURTHER,
        ),
        Step(due, 0.0, StepKind.PLUG_DUE, 0.0),
        *_top_ups(begin=due, end=ends, interval=interval, used=used, discharge=discharge),
        Step(ends, 0.0, StepKind.HOLD_ENDS, 0.0),
    ]
    return Schedule(tuple(steps), count, nozzles, interval, chosen)
