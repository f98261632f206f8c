"""POST /v1/views and /v1/glances: a layout judged and drawn for a screen, or judged in motion.

Both leave out the joint mending of a check: it takes seconds, and a person who drags a plug waits
for none.
"""

from __future__ import annotations

import time

from fastapi import APIRouter, Request, Response
from pydantic import BaseModel, ConfigDict

from layoutcheck.report import Report, glance
from layoutcheck.report.drawing.screen import ScreenDrawing, build_screen
from layoutcheck_service.access import needs
from layoutcheck_service.answers import BODY_KINDS, json_body, problems
from layoutcheck_service.body import answer_apart
from layoutcheck_service.envelope import Asked, read_check
from layoutcheck_service.keys import Scope
from layoutcheck_service.small import ALL, model_text, report_text
from layoutcheck_service.work.job import Body

router = APIRouter(prefix="/v1", tags=["checks"], dependencies=[needs(Scope.CHECK)])

_REQUEST = json_body("CheckRequest")


class Viewed(BaseModel):
    """The report of a check, and the drawing of its layout for a screen."""

    model_config = ConfigDict(extra="forbid")

    report: Report
    drawing: ScreenDrawing


_PROBLEMS = problems(*BODY_KINDS)


@router.post(
    "/views",
    operation_id="view",
    summary="Judge a layout and draw it for a screen",
    response_model=Viewed,
    response_description="The report, and the drawing as marks with the pipes' paths.",
    responses=_PROBLEMS,
    openapi_extra=_REQUEST,
)
async def post_view(request: Request) -> Response:
    """Judge a layout as a check does, without the joint mending, and draw it with its report.

    The drawing states for every pipe which station lies where, so that a plug can be moved along
    it without another request.
    """
    return await answer_apart(request, _viewed)


@router.post(
    "/glances",
    operation_id="glance",
    summary="Judge a layout whose plugs are in motion",
    response_model=Report,
    response_description="The report of a check, without the joint mending.",
    responses=_PROBLEMS,
    openapi_extra=_REQUEST,
)
async def post_glance(request: Request) -> Response:
    """Judge a layout as a check does, without the joint mending: `mending` is always null."""
    return await answer_apart(request, _glanced)


def _viewed(body: Body) -> Response:
    start = time.perf_counter()
    asked = read_check(body.data())
    report = _report(asked)
    drawing = build_screen(asked.layout, report)
    # The report goes out as a check writes it: no second way of writing can differ from the first.
    told, drawn = report_text(report, ALL).rstrip(), model_text(drawing).rstrip()
    text = f'{{"report":{told},"drawing":{drawn}}}\n'
    return _timed(text, start)


def _glanced(body: Body) -> Response:
    start = time.perf_counter()
    return _timed(report_text(_report(read_check(body.data())), ALL), start)


def _report(asked: Asked) -> Report:
    return glance(asked.layout, pack=asked.pack, on=asked.on)


def _timed(text: str, start: float) -> Response:
    """Answer, and tell how long it took here, so that a page can tell its own share from ours."""
    took = f"work;dur={(time.perf_counter() - start) * 1000:.1f}"
    return Response(text, media_type="application/json", headers={"Server-Timing": took})
