"""POST /v1/freezes: the library's bytes, and every kind of bad question."""

from __future__ import annotations

import json

import pytest
from fastapi.testclient import TestClient

from layoutcheck.cli import main
from layoutcheck.report.freeze import answer_freeze, read_question
from layoutcheck_service.small import model_text

QUESTION = {
    "size": "NPS 2",
    "material": "carbon steel",
    "wall": "sch 40",
    "jacket": "8 in",
    "water_temperature": "68 degF",
    "orientation": "horizontal",
}


def test_library_command_line_and_service_say_the_same(
    client: TestClient, capfdbinary: pytest.CaptureFixture[bytes]
) -> None:
    answer = client.post("/v1/freezes", json=QUESTION)
    assert answer.status_code == 200
    assert answer.content == model_text(answer_freeze(read_question(QUESTION))).encode()
    words = ["freeze", "--size", "NPS 2", "--jacket", "8 in", "--water", "68 degF"]
    assert main([*words, "--wall", "sch 40", "--lies", "horizontal", "--format", "json"]) == 0
    assert json.loads(capfdbinary.readouterr().out) == answer.json()


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"jacket": 8}, "/jacket"),
        ({"size": "NPS 2 1/7"}, "/size"),
        ({"water_temperature": "cold"}, "/water_temperature"),
        ({"wall": "sch 3000"}, "/wall"),
        ({"colour": "blue"}, "/colour"),
        ({"water_temperature": "300 degF"}, "/water_temperature"),
        ({"jacket": "0 in"}, "/jacket"),
    ],
)
def test_each_fault_has_its_place(
    client: TestClient, change: dict[str, object], pointer: str
) -> None:
    answer = client.post("/v1/freezes", json={**QUESTION, **change})
    assert answer.status_code == 422
    assert [fault["pointer"] for fault in answer.json()["faults"]] == [pointer]


def test_a_list_is_no_question(client: TestClient) -> None:
    assert client.post("/v1/freezes", json=[QUESTION]).status_code == 422
