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
from layoutcheck.planning.order import Phase
from layoutcheck.planning.search import Progress, find_plans
from layoutcheck.report.plans import plan_layout
from layoutcheck.report.schemas import schema_of
from layoutcheck.report.text_plans import plans_text
from layoutcheck.rules.case import Case
from layoutcheck.rules.registry import default_pack
from tests.api.conftest import app_in_thread
from tests.survey.made_buildings import building

FIXTURES = Path(__file__).parents[2] / "fixtures"
# Its best plan is found in a few tries, long before any time limit.
SITE = FIXTURES / "plant-room-mended.json"
UNDECIDED = FIXTURES / "process-header-sketch.json"


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


def test_the_command_says_so_where_there_is_no_plan(
    capfd: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    # No jacket fits between the main and this valve, and nothing is left open.
    data = building(1)
    data["valves"] = [
        {k: v for k, v in valve.items() if k != "tightness"} | {"state": "open"}
        for valve in data["valves"]
    ]
    data |= {"plugs": [], "work": {"duration": "3 h", "open": [{"valve": "V0"}]}}
    file = tmp_path / "made.json"
    file.write_text(json.dumps(data), encoding="utf-8")
    assert main(["plan", str(file), "--time-limit", "60"]) == 1
    text = capfd.readouterr().out
    assert text.startswith("NO PLAN: 0 plans. There is no plan: nothing that may be closed or")
    assert "TO SETTLE" not in text
    assert "CAUTIONS: this work can kill" in text


def test_what_a_layout_leaves_open_keeps_no_plan_from_being_proven(
    capfd: pytest.CaptureFixture[str],
) -> None:
    # Who stops the water if a plug goes is not stated, so that plug-loss decides nothing.
    assert main(["plan", str(UNDECIDED), "--time-limit", "60"]) == 3
    text = capfd.readouterr().out
    assert text.startswith("UNDECIDED: 0 plans. No plan passes as the layout stands")
    assert "TO SETTLE: state or prove, then ask again\n  - who stops the water" in text
    assert "WHAT TO ADD OR CHANGE" in text


def test_what_came_nearest_is_told_with_what_it_lacks(capfd: pytest.CaptureFixture[str]) -> None:
    """One cylinder of 5 lb gives no freeze of a 1 1/2 in pipe: all but the stock holds."""
    data = building(3)
    data |= {"plugs": [], "work": {"duration": "3 h", "open": [{"valve": "V0"}]}}
    enough = plan_layout(parse_layout(data), top=1, time_limit=60.0)
    assert enough.plans
    assert enough.near_miss is None
    few = [data["site"]["stock"][0] | {"cylinders": 1, "mass_each": "5 lb"}]
    data["site"] = data["site"] | {"stock": few}
    report = plan_layout(parse_layout(data), top=1, time_limit=60.0)
    assert not report.plans
    assert report.near_miss is not None
    assert [x.rule for x in report.near_miss.lacking] == ["coolant-on-hand"]
    assert [p.pipe for p in report.near_miss.plugs] == [p.pipe for p in enough.plans[0].plugs]
    text = plans_text(report)
    assert "WHAT CAME NEAREST, and why it is no plan\n" in text
    assert "  BROKEN coolant-on-hand: " in text


def test_a_room_that_nobody_stated_leaves_it_undecided() -> None:
    """Without its rooms no plan passes room-air for a site; that does not prove that none could."""
    data = building(3)
    data |= {"plugs": [], "work": {"duration": "3 h", "open": [{"valve": "V0"}]}}
    assert plan_layout(parse_layout(data), top=1, time_limit=60.0).plans
    data["site"] = {k: v for k, v in data["site"].items() if k not in {"room", "rooms"}}
    report = plan_layout(parse_layout(data), top=1, time_limit=60.0)
    assert (report.status, report.exit_code) == ("undecided", 3)
    assert any("the room of" in text for text in report.to_settle)
    # Who already knows that nothing is open, or looks by himself, is taken at his word.
    told = plan_layout(parse_layout(data), top=1, time_limit=60.0, doubts=())
    assert (told.status, told.exit_code, told.to_settle) == ("no plan", 1, ())


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
