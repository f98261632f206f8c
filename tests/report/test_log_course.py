"""Where a freeze stands, by what was written of frost and surface.

The courses are invented straight lines, so that what is right is known by hand: frost grows from
nothing at the start to 30 mm when the plug stands, after 600 s, 1200 s and 2400 s.
"""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layoutcheck.physics.ranges import Range
from layoutcheck.report.log import judge_log, read_log
from layoutcheck.report.log.course import Course, Look, Pace, standing
from layoutcheck.report.model import CoursePart, Finding, Report
from tests.report.handout_sites import report_on
from tests.report.test_freeze_log import PLUG, SITE, clock, kept_to_the_letter, written

ENDS = (600.0, 1200.0, 2400.0)
COURSES = [Course((0.0, end), (0.0, 0.030), (290.0, 260.0)) for end in ENDS]
PLUG_AT = Range(*ENDS)


def stands(*looks: Look) -> Any:
    found = standing(COURSES, PLUG_AT, looks)
    assert found is not None
    return found


def test_nothing_seen_says_nothing() -> None:
    assert standing(COURSES, PLUG_AT, []) is None
    assert standing(COURSES, PLUG_AT, [Look(600.0)]) is None


def test_half_the_frost_by_hand() -> None:
    """15 mm at 600 s: the likely case shows it then, and its plug stands at 1200 s, as planned.

    The fast case showed it at 300 s: twice as slow, 1200 s; the slow one at 1200 s: half, 1200 s.
    """
    found = stands(Look(600.0, frost=0.015))
    assert found.pace is Pace.ON_COURSE
    assert found.plug.values == pytest.approx((1200.0, 1200.0, 1200.0))


def test_slower_than_the_slow_case_by_hand() -> None:
    """The slow case shows 12 mm and 6 mm of slack, 18 mm, at 2400 x 18/30 = 1440 s."""
    assert stands(Look(1439.0, frost=0.012)).pace is Pace.ON_COURSE
    found = stands(Look(1441.0, frost=0.012))
    assert found.pace is Pace.TOO_SLOW
    assert found.slowest == pytest.approx(1440.0)


def test_no_frost_when_the_slow_case_shows_some() -> None:
    """The slow case shows 6 mm at 480 s."""
    assert stands(Look(479.0, frost=0.0)).pace is Pace.ON_COURSE
    assert stands(Look(481.0, frost=0.0)).pace is Pace.TOO_SLOW


def test_the_thermometer_by_hand() -> None:
    """The slow case is at 290 - 30 t/2400: at 278 K, 2 K below a reading of 280 K, at 960 s."""
    assert stands(Look(959.0, surface=280.0)).pace is Pace.ON_COURSE
    assert stands(Look(961.0, surface=280.0)).pace is Pace.TOO_SLOW


def test_the_last_look_counts_and_frost_may_not_draw_back() -> None:
    early, late = Look(481.0, frost=0.0), Look(700.0, frost=0.012)
    assert stands(early, late).pace is Pace.ON_COURSE
    assert stands(late, early).pace is Pace.ON_COURSE
    assert stands(Look(600.0, frost=0.020), Look(700.0, frost=0.007)).pace is Pace.DRAWN_BACK


def test_frost_that_is_all_there_is_never_too_slow() -> None:
    assert stands(Look(9000.0, frost=0.030)).slowest == math.inf


def test_frost_that_need_not_show_tells_nothing() -> None:
    """Below a jacket with warm water under it: no frost up to the plug is no sign of anything."""
    bare = [Course((0.0, end), (0.0, 0.0), (290.0, 277.0)) for end in ENDS]
    found = standing(bare, PLUG_AT, [Look(600.0, frost=0.0)])
    assert found is not None
    assert found.pace is Pace.UNTOLD
    # The thermometer tells all the same: the slow case is at 283.5 K at 1200 s.
    found = standing(bare, PLUG_AT, [Look(1201.0, frost=0.0, surface=285.5)])
    assert found is not None
    assert found.pace is Pace.TOO_SLOW


