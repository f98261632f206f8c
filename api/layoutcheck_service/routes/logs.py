"""POST /v1/logs: hold a filled freeze log to the schedule of its layout; as data, text or PDF."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Path, Request, Response
from pydantic import Field

from layoutcheck.document import LayoutFaults
from layoutcheck.document.faults import shown
from layoutcheck.report import check
from layoutcheck.report.log import FreezeLog, LogReport, judge_log, log_text, read_log
from layoutcheck_service.access import needs
from layoutcheck_service.answers import BODY_KINDS, json_body, problems
from layoutcheck_service.body import answer_apart
from layoutcheck_service.envelope import CheckRequest, read_check
from layoutcheck_service.keys import Scope
from layoutcheck_service.problems import Kind, ProblemError, RequestFault, moved_under
from layoutcheck_service.small import json_answer, model_text
from layoutcheck_service.work.job import Body

router = APIRouter(prefix="/v1", tags=["logs"], dependencies=[needs(Scope.CHECK)])


class LogRequest(CheckRequest):
    """Body of a request to judge a log: what a check takes, and the log."""

    log: FreezeLog | str = Field(
        description="The filled log: its JSON form, or the text of its CSV form."
    )


@router.post(
    "/logs",
    operation_id="judgeLog",
    summary="Hold a filled log to the schedule",
    response_model=LogReport,
    response_description="What the log tells, whatever its verdict.",
    responses=problems(*BODY_KINDS),
    openapi_extra=json_body("LogRequest"),
)
async def post_log(request: Request) -> Response:
    """Say what was missed, cut, late, too much or too soon; each a finding."""
    return await answer_apart(request, _judged)


_FORMS = {"text": "text/plain; charset=utf-8", "pdf": "application/pdf"}


@router.post(
    "/logs/{form}",
    operation_id="printLog",
    summary="Hold a filled log to the schedule, for people",
    response_class=Response,
    responses={
        200: {
            "description": "What the log tells, whatever its verdict, as text or as PDF.",
            "content": {"text/plain": {"schema": {"type": "string"}}, "application/pdf": {}},
        },
        **problems(*BODY_KINDS, Kind.NOT_FOUND),
    },
    openapi_extra=json_body("LogRequest"),
)
async def post_log_form(
    request: Request,
    form: Annotated[str, Path(description="Which.", json_schema_extra={"enum": sorted(_FORMS)})],
) -> Response:
    """Say what was missed, cut, late, too much or too soon, as `layoutcheck log` prints it."""
    if form not in _FORMS:
        raise ProblemError(Kind.NOT_FOUND, f"A judged log comes as {' or '.join(sorted(_FORMS))}.")
    return await answer_apart(request, _printed, form)


def _printed(body: Body, form: str) -> Response:
    from layoutcheck.report.log.pages import log_pdf  # noqa: PLC0415 - slow to load

    log, report = _told(body)
    data = log_pdf(log, report) if form == "pdf" else log_text(report).encode()
    return Response(data, headers={"Content-Type": _FORMS[form]})


def _judged(body: Body) -> Response:
    return json_answer(model_text(_told(body)[1]))


def _told(body: Body) -> tuple[FreezeLog, LogReport]:
    """Judge the log of a body. Raises ProblemError with every fault of all its parts."""
    data = body.data()
    if not isinstance(data, Mapping):
        read_check(data)  # says what is wrong with it
    assert isinstance(data, Mapping)
    log, faults = _log(data)
    try:
        asked = read_check({k: v for k, v in data.items() if k != "log"})
    except ProblemError as error:
        faults = [*(error.problem.faults or ()), *faults]
    if faults or log is None:
        detail = "Each fault is listed with its place, what was found and a right example."
        raise ProblemError(Kind.UNUSABLE, detail, faults=faults)
    return log, judge_log(log, check(asked.layout, pack=asked.pack, on=asked.on))


def _log(data: Mapping[str, Any]) -> tuple[FreezeLog | None, list[RequestFault]]:
    given = data.get("log")
    if not isinstance(given, (str, Mapping)):
        fault = RequestFault(
            pointer="/log",
            found="nothing" if "log" not in data else shown(given),
            problem="is a log: an object, or the text of a CSV file",
            example="what POST /v1/handouts/log-template.json gives, filled in",
        )
        return None, [fault]
    text = given if isinstance(given, str) else json.dumps(given)
    try:
        return read_log(text.encode()), []
    except LayoutFaults as error:
        return None, moved_under("/log", error.faults)
