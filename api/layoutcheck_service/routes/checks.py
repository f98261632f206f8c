"""POST /v1/checks: judge a layout."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from layoutcheck.report import Report, check
from layoutcheck_service.access import needs
from layoutcheck_service.answers import BODY_KINDS, json_body, problems, schema_ref
from layoutcheck_service.body import answer_apart
from layoutcheck_service.envelope import read_check
from layoutcheck_service.keys import Scope
from layoutcheck_service.small import Parts, asked_portions, json_answer, report_text
from layoutcheck_service.work.job import Body

router = APIRouter(prefix="/v1", tags=["checks"], dependencies=[needs(Scope.CHECK)])

VERDICT_HEADER = "Layoutcheck-Verdict"
_REQUEST = json_body("CheckRequest")


@router.post(
    "/checks",
    operation_id="checkLayout",
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
        **problems(*BODY_KINDS),
    },
    openapi_extra=_REQUEST,
)
async def post_check(request: Request, parts: Parts = None) -> Response:
    """Judge a layout, and find for each plug that breaks a rule the nearest place that does not.

    The same layout, pack and day give the same bytes, here as in the library.
    """
    return await answer_apart(request, _checked, asked_portions(request))


def _checked(body: Body, portions: str) -> Response:
    asked = read_check(body.data())
    report = check(asked.layout, pack=asked.pack, on=asked.on)
    return json_answer(report_text(report, portions), **{VERDICT_HEADER: report.verdict.value})
