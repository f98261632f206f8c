"""GET /health: the service runs, and which version it is."""

from __future__ import annotations

from typing import Literal

from fastapi import APIRouter
from pydantic import BaseModel, ConfigDict

from layoutcheck_service import __version__

router = APIRouter(tags=["service"])


class Health(BaseModel):
    """The state of the service."""

    model_config = ConfigDict(extra="forbid")

    status: Literal["ok"] = "ok"
    version: str = __version__


@router.get("/health", operation_id="health", summary="Whether the service runs")
async def health() -> Health:
    """Answer with the version. Nothing is checked beyond the service being there."""
    return Health()
