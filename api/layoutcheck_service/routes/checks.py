"""POST /v1/checks: judge a layout."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request, Response

from layoutcheck.report import Report, check, glance
from layoutcheck.report.changed import changed_since
from layoutcheck_service.access import needs
from layoutcheck_service.answers import BODY_KINDS, json_body, problems, schema_ref
from layoutcheck_service.body import answer_apart
from layoutcheck_service.envelope import Asked, read_change
from layoutcheck_service.keys import Scope
from layoutcheck_service.small import (
    Parts,
    asked_portions,
    asks_for_mending,
    json_answer,
    report_text,
)
from layoutcheck_service.work.job import Body

router = APIRouter(prefix="/v1", tags=["checks"], dependencies=[needs(Scope.CHECK)])

VERDICT_HEADER = "Layoutcheck-Verdict"
VERDICT: dict[str, Any] = {
    "headers": {
        VERDICT_HEADER: {
            "description": "The report's verdict.",
            "required": True,
            "schema": schema_ref("Verdict"),
        }
    }
}
_REQUEST = json_body("ChangeRequest")


@router.post(
    "/checks",
    operation_id="checkLayout",
    summary="Judge a layout by every rule",
    response_model=Report,
    response_description="The report, whatever its verdict.",
    responses={
        200: VERDICT,
        **problems(*BODY_KINDS),
    },
    openapi_extra=_REQUEST,
)
async def post_check(request: Request, parts: Parts = None) -> Response:
    """Judge a layout, and find for each plug that breaks a rule the nearest place that does not.

    With changes, the changed layout is judged, and `changed` says what differs from before.
    The same layout, pack and day give the same bytes, here as in the library.
    """
    return await answer_apart(request, _checked, asked_portions(request))


def _checked(body: Body, portions: str) -> Response:
    before, asked = read_change(body.data())
    base = None if before is None else glance(before.layout, pack=before.pack, on=before.on)
    return checked(base, asked, portions)


def checked(base: Report | None, asked: Asked, portions: str) -> Response:
    """Check a layout; where it is a changed one, say what differs from the report before."""
    judge = check if asks_for_mending(portions) else glance
    report = judge(asked.layout, pack=asked.pack, on=asked.on)
    if base is not None:
        report = report.model_copy(update={"changed": changed_since(base, report)})
    return json_answer(report_text(report, portions), **{VERDICT_HEADER: report.verdict.value})
