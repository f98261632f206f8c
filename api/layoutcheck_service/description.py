"""The OpenAPI document: what FastAPI gathers, with the document's own schemas and real examples."""

from __future__ import annotations

import json
from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi
from pydantic import BaseModel

from layoutcheck.report.freeze import FreezeQuestion
from layoutcheck.report.glossary import describe_fields
from layoutcheck_service import examples
from layoutcheck_service.envelope import ChangeRequest, CheckRequest
from layoutcheck_service.problems import PROBLEM_JSON, Problem
from layoutcheck_service.routes.bases import Changes
from layoutcheck_service.routes.batches import BatchLine, BatchRequest
from layoutcheck_service.routes.exports import ExportRequest
from layoutcheck_service.routes.logs import LogRequest
from layoutcheck_service.routes.plans import PlanRequest
from layoutcheck_service.routes.records import RecordRequest
from layoutcheck_service.routes.watches import WatchPost

_REF = "#/components/schemas/{model}"
# Read or written by hand in the routes, so that FastAPI does not see them.
_OWN_MODELS: tuple[type[BaseModel], ...] = (
    BatchRequest,
    ChangeRequest,
    Changes,
    CheckRequest,
    ExportRequest,
    PlanRequest,
    LogRequest,
    RecordRequest,
    FreezeQuestion,
    WatchPost,
    Problem,
)

_OWN_ANSWERS: tuple[type[BaseModel], ...] = (BatchLine,)

# What an answer gives that another request takes: (operation, status, name) -> operation, values.
# They let a reader, or a program that tests the service, go from one request to the next.
_LINKS: dict[tuple[str, str, str], tuple[str, dict[str, str]]] = {
    ("listRules", "200", "ManualOfTheFirst"): (
        "explainRule",
        {"name": "$response.body#/rules/0/name"},
    ),
    ("recordSignOff", "201", "TheEntry"): (
        "showRecord",
        {"number": "$response.body#/entry/sequence"},
    ),
    ("recordSignOff", "201", "WhetherItStands"): (
        "verifyRecords",
        {"head": "$response.body#/paper"},
    ),
    ("listRecords", "200", "TheNewest"): (
        "showRecord",
        {"number": "$response.body#/entries/0/sequence"},
    ),
    ("listRecords", "200", "Older"): ("listRecords", {"before": "$response.body#/next"}),
}


def describe(app: FastAPI) -> dict[str, Any]:
    """Build the service's OpenAPI 3.1 document. Takes a moment: the examples are run."""
    document = get_openapi(
        title=app.title,
        version=app.version,
        openapi_version="3.1.0",
        summary=app.summary,
        description=app.description,
        routes=app.routes,
        license_info=app.license_info,
    )
    schemas: dict[str, Any] = document["components"]["schemas"]
    _drop_unused_answers(document, schemas)
    for model in _OWN_MODELS:
        own = model.model_json_schema(ref_template=_REF)
        for name, schema in {**own.pop("$defs", {}), model.__name__: own}.items():
            if schemas.setdefault(name, schema) != schema:
                raise ValueError(f"two different schemas are named {name}")
    for model in _OWN_ANSWERS:  # what they hold is described already
        own = model.model_json_schema(ref_template=_REF, mode="serialization")
        schemas[model.__name__] = {k: v for k, v in own.items() if k != "$defs"}
    describe_fields(schemas)
    document["components"]["schemas"] = dict(sorted(schemas.items()))
    _add_examples(document["paths"]["/v1/checks"]["post"])
    _make_keys_optional(document)
    _add_links(document)
    return document


def openapi_text(app: FastAPI) -> str:
    """Write the OpenAPI document as it stands in shared/openapi.json."""
    return json.dumps(describe(app), indent=2, ensure_ascii=False) + "\n"


def _drop_unused_answers(document: dict[str, Any], schemas: dict[str, Any]) -> None:
    """Take out FastAPI's own 422: every path parameter here is a plain text, so it never comes."""
    for path in document["paths"].values():
        for operation in path.values():
            answer = operation["responses"].get("422", {})
            if "HTTPValidationError" in json.dumps(answer):
                del operation["responses"]["422"]
    for name in ("HTTPValidationError", "ValidationError"):
        schemas.pop(name, None)


def _add_examples(operation: dict[str, Any]) -> None:
    operation["requestBody"]["content"]["application/json"]["examples"] = examples.requests()
    answers = operation["responses"]
    answers["200"]["content"]["application/json"]["examples"] = examples.reports()
    unusable = answers["422"]["content"][PROBLEM_JSON]
    del unusable["example"]
    unusable["examples"] = examples.unusable()


def _add_links(document: dict[str, Any]) -> None:
    """Write the links into the answers that give what they take."""
    operations = [o for path in document["paths"].values() for o in path.values()]
    by_id = {operation["operationId"]: operation for operation in operations}
    for (operation, status, name), (leads_to, values) in _LINKS.items():
        assert leads_to in by_id
        links = by_id[operation]["responses"][status].setdefault("links", {})
        links[name] = {"operationId": leads_to, "parameters": values}


def _make_keys_optional(document: dict[str, Any]) -> None:
    """Say that no key may do: a service that only its own machine can reach asks for none."""
    for path in document["paths"].values():
        for operation in path.values():
            if "security" in operation:
                operation["security"].append({})
