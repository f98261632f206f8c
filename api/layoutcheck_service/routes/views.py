"""POST /v1/views, /v1/glances, /v1/verdicts: a layout judged for a screen, while it is edited.

All leave out the joint mending of a check: it takes seconds, and a person who drags a plug waits
for none.
"""

from __future__ import annotations

import time

from fastapi import APIRouter, Request, Response
from pydantic import BaseModel, ConfigDict, TypeAdapter

from layoutcheck.report import Report, glance, outcomes
from layoutcheck.report.drawing.screen import ScreenDrawing, build_screen
from layoutcheck.report.imports import ImportToFill, to_fill_part
from layoutcheck.report.model import Outcomes
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
    """The report of a check, the drawing of its layout for a screen, and what is not stated.

    to_fill: where each fact that is left out goes, and which rules wait for it.
    """

    model_config = ConfigDict(extra="forbid")

    report: Report
    drawing: ScreenDrawing
    to_fill: tuple[ImportToFill, ...]


_PROBLEMS = problems(*BODY_KINDS)
_BLANKS = TypeAdapter(tuple[ImportToFill, ...])


@router.post(
    "/views",
    operation_id="viewLayout",
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
    operation_id="glanceAtLayout",
    summary="Judge a layout whose plugs are in motion",
    response_model=Report,
    response_description="The report of a check, without the joint mending.",
    responses=_PROBLEMS,
    openapi_extra=_REQUEST,
)
async def post_glance(request: Request) -> Response:
    """Judge a layout as a check does, without the joint mending: `mending` is always null."""
    return await answer_apart(request, _glanced)


@router.post(
    "/verdicts",
    operation_id="getVerdict",
    summary="Judge a layout and tell the verdict alone",
    response_model=Outcomes,
    response_description="The verdict of a check, and how many outcomes of each kind it has.",
    responses=_PROBLEMS,
    openapi_extra=_REQUEST,
)
async def post_verdict(request: Request) -> Response:
    """Judge a layout as a check does, and look for no places: the first answer while one draws."""
    return await answer_apart(request, _verdict)


def _viewed(body: Body) -> Response:
    start = time.perf_counter()
    asked = read_check(body.data())
    report = _report(asked)
    drawing = build_screen(asked.layout, report)
    # The report goes out as a check writes it: no second way of writing can differ from the first.
    told, drawn = report_text(report, ALL).rstrip(), model_text(drawing).rstrip()
    blanks = _BLANKS.dump_json(to_fill_part(asked.layout)).decode()
    text = f'{{"report":{told},"drawing":{drawn},"to_fill":{blanks}}}\n'
    return _timed(text, start)


def _glanced(body: Body) -> Response:
    start = time.perf_counter()
    return _timed(report_text(_report(read_check(body.data())), ALL), start)


def _verdict(body: Body) -> Response:
    start = time.perf_counter()
    asked = read_check(body.data())
    return _timed(outcomes(asked.layout, pack=asked.pack, on=asked.on).model_dump_json(), start)


def _report(asked: Asked) -> Report:
    return glance(asked.layout, pack=asked.pack, on=asked.on)


def _timed(text: str, start: float) -> Response:
    """Answer, and tell how long it took here, so that a page can tell its own share from ours."""
    took = f"work;dur={(time.perf_counter() - start) * 1000:.1f}"
    return Response(text, media_type="application/json", headers={"Server-Timing": took})
