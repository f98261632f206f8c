"""The outermost layer: for every request an id, safe headers, a line in the log, and its count.

No answer that leaves here holds any inner text.
"""

from __future__ import annotations

import logging
import re
import time
import uuid
from dataclasses import dataclass

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import ClientDisconnect
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from layoutcheck_service.deprecated import deprecation_headers
from layoutcheck_service.metrics import Metrics
from layoutcheck_service.problems import Kind, ProblemError, problem_of, problem_response, refusal
from layoutcheck_service.settings import Settings

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

REQUEST_ID = "X-Request-ID"
_SOUND_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{7,63}")
# Asked by whoever watches over the service, by any name and also when it is busy: a service that
# was restarted for being busy would serve nobody.
_PROBES = frozenset({"/health", "/ready"})
# The status that is logged where a client left before its answer; it is never sent.
_LEFT = 499


@dataclass
class Exchange:
    """One request and how far its answer has come."""

    scope: Scope
    send: Send
    request_id: str
    start: float
    status: int = 0

    async def guarded(self, message: Message) -> None:
        """Send a message of the answer; its start gets the headers that every answer has."""
        if message["type"] == "http.response.start":
            self.status = message["status"]
            headers = MutableHeaders(scope=message)
            for name, value in _HEADERS.items():
                headers.setdefault(name, value)
            headers[REQUEST_ID] = self.request_id
            for name, value in deprecation_headers(self.route).items():
                headers[name] = value
        await self.send(message)

    @property
    def route(self) -> str:
        """The address as it is declared: the one that was asked for may hold a file's name."""
        return str(getattr(self.scope.get("route"), "path", "none"))


class Guard:
    """Wraps the whole app as ASGI middleware."""

    def __init__(self, app: ASGIApp, *, settings: Settings, metrics: Metrics) -> None:
        """Settings give the host names and the most requests in hand."""
        self._app = app
        self._hosts = frozenset(name.lower() for name in settings.allowed_hosts)
        self._most_open = settings.max_open
        self._metrics = metrics
        self._open = 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request; an unforeseen error becomes a plain internal-fault problem."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        exchange = Exchange(scope, send, _request_id(headers), time.perf_counter())
        scope.setdefault("state", {})["request_id"] = exchange.request_id
        self._open += 1
        try:
            await self._served(exchange, headers, receive)
        finally:
            self._open -= 1
            self._note(exchange)

    async def _served(self, exchange: Exchange, headers: Headers, receive: Receive) -> None:
        scope, send = exchange.scope, exchange.guarded
        try:
            if scope["path"] not in _PROBES:
                self._refuse(headers)
            await self._app(scope, receive, send)
        except ProblemError as error:
            await problem_response(error.problem, error.headers)(scope, receive, send)
        except ClientDisconnect:
            exchange.status = _LEFT
        except Exception:
            event = uuid.uuid4().urn
            _LOG.exception("internal fault %s", event, extra={"request_id": exchange.request_id})
            if exchange.status:
                raise  # half an answer can only be cut off
            detail = "The request was not judged. Nothing in it counts as checked."
            problem = problem_of(Kind.INTERNAL, detail, instance=event)
            await problem_response(problem)(scope, receive, send)

    def _refuse(self, headers: Headers) -> None:
        if self._hosts and _host_name(headers.get("host", "")) not in self._hosts:
            detail = "Ask for it by a name that it has; LAYOUTCHECK_ALLOWED_HOSTS gives it others."
            raise ProblemError(Kind.WRONG_HOST, detail)
        if self._open > self._most_open:
            detail = "More requests are in hand than the service takes. Nothing was judged."
            raise refusal(Kind.BUSY, detail, seconds=1)

    def _note(self, exchange: Exchange) -> None:
        scope, seconds = exchange.scope, time.perf_counter() - exchange.start
        status = exchange.status or _LEFT
        self._metrics.answered(exchange.route, _method(scope), status, seconds=seconds)
        if _LOG.isEnabledFor(logging.INFO):
            _LOG.info(
                "request",
                extra={
                    "request_id": exchange.request_id,
                    "method": _method(scope),
                    "route": exchange.route,
                    "status": status,
                    "seconds": round(seconds, 4),
                    "owner": scope["state"].get("owner"),
                },
            )


def _request_id(headers: Headers) -> str:
    """Take the id that a caller or a proxy gave, where it is a plain one; else make one."""
    given = headers.get(REQUEST_ID, "")
    return given if _SOUND_ID.fullmatch(given) else uuid.uuid4().hex


def _method(scope: Scope) -> str:
    """Give the method; a made-up one would make a new row of numbers each time."""
    known = {"GET", "POST", "HEAD", "OPTIONS", "PUT", "DELETE", "PATCH"}
    return scope["method"] if scope["method"] in known else "other"


def _host_name(host: str) -> str:
    """Give the name in a Host header, without its port."""
    name, _, port = host.rpartition(":")
    return (name if port.isdigit() and name else host).lower()
