"""The log as a document, and the report on a filled one."""

from __future__ import annotations

import re
from datetime import date, datetime
from enum import StrEnum
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, PlainSerializer, WithJsonSchema, model_validator
from pydantic_core import PydanticCustomError

from layoutcheck.document.fields import QUANTITY_ERROR, Id, Length, Mass, Temperature, Text
from layoutcheck.document.models import Strict
from layoutcheck.report.model import Counts, Finding, LayoutPart, PackPart, Part, Verdict

LOG_FORMAT = "layoutcheck log 1"
_CLOCK = re.compile(
    r"(?:(?P<day>\d{4}-\d{2}-\d{2})[ T])?(?P<hour>\d{1,2}):(?P<minute>\d{2})(?::(?P<second>\d{2}))?"
)
_HOURS, _SIXTY = 24, 60


class Clock(Strict):
    """A reading of a clock: with its day, or of the job's own day if none is written."""

    day: date | None = None
    seconds: int = Field(ge=0, lt=86400)

    @property
    def text(self) -> str:
        """Write the reading as it is typed."""
        minutes, seconds = divmod(self.seconds, _SIXTY)
        told = f"{minutes // _SIXTY:02d}:{minutes % _SIXTY:02d}:{seconds:02d}"
        return told if self.day is None else f"{self.day.isoformat()} {told}"


def _clock(value: object) -> object:
    if isinstance(value, Clock):
        return value
    found = _CLOCK.fullmatch(value.strip()) if isinstance(value, str) else None
    if found is not None:
        hour, minute, second = (int(found[k] or 0) for k in ("hour", "minute", "second"))
        if hour < _HOURS and minute < _SIXTY and second < _SIXTY:
            day = _day(found["day"])
            return Clock(day=day, seconds=(hour * _SIXTY + minute) * _SIXTY + second)
    raise _refused()


def _day(text: str | None) -> date | None:
    try:
        return None if text is None else datetime.strptime(text, "%Y-%m-%d").date()
    except ValueError:
        raise _refused() from None


def _refused() -> PydanticCustomError:
    problem = "is not a clock reading of 24 hours"
    example = "08:05, 08:05:30 or 2026-11-25 08:05"
    return PydanticCustomError(
        QUANTITY_ERROR, "{problem}", {"problem": problem, "example": example}
    )


Reading = Annotated[
    Clock,
    BeforeValidator(_clock),
    PlainSerializer(lambda clock: clock.text, return_type=str, when_used="json"),
    WithJsonSchema(
        {
            "type": "string",
            "description": "A clock reading of 24 hours; with its day if the job passes 20 hours.",
            "examples": ["08:05", "08:05:30", "2026-11-25 08:05"],
        }
    ),
]


class Line(StrEnum):
    """What a line of the log is for."""

    INJECT = "inject"
    INJECT_FURTHER = "inject further"
    TOP_UP = "top-up"
    PROVEN = "plug proven"
    OPENED = "line opened"
    CLOSED = "line closed up"
    STOPPED = "feeding stopped"
    LOOK = "look"


class LogRow(Strict):
    """One line: what was planned, and what was done. Empty: not done, or not written."""

    plug: Id | None = Field(None, description="The plug; none for what concerns the whole job.")
    number: Annotated[int, Field(strict=True, ge=1, le=100_000)]
    what: Line
    planned_at: Text = Field("", description="h:mm:ss from the first injection; for people.")
    planned_for: Text = ""
    planned_coolant: Text = ""
    began: Reading | None = None
    ended: Reading | None = None
    coolant: Mass | None = Field(None, description="Coolant put in, by weighing.")
    frost: Length | None = Field(
        None,
        description="Frosted bare pipe beyond the jacket, the narrower side: '1 1/4 in', '0 in'.",
    )
    surface: Temperature | None = Field(
        None,
        description="Of the bare pipe 2 in beyond the jacket, the warmer side: '40 degF'.",
    )
    by: Text = ""
    note: Text = ""

    @model_validator(mode="after")
    def _something_went_in(self) -> LogRow:
        if self.what in _FEEDINGS and self.coolant == 0.0:
            raise PydanticCustomError(
                "no coolant",
                "is a feeding of no coolant at all; leave the line empty if nothing was fed",
                {"example": '"coolant": "4.2 kg"'},
            )
        return self

    @property
    def place(self) -> tuple[str | None, str, int]:
        """Give what a line is of: no log has two lines of one thing."""
        if self.what is Line.LOOK:
            return self.plug, self.what, self.number
        if self.what not in _FEEDINGS:
            return self.plug, self.what, 0
        return self.plug, Line.TOP_UP if self.what is Line.TOP_UP else Line.INJECT, self.number


_FEEDINGS = (Line.INJECT, Line.INJECT_FURTHER, Line.TOP_UP)


class FreezeLog(Strict):
    """A log: which sheet it belongs to, and its lines."""

    format: Literal["layoutcheck log 1"]
    sheet: Text = Field(description="Mark of the sheet: it stands for the layout and the figures.")
    rows: tuple[LogRow, ...] = Field(min_length=1, max_length=20_000)


class LogReport(Part):
    """What a log tells, held to the schedule of its layout."""

    format: str = "layoutcheck log report 1"
    version: str
    verdict: Verdict
    layout: LayoutPart
    pack: PackPart
    sheet: str
    units: str
    counts: Counts
    findings: tuple[Finding, ...]
    cautions: tuple[str, ...]
    deference: str

    @property
    def exit_code(self) -> int:
        """Give the exit code of the command line: 0, 1 or 3."""
        return {Verdict.COMPLIANT: 0, Verdict.NOT_COMPLIANT: 1}.get(self.verdict, 3)

    def to_json(self) -> str:
        """Write the report as JSON: the same bytes for the same log."""
        return self.model_dump_json(indent=2) + "\n"


def row_data(row: LogRow) -> dict[str, Any]:
    """Write a row as plain data, as it stands in a file."""
    return row.model_dump(mode="json")
