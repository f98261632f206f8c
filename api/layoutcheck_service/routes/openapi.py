"""GET /openapi.json: this service, described."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from layoutcheck_service.work.engine import Engine, InThread
from layoutcheck_service.work.job import Body, Job, name_of

router = APIRouter()


@router.get("/openapi.json", include_in_schema=False)
async def get_openapi_document(request: Request) -> Response:
    """Answer with the OpenAPI document. The first request has it made, where work is done.

    Its examples are run for that, and the process that answers HTTP does no work.
    """
    state = request.app.state
    if not hasattr(state, "openapi"):
        engine: Engine = state.engine
        state.openapi = await engine.run(Job(name_of(_described)))
    response: Response = state.openapi.response()
    return response


def _described(body: Body) -> Response:
    from layoutcheck_service.app import create_app  # noqa: PLC0415 - it imports this module
    from layoutcheck_service.description import openapi_text  # noqa: PLC0415
    from layoutcheck_service.settings import Settings  # noqa: PLC0415

    # No setting changes the description; those of the environment are left aside.
    app = create_app(Settings.model_construct(), engine=InThread(body.limits))
    return Response(openapi_text(app), media_type="application/json")
