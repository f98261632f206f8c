"""GET /health: the service runs. GET /ready: it can take work."""

from __future__ import annotations

import logging
from collections.abc import Callable
from typing import Literal

from fastapi import APIRouter, Request
from pydantic import BaseModel, ConfigDict

from layoutcheck_service import __version__
from layoutcheck_service.answers import problems
from layoutcheck_service.problems import Kind, refusal

router = APIRouter(tags=["service"])
_LOG = logging.getLogger("layoutcheck_service")

# Says in a few words what is missing; None where nothing is.
ReadyCheck = Callable[[], str | None]


class Health(BaseModel):
    """The state of the service."""

    model_config = ConfigDict(extra="forbid")

    status: Literal["ok"] = "ok"
    version: str = __version__


class Ready(BaseModel):
    """The service can take work."""

    model_config = ConfigDict(extra="forbid")

    status: Literal["ready"] = "ready"


@router.get("/health", operation_id="getHealth", summary="Whether the service runs")
async def health() -> Health:
    """Answer with the version. Nothing is checked beyond the service being there."""
    return Health()


@router.get(
    "/ready",
    operation_id="getReadiness",
    summary="Whether the service can take work",
    responses=problems(Kind.STOPPING),
)
def ready(request: Request) -> Ready:
    """Answer 200 when workers are there and all that they need, 503 while it starts or stops."""
    checks: list[ReadyCheck] = request.app.state.ready_checks
    missing = [said for said in (check() for check in checks) if said is not None]
    if missing:
        _LOG.info("not ready", extra={"missing": missing})
        raise refusal(Kind.STOPPING, f"Missing: {'; '.join(missing)}.", seconds=1)
    return Ready()
