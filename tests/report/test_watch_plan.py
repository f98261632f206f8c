"""What a phone is given for a freeze is the crew's sheet, the log and the report: nothing else.

The oracle is the sheet as it is built for paper, and the report; the issue lists the ticks asked.
"""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

import pytest

from layoutcheck.document import Layout, parse_layout
from layoutcheck.report import Report, check
from layoutcheck.report.handouts import make_handout
from layoutcheck.report.log import log_template
from layoutcheck.report.sheet import build_sheet
from layoutcheck.report.watch import watch_plan

FIXTURES = Path(__file__).parents[2] / "fixtures"


@cache
def site(name: str) -> tuple[Layout, Report]:
    layout = parse_layout(json.loads((FIXTURES / f"{name}.json").read_text(encoding="utf-8")))
    return layout, check(layout)


def test_it_is_the_sheet_the_log_and_the_report() -> None:
    layout, report = site("plant-room-mended")
    plan, sheet = watch_plan(layout, report), build_sheet(layout, report)
    assert plan.may_start
    assert plan.layout.digest == report.layout.digest
    assert plan.log == log_template(report)
    assert plan.log is not None
    assert plan.sheet == plan.log.sheet
    for group in sheet.before:
        assert (group.title, *(t.text for t in group.ticks)) in {
            (g.title, *(t.text for t in g.ticks)) for g in plan.before
        }
    for plug, part, card in zip(plan.plugs, report.plugs, sheet.plugs, strict=True):
        coolant = part.freeze.coolant
        assert coolant is not None and card.times is not None
        assert [(s.start, s.duration, s.kind.value, s.mass) for s in plug.steps] == [
            (s.start.value, s.duration.value, s.kind, s.mass.value) for s in coolant.steps
        ]
        assert plug.courses == part.freeze.courses
        hours, minutes, seconds = map(int, card.times.give_up.split(":"))
        assert round(plug.give_up) == hours * 3600 + minutes * 60 + seconds
    # 12 cylinders of 50 lb: 600 lb x 0.45359237 kg/lb = 272.155422 kg.
    assert plan.stock[0].mass == pytest.approx(272.155422, rel=1e-9)


@pytest.mark.parametrize(
    "asked",
    ["cautions read", "Air measured", "meter on", "Way out", "plain water", "is full", "with tape",
     "valve", "Watches frost"],
)  # fmt: skip
def test_each_tick_that_a_freeze_begins_with_is_there(asked: str) -> None:
    plan = watch_plan(*site("plant-room-mended"))
    assert any(asked in t.text for g in plan.before for t in g.ticks)


@pytest.mark.parametrize("name", ["plant-room-sketch", "heating-riser-sketch"])
def test_a_layout_that_is_not_compliant_gives_no_step_and_says_what_to_do_first(name: str) -> None:
    layout, report = site(name)
    plan = watch_plan(layout, report)
    assert not plan.may_start
    assert (plan.plugs, plan.before, plan.order, plan.log) == ((), (), (), None)
    assert plan.actions == report.actions
    assert plan.actions


def test_it_is_a_handout_of_the_same_bytes_each_time() -> None:
    layout, report = site("plant-room-mended")
    first, second = (make_handout("watch-plan.json", layout, report) for _ in range(2))
    assert first == second == watch_plan(layout, report).to_json().encode()
