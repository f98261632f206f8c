"""What runs inside a worker: one job after the other until the service goes away."""

from __future__ import annotations

import contextlib
import signal
import socket
import sys
import tempfile
import traceback
from pathlib import Path
from typing import Any

from layoutcheck_service.limits import Limits
from layoutcheck_service.problems import Kind, ProblemError, problem_of, problem_response
from layoutcheck_service.work import wire
from layoutcheck_service.work.job import Answer, Job


def run(end: socket.socket, limits: Limits, memory: int, folder: str) -> None:
    """Answer jobs that come over a socket, until the other side has gone.

    limits: those on the shape of a JSON body. memory: bytes it may take on top of what it has now.
    folder: for its files; whoever kills this process clears it away.
    """
    # Stopping is the service's business: a Ctrl-C in a terminal reaches every process of it.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    from layoutcheck_service.work import warm  # noqa: PLC0415 - forked: loaded long since

    tempfile.tempdir = folder
    _hold_memory(memory)
    with end, contextlib.suppress(ConnectionError):
        wire.send(end, {"fault": warm.FAULT})
        while (frame := wire.receive(end)) is not None:
            head, body = _answered(*frame, limits)
            wire.send(end, head, body)


def _answered(head: dict[str, Any], body: bytes, limits: Limits) -> tuple[dict[str, Any], bytes]:
    job = Job(head["function"], tuple(head["args"]), body, head["file"])
    try:
        answer = Answer.of(job.done(limits))
    except ProblemError as error:
        answer = Answer.of(problem_response(error.problem, error.headers))
    except MemoryError:
        detail = "The work on this request takes more memory than the service gives to one."
        answer = Answer.of(problem_response(problem_of(Kind.TOO_HEAVY, detail)))
        return {**_head(answer), "spent": True}, answer.body
    except Exception as error:
        return {"fault": type(error).__name__, "told": told(error), "text": str(error)}, b""
    return _head(answer), answer.body


def _head(answer: Answer) -> dict[str, Any]:
    headers = [[k.decode("latin-1"), v.decode("latin-1")] for k, v in answer.headers]
    return {"status": answer.status, "headers": headers}


def told(error: BaseException) -> list[str]:
    """Say where an error arose, without its text, which may hold parts of a layout."""
    frames = traceback.extract_tb(error.__traceback__)
    return [f"{Path(f.filename).name}:{f.lineno} {f.name}" for f in frames]


def _hold_memory(allowance: int) -> None:
    """Set the most memory this process may have: what it has, and the allowance."""
    if sys.platform != "linux":  # elsewhere there is no plain way to know what it has
        return
    import resource  # noqa: PLC0415 - not on every system

    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0])
    most = pages * resource.getpagesize() + allowance
    _, hard = resource.getrlimit(resource.RLIMIT_AS)
    if hard != resource.RLIM_INFINITY:
        most = min(most, hard)
    resource.setrlimit(resource.RLIMIT_AS, (most, hard))
