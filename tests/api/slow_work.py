"""Work for tests of the workers: slow, greedy, deadly, none. Found by name, as routes' work is."""

from __future__ import annotations

import os
import signal
import tempfile
import time

from starlette.responses import Response

from layoutcheck_service.envelope import read_check
from layoutcheck_service.work.job import Body


def echoed(body: Body) -> Response:
    """The body itself, and who answered."""
    return Response(body.read(), headers={"pid": str(os.getpid())}, media_type="text/plain")


def validated(body: Body) -> Response:
    """Read a check's body as a check does, every fault looked for, and judge nothing."""
    read_check(body.data())
    return Response(b'{"valid": true}\n', media_type="application/json")


def slept(body: Body, seconds: float) -> Response:
    """Take a time that no signal from Python shortens."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        time.sleep(0.01)
    return Response(body.read(), headers={"pid": str(os.getpid())})


def burned(body: Body, seconds: float) -> Response:
    """Use a processor for a while, with a file open, as a big reader would."""
    with tempfile.NamedTemporaryFile():
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            pass
    return Response(b"done")


def devoured(body: Body) -> Response:
    """Take more memory than one may."""
    held = []
    while True:
        held.append(bytearray(64 * 1024 * 1024))


def died(body: Body) -> Response:
    """Die as a crash in C does."""
    os.kill(os.getpid(), signal.SIGKILL)
    raise AssertionError("never reached")


def failed(body: Body) -> Response:
    """Fail with a text from the layout."""
    raise KeyError("secret-inner-text")
