"""POST /v1/views, /v1/glances and /v1/verdicts: the page's questions get the library's answers."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from layoutcheck.document import parse_layout
from layoutcheck.report import check, glance
from layoutcheck.report.drawing.screen import build_screen
from layoutcheck.report.imports import to_fill_part
from layoutcheck.report.portions import EVERY, portions_json
from tests.api.conftest import app_in_thread

FIXTURES = Path(__file__).parent.parent.parent / "fixtures"


@pytest.fixture
def large_client() -> TestClient:
    return TestClient(app_in_thread())


def test_a_glance_is_the_check_without_the_joint_mending(
    client: TestClient, layout: dict[str, Any]
) -> None:
    whole = json.loads(check(parse_layout(layout)).to_json())
    assert whole["mending"] is not None  # the example's plug stands too near a flowing line
    answer = client.post("/v1/glances", json={"layout": layout})
    assert answer.status_code == 200
    assert answer.text == portions_json(glance(parse_layout(layout)), EVERY)
    findings = [{**f, "action": None} for f in whole["findings"]]
    assert whole["actions"]
    assert answer.json() == {**whole, "mending": None, "actions": [], "findings": findings}


@pytest.mark.parametrize("name", ["cold-riser-sketch", "no-drawing-sketch", "plant-room-mended"])
def test_a_view_is_a_glance_with_its_drawing(large_client: TestClient, name: str) -> None:
    data = json.loads((FIXTURES / f"{name}.json").read_text())
    layout = parse_layout(data)
    answer = large_client.post("/v1/views", json={"layout": data})
    report = glance(layout)
    assert answer.json() == {
        "report": json.loads(report.to_json()),
        "drawing": json.loads(build_screen(layout, report).to_json()),
        "to_fill": [part.model_dump(mode="json") for part in to_fill_part(layout)],
    }
    assert answer.headers["server-timing"].startswith("work;dur=")


@pytest.mark.parametrize("name", ["cold-riser-sketch", "cold-riser-mended", "plant-room-sketch"])
def test_a_verdict_is_that_of_the_glance(large_client: TestClient, name: str) -> None:
    data = json.loads((FIXTURES / f"{name}.json").read_text())
    report = json.loads(glance(parse_layout(data)).to_json())
    answer = large_client.post("/v1/verdicts", json={"layout": data})
    assert answer.json() == {"verdict": report["verdict"], "counts": report["counts"]}


@pytest.mark.parametrize("address", ["/v1/views", "/v1/glances", "/v1/verdicts"])
def test_faults_are_told_as_a_check_tells_them(
    client: TestClient, layout: dict[str, Any], address: str
) -> None:
    broken = copy.deepcopy(layout)
    broken["pipes"][0]["length"] = 24
    expected = client.post("/v1/checks", json={"layout": broken})
    answer = client.post(address, json={"layout": broken})
    assert answer.status_code == expected.status_code == 422
    assert answer.json() == expected.json()
