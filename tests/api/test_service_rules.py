"""GET /v1/rules, /v1/schemas and /health give what the library gives."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from fastapi.testclient import TestClient

import layoutcheck
from layoutcheck.report.explain import rule_manual, rule_manuals
from layoutcheck.report.schemas import SCHEMAS, schema_of


def test_every_rule_is_listed_as_the_library_explains_it(client: TestClient) -> None:
    listed = client.get("/v1/rules").json()
    assert listed["rules"] == [m.model_dump(mode="json") for m in rule_manuals()]
    assert "flowing-line-setback" in [rule["name"] for rule in listed["rules"]]
    assert [figure["key"] for figure in listed["measuring"]] == ["basis"]


@pytest.mark.parametrize("name", ["flowing-line-setback", "isolation", "plug-spacing"])
def test_one_rule(client: TestClient, name: str) -> None:
    assert client.get(f"/v1/rules/{name}").json() == rule_manual(name).model_dump(mode="json")


def test_an_unknown_rule_is_a_problem_that_names_the_nearest(client: TestClient) -> None:
    answer = client.get("/v1/rules/plug-spacin")
    assert answer.status_code == 404
    assert answer.headers["content-type"] == "application/problem+json"
    assert "plug-spacing" in answer.json()["detail"]
    assert client.get("/v1/rules/zzzz").status_code == 404
    assert client.get("/v1/rules/" + "%E2%80%AE" * 500).status_code == 404


@pytest.mark.parametrize("name", sorted(SCHEMAS))
def test_the_schemas_are_the_library_s(client: TestClient, name: str) -> None:
    answer = client.get(f"/v1/schemas/{name}")
    assert answer.headers["content-type"] == "application/schema+json"
    assert json.loads(answer.text) == schema_of(name)
    shared = Path(__file__).parents[2] / "shared" / "schemas" / f"{name}.schema.json"
    assert answer.content == shared.read_bytes()
    jsonschema.Draft202012Validator.check_schema(answer.json())


def test_an_unknown_schema_is_a_problem(client: TestClient) -> None:
    answer = client.get("/v1/schemas/building")
    assert answer.status_code == 404
    assert answer.json()["type"] == "urn:layoutcheck:problem:not-found"
    assert "layout" in answer.json()["detail"]


def test_the_report_fits_its_own_schema(client: TestClient, layout: dict[str, Any]) -> None:
    report = client.post("/v1/checks", json={"layout": layout}).json()
    schema = client.get("/v1/schemas/report").json()
    jsonschema.validate(report, schema, cls=jsonschema.Draft202012Validator)


def test_the_layout_fits_its_own_schema(client: TestClient, layout: dict[str, Any]) -> None:
    schema = client.get("/v1/schemas/layout").json()
    jsonschema.validate(layout, schema, cls=jsonschema.Draft202012Validator)


def test_health_names_the_version(client: TestClient) -> None:
    assert client.get("/health").json() == {"status": "ok", "version": layoutcheck.__version__}
