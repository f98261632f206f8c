"""GET /metrics: numbers for Prometheus."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from layoutcheck_service.access import needs
from layoutcheck_service.answers import problems
from layoutcheck_service.keys import Scope
from layoutcheck_service.metrics import CONTENT_TYPE
from layoutcheck_service.problems import Kind

router = APIRouter(tags=["service"], dependencies=[needs(Scope.METRICS)])


@router.get(
    "/metrics",
    operation_id="getMetrics",
    summary="Numbers for Prometheus",
    response_class=Response,
    responses={
        200: {
            "description": "Numbers about requests, the queue and the workers.",
            "content": {"text/plain": {"schema": {"type": "string"}}},
        },
        **problems(Kind.NO_KEY, Kind.NOT_ALLOWED, Kind.STOPPING),
    },
)
async def get_metrics(request: Request) -> Response:
    """Answer in Prometheus' text format. Nothing in it is about any layout."""
    return Response(request.app.state.metrics.text(), headers={"Content-Type": CONTENT_TYPE})
