"""/v1/jobs: work that was asked for with 'Prefer: respond-async'."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Request, Response
from fastapi import Path as InPath

from layoutcheck_service.access import signed_in
from layoutcheck_service.answers import BODY_KINDS, problems
from layoutcheck_service.jobs import Jobs, Later
from layoutcheck_service.problems import Kind, ProblemError
from layoutcheck_service.small import JobStatus, model_text

router = APIRouter(prefix="/v1/jobs", tags=["jobs"], dependencies=[signed_in()])

_NONE = "There is no such job: it was taken, cancelled, forgotten, or never asked for here."
_KINDS = (Kind.NO_KEY, Kind.NOT_FOUND, Kind.STOPPING)
# What the work itself may come to: all but what is refused before a job begins.
_BEFORE = {Kind.NOT_ALLOWED, Kind.WRONG_TYPE, Kind.TOO_SLOW, Kind.SHARE_USED, Kind.BUSY}
_CAME_TO = (*_KINDS, *(k for k in BODY_KINDS if k not in _BEFORE and k not in _KINDS))
_Name = Annotated[str, InPath(description="The name that asking for the work gave.")]


@router.get(
    "/{job}",
    operation_id="showJob",
    summary="How far a job is",
    response_model=JobStatus,
    responses=problems(*_KINDS),
)
async def get_job(request: Request, job: _Name) -> Response:
    """Answer at once, whatever the job does."""
    return told(job, _found(request, job))


@router.get(
    "/{job}/result",
    operation_id="getJobResult",
    summary="What came of a job",
    response_class=Response,
    responses={
        200: {
            "description": "The answer, with the status that it would have had at once.",
            "content": {"application/json": {"schema": {}}},
        },
        202: {"model": JobStatus, "description": "It is not done yet."},
        **problems(*_CAME_TO),
    },
)
async def get_result(request: Request, job: _Name) -> Response:
    """Answer with what the work came to, as it would have been answered at once."""
    found = _found(request, job)
    if found.answer is None:
        return told(job, found, status_code=202)
    return found.answer.response()


@router.delete(
    "/{job}",
    operation_id="cancelJob",
    summary="Give a job up",
    response_model=JobStatus,
    responses=problems(*_KINDS),
)
async def delete_job(request: Request, job: _Name) -> Response:
    """End its work, or forget what came of it."""
    found = _found(request, job)
    jobs: Jobs = request.app.state.jobs
    jobs.cancel(found)
    return told(job, found)


def told(name: str, job: Later, *, status_code: int = 200) -> Response:
    """Say how far a job is."""
    done = None if job.answer is None else job.answer.status
    status = JobStatus(job=name, state=job.state, status=done)
    headers = {"Retry-After": "1"} if status_code == 202 else None
    text = model_text(status)
    return Response(text, status_code, headers=headers, media_type="application/json")


def _found(request: Request, name: str) -> Later:
    jobs: Jobs = request.app.state.jobs
    found = jobs.get(name, getattr(request.state, "owner", None))
    if found is None:
        raise ProblemError(Kind.NOT_FOUND, _NONE)
    return found
