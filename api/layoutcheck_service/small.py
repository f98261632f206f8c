"""Small answers: JSON without blanks, portions of a report, HEAD, compression."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import Header, Query, Request
from pydantic import BaseModel, ConfigDict, Field
from starlette.middleware.gzip import DEFAULT_EXCLUDED_CONTENT_TYPES
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from layoutcheck.report import Report
from layoutcheck.report.portions import EVERY, USUAL, Portion, portions_json
from layoutcheck_service.problems import Kind, ProblemError, RequestFault

# What is smaller goes out as it is (bytes).
COMPRESSED_FROM = 1024
# The usual trade: a tenth larger than the smallest, in a third of the time.
LEVEL = 5
# These are compressed already.
AS_THEY_ARE = (*DEFAULT_EXCLUDED_CONTENT_TYPES, "application/pdf")

ALL = "all"


class JobStatus(BaseModel):
    """How far a job is."""

    model_config = ConfigDict(extra="forbid")

    job: str = Field(
        description="The name of the job.", examples=["3f2a91bc07de55aa3f2a91bc07de55aa"]
    )
    state: Literal["working", "done", "cancelled"] = Field(description="How far it is.")
    status: int | None = Field(
        None, description="HTTP status of the result, once it is there.", examples=[200]
    )


# Read where the body is (`answer_apart`).
Prefer = Annotated[
    str | None,
    Header(
        description="'respond-async': do not wait; the answer is 202 with a job to look at "
        "(RFC 7240).",
        examples=["respond-async"],
        max_length=400,
    ),
]
LATER: dict[int | str, dict[str, Any]] = {
    202: {
        "model": JobStatus,
        "description": "It is being worked on, as was asked for; GET /v1/jobs/{job} tells how far.",
        "headers": {
            "Location": {
                "description": "Where to look.",
                "required": True,
                "schema": {"type": "string"},
            }
        },
    }
}

# Read by hand, so that what is unsound is told as every fault is; several may be named between
# commas or one by one, as generated clients send them.
Parts = Annotated[
    str | None,
    Query(
        description="Portions of the report to send: several between commas, or 'all'. Left out: "
        f"{', '.join(p for p in Portion if p in USUAL)}. `left_out` names what was not sent.",
        examples=["verdict,actions,plugs"],
        max_length=400,
        json_schema_extra={"pattern": f"^({'|'.join([*Portion, ALL])})(,|$)"},
    ),
]


def asked_portions(request: Request) -> str:
    """Read which portions a request asks for, as a worker takes them. Raises ProblemError."""
    given = [n for text in request.query_params.getlist("parts") for n in text.split(",") if n]
    unknown = [n for n in given if n != ALL and n not in set(Portion)]
    if unknown:
        fault = RequestFault(
            pointer="/query/parts",
            found=unknown[0][:80],
            problem=f"is one of {', '.join(Portion)}, {ALL}",
            example="parts=verdict,actions,plugs",
        )
        raise ProblemError(Kind.UNUSABLE, "There is no such portion of a report.", faults=[fault])
    return ",".join(given)


def asks_for_mending(portions: str) -> bool:
    """Tell whether what was asked for needs the joint mending, which takes longest by far."""
    names = portions.split(",") if portions else [*USUAL]
    return not {ALL, Portion.MENDING, Portion.PROPOSAL, Portion.ACTIONS}.isdisjoint(names)


def report_text(report: Report, portions: str) -> str:
    """Write what was asked for of a report."""
    names = portions.split(",") if portions else []
    if ALL in names:
        return portions_json(report, EVERY)
    return portions_json(report, frozenset(map(Portion, names)) or USUAL)


def model_text(model: BaseModel) -> str:
    """Write any answer on one line."""
    return str(model.model_dump_json()) + "\n"


def json_answer(text: str, **headers: str) -> Response:
    """Answer with a JSON text."""
    return Response(text, media_type="application/json", headers=headers or None)


class HeadAsGet:
    """Answers HEAD as GET, without the body: what can be read can be asked about."""

    def __init__(self, app: ASGIApp) -> None:
        """Wrap an app."""
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] != "http" or scope["method"] != "HEAD":
            await self._app(scope, receive, send)
            return

        async def bodiless(message: Message) -> None:
            scope["method"] = "HEAD"  # so that the server does not miss the body
            if message["type"] == "http.response.body":
                message = {**message, "body": b""}
            await send(message)

        scope["method"] = "GET"
        try:
            await self._app(scope, receive, bodiless)
        finally:
            scope["method"] = "HEAD"
