"""Settings of the service, from LAYOUTCHECK_… in the environment."""

from __future__ import annotations

from typing import Literal

from pydantic import Field
from pydantic_settings import BaseSettings, SettingsConfigDict


class Settings(BaseSettings):
    """What an operator may set. The defaults serve one machine, and only itself."""

    model_config = SettingsConfigDict(env_prefix="LAYOUTCHECK_", frozen=True, extra="ignore")

    host: str = Field("127.0.0.1", description="Address to listen on.")
    port: int = Field(8000, ge=0, le=65535, description="Port to listen on; 0 takes a free one.")
    max_body_bytes: int = Field(
        4 * 1024 * 1024, ge=1024, description="Largest request body read (bytes)."
    )
    max_import_bytes: int = Field(
        64 * 1024 * 1024, ge=1024, description="Largest file that is imported (bytes)."
    )
    checks_at_once: int = Field(
        2, ge=1, le=256, description="Checks that run at the same time; others wait."
    )
    keep_alive: int = Field(5, ge=1, le=600, description="How long an idle connection stays (s).")
    log_level: Literal["critical", "error", "warning", "info", "debug"] = "warning"
