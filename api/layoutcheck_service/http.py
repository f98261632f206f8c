"""The server's own limits on connections, and how it stops.

What uvicorn leaves open: a connection that never sends a whole head, or never takes its answer,
stays for ever, and heads may be of any length. Here they are closed.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any
from urllib.parse import urlsplit

import uvicorn
from fastapi import FastAPI
from uvicorn.protocols.http.httptools_impl import HttpToolsProtocol

from layoutcheck_service.settings import Settings
from layoutcheck_service.work.engine import Engine

# An address of up to 64 kB is read, and headers besides.
_LONGEST_HEAD = 96 * 1024


class Connection(HttpToolsProtocol):
    """One connection that a slow or silent client can not hold for ever.

    Its heads are short and come in time; so does the rest of a body that nobody waits for; and
    what is sent is taken. Otherwise it is closed.
    """

    head_seconds = 10.0
    send_seconds = 60.0
    most = 900

    _head: int | None = None  # bytes of a head that is on its way
    _reading: asyncio.TimerHandle | None = None
    _writing: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Take a connection; close it at once where there are too many."""
        super().connection_made(transport)  # type: ignore[arg-type]
        if len(self.connections) > self.most:
            transport.close()
            return
        self._begin_head()

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget a connection."""
        self._stop_reading_timer()
        self._stop_writing_timer()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Read on; close where a head grows too long."""
        if self._head is not None:
            self._head += len(data)
        super().data_received(data)
        if self._head is not None and self._head > _LONGEST_HEAD:
            self._head = None
            self.send_400_response("The head of the request is too long.")

    def on_message_begin(self) -> None:
        """Begin a request, the first or a later one on the same connection."""
        super().on_message_begin()
        if self._head is None:
            self._begin_head()

    def on_headers_complete(self) -> None:
        """Go on to the body: whoever reads it gives it a limit and a time.

        Raises ValueError, which is answered with 400, where the request names two hosts: two
        readers on its way could take it for two services (RFC 9112, 3.2 and 3.2.2).
        """
        self._head = None
        self._stop_reading_timer()
        hosts = [value.lower() for name, value in self.headers if name == b"host"]
        if not self.url.startswith((b"/", b"*")):
            hosts.append(urlsplit(self.url).netloc.lower())
        elif len(hosts) > 1:
            raise ValueError("more than one Host")
        if len(set(hosts)) > 1:
            raise ValueError("a target and a Host that differ")
        super().on_headers_complete()

    def _unsupported_upgrade_warning(self) -> None:
        """Pass over a wish for another protocol; uvicorn would log how to install one."""

    def on_response_complete(self) -> None:
        """Wait only so long for the rest of a body that was answered before it was whole."""
        super().on_response_complete()
        if self.cycle.more_body and self._head is None:
            self._start_reading_timer()

    def on_message_complete(self) -> None:
        """End a request."""
        if self._head is None:
            self._stop_reading_timer()
        super().on_message_complete()

    def pause_writing(self) -> None:
        """Wait only so long for a client that does not take what is sent."""
        super().pause_writing()
        self._stop_writing_timer()
        self._writing = self.loop.call_later(self.send_seconds, self.transport.abort)

    def resume_writing(self) -> None:
        """Send on."""
        self._stop_writing_timer()
        super().resume_writing()

    def _begin_head(self) -> None:
        self._head = 0
        self._start_reading_timer()

    def _start_reading_timer(self) -> None:
        self._stop_reading_timer()
        self._reading = self.loop.call_later(self.head_seconds, self.transport.close)

    def _stop_reading_timer(self) -> None:
        if self._reading is not None:
            self._reading.cancel()
            self._reading = None

    def _stop_writing_timer(self) -> None:
        if self._writing is not None:
            self._writing.cancel()
            self._writing = None


class Server(uvicorn.Server):
    """The server: ready before it listens; on a stop it refuses who waits and ends what runs."""

    def __init__(self, app: FastAPI, settings: Settings) -> None:
        """Set it up for an app that is not started yet."""

        class _Connection(Connection):
            head_seconds = settings.head_seconds
            send_seconds = settings.send_seconds
            most = settings.max_connections

        super().__init__(
            uvicorn.Config(
                app,
                http=_Connection,
                ws="none",
                log_config=None,
                access_log=False,
                server_header=False,
                proxy_headers=False,
                timeout_keep_alive=settings.keep_alive,
                # What still runs then is cut off without an answer; by then all have had one.
                timeout_graceful_shutdown=int(settings.stop_seconds) + 3,
            )
        )
        self._engine: Engine = app.state.engine
        self._stop_seconds = settings.stop_seconds
        self._ready: list[Callable[[], None]] = []

    def on_ready(self, say: Callable[[], None]) -> None:
        """Have something called when the first request may come."""
        self._ready.append(say)

    async def startup(self, sockets: Any = None) -> None:  # noqa: ANN401 - as uvicorn declares it
        """Start the workers, then serve. Raises NotReadyError."""
        await self._engine.start()
        await super().startup(sockets)
        for say in self._ready:
            say()

    async def shutdown(self, sockets: Any = None) -> None:  # noqa: ANN401
        """Take no more requests; answer those in hand, with their work or with a refusal."""
        stop = asyncio.ensure_future(self._engine.stop(self._stop_seconds))
        await super().shutdown(sockets)
        stop.cancel()
        await asyncio.wait((stop,))
        await self._engine.stop(0)
        # Told to stop, and stopped: that is a success, not a death by signal.
        self._captured_signals.clear()
