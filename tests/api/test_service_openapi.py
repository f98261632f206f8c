"""The OpenAPI document is valid, fresh, complete, and its examples are real."""

from __future__ import annotations

import json
import keyword
import re
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from fastapi.testclient import TestClient
from openapi_spec_validator import OpenAPIV31SpecValidator
from pydantic import BaseModel, ValidationError

from layoutcheck.document import models
from layoutcheck.report.glossary import plain_values

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
    assert {"checkLayout", "listRules", "explainRule", "getSchema", "getHealth"} <= set(names)
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


NAMED = re.compile(r"[a-z]+([A-Z][a-z]+)+")
# A number without one of these says nothing: which unit, or that it counts or has none.
UNIT = re.compile(
    r"\((m|s|K|W|J|m3|MB|W/m2K|bytes|degrees|count|count from 1|count\); 1 is the best\.?|no unit"
    r"|points, no unit|in `unit`|(in )?drawing units)\)|units of the drawing|in drawing units"
    r"|, (s|ms)\.|`unit`|[Pp]oints|SI|[Nn]umber|status|How many|[Aa]t most"
)


def properties(document: dict[str, Any]) -> list[tuple[str, dict[str, Any]]]:
    schemas = document["components"]["schemas"]
    return [
        (f"{model}.{name}", field)
        for model, schema in schemas.items()
        for name, field in schema.get("properties", {}).items()
    ]


def test_every_field_says_what_it_means_and_shows_an_example(document: dict[str, Any]) -> None:
    found = properties(document)
    assert len(found) > 700
    assert [n for n, field in found if len(field.get("description", "")) < 8] == []
    assert [n for n, field in found if list(plain_values(field))] == []


def test_every_example_is_of_its_field(document: dict[str, Any]) -> None:
    for name, field in properties(document):
        for value in [field, *field.get("anyOf", []), field.get("items", {})]:
            rule = {**value, "components": document["components"]}
            for example in value.get("examples", []):
                assert jsonschema.Draft202012Validator(rule).is_valid(example), (name, example)


def test_every_number_says_its_unit(document: dict[str, Any]) -> None:
    def numeric(field: dict[str, Any]) -> bool:
        inside = [
            *field.get("anyOf", []),
            field.get("items", {}),
            field.get("additionalProperties"),
        ]
        kinds = {field.get("type"), *(i.get("type") for i in inside if isinstance(i, dict))}
        return not kinds.isdisjoint({"number", "integer"}) and "const" not in field

    silent = [
        (name, field["description"])
        for name, field in properties(document)
        if numeric(field) and not UNIT.search(field["description"])
    ]
    assert silent == []


def test_no_two_schemas_share_a_title(document: dict[str, Any]) -> None:
    titles = [s["title"] for s in document["components"]["schemas"].values()]
    assert sorted(titles) == sorted(set(titles))
    assert not [t for t in titles if "__" in t]


def test_operations_are_named_as_methods_are(document: dict[str, Any]) -> None:
    names = [o["operationId"] for path in document["paths"].values() for o in path.values()]
    assert [n for n in names if not NAMED.fullmatch(n)] == []
    # Neither the last word nor the whole is reserved in Python, TypeScript or C#.
    assert not {n for n in names if keyword.iskeyword(n) or n in {"import", "record", "delete"}}


@pytest.mark.parametrize(
    ("name", "value", "sound"),
    [
        ("Valve", {"id": "V", "junction": "J"}, True),
        ("Valve", {"id": "V", "pipe": "P", "station": "4 ft"}, True),
        ("Valve", {"id": "V", "junction": "J", "pipe": None, "station": None}, True),
        ("Valve", {"id": "V", "pipe": "P"}, False),
        ("Valve", {"id": "V"}, False),
        ("Valve", {"id": "V", "junction": "J", "pipe": "P", "station": "4 ft"}, False),
        ("Plug", {"id": "F", "jacket": "1 ft", "point": [1, 2]}, True),
        ("Plug", {"id": "F", "jacket": "1 ft", "point": [1, 2], "pipe": "P"}, False),
        ("Plug", {"id": "F", "jacket": "1 ft", "station": "4 ft"}, False),
        ("WorkItem", {"valve": "V"}, True),
        ("WorkItem", {"pipe": "P", "start": "1 ft", "end": "2 ft"}, True),
        ("WorkItem", {"pipe": "P", "start": "1 ft"}, False),
        ("WorkItem", {"valve": "V", "pump": "P"}, False),
        ("WorkItem", {}, False),
    ],
)
def test_the_schema_asks_for_one_thing_or_another_as_the_reader_does(
    document: dict[str, Any], name: str, value: dict[str, Any], sound: bool
) -> None:
    model: type[BaseModel] = getattr(models, name)
    assert jsonschema.Draft202012Validator(schema_in(document, name)).is_valid(value) is sound
    try:
        model.model_validate(value)
    except ValidationError:
        assert not sound
    else:
        assert sound


def test_what_a_mark_is_stands_in_its_kind(document: dict[str, Any]) -> None:
    marks = document["components"]["schemas"]["Panel"]["properties"]["marks"]["items"]
    assert marks["discriminator"]["propertyName"] == "kind"
    assert len(marks["oneOf"]) == 3
