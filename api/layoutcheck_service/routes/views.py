"""POST /v1/views: a layout judged and drawn for a screen, in one answer."""

from __future__ import annotations

from typing import Any

import anyio.to_thread
from fastapi import APIRouter, Request, Response
from pydantic import BaseModel, ConfigDict

from layoutcheck.report import Report, check
from layoutcheck.report.drawing.screen import ScreenDrawing, build_screen
from layoutcheck_service.answers import problems, schema_ref
from layoutcheck_service.body import parse_body, read_body
from layoutcheck_service.envelope import read_check
from layoutcheck_service.problems import Kind

router = APIRouter(prefix="/v1", tags=["checks"])

_REQUEST: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {"application/json": {"schema": schema_ref("CheckRequest")}},
    }
}


class Viewed(BaseModel):
    """The report of a check, and the drawing of its layout for a screen."""

    model_config = ConfigDict(extra="forbid")

    report: Report
    drawing: ScreenDrawing


@router.post(
    "/views",
    operation_id="view",
    summary="Judge a layout and draw it for a screen",
    response_model=Viewed,
    response_description="The report, and the drawing as marks with the pipes' paths.",
    responses=problems(
        Kind.UNREADABLE, Kind.TOO_LARGE, Kind.WRONG_TYPE, Kind.UNUSABLE, Kind.INTERNAL
    ),
    openapi_extra=_REQUEST,
)
async def post_view(request: Request) -> Response:
    """Judge a layout as a check does, and draw it with its report.

    The report is the one of a check, value for value. The drawing states for every pipe which
    station lies where, so that a plug can be moved along it without another request.
    """
    state = request.app.state
    body = await read_body(request, limit=state.settings.max_body_bytes)
    return await anyio.to_thread.run_sync(_viewed, body, limiter=state.limiter)


def _viewed(body: bytes) -> Response:
    asked = read_check(parse_body(body))
    report = check(asked.layout, pack=asked.pack, on=asked.on)
    drawing = build_screen(asked.layout, report)
    # The report goes out as a check writes it: no second way of writing can differ from the first.
    text = f'{{"report": {report.to_json()}, "drawing": {drawing.to_json()}}}\n'
    return Response(text, media_type="application/json")
