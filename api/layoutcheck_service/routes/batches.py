"""POST /v1/batches: many layouts in one request, each answered as soon as it is judged."""

from __future__ import annotations

import asyncio
import contextlib
import json
from collections.abc import AsyncIterator, Mapping

from fastapi import APIRouter, Request, Response
from pydantic import BaseModel, ConfigDict, Field
from starlette.responses import StreamingResponse

from layoutcheck.report import Report
from layoutcheck_service.access import needs
from layoutcheck_service.answers import BODY_KINDS, problems, schema_ref
from layoutcheck_service.body import JSON, NDJSON, answer_apart, body_in_memory
from layoutcheck_service.envelope import ChangeRequest
from layoutcheck_service.jobs import patient
from layoutcheck_service.keys import Scope
from layoutcheck_service.problems import Kind, Problem, ProblemError, RequestFault
from layoutcheck_service.routes.checks import _checked
from layoutcheck_service.small import Parts, asked_portions
from layoutcheck_service.work.engine import Engine
from layoutcheck_service.work.job import Answer, Body, Job, name_of

router = APIRouter(prefix="/v1", tags=["checks"], dependencies=[needs(Scope.CHECK)])


class BatchRequest(BaseModel):
    """Body of a batch: what a check takes, several times. As NDJSON, one of them on each line."""

    model_config = ConfigDict(extra="forbid")

    checks: list[ChangeRequest] = Field(min_length=1, description="The checks.")


class BatchLine(BaseModel):
    """One line of the answer: what came of one check, a report or a problem."""

    model_config = ConfigDict(extra="forbid")

    index: int = Field(
        description="Number of the check in the request (count from 0).", examples=[0]
    )
    status: int = Field(description="The HTTP status that it would have by itself.", examples=[200])
    report: Report | None = Field(None, description="The report; none where there is a problem.")
    problem: Problem | None = Field(None, description="Why it was not judged; none where it was.")


@router.post(
    "/batches",
    operation_id="checkLayouts",
    summary="Judge many layouts",
    response_class=Response,
    responses={
        200: {
            "description": "One line of JSON for each check, in the order in which they end; each "
            "is a BatchLine.",
            "content": {
                "application/octet-stream": {"schema": {"type": "string", "format": "binary"}},
                NDJSON: {"schema": schema_ref("BatchLine")},
            },
        },
        **problems(*BODY_KINDS),
    },
    openapi_extra={
        "requestBody": {
            "required": True,
            "content": {"application/json": {"schema": schema_ref("BatchRequest")}},
        }
    },
)
async def post_batch(request: Request, parts: Parts = None) -> Response:
    """Judge each layout by itself: a fault in one is told on its line, and the others go on.

    The body is JSON, or NDJSON (application/x-ndjson) with a check on each line. The answer is
    NDJSON.
    """
    portions = asked_portions(request)
    lines = await _lines(request)
    most: int = request.app.state.settings.max_batch
    if not 0 < len(lines) <= most:
        fault = RequestFault(
            pointer="/checks",
            found=f"{len(lines)} checks",
            problem=f"holds 1 to {most} checks",
            example="fewer checks in one request",
        )
        raise ProblemError(Kind.UNUSABLE, "The batch can not be taken.", faults=[fault])
    return StreamingResponse(_answers(request, lines, portions), media_type=NDJSON)


async def _lines(request: Request) -> list[bytes]:
    """Give the body of each check. NDJSON is cut here; JSON is taken apart where work is done."""
    limit: int = request.app.state.settings.max_import_bytes
    if request.headers.get("content-type", "").partition(";")[0].strip() == NDJSON:
        text = await body_in_memory(request, NDJSON, limit)
    else:
        answer = await answer_apart(request, _taken_apart, limit=limit, content_type=JSON)
        text = bytes(answer.body)
    return [line for line in text.splitlines() if line.strip()]


def _taken_apart(body: Body) -> Response:
    data = body.data()
    checks = data.get("checks") if isinstance(data, Mapping) else None
    if not isinstance(checks, list) or len(data) != 1:
        fault = RequestFault(
            pointer="" if checks is None else "/checks",
            found="something else",
            problem="is one object with 'checks', a list",
            example='{"checks": [{"layout": …}, {"layout": …}]}',
        )
        raise ProblemError(Kind.UNUSABLE, "The batch can not be taken.", faults=[fault])
    return Response("\n".join(json.dumps(check, ensure_ascii=False) for check in checks))


async def _answers(request: Request, lines: list[bytes], portions: str) -> AsyncIterator[bytes]:
    """Give a line for each check, as they end. When the client leaves, the rest is given up."""
    engine: Engine = request.app.state.engine
    owner = getattr(request.state, "owner", None)
    # One place stays free for those who wait for one answer.
    places = asyncio.Semaphore(max(1, engine.state().wanted - 1))

    async def one(index: int, line: bytes) -> bytes:
        async with places:
            job = Job(name_of(_checked), (portions,), line)
            return _line(index, await patient(engine, job, owner))

    tasks = [asyncio.ensure_future(one(n, line)) for n, line in enumerate(lines)]
    try:
        for done in asyncio.as_completed(tasks):
            yield await done
    finally:
        for task in tasks:
            task.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await asyncio.gather(*tasks, return_exceptions=True)


def _line(index: int, answer: Answer) -> bytes:
    name = b"report" if answer.status < 400 else b"problem"
    head = b'{"index":%d,"status":%d,"%s":' % (index, answer.status, name)
    return head + answer.body.strip() + b"}\n"
