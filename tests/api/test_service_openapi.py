"""The OpenAPI document is valid, fresh, complete, and its examples are real."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from fastapi.testclient import TestClient
from openapi_spec_validator import OpenAPIV31SpecValidator

SHARED = Path(__file__).parents[2] / "shared" / "openapi.json"


@pytest.fixture
def document(client: TestClient) -> dict[str, Any]:
    answer = client.get("/openapi.json")
    assert answer.status_code == 200
    found: dict[str, Any] = answer.json()
    return found


def test_the_shared_document_is_fresh(client: TestClient) -> None:
    # If this fails: python tests/refresh.py
    assert SHARED.read_bytes() == client.get("/openapi.json").content


def test_it_is_a_valid_openapi_3_1_document(document: dict[str, Any]) -> None:
    assert document["openapi"] == "3.1.0"
    OpenAPIV31SpecValidator(document).validate()


def test_every_operation_has_a_name_a_summary_and_a_tag(document: dict[str, Any]) -> None:
    operations = [o for path in document["paths"].values() for o in path.values()]
    names = [o["operationId"] for o in operations]
    assert len(set(names)) == len(names)
    assert {"check", "listRules", "explainRule", "schema", "health"} <= set(names)
    assert all(o["summary"] and o["tags"] and o["description"] for o in operations)


def test_every_reference_leads_somewhere(document: dict[str, Any]) -> None:
    named = set(re.findall(r'"#/components/schemas/([^"]+)"', json.dumps(document)))
    assert named
    assert named <= set(document["components"]["schemas"])
    assert {"Layout", "Report", "Problem", "CheckRequest"} <= named | {"CheckRequest"}


def schema_in(document: dict[str, Any], name: str) -> dict[str, Any]:
    """Give one of the document's schemas so that a JSON Schema validator can follow it."""
    return {
        "$ref": f"#/components/schemas/{name}",
        "components": document["components"],
    }


def test_each_example_of_a_body_gets_the_answer_that_stands_beside_it(
    client: TestClient, document: dict[str, Any]
) -> None:
    operation = document["paths"]["/v1/checks"]["post"]
    asked = operation["requestBody"]["content"]["application/json"]["examples"]
    told = operation["responses"]["200"]["content"]["application/json"]["examples"]
    assert list(asked) == list(told) == ["sketch", "tighter"]
    for name, example in asked.items():
        jsonschema.validate(example["value"], schema_in(document, "CheckRequest"))
        jsonschema.validate(told[name]["value"], schema_in(document, "Report"))
        answer = client.post("/v1/checks", json=example["value"])
        assert answer.json() == told[name]["value"]
        assert "nvented" in example["value"]["layout"]["note"]


def test_each_example_of_a_problem_fits_the_schema(document: dict[str, Any]) -> None:
    seen = 0
    for path in document["paths"].values():
        for operation in path.values():
            for status, answer in operation["responses"].items():
                content = answer["content"].get("application/problem+json")
                if content is None:
                    continue
                listed = [e["value"] for e in content.get("examples", {}).values()]
                for value in listed or [content["example"]]:
                    jsonschema.validate(value, schema_in(document, "Problem"))
                    assert value["status"] == int(status)
                    seen += 1
    assert seen >= 7


def test_it_names_no_host(document: dict[str, Any]) -> None:
    assert "servers" not in document
    assert not re.search(r"https?://", json.dumps(document))