@given(
    st.floats(min_value=1.0, max_value=5000.0),
    st.floats(min_value=0.0, max_value=0.030),
    st.floats(min_value=1.0, max_value=3.0),
)
def test_later_is_never_better(time: float, frost: float, later: float) -> None:
    """The same frost seen later: never a better pace, and never a sooner plug."""
    first, second = stands(Look(time, frost=frost)), stands(Look(time * later, frost=frost))
    assert not (first.pace is Pace.TOO_SLOW and second.pace is Pace.ON_COURSE)
    if first.plug is not None:
        for a, b in zip(first.plug.values, second.plug.values, strict=True):
            assert b >= a - 1e-9


# In a log


def with_courses() -> Report:
    """Give the site's report with the invented courses scaled to its own plug."""
    report = report_on(SITE)
    (plug,) = report.plugs
    span = plug.freeze.time_to_plug
    assert span is not None
    parts = tuple(
        CoursePart(
            case=c,
            times=(0.0, end.value),
            frost=(0.0, 0.030),
            wider=(0.0, 0.040),
            surface=(290.0, 260.0),
        )
        for c, end in (("low", span.low), ("likely", span.likely), ("high", span.high))
    )
    freeze = plug.freeze.model_copy(update={"courses": parts})
    return report.model_copy(update={"plugs": (plug.model_copy(update={"freeze": freeze}),)})


def logged(*looks: dict[str, str]) -> Finding:
    rows = kept_to_the_letter()
    blank = dict.fromkeys(rows[0], "")
    rows = [r for r in rows if r["what"] != "look"]
    for number, look in enumerate(looks, start=1):
        own = {"sheet": rows[0]["sheet"], "plug": PLUG, "number": str(number), "what": "look"}
        rows.append({**blank, **own, **look})
    report = judge_log(read_log(written(rows)), with_courses())
    (found,) = [f for f in report.findings if f.rule == "log-course"]
    return found


def _high() -> float:
    return with_courses().plugs[0].freeze.courses[2].times[-1]


def test_a_log_without_looks_is_as_it_was() -> None:
    assert logged().outcome.value == "does not apply"


def test_a_log_on_course_and_one_that_is_not() -> None:
    """A third of the frost, 10 mm and 6 mm of slack, is 16/30 of the slow case's time."""
    limit = _high() * 16.0 / 30.0
    good = logged({"began": clock(limit - 5.0), "frost": "10 mm"})
    assert good.outcome.value == "holds"
    assert "on course" in good.says
    assert "Carried on" in good.says
    bad = logged({"began": clock(limit + 5.0), "frost": "10 mm"})
    assert bad.outcome.value == "broken"
    assert "slower than the slow case: stop" in bad.says
    assert bad.required is not None
    assert bad.required.value == pytest.approx(limit, rel=1e-3)


def test_a_log_of_an_older_print_is_read() -> None:
    rows = [
        {k: v for k, v in row.items() if k not in {"frost", "surface"}}
        for row in kept_to_the_letter()
        if row["what"] != "look"
    ]
    assert read_log(written(rows)).rows


def test_the_courses_of_a_real_freeze() -> None:
    """They end with the range of the plug, and the log asks for what they show."""
    report = report_on(SITE)
    (plug,) = report.plugs
    span = plug.freeze.time_to_plug
    assert span is not None
    ends = [course.times[-1] for course in plug.freeze.courses]
    assert ends == pytest.approx([span.low.value, span.likely.value, span.high.value], rel=1e-3)
    for course in plug.freeze.courses:
        assert list(course.times) == sorted(course.times)
        assert all(a <= b for a, b in zip(course.frost, course.wider, strict=True))
        assert course.surface[0] > course.surface[-1]
    assert [s.time.value % 60 for s in plug.freeze.signs] == [0.0, 0.0, 0.0]
    asked = [r for r in kept_to_the_letter() if r["what"] == "look"]
    assert [r["planned_for"].split(" (")[0] for r in asked] == [
        f"frost on the side that shows less: likely {s.frost.likely.shown.split(' (')[0]}"
        for s in plug.freeze.signs
    ]
