"""POST /v1/handouts/{name}: drawing, sheet, log, take-off, issues, page: the library's bytes."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter, Path, Query, Request, Response

from layoutcheck.report import check
from layoutcheck.report.drawing.picked import NothingToHighlight
from layoutcheck.report.handouts import HANDOUTS, make_handout
from layoutcheck.report.log import NoSchedule
from layoutcheck_service.access import needs
from layoutcheck_service.answers import BODY_KINDS, any_file, json_body, problems, schema_ref
from layoutcheck_service.body import answer_apart
from layoutcheck_service.envelope import read_check
from layoutcheck_service.keys import Scope
from layoutcheck_service.problems import Kind, ProblemError, RequestFault
from layoutcheck_service.routes.checks import VERDICT_HEADER
from layoutcheck_service.work.job import Body

router = APIRouter(prefix="/v1", tags=["handouts"], dependencies=[needs(Scope.CHECK)])


@router.post(
    "/handouts/{name}",
    operation_id="makeHandout",
    summary="What the crew and the office are handed",
    response_class=Response,
    responses={
        200: {
            "description": "The handout. Without a compliant verdict a sheet says DO NOT FREEZE.",
            "content": any_file(HANDOUTS.values()),
            "headers": {
                VERDICT_HEADER: {
                    "description": "The report's verdict.",
                    "required": True,
                    "schema": schema_ref("Verdict"),
                }
            },
        },
        **problems(*BODY_KINDS, Kind.NOT_FOUND),
    },
    openapi_extra=json_body("CheckRequest"),
)
async def post_handout(
    request: Request,
    name: Annotated[
        str, Path(description="Which one.", json_schema_extra={"enum": sorted(HANDOUTS)})
    ],
    highlight: Annotated[
        str | None,
        Query(
            max_length=100,
            description="For a drawing: id or ref of what to draw attention to.",
            examples=["F1"],
        ),
    ] = None,
    page: Annotated[
        Literal["paper", "phone"],
        Query(
            description="For a drawing: paper to print (A4, or US Letter where a site is in feet), "
            "or phone, one narrow column."
        ),
    ] = "paper",
) -> Response:
    """Make a drawing, a sheet, a log to fill in, quantities, issues or a page of a layout.

    The same layout, pack and day give the same bytes, here as in the library and on the command
    line.
    """
    if name not in HANDOUTS:
        raise ProblemError(Kind.NOT_FOUND, f"There are handouts {', '.join(sorted(HANDOUTS))}.")
    return await answer_apart(request, _made, name, highlight, page)


def _made(body: Body, name: str, highlight: str | None, page: str) -> Response:
    asked = read_check(body.data())
    report = check(asked.layout, pack=asked.pack, on=asked.on)
    try:
        data = make_handout(
            name,
            asked.layout,
            report,
            pack=asked.pack,
            on=asked.on,
            highlight=highlight,
            page=page,
        )
    except NothingToHighlight as error:
        shown = RequestFault(
            pointer="/query/highlight",
            found=str(highlight),
            problem=str(error),
            example="the id of an element or a finding",
        )
        raise ProblemError(Kind.UNUSABLE, "There is no such thing.", faults=[shown]) from None
    except NoSchedule as error:
        fault = RequestFault(
            pointer="/layout",
            found=report.verdict.value,
            problem=str(error),
            example="a layout that POST /v1/checks finds compliant",
        )
        raise ProblemError(Kind.UNUSABLE, "There is no log to fill in.", faults=[fault]) from None
    return Response(
        data,
        media_type=HANDOUTS[name].media_type,
        headers={VERDICT_HEADER: report.verdict.value},
    )
