"""Plans for the demo sites: passed by check afresh, and no dearer than the corrected twins."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from layoutcheck.document import LayoutFaults, parse_layout
from layoutcheck.planning.costs import costs_of
from layoutcheck.planning.elements import plug_elements
from layoutcheck.planning.ground import Ground
from layoutcheck.planning.search import Search, Status, find_plans
from layoutcheck.report import check_document
from layoutcheck.report.plans import PlanReport, plan_layout
from layoutcheck.report.text_plans import plans_text
from layoutcheck.rules.case import Case
from layoutcheck.rules.registry import default_pack

FIXTURES = Path(__file__).parents[2] / "fixtures"
SITES = sorted(p.name for p in FIXTURES.glob("*.json"))
MENDED = [name for name in SITES if name.endswith("-mended.json")]


def _data(name: str) -> dict[str, Any]:
    data: dict[str, Any] = json.loads((FIXTURES / name).read_text(encoding="utf-8"))
    return data


@pytest.mark.slow
@pytest.mark.parametrize("name", SITES)
def test_each_plan_is_passed_by_check_afresh(name: str) -> None:
    data = _data(name)
    report = plan_layout(parse_layout(data), data=data, top=2, time_limit=10.0)
    assert report.left_out == 0
    for plan in report.plans:
        assert check_document(plan.document).exit_code == 0
    assert PlanReport.model_validate_json(report.to_json()) == report
    assert report.says in " ".join(plans_text(report).split())


@pytest.mark.slow
@pytest.mark.parametrize("name", MENDED)
def test_the_plan_is_no_dearer_than_the_corrected_twin(name: str) -> None:
    case = Case.of(parse_layout(_data(name)), default_pack())
    found = find_plans(case, top=1, time_limit=60.0)
    assert found.status is Status.OPTIMAL
    ground = Search(case).ground
    twin = {p.spot.piece for p in case.plugs}
    fits = np.zeros(len(case.network.pieces), dtype=bool)
    fits[sorted(twin)] = True
    chosen = frozenset(plug_elements(case, ground.settings, fits).values())
    judged: list[Any] = []
    points = costs_of(ground, chosen, case, judged).points
    # Where the plan freezes in the same pipes its stations may drain a spoonful more or less.
    assert found.plans[0].points <= points + 0.5


def test_what_a_plan_leans_on_is_listed_as_a_condition() -> None:
    data = _data("ring-main-mended.json")
    for valve in data["valves"]:
        valve.pop("tightness", None)
    report = plan_layout(parse_layout(data), data=data, top=1, time_limit=30.0)
    plan = report.plans[0]
    assert plan.cost.trusted_valves
    for valve in plan.cost.trusted_valves:
        assert any(f"valve {valve} tight" in c for c in plan.conditions)
        row = next(v for v in plan.document["valves"] if v["id"] == valve)
        assert row["tightness"] == "proven"


def test_no_plan_leans_on_an_unproven_valve_where_that_is_forbidden() -> None:
    data = _data("ring-main-mended.json") | {"planning": {"rely_on_unproven_valves": False}}
    report = plan_layout(parse_layout(data), data=data, top=3, time_limit=10.0)
    assert report.plans
    assert all(p.cost.trusted_valves == () for p in report.plans)


def test_no_plan_takes_an_outlet_out_of_service_that_must_stay() -> None:
    data = _data("ring-main-mended.json")
    kept = next(o["id"] for o in data["outlets"] if o["id"].startswith("TAP-8"))
    data["planning"] = {"keep_in_service": [kept]}
    report = plan_layout(parse_layout(data), data=data, top=3, time_limit=10.0)
    assert report.plans
    assert all(kept not in p.cost.out_of_service for p in report.plans)


def test_an_outlet_to_keep_that_is_not_there_is_a_fault() -> None:
    data = _data("ring-main-mended.json") | {"planning": {"keep_in_service": ["NOWHERE"]}}
    with pytest.raises(LayoutFaults) as caught:
        parse_layout(data)
    assert [f.pointer for f in caught.value.faults] == ["/planning/keep_in_service/0"]


def test_the_given_document_is_left_as_it_is() -> None:
    data = _data("plant-room-mended.json")
    before = json.dumps(data)
    plan_layout(parse_layout(data), data=data, top=1, time_limit=30.0)
    assert json.dumps(data) == before


def test_ground_makes_no_plug_where_the_document_states_flow() -> None:
    data = _data("plant-room-mended.json")
    for pipe in data["pipes"]:
        pipe["flow"] = "flowing"
    ground = Ground(Case.of(parse_layout(data), default_pack()))
    assert dict(ground.plugs) == {}
