"""Read a request body: of the one type asked for, never more than the limit, and not too slowly."""

from __future__ import annotations

import asyncio
import contextlib
import json
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from email.message import Message
from functools import cached_property
from pathlib import Path
from typing import IO

import anyio.to_thread
from starlette.requests import ClientDisconnect, Request
from starlette.responses import Response

from layoutcheck_service.jobs import Jobs
from layoutcheck_service.problems import Kind, ProblemError, refusal
from layoutcheck_service.settings import Settings
from layoutcheck_service.work.engine import Engine
from layoutcheck_service.work.job import Answerer, Job, Plain, name_of

JSON = "application/json"
FILE = "application/octet-stream"
FORM = "multipart/form-data"
NDJSON = "application/x-ndjson"

# A body up to this size is kept in memory (bytes); so are at most so many of a larger one.
_IN_MEMORY = 256 * 1024


class Spool:
    """The folder in which large bodies wait, and how much of the disk they may take together."""

    def __init__(self, parent: Path | None, most: int) -> None:
        """parent: where the folder is made. most: bytes of all its files."""
        self._parent = parent
        self._most = most
        self._used = 0

    @cached_property
    def folder(self) -> Path:
        """The folder, which only this user can read. It goes when the service ends."""
        self._made = tempfile.TemporaryDirectory(prefix="layoutcheck-", dir=self._parent)
        return Path(self._made.name)

    @contextlib.contextmanager
    def file(self) -> Iterator[SpoolFile]:
        """Give a new file that is gone afterwards."""
        with tempfile.NamedTemporaryFile(dir=self.folder, prefix="body-", delete=False) as opened:
            made = SpoolFile(self, Path(opened.name), opened.file)
            try:
                yield made
            finally:
                made.path.unlink(missing_ok=True)
                self._used -= made.size

    def claim(self, size: int) -> None:
        """Count bytes before they are written. Raises ProblemError where there is no room."""
        if self._used + size > self._most:
            raise refusal(Kind.BUSY, "Too many large bodies are on their way.", seconds=5)
        self._used += size

    def clear(self) -> None:
        """Remove the folder with all that is in it."""
        if "folder" in self.__dict__:
            self._made.cleanup()
            del self.folder


@dataclass
class SpoolFile:
    """One body on disk."""

    spool: Spool
    path: Path
    opened: IO[bytes]
    size: int = 0

    async def write(self, data: bytes) -> None:
        """Write without holding up others."""
        self.spool.claim(len(data))
        self.size += len(data)
        await anyio.to_thread.run_sync(self.opened.write, data)


async def answer_apart(
    request: Request,
    answer: Answerer,
    *args: Plain,
    limit: int | None = None,
    content_type: str = JSON,
    long: bool = False,
) -> Response:
    """Read a body and have its answer worked out in another process.

    answer: a function at the top of a module; it gets the body, and then args. limit: bytes of the
    body; that of JSON bodies if None. long: the work may take many seconds, and must not hold every
    worker. It ends when the client leaves, but where it is long and asked for without waiting.
    Raises ProblemError, InnerFault, and ClientDisconnect.
    """
    state = request.app.state
    settings: Settings = state.settings
    engine: Engine = state.engine
    owner = getattr(request.state, "owner", None)
    _refuse_other_types(request, content_type)
    most = settings.max_body_bytes if limit is None else limit
    _refuse_stated_length(request, most)
    engine.refuse_early(owner, long=long)
    async with contextlib.AsyncExitStack() as held:
        body, file = await _in_time(request, most, held)
        job = Job(name_of(answer), args, body, file, long)
        if long and _prefers_later(request):
            return _begun(request, job, owner, held.pop_all())
        return await while_there(request, engine, job, owner)


async def body_in_memory(request: Request, content_type: str, most: int) -> bytes:
    """Read a body of one type, up to so many bytes. Raises ProblemError and ClientDisconnect."""
    _refuse_other_types(request, content_type)
    _refuse_stated_length(request, most)
    async with contextlib.AsyncExitStack() as held:
        body, file = await _in_time(request, most, held)
        return body if file is None else await anyio.to_thread.run_sync(Path(file).read_bytes)


