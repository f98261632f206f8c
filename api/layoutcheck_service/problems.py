"""Errors as problem details (RFC 9457): one table of kinds, one way to write them."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from http import HTTPStatus

from pydantic import BaseModel, ConfigDict, Field
from starlette.responses import Response

from layoutcheck.document import Fault

PROBLEM_JSON = "application/problem+json"


class RequestFault(BaseModel):
    """One thing that is wrong with a request, said so that a person can mend it."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    pointer: str = Field(description="JSON Pointer (RFC 6901) to the place in the request body.")
    found: str = Field(description="What stands there, shortened.")
    problem: str = Field(description="What is wrong with it.")
    example: str = Field(description="A right value for the same place.")
    pack_pointer: str | None = Field(
        None, description="For a fault in the rule pack's text: the place inside the pack."
    )


class Problem(BaseModel):
    """Problem details as RFC 9457 asks, with the list of faults where there is one."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    type: str = Field(description="URN of the kind of problem.")
    title: str = Field(description="The kind in a few words; the same for every problem of it.")
    status: int = Field(description="HTTP status code.", ge=400, le=599)
    detail: str = Field(description="What happened this time, and what to do.")
    instance: str | None = Field(
        None, description="URN of this one event, also in the service's log (internal faults)."
    )
    faults: tuple[RequestFault, ...] | None = Field(
        None, description="Every fault found in the request, not only the first."
    )


@dataclass(frozen=True)
class KindOfProblem:
    """A kind of problem: the last part of its URN, its HTTP status and its title."""

    name: str
    status: HTTPStatus
    title: str


class Kind(Enum):
    """Every kind of problem the service answers with."""

    UNREADABLE = KindOfProblem(
        "unreadable-body", HTTPStatus.BAD_REQUEST, "The request body is not sound JSON"
    )
    NOT_FOUND = KindOfProblem("not-found", HTTPStatus.NOT_FOUND, "There is nothing here")
    WRONG_METHOD = KindOfProblem(
        "wrong-method", HTTPStatus.METHOD_NOT_ALLOWED, "This address does not take that method"
    )
    TOO_LARGE = KindOfProblem(
        "body-too-large", HTTPStatus.REQUEST_ENTITY_TOO_LARGE, "The request body is too large"
    )
    WRONG_TYPE = KindOfProblem(
        "wrong-content-type", HTTPStatus.UNSUPPORTED_MEDIA_TYPE, "The request body is not JSON"
    )
    NOT_A_FILE = KindOfProblem(
        "not-a-file", HTTPStatus.UNSUPPORTED_MEDIA_TYPE, "The request body is not a file's bytes"
    )
    UNUSABLE = KindOfProblem(
        "unusable-document", HTTPStatus.UNPROCESSABLE_ENTITY, "The document can not be used"
    )
    TOO_HEAVY = KindOfProblem(
        "too-heavy",
        HTTPStatus.REQUEST_ENTITY_TOO_LARGE,
        "The request asks for more work than one may",
    )
    TOO_SLOW = KindOfProblem(
        "body-too-slow", HTTPStatus.REQUEST_TIMEOUT, "The request body did not come in time"
    )
    NO_KEY = KindOfProblem(
        "no-valid-key", HTTPStatus.UNAUTHORIZED, "The request carries no valid API key"
    )
    NOT_ALLOWED = KindOfProblem(
        "not-allowed", HTTPStatus.FORBIDDEN, "The API key does not allow this"
    )
    WRONG_HOST = KindOfProblem(
        "wrong-host", HTTPStatus.MISDIRECTED_REQUEST, "The service does not go by that name"
    )
    SHARE_USED = KindOfProblem(
        "too-many-at-once", HTTPStatus.TOO_MANY_REQUESTS, "Too many requests at once"
    )
    BUSY = KindOfProblem("busy", HTTPStatus.SERVICE_UNAVAILABLE, "The service is busy")
    STOPPING = KindOfProblem(
        "not-serving", HTTPStatus.SERVICE_UNAVAILABLE, "The service starts or stops"
    )
    NO_RECORD = KindOfProblem(
        "no-record", HTTPStatus.NOT_FOUND, "This service keeps no record of sign-off"
    )
    RECORD_AWAY = KindOfProblem(
        "record-away", HTTPStatus.SERVICE_UNAVAILABLE, "The record can not be used just now"
    )
    RECORD_FAULT = KindOfProblem(
        "record-fault", HTTPStatus.INTERNAL_SERVER_ERROR, "The record is not as it should be"
    )
    INTERNAL = KindOfProblem(
        "internal-fault", HTTPStatus.INTERNAL_SERVER_ERROR, "Fault inside layoutcheck"
    )


class ProblemError(Exception):
    """Raised where a request ends in a problem; the app turns it into the answer."""

    def __init__(
        self,
        kind: Kind,
        detail: str,
        *,
        faults: Sequence[RequestFault] | None = None,
        headers: Mapping[str, str] | None = None,
    ) -> None:
        """Keep what the answer says, in its body and in its headers."""
        super().__init__(detail)
        self.kind = kind
        self.problem = problem_of(kind, detail, faults=faults)
        self.headers = headers


def refusal(kind: Kind, detail: str, *, seconds: float) -> ProblemError:
    """Make the refusal of a request that may come again. seconds: after how long."""
    after = max(1, min(60, math.ceil(seconds)))
    return ProblemError(kind, detail, headers={"Retry-After": str(after)})


def problem_of(
    kind: Kind,
    detail: str,
    *,
    faults: Sequence[RequestFault] | None = None,
    instance: str | None = None,
) -> Problem:
    """Make the problem details of a kind."""
    return Problem(
        type=f"urn:layoutcheck:problem:{kind.value.name}",
        title=kind.value.title,
        status=int(kind.value.status),
        detail=detail,
        instance=instance,
        faults=None if faults is None else tuple(faults),
    )


def plain_problem(status: int, detail: str) -> Problem:
    """Make the problem details of a status that has no kind of its own (RFC 9457, 4.2.1)."""
    phrase = HTTPStatus(status).phrase
    return Problem(type="about:blank", title=phrase, status=status, detail=detail or phrase)


def problem_response(problem: Problem, headers: Mapping[str, str] | None = None) -> Response:
    """Write a problem as an HTTP answer."""
    return Response(
        json.dumps(problem_data(problem), separators=(",", ":"))
        + "\n",  # ASCII: any text can be sent
        status_code=problem.status,
        headers=None if headers is None else dict(headers),
        media_type=PROBLEM_JSON,
    )


def problem_data(problem: Problem) -> dict[str, object]:
    """Give a problem as JSON data, without the members that are not there."""
    return problem.model_dump(mode="python", exclude_none=True)


def moved_under(prefix: str, faults: Sequence[Fault]) -> list[RequestFault]:
    """Give a document's faults with their places seen from the request body."""
    return [
        RequestFault(
            pointer=prefix + f.pointer, found=f.found, problem=f.problem, example=f.example
        )
        for f in faults
    ]


def inside_pack(pointer: str, faults: Sequence[Fault]) -> list[RequestFault]:
    """Give a pack's faults: in the body the pack is one text, so its own places stand apart."""
    return [
        RequestFault(
            pointer=pointer,
            found=f.found,
            problem=f.problem,
            example=f.example,
            pack_pointer=f.pointer,
        )
        for f in faults
    ]
