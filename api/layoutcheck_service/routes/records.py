"""/v1/records: record what was agreed, read it, and find out whether it was changed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response
from fastapi import Path as InPath
from pydantic import BaseModel, ConfigDict, Field

from layoutcheck.document import LayoutFaults
from layoutcheck.record import Ledger
from layoutcheck.record.chain import NOTED, UnsoundHash, noted_hash
from layoutcheck.record.ledger import nothing_yet
from layoutcheck.record.making import Agreed, draft_of, layout_as_json, read_signer
from layoutcheck.record.model import (
    RecordDetail,
    Recorded,
    RecordPage,
    Verification,
    detail_of,
    page_of,
)
from layoutcheck.record.problems import (
    NoRecord,
    RecordDamaged,
    RecordProblem,
    RecordUnsure,
)
from layoutcheck_service.access import needs
from layoutcheck_service.answers import BODY_KINDS, WORK_KINDS, json_body, problems, schema_ref
from layoutcheck_service.body import answer_apart, while_there
from layoutcheck_service.envelope import CheckRequest, read_check
from layoutcheck_service.keys import Scope
from layoutcheck_service.problems import Kind, ProblemError, RequestFault, moved_under, refusal
from layoutcheck_service.routes.checks import VERDICT_HEADER
from layoutcheck_service.small import json_answer, model_text
from layoutcheck_service.work.job import Answerer, Body, Job, Plain, name_of

router = APIRouter(prefix="/v1/records", tags=["records"])

_READ = [needs(Scope.RECORDS_READ)]
_WRITE = [needs(Scope.RECORDS_WRITE)]
# The largest number that both databases hold.
_LARGEST = 2**31 - 1
_RECORD_KINDS = (Kind.NO_RECORD, Kind.RECORD_AWAY, Kind.RECORD_FAULT)
_READ_KINDS = (*WORK_KINDS, *_RECORD_KINDS)
_SIGNER = '{"name": "A. Miller", "role": "site supervisor", "note": "as agreed on site"}'


class SignerPart(BaseModel):
    """Who signs, as stated. The record does not prove it; it keeps the name of the key as well."""

    model_config = ConfigDict(extra="forbid")

    name: str = Field(min_length=1, max_length=200, examples=["A. Miller (invented)"])
    role: str = Field("", max_length=200, examples=["site supervisor"])
    note: str = Field("", max_length=2000, examples=["as agreed on site"])


class RecordRequest(CheckRequest):
    """Body of a recording: what a check takes, and who signs. The report is made here and now."""

    signer: SignerPart


@router.post(
    "",
    operation_id="recordSignOff",
    summary="Check a layout and record the sign-off",
    status_code=201,
    response_model=Recorded,
    response_description="The entry is kept, whatever its verdict.",
    responses={
        201: {
            "headers": {
                "Location": {
                    "description": "Where the entry is.",
                    "required": True,
                    "schema": {"type": "string"},
                },
                VERDICT_HEADER: {
                    "description": "The report's verdict.",
                    "required": True,
                    "schema": schema_ref("Verdict"),
                },
            }
        },
        **problems(*BODY_KINDS, *_RECORD_KINDS),
    },
    openapi_extra=json_body("RecordRequest"),
    dependencies=_WRITE,
)
async def post_record(request: Request) -> Response:
    """Keep layout, figures, report, who and when as the next entry of the chain.

    Once this answers 201 the entry is on disk. Where no answer comes, list the entries before you
    try again: it may be there. Recording is not a permit.
    """
    owner = getattr(request.state, "owner", None)
    return await answer_apart(request, _recorded, _where(request), owner)


@router.get(
    "",
    operation_id="listRecords",
    summary="List entries, the newest first",
    response_model=RecordPage,
    responses=problems(*_READ_KINDS),
    dependencies=_READ,
)
async def list_records(
    request: Request,
    before: Annotated[int | None, Query(ge=1, le=_LARGEST)] = None,
    limit: Annotated[int, Query(ge=1, le=500)] = 50,
) -> Response:
    """Give a page of entries without their texts. `next` leads to the page after it."""
    return await _done(request, _page, before, limit)


@router.get(
    "/verify",
    operation_id="verifyRecords",
    summary="Find out whether any entry was changed",
    response_model=Verification,
    response_description="What was found, whatever it is: read `whole`.",
    responses=problems(*_READ_KINDS),
    dependencies=_READ,
)
async def verify_records(
    request: Request,
    head: Annotated[
        str | None,
        Query(
            max_length=200,
            description="A hash noted before, in full or shortened.",
            examples=["3f2a91bc3f2a91bc3f2a91bc3f2a91bc3f2a91bc"],
            # Read by hand, for a fault that says more than a pattern does.
            json_schema_extra={"pattern": NOTED},
        ),
    ] = None,
) -> Response:
    """Walk the whole chain. Only a hash noted elsewhere shows that its end was cut off."""
    return await _done(request, _verified, head)


@router.get(
    "/{number}",
    operation_id="showRecord",
    summary="Show an entry with the texts that it keeps",
    response_model=RecordDetail,
    responses=problems(*_READ_KINDS, Kind.NOT_FOUND),
    dependencies=_READ,
)
async def show_record(
    request: Request, number: Annotated[int, InPath(ge=1, le=_LARGEST)]
) -> Response:
    """Give one entry, with layout, figures and report to the byte."""
    return await _done(request, _detail, number)


async def _done(request: Request, answer: Answerer, *args: Plain) -> Response:
    job = Job(name_of(answer), (_where(request), *args))
    owner = getattr(request.state, "owner", None)
    return await while_there(request, request.app.state.engine, job, owner)


def _where(request: Request) -> str:
    where: str | None = request.app.state.settings.record
    if not where:
        detail = "Who runs this service has not set LAYOUTCHECK_RECORD."
        raise ProblemError(Kind.NO_RECORD, detail)
    return where


# --- done in a worker ---------------------------------------------------------------------------


def _recorded(body: Body, where: str, owner: str | None) -> Response:
    data = body.data()
    agreed = _agreed(data, owner)
    draft, report = draft_of(agreed)
    with _record_problems():
        kept = Ledger(where).append(draft)
    return Response(
        model_text(Recorded.of(kept)),
        status_code=201,
        media_type="application/json",
        headers={
            "Location": f"{router.prefix}/{kept.entry.sequence}",
            VERDICT_HEADER: report.verdict.value,
        },
    )


def _agreed(data: object, owner: str | None) -> Agreed:
    """Read the body. Raises ProblemError with the faults of all its parts."""
    if not isinstance(data, Mapping):
        read_check(data)  # says what is wrong with it
        raise AssertionError
    faults: list[RequestFault] = []
    try:
        asked = read_check({k: v for k, v in data.items() if k != "signer"})
        text = layout_as_json(data["layout"])
    except ProblemError as error:
        faults += error.problem.faults or ()
    except LayoutFaults as error:
        faults += moved_under("/layout", error.faults)
    signer = data.get("signer")
    if not isinstance(signer, Mapping):
        problem = "says who signs: an object with name, role and note"
        found = "nothing" if "signer" not in data else "not an object"
        faults.append(
            RequestFault(pointer="/signer", found=found, problem=problem, example=_SIGNER)
        )
        signer = {"name": "-"}
    try:
        signed = read_signer(signer, key=owner)
    except LayoutFaults as error:
        faults += moved_under("/signer", error.faults)
    if faults:
        detail = "Each fault is listed with its place, what was found and a right example."
        raise ProblemError(Kind.UNUSABLE, detail, faults=faults)
    pack = data.get("pack")
    return Agreed(asked.layout, text, "json", pack, asked.on, signed)


def _page(body: Body, where: str, before: int | None, limit: int) -> Response:
    with _record_problems():
        try:
            found = Ledger(where).newest(before=before, limit=limit)
        except NoRecord:
            found = []
    return _answer(page_of(found))


def _detail(body: Body, where: str, number: int) -> Response:
    with _record_problems():
        try:
            ledger = Ledger(where)
            kept = ledger.get(number)
        except NoRecord:
            kept = None
        if kept is None:
            raise ProblemError(Kind.NOT_FOUND, f"There is no entry {number}.")
        return _answer(detail_of(kept, ledger.text))


def _verified(body: Body, where: str, head: str | None) -> Response:
    try:
        noted = [] if head is None else [noted_hash(head)]
    except UnsoundHash as problem:
        fault = RequestFault(
            pointer="/query/head", found="a text", problem=str(problem), example="3f2a 91bc …"
        )
        raise ProblemError(Kind.UNUSABLE, "The noted hash is none.", faults=[fault]) from None
    with _record_problems():
        try:
            found = Ledger(where).verify(noted)
        except NoRecord:
            found = nothing_yet(noted)
        return _answer(Verification.of(found))


@contextmanager
def _record_problems() -> Iterator[None]:
    try:
        yield
    except (RecordDamaged, RecordUnsure) as problem:
        raise ProblemError(Kind.RECORD_FAULT, problem.public) from None
    except RecordProblem as problem:
        raise refusal(Kind.RECORD_AWAY, problem.public, seconds=5) from None


def _answer(model: BaseModel) -> Response:
    return json_answer(model_text(model))
