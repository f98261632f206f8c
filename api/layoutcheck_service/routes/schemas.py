"""GET /v1/schemas/{name}: the JSON Schemas of what is read and written."""

from __future__ import annotations

from functools import cache
from typing import Annotated

from fastapi import APIRouter, Path, Response

from layoutcheck.report.schemas import SCHEMAS, schema_text
from layoutcheck_service.answers import problems
from layoutcheck_service.problems import Kind, ProblemError

router = APIRouter(prefix="/v1", tags=["service"])

SCHEMA_JSON = "application/schema+json"


@router.get(
    "/schemas/{name}",
    operation_id="getSchema",
    summary="The JSON Schema of a document",
    response_class=Response,
    responses={
        200: {"content": {SCHEMA_JSON: {"schema": {"type": "object"}}}},
        **problems(Kind.NOT_FOUND),
    },
)
def get_schema(
    name: Annotated[
        str,
        Path(description="What to describe.", json_schema_extra={"enum": sorted(SCHEMAS)}),
    ],
) -> Response:
    """Answer with a JSON Schema (2020-12), the same as the library's."""
    if name not in SCHEMAS:
        raise ProblemError(Kind.NOT_FOUND, f"There are schemas of {', '.join(sorted(SCHEMAS))}.")
    return Response(_text(name), media_type=SCHEMA_JSON)


@cache
def _text(name: str) -> str:
    """Write a schema, once: it takes a while, and anybody may ask."""
    return schema_text(name)
