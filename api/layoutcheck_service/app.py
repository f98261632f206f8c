"""Wire the service: settings, routes, errors. Nothing is judged here."""

from __future__ import annotations

import anyio
from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from layoutcheck.document.faults import pointer_to, shown
from layoutcheck_service import __version__
from layoutcheck_service.guard import Guard
from layoutcheck_service.problems import (
    Kind,
    ProblemError,
    RequestFault,
    plain_problem,
    problem_of,
    problem_response,
)
from layoutcheck_service.routes import (
    checks,
    freezes,
    handouts,
    health,
    imports,
    logs,
    openapi,
    page,
    plans,
    rules,
    schemas,
    views,
)
from layoutcheck_service.settings import Settings

_SUMMARY = "Checks where ice plugs may be frozen in water-filled building pipe."
_DESCRIPTION = (
    "Send a layout document; get the report that the library and the command line give, byte "
    "for byte. A verdict is an answer, so it comes with status 200 whatever it is: read "
    "`verdict`. Anything but 'compliant' is no leave to freeze.\n\n"
    "This is a check of a drawing, not a permit. Local codes, the site's permit system and "
    "licensed practice decide."
)


_ROUTES = (
    checks,
    plans,
    views,
    handouts,
    logs,
    imports,
    freezes,
    rules,
    schemas,
    health,
    openapi,
    page,
)


def create_app(settings: Settings | None = None) -> FastAPI:
    """Make the service's app. settings: from the environment if None."""
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
    )
    app.state.settings = settings or Settings()
    app.state.limiter = anyio.CapacityLimiter(app.state.settings.checks_at_once)
    for module in _ROUTES:
        app.include_router(module.router)
    app.add_exception_handler(ProblemError, _problem)
    app.add_exception_handler(HTTPException, _http_problem)
    app.add_exception_handler(RequestValidationError, _invalid_request)
    app.add_middleware(Guard)
    return app


def _problem(request: Request, error: Exception) -> Response:
    assert isinstance(error, ProblemError)
    return problem_response(error.problem)


def _http_problem(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    if error.status_code == Kind.NOT_FOUND.value.status:
        problem = problem_of(Kind.NOT_FOUND, "No address of this service is spelled like that.")
    elif error.status_code == Kind.WRONG_METHOD.value.status:
        problem = problem_of(Kind.WRONG_METHOD, "The Allow header names the methods it takes.")
    else:
        problem = plain_problem(error.status_code, str(error.detail))
    return problem_response(problem, error.headers)


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
