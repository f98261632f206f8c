"""Read a request body: of the one type asked for, never more than the limit, strictly parsed."""

from __future__ import annotations

from collections.abc import Callable
from email.message import Message

import anyio.to_thread
from starlette.requests import Request
from starlette.responses import Response

from layoutcheck.document import LayoutFaults, read_text
from layoutcheck_service.problems import Kind, ProblemError, moved_under

JSON = "application/json"
FILE = "application/octet-stream"


async def read_body(request: Request, *, limit: int, content_type: str = JSON) -> bytes:
    """Give the body's bytes. Raises ProblemError for a wrong type and for more than `limit`."""
    _refuse_other_types(request, content_type)
    stated = request.headers.get("content-length", "")
    if stated.isascii() and stated.isdigit() and int(stated[:20]) > limit:
        raise _too_large(limit)
    chunks: list[bytes] = []
    size = 0
    async for chunk in request.stream():
        size += len(chunk)
        if size > limit:
            raise _too_large(limit)
        chunks.append(chunk)
    return b"".join(chunks)


async def answer_apart(request: Request, answer: Callable[[bytes], Response]) -> Response:
    """Read a JSON body and work its answer out in a thread of its own.

    An answer is all arithmetic: apart, so that other requests are served meanwhile.
    """
    state = request.app.state
    body = await read_body(request, limit=state.settings.max_body_bytes)
    return await anyio.to_thread.run_sync(answer, body, limiter=state.limiter)


def parse_body(body: bytes) -> object:
    """Parse JSON strictly: no repeated names, no NaN. Raises ProblemError."""
    try:
        return read_text(body)
    except LayoutFaults as error:
        raise ProblemError(
            Kind.UNREADABLE,
            "Send one JSON text in UTF-8, without repeated names and without NaN.",
            faults=moved_under("", error.faults),
        ) from None


def _refuse_other_types(request: Request, wanted: str) -> None:
    header = Message()
    header["content-type"] = request.headers.get("content-type", "")
    # A missing or unsound type reads as text/plain.
    kind, charset = header.get_content_type(), header.get_param("charset", "utf-8")
    problem = Kind.WRONG_TYPE if wanted == JSON else Kind.NOT_A_FILE
    if kind != wanted or str(charset).lower() not in {"utf-8", "us-ascii"}:
        raise ProblemError(problem, f"Send the body as content type {wanted}.")
    if request.headers.get("content-encoding", "identity").lower() != "identity":
        raise ProblemError(problem, "Send the body plain, without a content encoding.")


def _too_large(limit: int) -> ProblemError:
    return ProblemError(Kind.TOO_LARGE, f"The service reads bodies of up to {limit} bytes.")
