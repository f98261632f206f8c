"""/v1/watches: let a second phone follow a freeze, read-only. Nothing is judged here."""

from __future__ import annotations

import json
import re
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response
from fastapi import Path as InPath
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from layoutcheck.document.faults import at_most
from layoutcheck.document.read import faults_of
from layoutcheck_service.access import needs
from layoutcheck_service.answers import BODY_KINDS, json_body, problems
from layoutcheck_service.body import answer_apart
from layoutcheck_service.keys import Scope
from layoutcheck_service.problems import Kind, ProblemError, moved_under, refusal
from layoutcheck_service.watches import Kept, NoRoom, TooMuch, Watches, WrongSecret
from layoutcheck_service.work.job import Body

router = APIRouter(prefix="/v1/watches", tags=["watches"], dependencies=[needs(Scope.CHECK)])

_NAME = re.compile(r"[0-9a-f]{32}")
_MOST = 20_000
_NONE = (
    "There is no watch of this name that you may use. A watch is forgotten some hours after its "
    "phone was last heard."
)
_Name = Annotated[
    str, InPath(description="32 digits of base 16, made at random by the phone that writes.")
]


class WatchEntry(BaseModel):
    """One entry of a phone's log. Only its id is looked at; the rest is passed on as it is."""

    model_config = ConfigDict(extra="allow")

    id: str = Field(min_length=1, max_length=200)


class WatchPost(BaseModel):
    """Body of a posting: what is new on the phone that keeps the log."""

    model_config = ConfigDict(extra="forbid")

    secret: str = Field(
        min_length=16, max_length=200, description="The first posting's: others need the same."
    )
    now: float = Field(ge=0, le=1e15, description="The phone's own clock, ms.")
    plan: dict[str, Any] | None = Field(
        None, description="What POST /v1/handouts/watch-plan.json gave; once is enough."
    )
    entries: list[WatchEntry] = Field(max_length=_MOST)


class WatchKept(BaseModel):
    """How much of a watch is kept here; less than was sent: send all again."""

    entries: int
    plan: bool


class WatchPage(BaseModel):
    """A watch as it is known here. plan is given with the first entries alone."""

    plan: dict[str, Any] | None
    entries: list[WatchEntry]
    next: int = Field(description="Number of entries so far: ask for what comes after them.")
    now: float = Field(description="The writing phone's own clock when it was last heard, ms.")
    age: float = Field(description="How long ago that was, s.")


@router.post(
    "/{name}",
    operation_id="postWatch",
    summary="Add to a watch that a second phone follows",
    response_model=WatchKept,
    responses=problems(*BODY_KINDS, Kind.NOT_FOUND),
    openapi_extra=json_body("WatchPost"),
)
async def post_watch(request: Request, name: _Name) -> Response:
    """Keep entries for a second phone. An entry sent twice is kept once, and never changes.

    It is kept in memory, for some hours, within the limits of the service's settings: no record.
    """
    if not _NAME.fullmatch(name):
        raise ProblemError(Kind.NOT_FOUND, _NONE)
    sound = await answer_apart(request, _read)
    watches: Watches = request.app.state.watches
    try:
        kept = watches.add(name, json.loads(bytes(sound.body)))
    except WrongSecret:
        raise ProblemError(Kind.NOT_FOUND, _NONE) from None
    except TooMuch:
        raise ProblemError(
            Kind.TOO_LARGE, "A watch may hold no more than it does. It goes on on its phone."
        ) from None
    except NoRoom:
        raise refusal(Kind.BUSY, "As many freezes are followed as may be.", seconds=60) from None
    return _answer(WatchKept(entries=len(kept.entries), plan=kept.plan is not None))


@router.get(
    "/{name}",
    operation_id="followWatch",
    summary="Follow a freeze, read-only",
    response_model=WatchPage,
    responses=problems(Kind.NO_KEY, Kind.NOT_ALLOWED, Kind.UNUSABLE, Kind.NOT_FOUND, Kind.INTERNAL),
)
async def follow_watch(
    request: Request, name: _Name, after: Annotated[int, Query(ge=0, le=2**31 - 1)] = 0
) -> Response:
    """Give what the writing phone has sent, from an entry on, and how long ago it was heard."""
    watches: Watches = request.app.state.watches
    found = watches.get(name)
    if found is None:
        raise ProblemError(Kind.NOT_FOUND, _NONE)
    return _answer(_page(*found, after))


def _page(kept: Kept, age: float, after: int) -> WatchPage:
    entries = [WatchEntry.model_validate(e) for e in list(kept.entries.values())[after:]]
    return WatchPage(
        plan=None if after or kept.plan is None else dict(kept.plan),
        entries=entries,
        next=len(kept.entries),
        now=kept.sent,
        age=round(age, 3),
    )


def _answer(model: BaseModel) -> Response:
    return Response(model.model_dump_json() + "\n", media_type="application/json")


# --- done in a worker ---------------------------------------------------------------------------


def _read(body: Body) -> Response:
    data = body.data()
    try:
        sound = WatchPost.model_validate(data)
    except ValidationError as error:
        faults = moved_under("", at_most(faults_of(error, data)))
        detail = "Each fault is listed with its place, what was found and a right example."
        raise ProblemError(Kind.UNUSABLE, detail, faults=faults) from None
    return _answer(sound)
