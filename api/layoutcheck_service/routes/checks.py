"""POST /v1/checks: judge a layout."""

from __future__ import annotations

from typing import Any

import anyio.to_thread
from fastapi import APIRouter, Request, Response

from layoutcheck.report import Report, check
from layoutcheck_service.answers import problems, schema_ref
from layoutcheck_service.body import parse_body, read_body
from layoutcheck_service.envelope import read_check
from layoutcheck_service.problems import Kind

router = APIRouter(prefix="/v1", tags=["checks"])

VERDICT_HEADER = "Layoutcheck-Verdict"
_REQUEST: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {"application/json": {"schema": schema_ref("CheckRequest")}},
    }
}


@router.post(
    "/checks",
    operation_id="check",
    summary="Judge a layout by every rule",
    response_model=Report,
    response_description="The report, whatever its verdict.",
    responses={
        200: {
            "headers": {
                VERDICT_HEADER: {
                    "description": "The report's verdict.",
                    "required": True,
                    "schema": schema_ref("Verdict"),
                }
            }
        },
        **problems(Kind.UNREADABLE, Kind.TOO_LARGE, Kind.WRONG_TYPE, Kind.UNUSABLE, Kind.INTERNAL),
    },
    openapi_extra=_REQUEST,
)
async def post_check(request: Request) -> Response:
    """Judge a layout, and find for each plug that breaks a rule the nearest place that does not.

    The same layout, pack and day give the same bytes, here as in the library.
    """
    state = request.app.state
    body = await read_body(request, limit=state.settings.max_body_bytes)
    # A check is all arithmetic: in a thread of its own, so that other requests are served.
    return await anyio.to_thread.run_sync(_checked, body, limiter=state.limiter)


def _checked(body: bytes) -> Response:
    asked = read_check(parse_body(body))
    report = check(asked.layout, pack=asked.pack, on=asked.on)
    return Response(
        report.to_json(),
        media_type="application/json",
        headers={VERDICT_HEADER: report.verdict.value},
    )
