"""A pump that is opened has to be locked off first, and a plan says so: against brute force.

The sites are invented. By hand: main - valve - pump - valve - tank, both valves proven tight once
shut. To open the pump, or a length of pipe with the pump in it, both valves are shut and the pump
is locked off; without its lock no set of closures and plugs is one that `check` passes.
"""

from __future__ import annotations

from typing import Any

import pytest

from layoutcheck.document import parse_layout
from layoutcheck.planning.document import plan_document
from layoutcheck.planning.elements import Kind
from layoutcheck.planning.ground import Ground
from layoutcheck.planning.order import Phase, steps_of
from layoutcheck.planning.search import Status, find_plans
from layoutcheck.rules.case import Case
from layoutcheck.rules.registry import default_pack
from tests.plan.plain_plans import bad_rules_of, every_set, passes
from tests.plan.small_sites import FACTS

PACK = default_pack()
WORKS = {
    "the pump": {"pump": "booster"},
    "a length of pipe with the pump in it": {"pipe": "line", "start": "28 ft", "end": "32 ft"},
}


def _site(work: dict[str, Any], lock: Any = None) -> dict[str, Any]:
    pump = {"id": "booster", "pipe": "line", "station": "30 ft", "shutoff_head": "10 psi"}
    valve = {"pipe": "line", "state": "open", "tightness": "proven"}
    return {
        "format": "layoutcheck layout 1",
        "name": "An invented line with a pump",
        "junctions": [{"id": j, "elevation": "0 ft"} for j in ("S", "T")],
        "pipes": [
            {
                "id": "line",
                "from": "S",
                "to": "T",
                "size": "NPS 1",
                "material": "copper",
                "wall": "type L",
                "length": "60 ft",
            }
        ],
        "valves": [
            {"id": "VS", "station": "2 ft", **valve},
            {"id": "VT", "station": "58 ft", **valve},
        ],
        "pumps": [pump if lock is None else pump | {"locked_off": lock}],
        "sources": [
            {"id": "main", "junction": "S", "kind": "main", "pressure": "40 psi"},
            {"id": "ring", "junction": "T", "kind": "main", "pressure": "40 psi"},
        ],
        "site": FACTS,
        "work": {
            "open": [work],
            "duration": "2 h",
            "if_a_plug_goes": "The invented watchman shuts the invented main.",
        },
    }


def _case(site: dict[str, Any]) -> Case:
    return Case.of(parse_layout(site), PACK)


@pytest.mark.parametrize("work", WORKS.values(), ids=WORKS.keys())
def test_every_plan_locks_off_the_pump_that_is_opened(work: dict[str, Any]) -> None:
    site = _site(work)
    found = find_plans(_case(site), top=3, time_limit=60.0)
    assert found.status is Status.OPTIMAL
    for plan in found.plans:
        assert (Kind.LOCK_PUMP, "booster") in {(e.kind, e.id) for e in plan.elements}
        document = plan_document(site, plan.elements, plan.case.plugs, units=plan.case.layout.units)
        assert bad_rules_of(document, PACK) == set()
    does = [(e.kind, e.id) for e in sorted(found.plans[0].elements)]
    assert does == [(Kind.CLOSE, "VS"), (Kind.CLOSE, "VT"), (Kind.LOCK_PUMP, "booster")]


@pytest.mark.parametrize("work", WORKS.values(), ids=WORKS.keys())
def test_without_the_lock_no_set_of_closures_passes(work: dict[str, Any]) -> None:
    site = _site(work)
    ground = Ground(_case(site))
    closures = [c for c in every_set(ground) if not any(e.kind is Kind.PLUG for e in c)]
    good = [c for c in closures if passes(site, ground, c, PACK)]
    assert good
    assert all(any(e.kind is Kind.LOCK_PUMP for e in c) for c in good)


def test_a_lock_that_is_stated_already_is_not_asked_for_again() -> None:
    plan = find_plans(_case(_site(WORKS["the pump"], lock=True)), top=1, time_limit=60.0).plans[0]
    assert {e.kind for e in plan.elements} == {Kind.CLOSE}


def test_a_lock_for_the_work_alone_is_a_step_before_the_line_is_opened() -> None:
    case = _case(_site(WORKS["the pump"], lock={"working": True}))
    steps = [s for s in steps_of(case, {}) if "pump booster" in s.concerns]
    assert [s.phase for s in steps] == [Phase.WORK, Phase.WORK, Phase.REOPEN]
    assert steps[0].do.startswith("Lock off pump booster")
