"""Wire the service: settings, routes, errors. Nothing is judged here."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.middleware.cors import CORSMiddleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from layoutcheck.document.faults import pointer_to, shown
from layoutcheck.record import Ledger
from layoutcheck_service import __version__
from layoutcheck_service.body import Spool
from layoutcheck_service.guard import REQUEST_ID, Guard
from layoutcheck_service.jobs import Jobs
from layoutcheck_service.keys import KeyRing, KeysFault
from layoutcheck_service.metrics import Metrics
from layoutcheck_service.problems import (
    Kind,
    ProblemError,
    RequestFault,
    plain_problem,
    problem_of,
    problem_response,
)
from layoutcheck_service.routes import (
    bases,
    batches,
    checks,
    exports,
    freezes,
    guide,
    handouts,
    health,
    imports,
    jobs,
    logs,
    metrics,
    openapi,
    page,
    plans,
    records,
    rules,
    schemas,
    views,
    watches,
)
from layoutcheck_service.settings import Settings
from layoutcheck_service.small import AS_THEY_ARE, COMPRESSED_FROM, LEVEL, HeadAsGet
from layoutcheck_service.watches import Watches
from layoutcheck_service.work.engine import Engine
from layoutcheck_service.work.pool import Pool, Size

_SUMMARY = "Checks where ice plugs may be frozen in water-filled building pipe."
_DESCRIPTION = (
    "Send a layout document; get the report that the library gives, byte for byte, or the "
    "portions of it that you ask for. A verdict is an answer, so it comes with status 200 "
    "whatever it is: read `verdict`. Anything but 'compliant' is no leave to freeze.\n\n"
    "This is a check of a drawing, not a permit. Local codes, the site's permit system and "
    "licensed practice decide."
)


_ROUTES = (
    bases,
    batches,
    checks,
    exports,
    plans,
    views,
    handouts,
    logs,
    imports,
    jobs,
    freezes,
    records,
    watches,
    guide,
    rules,
    schemas,
    health,
    metrics,
    openapi,
    page,
)


def create_app(settings: Settings | None = None, *, engine: Engine | None = None) -> FastAPI:
    """Make the service's app.

    settings: from the environment if None. engine: does the work; processes that start and stop
    with the app if None. Raises KeysFault where there is a file of keys that can not be used.
    """
    settings = settings or Settings()
    app = FastAPI(
        title="layoutcheck",
        summary=_SUMMARY,
        description=_DESCRIPTION,
        version=__version__,
        license_info={"name": "Apache-2.0", "identifier": "Apache-2.0"},
        openapi_url=None,  # routes/openapi.py serves it, completed
        docs_url=None,  # FastAPI's own pages load scripts from elsewhere
        redoc_url=None,
        redirect_slashes=False,
        lifespan=_running,
    )
    _equip(app, settings, engine)
    for module in _ROUTES:
        app.include_router(module.router)
    app.add_exception_handler(ProblemError, _problem)
    app.add_exception_handler(HTTPException, _http_problem)
    app.add_exception_handler(RequestValidationError, _invalid_request)
    if settings.cors_origins:
        app.add_middleware(
            CORSMiddleware,
            allow_origins=list(settings.cors_origins),
            allow_methods=["GET", "HEAD", "POST", "DELETE"],
            allow_headers=["Authorization", "Content-Type", "Prefer", REQUEST_ID],
            expose_headers=["Layoutcheck-Verdict", "Retry-After", "Location", REQUEST_ID],
        )
    app.add_middleware(
        GZipMiddleware,
        minimum_size=COMPRESSED_FROM,
        compresslevel=LEVEL,
        exclude_content_types=AS_THEY_ARE,
    )
    app.add_middleware(HeadAsGet)
    app.add_middleware(Guard, settings=settings, metrics=app.state.metrics)
    return app


def _equip(app: FastAPI, settings: Settings, engine: Engine | None) -> None:
    """Give the app what its routes use."""
    state = app.state
    state.settings = settings
    state.spool = Spool(settings.spool_folder, settings.max_spool_bytes)
    state.keys = None if settings.keys_file is None else KeyRing(settings.keys_file)
    state.watches = Watches(settings.watch_limits())
    state.metrics = Metrics(lambda: _engine_of(app).state())
    state.engine = engine or _pool(settings, state.spool, state.metrics)
    state.jobs = Jobs(settings.job_limits())
    # Each says what is missing before the service can take work; a route may add its own.
    state.ready_checks = [lambda: _missing_workers(state.engine), lambda: _missing_keys(state.keys)]
    if settings.record:
        state.ready_checks.append(Ledger(settings.record).missing)


def _engine_of(app: FastAPI) -> Engine:
    engine: Engine = app.state.engine
    return engine


def _pool(settings: Settings, spool: Spool, metrics: Metrics) -> Pool:
    size = Size(
        workers=settings.workers,
        most_waiting=settings.max_waiting,
        most_each=settings.max_per_key,
        wait_seconds=settings.wait_seconds,
        work_seconds=settings.work_seconds,
        memory=settings.worker_memory_bytes,
    )
    return Pool(settings.limits(), size, folder=lambda: spool.folder, lost=metrics.worker_lost)


@asynccontextmanager
async def _running(app: FastAPI) -> AsyncIterator[None]:
    """Have the engine run as long as the app does."""
    await app.state.engine.start()
    try:
        yield
    finally:
        await app.state.jobs.stop()
        await app.state.engine.stop(0)
        app.state.spool.clear()


def _missing_workers(engine: Engine) -> str | None:
    state = engine.state()
    return None if state.serving and state.workers else "workers"


def _missing_keys(ring: KeyRing | None) -> str | None:
    if ring is None:
        return None
    try:
        ring.refresh()
    except KeysFault:
        return "the file of keys"
    return None


def _problem(request: Request, error: Exception) -> Response:
    assert isinstance(error, ProblemError)
    return problem_response(error.problem, error.headers)


def _http_problem(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    if error.status_code == Kind.NOT_FOUND.value.status:
        problem = problem_of(Kind.NOT_FOUND, "No address of this service is spelled like that.")
    elif error.status_code == Kind.WRONG_METHOD.value.status:
        problem = problem_of(Kind.WRONG_METHOD, "The Allow header names the methods it takes.")
        return problem_response(problem, {"Allow": _methods_at(request.url.path)})
    else:
        problem = plain_problem(error.status_code, str(error.detail))
    return problem_response(problem, error.headers)


def _methods_at(path: str) -> str:
    """Name all methods that an address takes: the framework names those of one route only."""
    routes = (r for module in _ROUTES for r in module.router.routes if isinstance(r, Route))
    methods = {m for r in routes if r.path_regex.match(path) for m in r.methods or ()}
    return ", ".join(sorted(methods | ({"HEAD"} if "GET" in methods else set())))


def _invalid_request(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    faults = [
        RequestFault(
            pointer=pointer_to(*item["loc"]),
            found=shown(item.get("input")),
            problem=str(item["msg"]),
            example="see the service's OpenAPI document",
        )
        for item in error.errors()
    ]
    return problem_response(problem_of(Kind.UNUSABLE, "A parameter is unsound.", faults=faults))
