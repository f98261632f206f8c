"""POST /v1/plans: from what will be opened to where to freeze."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fastapi import APIRouter, Request, Response
from pydantic import Field

from layoutcheck.report.plans import PlanReport, plan_layout
from layoutcheck_service.access import needs
from layoutcheck_service.answers import BODY_KINDS, json_body, problems
from layoutcheck_service.body import answer_apart
from layoutcheck_service.envelope import CheckRequest, read_check
from layoutcheck_service.keys import Scope
from layoutcheck_service.problems import Kind, ProblemError, RequestFault
from layoutcheck_service.small import LATER, Prefer, json_answer, model_text
from layoutcheck_service.work.job import Body

router = APIRouter(prefix="/v1", tags=["plans"], dependencies=[needs(Scope.PLAN)])

MOST_PLANS = 50
LONGEST = 60.0
_LEAST = 0.1


class PlanRequest(CheckRequest):
    """Body of a request for plans: what a check takes, how many plans, and how long to look."""

    top: int = Field(5, ge=1, le=MOST_PLANS, description="How many plans to give.")
    time_limit: float = Field(
        10.0, ge=_LEAST, le=LONGEST, description="When to stop looking (s); best so far is given."
    )


@router.post(
    "/plans",
    operation_id="planLayout",
    summary="Find what to close and where to freeze for a layout's work",
    response_model=PlanReport,
    response_description="The plans, best first; none where there is none.",
    responses=LATER | problems(*BODY_KINDS),
    openapi_extra=json_body("PlanRequest"),
)
async def post_plans(request: Request, prefer: Prefer = None) -> Response:
    """Find the best plans. Marked plugs are wishes; waivers are left out.

    'optimal' is a proof; where the time limit ends the search the answer says so.
    """
    return await answer_apart(request, _planned, long=True)


def _planned(body: Body) -> Response:
    data = body.data()
    rest = data
    faults: list[RequestFault] = []
    top, limit = 5.0, 10.0
    if isinstance(data, Mapping):
        top = _number(data, "top", (1, MOST_PLANS, 5), faults)
        limit = _number(data, "time_limit", (_LEAST, LONGEST, 10.0), faults)
        rest = {k: v for k, v in data.items() if k not in {"top", "time_limit"}}
    try:
        asked = read_check(rest)
    except ProblemError as error:
        raise _with(error, faults) from None
    if faults:
        raise ProblemError(Kind.UNUSABLE, "A number is unsound.", faults=faults)
    layout: Any = rest["layout"] if isinstance(rest, Mapping) else None
    report = plan_layout(
        asked.layout, data=layout, pack=asked.pack, top=int(top), time_limit=float(limit)
    )
    return json_answer(model_text(report))


def _number(
    data: Mapping[str, Any],
    name: str,
    limits: tuple[float, float, float],
    faults: list[RequestFault],
) -> float:
    """Read a number of a request; a fault, and the usual value, where it is unsound."""
    least, most, usual = limits
    value = data.get(name, usual)
    sound = isinstance(value, int | float) and not isinstance(value, bool)
    whole = name != "top" or isinstance(value, int)
    if sound and whole and least <= value <= most:
        return float(value)
    fault = RequestFault(
        pointer=f"/{name}",
        found=repr(value)[:60] if sound else type(value).__name__,
        problem=f"is {'a whole number' if name == 'top' else 'a number'} from {least} to {most}",
        example=f'"{name}": {usual}',
    )
    faults.append(fault)
    return usual


def _with(error: ProblemError, faults: list[RequestFault]) -> ProblemError:
    if not faults or error.problem.faults is None:
        return error
    every = [*error.problem.faults, *faults]
    detail = f"{len(every)} faults found; each is listed with its place."
    return ProblemError(Kind.UNUSABLE, detail, faults=every)
