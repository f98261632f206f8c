"""Settings of the service, from LAYOUTCHECK_… in the environment. Every limit stands here."""

from __future__ import annotations

import difflib
import os
from collections.abc import Iterable
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field
from pydantic_settings import BaseSettings, NoDecode, SettingsConfigDict

from layoutcheck_service.jobs import JobLimits
from layoutcheck_service.limits import Limits
from layoutcheck_service.watches import WatchLimits

PREFIX = "LAYOUTCHECK_"
_MEGABYTE = 1024 * 1024


def _listed(value: object) -> object:
    """Read a list from one text: its entries stand between commas."""
    if not isinstance(value, str):
        return value
    return tuple(part.strip() for part in value.split(",") if part.strip())


def _usable_processors() -> int:
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:  # not on every system
        return os.cpu_count() or 1


Names = Annotated[tuple[str, ...], NoDecode, BeforeValidator(_listed)]


class Settings(BaseSettings):
    """What an operator may set. The defaults serve one machine, and only itself."""

    model_config = SettingsConfigDict(
        env_prefix=PREFIX, env_ignore_empty=True, frozen=True, extra="ignore"
    )

    # --- where it listens, and who may ask
    host: str = Field("127.0.0.1", description="Address to listen on.")
    port: int = Field(8000, ge=0, le=65535, description="Port to listen on; 0 takes a free one.")
    keys_file: Path | None = Field(
        None,
        description="File of API keys, as `layoutcheck keys` writes it. Keys are asked if set.",
    )
    open_to_network: bool = Field(
        default=False,
        description="Serve an address that other machines can reach although no keys are asked.",
    )
    allowed_hosts: Names = Field(
        (),
        description="Host names that a request may be addressed to, between commas. Empty: this "
        "machine's own names where only it can reach the address, any name elsewhere.",
    )
    cors_origins: Names = Field(
        (),
        description="Origins whose pages may use the service from a browser, between commas. "
        "Empty: none but its own.",
    )

    # --- what one request may hold
    max_body_bytes: int = Field(
        4 * _MEGABYTE, ge=1024, description="Largest JSON body read (bytes)."
    )
    max_import_bytes: int = Field(
        64 * _MEGABYTE, ge=1024, description="Largest file that is imported (bytes)."
    )
    max_entries: int = Field(
        50_000, ge=10, description="Most entries of any one list or object in a JSON body."
    )
    max_nesting: int = Field(
        50, ge=10, le=200, description="Deepest nesting of lists and objects in a JSON body."
    )
    max_string: int = Field(
        1_000_000, ge=100, description="Longest text in a JSON body (characters)."
    )

    # --- how long a request may take
    body_seconds: float = Field(
        60, gt=0, le=3600, description="Until the whole body must have come (s)."
    )
    wait_seconds: float = Field(
        30, gt=0, le=3600, description="How long a request may wait for a free worker (s)."
    )
    work_seconds: float = Field(
        120,
        gt=0,
        le=3600,
        description="How long the work of one request may take (s). Then its process is killed.",
    )
    stop_seconds: float = Field(
        8, ge=0, le=3600, description="How long running work may go on after a stop (s)."
    )
    head_seconds: float = Field(
        10, gt=0, le=600, description="Until the head of a request must have come (s)."
    )
    send_seconds: float = Field(
        60, gt=0, le=3600, description="Until a client must have taken what it was sent (s)."
    )
    keep_alive: int = Field(5, ge=1, le=600, description="How long an idle connection stays (s).")

    # --- how much at once
    workers: int = Field(
        default_factory=_usable_processors,
        ge=1,
        le=256,
        description="Processes that do the work. Left out: one for each processor.",
    )
    max_waiting: int = Field(
        32, ge=0, le=10_000, description="Requests that may wait for a worker; more are refused."
    )
    max_per_key: int = Field(
        24, ge=1, le=10_000, description="Requests of one key's owner that may run or wait."
    )
    max_open: int = Field(
        512, ge=1, le=100_000, description="Requests in hand at all, read or unread."
    )
    max_connections: int = Field(
        900, ge=1, le=100_000, description="Open connections; more are closed at once."
    )
    max_spool_bytes: int = Field(
        1024 * _MEGABYTE, ge=1024, description="Disk that all bodies on their way take (bytes)."
    )
    spool_folder: Path | None = Field(
        None, description="Folder for large bodies. Left out: the machine's folder for such files."
    )
    worker_memory_bytes: int = Field(
        2048 * _MEGABYTE,
        ge=64 * _MEGABYTE,
        description="Memory that one worker may take on top of what it starts with (bytes).",
    )

    # --- many at once, and work that nobody waits for
    max_batch: int = Field(500, ge=1, le=100_000, description="Checks that one batch may hold.")
    max_jobs: int = Field(
        64, ge=0, le=10_000, description="Jobs kept that nobody waits for, done or not; 0: none."
    )
    max_job_bytes: int = Field(
        128 * _MEGABYTE, ge=1024, description="Memory that results of jobs may take (bytes)."
    )
    job_hours: float = Field(
        1, gt=0, le=24 * 7, description="How long what came of a job is kept (h)."
    )

    # --- freezes that a second phone follows
    max_watches: int = Field(
        100, ge=0, le=10_000, description="Freezes that second phones may follow; 0: none."
    )
    max_watch_bytes: int = Field(
        2 * _MEGABYTE, ge=1024, description="Memory that one of them may take (bytes)."
    )
    watch_hours: float = Field(
        24, gt=0, le=24 * 7, description="How long one is kept after its phone was last heard (h)."
    )

    # --- what it tells
    log_level: Literal["critical", "error", "warning", "info", "debug"] = Field(
        "warning",
        description="'info' writes a line for each request. Only 'debug' writes the text of inner "
        "faults, which may hold parts of a layout.",
    )
    record: str | None = Field(
        None,
        repr=False,
        description="The record of sign-off: a SQLite file, or the URL of a PostgreSQL database.",
    )

    def limits(self) -> Limits:
        """Give the limits on the shape of a JSON body."""
        return Limits(entries=self.max_entries, nesting=self.max_nesting, string=self.max_string)

    def job_limits(self) -> JobLimits:
        """Give the limits on work that nobody waits for."""
        return JobLimits(self.max_jobs, self.max_job_bytes, self.job_hours * 3600.0)

    def watch_limits(self) -> WatchLimits:
        """Give the limits on the freezes that second phones follow."""
        return WatchLimits(self.max_watches, self.max_watch_bytes, self.watch_hours * 3600.0)


