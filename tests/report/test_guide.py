"""The guide to the document is made from its models, so that nothing in them is left untold."""

from __future__ import annotations

import inspect
import json

import pytest
from fastapi.testclient import TestClient
from pydantic import BaseModel

from layoutcheck.cli import main
from layoutcheck.document import models, parse_layout, read_text
from layoutcheck.report.guide import PARTS, guide_text, layout_guide
from layoutcheck_service.app import create_app
from layoutcheck_service.settings import Settings

# What is told where it is used: base classes, and values that differ between the two moments.
TOLD_ELSEWHERE = {
    "Strict",
    "Asked",
    "Placed",
    "Machine",
    "ValveStates",
    "OutletStates",
    "Locks",
    "Vertex",
}


def model_names() -> set[str]:
    return {
        name
        for name, found in inspect.getmembers(models, inspect.isclass)
        if issubclass(found, BaseModel) and found.__module__ == models.__name__
    }


def test_every_part_of_the_document_is_told_with_every_field_and_its_meaning() -> None:
    told = {model.__name__ for model in PARTS.values()}
    assert told == model_names() - TOLD_ELSEWHERE
    for part in layout_guide().parts:
        assert part.about, part.name
        without = [f.name for f in part.fields if len(f.about) < 10]
        assert not without, f"{part.name}: say what these mean: {without}"


def test_its_example_is_a_layout() -> None:
    parse_layout(read_text(layout_guide().example, suffix=".yaml"))


def test_the_command_line_and_the_service_tell_the_same(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["explain", "layout"]) == 0
    assert capsys.readouterr().out == guide_text(layout_guide())
    assert main(["explain", "layout", "--format=json"]) == 0
    as_json = json.loads(capsys.readouterr().out)
    client = TestClient(create_app(Settings()), base_url="http://127.0.0.1:8000")
    assert client.get("/v1/guide").json() == as_json
    page = client.get("/guide")
    assert page.status_code == 200
    assert page.headers["content-type"].startswith("text/html")
    for part in as_json["parts"]:
        assert f"<h2>{part['name']}</h2>" in page.text
