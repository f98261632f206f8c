"""Pieces of the OpenAPI document that the routes share."""

from __future__ import annotations

from typing import Any

from layoutcheck_service.problems import PROBLEM_JSON, Kind, problem_data, problem_of

_WHAT_HAPPENED = {
    Kind.UNREADABLE: "Send one JSON text in UTF-8, without repeated names and without NaN.",
    Kind.NOT_FOUND: "GET /v1/rules lists the rules there are.",
    Kind.TOO_LARGE: "The service reads bodies of up to 4194304 bytes.",
    Kind.WRONG_TYPE: "Send the body as content type application/json.",
    Kind.NOT_A_FILE: "Send the body as content type application/octet-stream.",
    Kind.UNUSABLE: "1 fault found; each is listed with its place.",
    Kind.INTERNAL: "The request was not judged. Nothing in it counts as checked.",
}


def schema_ref(name: str) -> dict[str, str]:
    """Refer to a schema of the OpenAPI document."""
    return {"$ref": f"#/components/schemas/{name}"}


def json_body(schema: str, **described: Any) -> dict[str, Any]:  # noqa: ANN401 - OpenAPI's own parts
    """Describe a JSON body that a route reads by hand; the schema is named."""
    content = {"schema": schema_ref(schema), **described}
    return {"requestBody": {"required": True, "content": {"application/json": content}}}


def problems(*kinds: Kind) -> dict[int | str, dict[str, Any]]:
    """Describe the problems that a route may answer with."""
    return {int(kind.value.status): _described(kind) for kind in kinds}


def _described(kind: Kind) -> dict[str, Any]:
    example = problem_data(problem_of(kind, _WHAT_HAPPENED[kind]))
    return {
        "description": kind.value.title + ".",
        "content": {PROBLEM_JSON: {"schema": schema_ref("Problem"), "example": example}},
    }


# What a route that reads a JSON body may answer with besides its answer.
BODY_KINDS = (
    Kind.UNREADABLE,
    Kind.TOO_LARGE,
    Kind.WRONG_TYPE,
    Kind.UNUSABLE,
    Kind.INTERNAL,
)
