"""The service with routes for slow work besides its own. Run as a program; settings as always."""

from __future__ import annotations

from fastapi import Request, Response

from layoutcheck_service import command
from layoutcheck_service.app import create_app
from layoutcheck_service.body import FILE, answer_apart
from layoutcheck_service.http import Server
from layoutcheck_service.logs import start_logging
from layoutcheck_service.settings import Settings
from layoutcheck_service.work.pool import Pool
from tests.api import slow_work


def main() -> None:
    settings = Settings()
    start_logging(settings.log_level)
    app = create_app(settings)
    pool = app.state.engine
    assert isinstance(pool, Pool)

    @app.post("/validated")
    async def validated(request: Request) -> Response:
        return await answer_apart(request, slow_work.validated)

    @app.post("/echo")
    async def echo(request: Request) -> Response:
        return await answer_apart(
            request, slow_work.echoed, limit=settings.max_import_bytes, content_type=FILE
        )

    @app.post("/slow")
    async def slow(request: Request, seconds: float) -> Response:
        return await answer_apart(request, slow_work.slept, seconds, content_type=FILE)

    @app.post("/burn")
    async def burn(request: Request, seconds: float) -> Response:
        return await answer_apart(request, slow_work.burned, seconds, content_type=FILE)

    @app.post("/die")
    async def die(request: Request) -> Response:
        return await answer_apart(request, slow_work.died, content_type=FILE)

    @app.post("/fail")
    async def fail(request: Request) -> Response:
        return await answer_apart(request, slow_work.failed, content_type=FILE)

    @app.get("/pids")
    async def pids() -> list[int]:
        return sorted(pool.pids())

    server = Server(app, settings)
    bound = command.bind(settings)
    server.on_ready(lambda: command.say_where(bound))
    server.run(sockets=[bound])


if __name__ == "__main__":
    main()