# Read elsewhere: by the command line.
_OTHERS = ("LAYOUTCHECK_DEBUG",)
_SECRET = frozenset({"record"})


def settings_rows() -> list[tuple[str, str, str]]:
    """Give each setting: its variable, its usual value, what it is for."""
    return [
        (PREFIX + name.upper(), _usual(name, field), field.description or "")
        for name, field in Settings.model_fields.items()
    ]


def settings_table() -> str:
    """Write the settings as the Markdown table of api/README.md."""
    rows = [f"| `{name}` | {usual} | {what} |" for name, usual, what in settings_rows()]
    return "\n".join(["| variable | usual | what it is for |", "| --- | --- | --- |", *rows]) + "\n"


def settings_in_force(settings: Settings) -> str:
    """Write the settings as they are in force, as lines of an environment file."""
    lines = []
    for name in Settings.model_fields:
        value = getattr(settings, name)
        shown = "(set, not shown)" if name in _SECRET and value else _shown(value)
        lines.append(f"{PREFIX}{name.upper()}={shown}\n")
    return "".join(lines)


def unknown_variables(names: Iterable[str]) -> list[str]:
    """Say which LAYOUTCHECK_… variables are no setting: a misspelled limit would not limit."""
    known = [*_OTHERS, *(PREFIX + name.upper() for name in Settings.model_fields)]
    faults = []
    for name in sorted(n for n in names if n.upper().startswith(PREFIX)):
        if name.upper() not in known:
            near = difflib.get_close_matches(name.upper(), known, n=1)
            faults.append(f"{name} is no setting" + (f"; is {near[0]} meant?" if near else ""))
    return faults


def _usual(name: str, field: Any) -> str:  # noqa: ANN401 - pydantic's own type has no useful name
    if name == "workers":
        return "one for each processor"
    return _shown(field.default) or "none"


def _shown(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, tuple):
        return ",".join(str(v) for v in value)
    if isinstance(value, bool):
        return "true" if value else "false"
    return f"{value:g}" if isinstance(value, float) else str(value)
