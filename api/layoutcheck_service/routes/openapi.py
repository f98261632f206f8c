"""GET /openapi.json: this service, described."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from layoutcheck_service.description import openapi_text

router = APIRouter()


@router.get("/openapi.json", include_in_schema=False)
def get_openapi_document(request: Request) -> Response:
    """Answer with the OpenAPI document; the first request builds it, in a thread."""
    state = request.app.state
    if not hasattr(state, "openapi_text"):
        state.openapi_text = openapi_text(request.app)
    return Response(state.openapi_text, media_type="application/json")
