"""/v1/bases: keep a layout for a while, then send only what changes in it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Request, Response
from fastapi import Path as InPath
from pydantic import BaseModel, ConfigDict, Field

from layoutcheck.document.faults import shown
from layoutcheck.report import Report, glance
from layoutcheck.report.portions import EVERY, portions_json
from layoutcheck_service.access import needs
from layoutcheck_service.answers import BODY_KINDS, json_body, problems
from layoutcheck_service.bases import Bases
from layoutcheck_service.body import answer_apart
from layoutcheck_service.changes import MOST, Operation, changed_layout
from layoutcheck_service.envelope import read_check
from layoutcheck_service.keys import Scope
from layoutcheck_service.problems import Kind, ProblemError, RequestFault
from layoutcheck_service.routes.checks import VERDICT, checked
from layoutcheck_service.small import Parts, asked_portions, model_text
from layoutcheck_service.work.job import Body

router = APIRouter(prefix="/v1/bases", tags=["checks"], dependencies=[needs(Scope.CHECK)])

_NAME = re.compile(r"[0-9a-f]{32}")
_GONE = "No layout is kept under this name; they are kept for a while only. Keep it again."


class Base(BaseModel):
    """A layout that is kept here for a while."""

    model_config = ConfigDict(extra="forbid")

    base: str = Field(
        description="The name to refer to it by.", examples=["3f2a91bc07de55aa3f2a91bc07de55aa"]
    )


class Changes(BaseModel):
    """What is changed in a layout that is kept; changes are done before merge."""

    model_config = ConfigDict(extra="forbid")

    changes: list[Operation] | None = Field(
        None,
        max_length=MOST,
        description="Changes, one after the other (JSON Patch, RFC 6902).",
    )
    merge: dict[str, object] | None = Field(
        None,
        description="What to lay over the layout (merge patch, RFC 7396): null takes out.",
        examples=[{"plugs": {"F1": "riser at 8 ft, jacket 12 in"}}],
    )


@router.post(
    "",
    operation_id="keepBase",
    summary="Keep a layout for a while, to send only changes to it",
    status_code=201,
    response_model=Base,
    response_description="It is kept; the least used gives way first.",
    responses=problems(*BODY_KINDS),
    openapi_extra=json_body("CheckRequest"),
)
async def post_base(request: Request) -> Response:
    """Keep a layout, its figures and its day. Only the owner of the key can refer to it."""
    return await answer_apart(request, _kept, *_where(request))


@router.post(
    "/{base}/checks",
    operation_id="checkChanges",
    summary="Judge a kept layout with changes",
    response_model=Report,
    response_description="The report of the changed layout; `changed` says what differs.",
    responses={200: VERDICT, **problems(*BODY_KINDS, Kind.NOT_FOUND)},
    openapi_extra=json_body("Changes"),
)
async def post_changes(
    request: Request,
    base: Annotated[str, InPath(description="The name that keeping it gave.")],
    parts: Parts = None,
) -> Response:
    """Judge a layout without sending it again. The kept layout stays as it was."""
    if not _NAME.fullmatch(base):
        raise ProblemError(Kind.NOT_FOUND, _GONE)
    return await answer_apart(request, _changed, asked_portions(request), base, *_where(request))


def _where(request: Request) -> tuple[str, str | None]:
    folder: Path = request.app.state.spool.folder
    return str(folder / "bases"), getattr(request.state, "owner", None)


def _kept(body: Body, folder: str, owner: str | None) -> Response:
    data = body.data()
    asked = read_check(data)
    report = portions_json(glance(asked.layout, pack=asked.pack, on=asked.on), EVERY)
    name = Bases(Path(folder), owner).keep(data, report)
    return Response(model_text(Base(base=name)), status_code=201, media_type="application/json")


def _changed(body: Body, portions: str, base: str, folder: str, owner: str | None) -> Response:
    kept = Bases(Path(folder), owner).get(base)
    if kept is None:
        raise ProblemError(Kind.NOT_FOUND, _GONE)
    data = body.data()
    known = isinstance(data, Mapping) and data.keys() <= Changes.model_fields.keys()
    if not known:
        detail = "The body is one object with 'changes', 'merge', or both; see each place."
        fault = RequestFault(
            pointer="",
            found=shown(data),
            problem="holds only 'changes' and 'merge'",
            example='{"merge": {"plugs": …}}',
        )
        raise ProblemError(Kind.UNUSABLE, detail, faults=[fault])
    layout = changed_layout(kept["body"]["layout"], data)
    asked = read_check({**kept["body"], "layout": layout})
    return checked(Report.model_validate(kept["report"]), asked, portions)
