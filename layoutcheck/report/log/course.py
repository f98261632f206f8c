"""Where a freeze stands on its courses: what was seen so far, against the low, likely, high case.

Ice can not be seen. What shows is frost on the bare pipe beyond the jacket, and how cold the pipe
is beside it. A reading is held to the time at which each case shows as much: later than the high
case, the freeze is slower than anything the estimate allows for, and something is wrong. Each case
is carried on at the pace that the reading shows: a reading that comes a tenth later than a case has
it puts that case's plug a tenth later too.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from layoutcheck.physics.ranges import Range
from layoutcheck.quantities import show_duration
from layoutcheck.report.log.plug import PlugLog
from layoutcheck.report.log.saying import Saying, saying
from layoutcheck.rules.outcome import Dimension, Outcome, Subject, estimated

RULE = "log-course"

# How far a reading may be off before it counts (own choices): a tape held to ragged frost, m, and a
# contact thermometer on frosted pipe, K.
FROST_OFF = 0.006
SURFACE_OFF = 2.0


@dataclass(frozen=True)
class Course:
    """One case over time. times: s from the first injection, rising.

    frost: length of frosted bare pipe beyond a jacket end, the narrower of the two, m. surface:
    temperature of the pipe at the place for the thermometer, the warmer of the two ends, K.
    """

    times: tuple[float, ...]
    frost: tuple[float, ...]
    surface: tuple[float, ...]

    def time_of_frost(self, width: float) -> float:
        """Give when so much frost first shows, s; infinite where it never does."""
        return _first(self.times, self.frost, width)

    def time_of_surface(self, temperature: float) -> float:
        """Give when the pipe is first so cold, s; infinite where it never is."""
        return _first(self.times, tuple(-t for t in self.surface), -temperature)


def _first(times: tuple[float, ...], values: tuple[float, ...], level: float) -> float:
    """Give when a course first comes up to a level, in a straight line between its moments."""
    before = None
    for time, value in zip(times, values, strict=True):
        if value >= level:
            if before is None or value == before[1]:
                return time
            share = (level - before[1]) / (value - before[1])
            return before[0] + share * (time - before[0])
        before = (time, value)
    return math.inf


@dataclass(frozen=True)
class Look:
    """What was seen at a moment (s from the first injection); None where it was not written."""

    time: float
    frost: float | None = None
    surface: float | None = None


class Pace(StrEnum):
    """How a freeze goes."""

    ON_COURSE = "on course"
    TOO_SLOW = "slower than the slow case"
    DRAWN_BACK = "frost drew back"
    UNTOLD = "not told by these signs"


@dataclass(frozen=True)
class Standing:
    """Where a freeze stands by its last look. plug: when it is due, carried on; None if not known.

    slowest: by when the slow case shows as much, s; infinite where it never does.
    """

    look: Look
    pace: Pace
    slowest: float
    plug: Range | None


def standing(courses: Sequence[Course], plug: Range, looks: Sequence[Look]) -> Standing | None:
    """Tell where a freeze stands.

    Parameters:
        courses: the low, likely and high case, with the model's own error in their times.
        plug: when the plug stands in them, s.
        looks: in any order; those that say nothing are passed over.

    Returns:
        The standing by the last look; None where nothing was seen yet.
    """
    told = sorted(
        (x for x in looks if x.frost is not None or x.surface is not None), key=lambda x: x.time
    )
    if not told:
        return None
    last = told[-1]
    slowest = _slowest(courses, last)
    widest = max((x.frost for x in told if x.frost is not None), default=0.0)
    drawn_back = last.frost is not None and last.frost < widest - 2.0 * FROST_OFF
    pace = Pace.ON_COURSE
    if drawn_back:
        pace = Pace.DRAWN_BACK
    elif last.surface is None and _is_untold(courses, last):
        pace = Pace.UNTOLD
    if last.time > slowest:
        pace = Pace.TOO_SLOW
    return Standing(last, pace, slowest, _carried_on(courses, plug, last))


def _is_untold(courses: Sequence[Course], look: Look) -> bool:
    """Tell whether frost says nothing: the slow case never shows more than a tape is off by.

    So it is below a jacket with warm water under it, where no frost need show before the plug.
    """
    least = min(max(c.frost) for c in courses)
    return look.frost is not None and look.frost <= FROST_OFF and least <= FROST_OFF


def _slowest(courses: Sequence[Course], look: Look) -> float:
    """Give by when the slowest case shows more than was seen, s; the sooner of the two signs."""
    found = [math.inf]
    if look.frost is not None:
        found.append(max(c.time_of_frost(look.frost + FROST_OFF) for c in courses))
    if look.surface is not None:
        found.append(max(c.time_of_surface(look.surface - SURFACE_OFF) for c in courses))
    return min(found)


def _carried_on(courses: Sequence[Course], plug: Range, look: Look) -> Range | None:
    """Carry each case on at the pace of the look; of two signs the later counts."""
    ends = []
    for course, end in zip(courses, plug.values, strict=True):
        times = []
        if look.frost:
            times.append(course.time_of_frost(look.frost))
        if look.surface is not None:
            times.append(course.time_of_surface(look.surface))
        paces = [look.time / t for t in times if 0.0 < t < math.inf]
        if not paces:
            return None
        ends.append(max(look.time, end * max(paces)))
    return Range(min(ends), sorted(ends)[1], max(ends))


def judge_course(log: PlugLog) -> Saying:
    """Hold what was seen of a plug before it was proven to the courses of its freeze."""
    subject = Subject("plug", log.part.id)
    looks = _looks(log)
    freeze = log.part.freeze
    if not looks:
        says = "No frost width and no surface temperature is written."
        return saying(RULE, subject, Outcome.DOES_NOT_APPLY, "not seen", says)
    if len(freeze.courses) != 3 or freeze.time_to_plug is None:
        says = "There are no courses to hold the readings to."
        missing = ("a freeze that surely closes",)
        return saying(RULE, subject, Outcome.UNDECIDED, "no courses", says, missing=missing)
    courses = [Course(c.times, c.frost, c.surface) for c in freeze.courses]
    plug = freeze.time_to_plug
    found = standing(courses, Range(plug.low.value, plug.likely.value, plug.high.value), looks)
    assert found is not None, "there are looks"
    return _said(subject, found)


def _looks(log: PlugLog) -> list[Look]:
    timed = [(log.timeline.at(row.began), row) for row in log.rows]
    return [
        Look(time, row.frost, row.surface)
        for time, row in timed
        if time is not None
        and (row.frost is not None or row.surface is not None)
        and (log.proven is None or time <= log.proven)
    ]


_SAYS = {
    Pace.ON_COURSE: "The freeze is on course",
    Pace.TOO_SLOW: "The freeze is slower than the slow case: stop",
    Pace.UNTOLD: "No frost need show on that side, so its width shows nothing; write how cold the "
    "pipe is, too",
    Pace.DRAWN_BACK: "Frost drew back before the plug was proven: stop",
}


def _said(subject: Subject, found: Standing) -> Saying:
    """Say where a freeze stands; the time is the last look's, the limit the slow case's."""
    if found.pace is Pace.UNTOLD:
        return saying(
            RULE, subject, Outcome.DOES_NOT_APPLY, str(found.pace), f"{_SAYS[found.pace]}."
        )
    fine = found.pace is Pace.ON_COURSE
    after = ""
    if found.plug is not None:
        low, likely, high = (show_duration(t) for t in found.plug.values)
        after = f" Carried on from there the plug stands likely at {likely}, from {low} to {high}."
        after += " The time to prove it by stays as planned, or comes later: never sooner."
    made = saying(
        RULE,
        subject,
        Outcome.HOLDS if fine else Outcome.BROKEN,
        str(found.pace),
        f"{_SAYS[found.pace]}, by what was seen {show_duration(found.look.time)} after the first "
        f"injection.{after}",
        todo=""
        if fine
        else "Do not open. Stop injecting, find what moves in the pipe or warms it, and start "
        "again only when it is found.",
    )
    if found.pace is Pace.DRAWN_BACK or not math.isfinite(found.slowest):
        return made
    return replace(
        made,
        measured=estimated(found.look.time, Dimension.DURATION),
        required=estimated(found.slowest, Dimension.DURATION),
    )
