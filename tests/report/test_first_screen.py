"""The first screen: what to do and in which order, in few lines, from the findings' data."""

import json
import re
from functools import cache
from pathlib import Path

import pytest

from layoutcheck.document import parse_layout
from layoutcheck.quantities import UnitSystem
from layoutcheck.report import check
from layoutcheck.report.actions import OPEN, numbered
from layoutcheck.report.figures import against, rough
from layoutcheck.report.model import Finding, Measure, Report
from layoutcheck.report.text import full_text, report_text
from layoutcheck.rules.outcome import Gravity, Outcome
from tests.report.sample_report import REPORT

FIXTURES = Path(__file__).parents[2] / "fixtures"
SKETCHES = ("heating-riser-sketch", "plant-room-sketch", "ring-main-sketch")
ON = UnitSystem.IMPERIAL
SPARSE = {
    "format": "layoutcheck layout 1",
    "name": "An invented branch",
    "site": {"material": "copper", "wall": "type L"},
    "junctions": [
        {"id": "S", "elevation": "0 ft"},
        {"id": "E", "elevation": "0 ft", "fitting": "cap"},
    ],
    "pipes": [{"id": "branch", "from": "S", "to": "E", "size": "2 in", "length": "40 ft"}],
    "sources": [{"id": "main", "junction": "S", "kind": "main", "pressure": "40 psi"}],
    "plugs": [{"id": "A", "pipe": "branch", "station": "20 ft", "jacket": "12 in"}],
    "work": {"open": [{"junction": "E"}], "duration": "2 h"},
}


@cache
def _report(name: str) -> Report:
    return check(parse_layout(json.loads((FIXTURES / f"{name}.json").read_text())))


def _finding(rule: str, report: Report) -> Finding:
    return next(f for f in report.findings if f.rule == rule and f.outcome in OPEN)


@pytest.mark.parametrize("name", SKETCHES)
def test_it_is_short(name: str) -> None:
    # The limits of the order: 25 lines to the end of the actions, 90 in all.
    text = report_text(_report(name))
    assert len(text.splitlines()) <= 90
    to_the_end = text[: text.index("\n\nWATER that drains")].splitlines()
    assert len(to_the_end) <= 25
    assert to_the_end[0].startswith("NOT COMPLIANT")
    assert full_text(_report(name)).startswith(text[: text.index("\n\nCAUTIONS")])


@pytest.mark.parametrize("name", SKETCHES)
def test_every_open_finding_comes_to_an_action_and_has_its_number(name: str) -> None:
    report = _report(name)
    assert [a.number for a in report.actions] == list(range(1, len(report.actions) + 1))
    by_number = {a.number: a for a in report.actions}
    for finding in report.findings:
        assert (finding.action is not None) == (finding.outcome in OPEN)
        if finding.action is not None:
            assert finding.id in by_number[finding.action].settles


def test_what_can_kill_is_among_the_first() -> None:
    # Read off the sketch, whose note says it: water with nowhere to go between the plugs, a branch
    # valve not proven to hold. By hand, in this order: bleed, prove, then the two places.
    report = _report("heating-riser-sketch")
    assert [(a.kind, a.on) for a in report.actions[:4]] == [
        ("make outlet a bleed", ("DC-R",)),
        ("prove valve", ("V-SHOP-R",)),
        ("move plug", ("F1",)),
        ("move plug", ("F2",)),
    ]
    assert [_finding(r, report).action for r in ("trapped-water", "barrier-in-doubt")] == [1, 2]
    assert report.actions[0].gravity is Gravity.LIFE


@pytest.mark.parametrize("name", SKETCHES)
def test_what_is_known_to_be_gravest_comes_before_all_that_is_less_grave(name: str) -> None:
    report = _report(name)
    broken = [
        {f.gravity for f in report.findings if f.id in a.settles and f.outcome is Outcome.BROKEN}
        for a in report.actions
    ]
    known = [i for i, gravities in enumerate(broken) if Gravity.LIFE in gravities]
    slight = [i for i, a in enumerate(report.actions) if a.gravity is not Gravity.LIFE]
    assert max(known, default=-1) < min(slight, default=99)


