"""Plans by every door: the library, the command line and the service give the same."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from fastapi.testclient import TestClient

from layoutcheck.cli import main
from layoutcheck.document import parse_layout
from layoutcheck.plan.order import Phase
from layoutcheck.plan.search import Progress, find_plans
from layoutcheck.report.plans import plan_layout
from layoutcheck.report.schemas import schema_of
from layoutcheck.rules.case import Case
from layoutcheck.rules.registry import default_pack
from tests.api.conftest import app_in_thread

FIXTURES = Path(__file__).parents[2] / "fixtures"
# Its best plan is found in a few tries, long before any time limit.
SITE = FIXTURES / "plant-room-mended.json"
NO_PLAN = FIXTURES / "process-header-sketch.json"


def _data(path: Path) -> dict[str, Any]:
    data: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return data


def test_the_command_gives_what_the_library_gives(capfd: pytest.CaptureFixture[str]) -> None:
    code = main(["plan", str(SITE), "--top", "1", "--time-limit", "60", "--format", "json"])
    answer = json.loads(capfd.readouterr().out)
    report = plan_layout(parse_layout(_data(SITE)), data=_data(SITE), top=1, time_limit=60.0)
    assert code == 0
    assert answer == json.loads(report.to_json())
    jsonschema.validate(answer, schema_of("plans"))


def test_the_command_says_so_where_there_is_no_plan(capfd: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", str(NO_PLAN), "--time-limit", "60"]) == 1
    text = capfd.readouterr().out
    assert text.startswith("NO PLAN")
    assert "WHAT STOOD AGAINST IT" in text
    assert "CAUTIONS: this work can kill" in text


def test_the_service_gives_what_the_library_gives() -> None:
    body = {"layout": _data(SITE), "top": 1, "time_limit": 60}
    answer = TestClient(app_in_thread()).post("/v1/plans", json=body)
    report = plan_layout(parse_layout(_data(SITE)), data=_data(SITE), top=1, time_limit=60.0)
    assert answer.status_code == 200
    assert answer.json() == json.loads(report.to_json())


@pytest.mark.parametrize(
    ("extra", "pointer"),
    [({"top": 0}, "/top"), ({"top": 1.5}, "/top"), ({"time_limit": "1 s"}, "/time_limit")],
)
def test_the_service_refuses_unsound_numbers(extra: dict[str, Any], pointer: str) -> None:
    answer = TestClient(app_in_thread()).post("/v1/plans", json={"layout": _data(SITE)} | extra)
    assert answer.status_code == 422
    assert [f["pointer"] for f in answer.json()["faults"]] == [pointer]


def test_the_steps_come_in_the_order_of_the_phases() -> None:
    report = plan_layout(parse_layout(_data(SITE)), top=1, time_limit=60.0)
    order = [p.value for p in Phase]
    phases = [order.index(s.phase) for s in report.plans[0].steps]
    assert phases == sorted(phases)
    assert {s.phase for s in report.plans[0].steps} >= {"freeze", "prove the plugs", "thaw"}
    assert all(s.why for s in report.plans[0].steps)


def test_an_interrupt_gives_the_best_so_far() -> None:
    def stop(progress: Progress) -> None:
        if progress.passed:
            raise KeyboardInterrupt

    case = Case.of(parse_layout(_data(SITE)), default_pack())
    found = find_plans(case, top=5, watch=stop)
    assert found.plans
    assert not found.complete
    assert found.gap >= 0.0
