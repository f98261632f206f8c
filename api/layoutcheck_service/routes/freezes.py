"""POST /v1/freezes: the freeze of one pipe, without a layout."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from layoutcheck.document import LayoutFaults
from layoutcheck.report.freeze import PipeFreeze, answer_freeze, read_question
from layoutcheck_service.access import needs
from layoutcheck_service.answers import BODY_KINDS, json_body, problems
from layoutcheck_service.body import answer_apart
from layoutcheck_service.keys import Scope
from layoutcheck_service.problems import Kind, ProblemError, moved_under
from layoutcheck_service.small import json_answer, model_text
from layoutcheck_service.work.job import Body

router = APIRouter(prefix="/v1", tags=["freezes"], dependencies=[needs(Scope.CHECK)])

_EXAMPLE = {
    "size": "NPS 2",
    "material": "carbon steel",
    "wall": "sch 40",
    "jacket": "12 in",
    "water_temperature": "60 degF",
    "orientation": "vertical",
    "pressure": "60 psi",
    "hold": "3 h",
}
_EXAMPLES = {"riser": {"summary": "A 2 in riser at 60 psi (invented)", "value": _EXAMPLE}}


@router.post(
    "/freezes",
    operation_id="estimateFreeze",
    summary="Estimate the freeze of one pipe",
    response_model=PipeFreeze,
    response_description="The estimate: never a measured freeze time.",
    responses=problems(*BODY_KINDS),
    openapi_extra=json_body("FreezeQuestion", examples=_EXAMPLES),
)
async def post_freeze(request: Request) -> Response:
    """Estimate how long one pipe takes to freeze, with its coolant and a schedule.

    The same question gives the same bytes, here as in the library.
    """
    return await answer_apart(request, _answered)


def _answered(body: Body) -> Response:
    data = body.data()
    try:
        answer = answer_freeze(read_question(data))
    except LayoutFaults as error:
        detail = "Each fault is listed with its place, what was found and a right example."
        faults = moved_under("", error.faults)
        raise ProblemError(Kind.UNUSABLE, detail, faults=faults) from None
    return json_answer(model_text(answer))