def test_thousands_of_psi_are_told_with_two_digits() -> None:
    report = _report("plant-room-sketch")
    # How many thousand is for the tests of the ice: here only that two digits are told.
    assert re.fullmatch(
        r"Shut-in water bursts the pipe: about \d,\d00 psi, at most 200 psi allowed \[.*\]",
        report.actions[0].why,
    )


@pytest.mark.parametrize(
    ("name", "reason", "waits"),
    [
        ("plant-room-sketch", "cylinder-temperature", {"room-air", "coolant-on-hand"}),
        ("heating-riser-sketch", "start-temperature", {"holding-pressure", "room-air"}),
    ],
)
def test_warm_water_and_warm_cylinders_are_told_once_for_all_that_waits_for_them(
    name: str, reason: str, waits: set[str]
) -> None:
    report = _report(name)
    (settled,) = (
        {f.rule for f in report.findings if f.id in a.settles}
        for a in report.actions
        if a.kind == "do" and a.on[0] == reason
    )
    assert waits < settled
    assert not [a for a in report.actions if a.kind == "state"]


def test_a_fact_that_is_missing_is_told_as_not_known_yet() -> None:
    (action,) = (a for a in REPORT.actions if a.kind == "state")
    assert action.what == "Not known yet: water temperature at plug A."
    assert not action.known
    assert action.settles == ("a2",)


def test_a_fact_is_asked_for_with_the_field_that_lacks_it() -> None:
    # A site of which no water temperature, room, free space or stock is stated (invented).
    report = check(parse_layout(SPARSE))
    asked = {fact: a.not_stated for a in report.actions if a.kind == "state" for fact in a.on}
    assert asked["water temperature at plug A"] == ("site.water_temperature",)
    assert "site.room" in asked["the room of plug A"]
    assert asked["free space round pipe branch at plug A"] == ("site.clear_space",)
    assert asked["the carbon dioxide on hand"] == ("site.stock",)
    assert "Not stated: site.water_temperature." in report_text(report)


def test_a_move_settles_what_is_wrong_with_the_place_and_no_more() -> None:
    (move,) = (a for a in REPORT.actions if a.kind == "move plug")
    assert set(move.settles) == {"a1", "c1"}
    assert move.what.startswith("Move plug A to P1, 2 ft 6 in (0.762 m) from T1")


def test_a_fault_is_an_action_of_its_own() -> None:
    broken = REPORT.findings[0].model_copy(update={"outcome": Outcome.FAULT})
    report = numbered(REPORT.model_copy(update={"findings": (broken,)}))
    (action,) = report.actions
    assert action.kind == "report a fault"
    assert "do not rely on this check" in action.what


def test_nothing_is_to_be_done_where_all_holds() -> None:
    holds = tuple(f for f in REPORT.findings if f.outcome is Outcome.HOLDS)
    report = numbered(REPORT.model_copy(update={"findings": holds}))
    assert report.actions == ()
    assert "DO THESE" not in report_text(report)


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        # psi: 6894.757 Pa (NIST SP 811). 4120 psi has two digits as 4,100; 0.064 has two.
        (4120 * 6894.757293168361, "Pa", "about 4,100 psi"),
        (0.2422e-3, "m3", "about 0.064 US gal"),  # 0.2422 L / 3.785411784 L
        (133 * 3.785411784e-3, "m3", "about 130 US gal"),
        (3600 + 8 * 60, "s", "about 1 h 10 min"),
        (95 * 60, "s", "about 1 h 35 min"),
        (5.943, "m", "19 ft 6 in"),
        (308.15, "K", "95 degF"),
    ],
)
def test_an_estimate_has_no_more_digits_than_it_is_good_for(
    value: float, unit: str, shown: str
) -> None:
    assert rough(Measure(value=value, unit=unit, shown="-"), ON) == shown


def test_two_digits_never_hide_that_a_limit_is_passed() -> None:
    # 203 psi would be 'about 200 psi', which looks like the limit: then both are told in full.
    psi = 6894.757293168361
    got, limit = (
        Measure(value=x * psi, unit="Pa", shown=f"{x} psi in full") for x in (203.0, 200.0)
    )
    assert against(got, limit, ON) == ("203.0 psi in full", "200.0 psi in full")
