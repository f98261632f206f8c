"""Hand-outs over HTTP: the library's bytes, each with its media type; logs held to the schedule."""

from __future__ import annotations

import json
from typing import Any

import pytest
from fastapi.testclient import TestClient

from layoutcheck.report.handouts import HANDOUTS
from layoutcheck.report.log import judge_log, log_template, log_text
from layoutcheck.report.log.pages import log_pdf
from layoutcheck_service.small import model_text
from tests.report.handout_sites import FIXTURES, handout, report_on

COMPLIANT, FAULTY = "no-drawing-mended", "no-drawing-sketch"


def document(name: str) -> dict[str, Any]:
    made: dict[str, Any] = json.loads((FIXTURES / f"{name}.json").read_text())
    return made


@pytest.mark.parametrize("name", sorted(HANDOUTS))
def test_the_service_gives_the_bytes_of_the_library(client: TestClient, name: str) -> None:
    answer = client.post(f"/v1/handouts/{name}", json={"layout": document(COMPLIANT)})
    assert answer.status_code == 200
    assert answer.headers["content-type"] == HANDOUTS[name].media_type
    assert answer.headers["layoutcheck-verdict"] == "compliant"
    assert answer.content == handout(COMPLIANT, name)


def test_a_faulty_sketch_gets_a_sheet_that_forbids(client: TestClient) -> None:
    answer = client.post("/v1/handouts/sheet.html", json={"layout": document(FAULTY)})
    assert answer.status_code == 200
    assert answer.headers["layoutcheck-verdict"] == "not compliant"
    assert "DO NOT FREEZE" in answer.text


def test_a_faulty_sketch_has_no_log(client: TestClient) -> None:
    answer = client.post("/v1/handouts/log-template.csv", json={"layout": document(FAULTY)})
    assert answer.status_code == 422
    assert answer.json()["faults"][0]["pointer"] == "/layout"


def test_a_handout_that_there_is_not_is_named(client: TestClient) -> None:
    answer = client.post("/v1/handouts/poem.pdf", json={"layout": document(COMPLIANT)})
    assert answer.status_code == 404
    assert "sheet.pdf" in answer.json()["detail"]


def test_a_judged_log_comes_as_text_and_pdf_too(client: TestClient) -> None:
    report = report_on(COMPLIANT)
    judged = judge_log(log_template(report), report)
    body = {"layout": document(COMPLIANT), "log": handout(COMPLIANT, "log-template.csv").decode()}
    answer = client.post("/v1/logs/text", json=body)
    assert (answer.status_code, answer.text) == (200, log_text(judged))
    answer = client.post("/v1/logs/pdf", json=body)
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.content == log_pdf(log_template(report), judged)
    assert client.post("/v1/logs/poem", json=body).status_code == 404


@pytest.mark.parametrize("form", ["log-template.csv", "log-template.json"])
def test_a_log_is_judged_in_either_form(client: TestClient, form: str) -> None:
    text = handout(COMPLIANT, form).decode()
    log = json.loads(text) if form.endswith("json") else text
    answer = client.post("/v1/logs", json={"layout": document(COMPLIANT), "log": log})
    assert answer.status_code == 200
    report = report_on(COMPLIANT)
    assert answer.content == model_text(judge_log(log_template(report), report)).encode()


@pytest.mark.parametrize(
    ("body", "pointers"),
    [
        ({}, ["/layout", "/log"]),
        ({"log": 5}, ["/layout", "/log"]),
        ({"log": {}}, ["/layout", "/log/format", "/log/rows", "/log/sheet"]),
        ([], [""]),
    ],
)
def test_every_fault_of_a_log_request_is_told(
    client: TestClient, body: Any, pointers: list[str]
) -> None:
    answer = client.post("/v1/logs", json=body)
    assert answer.status_code == 422
    assert sorted(f["pointer"] for f in answer.json()["faults"]) == pointers