async def _in_time(
    request: Request, most: int, held: contextlib.AsyncExitStack
) -> tuple[bytes, str | None]:
    settings: Settings = request.app.state.settings
    try:
        async with asyncio.timeout(settings.body_seconds):
            return await _received(request, most, request.app.state.spool, held)
    except TimeoutError:
        detail = f"The body did not come within {settings.body_seconds:g} s."
        raise ProblemError(Kind.TOO_SLOW, detail, headers={"Connection": "close"}) from None


def _prefers_later(request: Request) -> bool:
    """Tell whether the caller would rather not wait (RFC 7240, 4.1)."""
    given = ",".join(request.headers.getlist("prefer")).lower()
    return "respond-async" in {one.partition(";")[0].strip() for one in given.split(",")}


def _begun(
    request: Request, job: Job, owner: str | None, held: contextlib.AsyncExitStack
) -> Response:
    jobs: Jobs = request.app.state.jobs
    name = jobs.begin(request.app.state.engine, job, owner, held)
    text = json.dumps({"job": name, "state": "working", "status": None}, separators=(",", ":"))
    headers = {"Location": f"/v1/jobs/{name}", "Preference-Applied": "respond-async"}
    return Response(text + "\n", 202, headers=headers, media_type=JSON)


async def while_there(request: Request, engine: Engine, job: Job, owner: str | None) -> Response:
    """Have a job done, as long as the client waits for it. Raises ClientDisconnect."""
    work = asyncio.ensure_future(engine.run(job, owner=owner))
    gone = asyncio.ensure_future(_left(request))
    try:
        await asyncio.wait((work, gone), return_when=asyncio.FIRST_COMPLETED)
        if not work.done():
            raise ClientDisconnect
        return (await work).response()
    finally:
        work.cancel()
        gone.cancel()
        await asyncio.wait((work, gone))


async def _left(request: Request) -> None:
    while (await request.receive())["type"] != "http.disconnect":
        pass


async def _received(
    request: Request, most: int, spool: Spool, held: contextlib.AsyncExitStack
) -> tuple[bytes, str | None]:
    """Read the body into memory, or into a file that goes when `held` is closed."""
    chunks: list[bytes] = []
    size = pending = 0
    file: SpoolFile | None = None
    async for chunk in request.stream():
        size += len(chunk)
        pending += len(chunk)
        if size > most:
            raise _too_large(most)
        chunks.append(chunk)
        if pending > _IN_MEMORY:
            file = file or held.enter_context(spool.file())
            await file.write(b"".join(chunks))
            chunks, pending = [], 0
    if file is None:
        return b"".join(chunks), None
    await file.write(b"".join(chunks))
    file.opened.flush()
    return b"", str(file.path)


def _refuse_other_types(request: Request, wanted: str) -> None:
    given = request.headers.get("content-type", "")
    if given != wanted:
        header = Message()
        header["content-type"] = given
        # A missing or unsound type reads as text/plain.
        kind, charset = header.get_content_type(), header.get_param("charset", "utf-8")
        if kind != wanted or str(charset).lower() not in {"utf-8", "us-ascii"}:
            raise _wrong_type(wanted, f"Send the body as content type {wanted}.")
    if request.headers.get("content-encoding", "identity").lower() != "identity":
        raise _wrong_type(wanted, "Send the body plain, without a content encoding.")


def _wrong_type(wanted: str, detail: str) -> ProblemError:
    return ProblemError(Kind.WRONG_TYPE if wanted == JSON else Kind.NOT_A_FILE, detail)


def _refuse_stated_length(request: Request, most: int) -> None:
    stated = request.headers.get("content-length", "")
    if stated.isascii() and stated.isdigit() and int(stated[:20]) > most:
        raise _too_large(most)


def _too_large(limit: int) -> ProblemError:
    return ProblemError(Kind.TOO_LARGE, f"The service reads bodies of up to {limit} bytes.")
