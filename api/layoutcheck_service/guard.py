"""The outermost layer: safe headers on every answer, and no inner text in any of them."""

from __future__ import annotations

import logging
import uuid

from starlette.datastructures import MutableHeaders
from starlette.requests import ClientDisconnect
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from layoutcheck_service.problems import Kind, problem_of, problem_response

_LOG = logging.getLogger("layoutcheck_service")

# A route may set any of these otherwise; the page, for one, needs scripts of its own.
_HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    # A layout may be confidential, so no copy of an answer is kept on the way.
    "Cache-Control": "no-store",
}


class Guard:
    """Wraps the whole app as ASGI middleware."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request; an unforeseen error becomes a plain internal-fault problem."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        started = False

        async def send_guarded(message: Message) -> None:
            nonlocal started
            if message["type"] == "http.response.start":
                started = True
                headers = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        try:
            await self._app(scope, receive, send_guarded)
        except ClientDisconnect:
            _LOG.info("the client left before its request was whole")
        except Exception:
            event = uuid.uuid4().urn
            _LOG.exception("internal fault %s", event)
            if started:
                raise  # half an answer can only be cut off
            problem = problem_of(
                Kind.INTERNAL,
                "The request was not judged. Nothing in it counts as checked.",
                instance=event,
            )
            await problem_response(problem)(scope, receive, send_guarded)
