"""What can be seen of a freeze, and when: frost on the bare pipe, and the cold of the pipe."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from layoutcheck.physics.ice.answer_types import FreezeAnswer, IceCourse
from layoutcheck.report.model import CoursePart, Measure, SignPart, Span
from layoutcheck.rules.outcome import Amount, Dimension, estimated

# Where the thermometer is held, m beyond the jacket's end: two inches, clear of its edge (own
# choice).
THERMOMETER = 0.0508
_DIGITS = 4


def course_parts(answer: FreezeAnswer) -> tuple[CoursePart, ...]:
    """Write the courses for what can be seen; none where they are not known over the whole time.

    The model's own error is in the times: each course is stretched so that it ends with its end of
    the range for the plug.
    """
    plug = answer.time_to_plug
    if plug is None or len(answer.courses) != len(plug.values):
        return ()
    beyond = answer.inputs.jacket_length / 2.0 + THERMOMETER
    ordered = sorted(answer.courses, key=lambda c: c.times[-1])
    parts = [
        _part(course, case, end, beyond)
        for course, case, end in zip(ordered, ("low", "likely", "high"), plug.values, strict=True)
    ]
    known = all(math.isfinite(x) for p in parts for x in (*p.frost, *p.wider, *p.surface))
    return tuple(parts) if known else ()


def _part(course: IceCourse, case: str, end: float, beyond: float) -> CoursePart:
    stretch = end / course.times[-1] if course.times[-1] > 0.0 else 1.0
    warmest = [max(_at(course, row, x) for x in (-beyond, beyond)) for row in course.surface]
    return CoursePart(
        case=case,
        times=_rounded([stretch * t for t in course.times]),
        frost=_rounded([min(both) for both in course.frost]),
        wider=_rounded([max(both) for both in course.frost]),
        surface=_rounded(warmest),
    )


def _at(course: IceCourse, row: Sequence[float], place: float) -> float:
    return float(np.interp(place, course.positions, row))


def _rounded(values: Sequence[float]) -> tuple[float, ...]:
    """Keep four digits, as of every estimate: the last bits are one machine's own."""
    return tuple(float(f"{v:.{_DIGITS}g}") for v in values)


def signs_of(
    courses: Sequence[CoursePart], write: Callable[[Amount], Measure]
) -> tuple[SignPart, ...]:
    """Say how much frost shows at some moments: early, when the plug is likely, and when due."""
    if not courses:
        return ()
    likely, late = (next(c.times[-1] for c in courses if c.case == n) for n in ("likely", "high"))
    return tuple(_sign(courses, moment, write) for moment in (likely / 2.0, likely, late))


def _sign(
    courses: Sequence[CoursePart], moment: float, write: Callable[[Amount], Measure]
) -> SignPart:
    # A moment to look at a watch: a whole minute.
    at = write(Amount(60.0 * math.ceil(moment / 60.0), Dimension.DURATION))
    frost, wider = (
        _span([float(np.interp(moment, c.times, values)) for c, values in rows], write)
        for rows in ([(c, c.frost) for c in courses], [(c, c.wider) for c in courses])
    )
    return SignPart(time=at, frost=frost, wider=wider)


def _span(values: Sequence[float], write: Callable[[Amount], Measure]) -> Span:
    low, likely, high = (write(estimated(x, Dimension.LENGTH)) for x in sorted(values))
    return Span(low=low, likely=likely, high=high)
