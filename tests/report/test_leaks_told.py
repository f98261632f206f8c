"""A leak can be neither manned nor locked off; what is unknown of a pipe is asked for.

The site is our own invention.
"""

from __future__ import annotations

from typing import Any

import pytest

from layoutcheck.document import parse_layout, read_text
from layoutcheck.planning.elements import OUTLET_KINDS
from layoutcheck.report.guide import guide_text, layout_guide
from layoutcheck.report.plans import PlanReport, plan_layout
from layoutcheck.report.run import check
from layoutcheck.rules.outcome import Outcome

SITE = """
name: Laundry corridor (invented)
pipes:
  feed: M to T, 2 in, 30 ft
  laundry: T to W, 1 1/2 in, 14 ft
  run: T to G, 2 in, 25 ft
  behind: G to K, 2 in, 20 ft
  far: K to X
junctions: {M: 0 ft, T: "0 ft, tee", W: 0 ft, G: 0 ft, K: 0 ft, X: "0 ft, cap"}
valves: {MV: "feed at 2 ft, gate, open", GV: "run at 25 ft, gate, open"}
sources: {main: "M, 60 psi"}
outlets: {washer: W, stem: {junction: G, state: STATE, meant: place}}
equipment: {calorifier: "K, tank"}
work: valve GV for 90 min
plugs: {F1: "run at 21 ft, jacket 12 in", F2: "behind at 5 ft, jacket 12 in"}
site:
  material: carbon steel
  wall: sch 40
  water_temperature: 58 degF
  stock: 2 x 50 lb carbon dioxide
"""


def given(state: str) -> Any:
    return parse_layout(read_text(SITE.replace("STATE", state), suffix=".yaml"))


def done_to_stem(report: PlanReport) -> set[str]:
    near = report.near_miss.actions if report.near_miss is not None else ()
    actions = [*near, *(a for plan in report.plans for a in plan.actions)]
    return {a.kind for a in actions if a.id == "stem"}


def test_a_leak_is_never_manned_nor_locked_off() -> None:
    """Stated as drawing it is a way out: the same site then asks for it to be seen to."""
    leaking, drawing = (check(given(s)) for s in ("leaking", "may draw"))
    changes = [{c.id for f in r.findings for c in f.changes} for r in (leaking, drawing)]
    assert "stem" not in changes[0]
    assert "stem" in changes[1]
    kinds = {kind.value for kind in OUTLET_KINDS}
    assert not kinds & {a.kind for a in leaking.actions if "stem" in a.on}


def test_no_plan_does_anything_to_a_leak() -> None:
    assert done_to_stem(plan_layout(given("leaking"))) == set()
    assert done_to_stem(plan_layout(given("may draw"))) != set()


@pytest.mark.parametrize("rule", ["flowing-line-setback", "no-flow-at-plug"])
def test_a_flow_to_a_leak_names_the_leak_and_what_can_be_shut(rule: str) -> None:
    found = [f for f in check(given("leaking")).findings if f.rule == rule]
    broken = [f for f in found if f.outcome is Outcome.BROKEN]
    assert broken
    for finding in broken:
        assert finding.todo.startswith("Stop the leak at outlet stem")
        assert " it." not in finding.todo


def test_what_is_not_known_of_a_pipe_is_asked_for_and_not_read_back() -> None:
    report = plan_layout(given("may draw"))
    assert {"State the length of pipe far.", "State the size of pipe far."} <= {*report.to_add}
    assert "State what is missing." not in report.to_add
    assert "NPS 48" not in report.to_json()


def test_the_guide_lists_a_leak_among_the_states_of_an_outlet() -> None:
    assert "leaking" in guide_text(layout_guide())
    (outlets,) = [p for p in layout_guide().parts if p.name == "outlets"]
    (state,) = [f for f in outlets.fields if f.name == "state"]
    assert "leaking" in state.words


def test_a_plug_too_near_a_flow_is_told_which_valve_which_line_and_which_tee() -> None:
    """The branch is still; the header flows past it, through V, from S to D."""
    text = """
name: Invented
pipes: {in: "S to T, 2 in, 20 ft", out: "T to D, 2 in, 20 ft", stub: "T to E, 2 in, 20 ft"}
junctions: {T: tee, E: cap}
valves: {V: "in at 4 ft, gate, open"}
sources: {main: S}
outlets: {tap: D}
plugs: {A: "stub at 1 ft, jacket 12 in"}
site: {material: carbon steel, wall: sch 40}
"""
    found = check(parse_layout(read_text(text, suffix=".yaml"))).findings
    (todo,) = [f.todo for f in found if f.rule == "flowing-line-setback"]
    assert todo == (
        "Close and prove valve V, where this flow passes, or move the plug away from flowing line "
        "in, which joins at T."
    )
