"""Options and arguments that several commands share."""

from __future__ import annotations

from datetime import UTC, date, datetime
from enum import StrEnum
from typing import Annotated

import typer

from layoutcheck.document import Layout


class Format(StrEnum):
    """How a result is written: for people, or for programs."""

    TEXT = "text"
    JSON = "json"


LayoutPath = Annotated[
    str,
    typer.Argument(metavar="LAYOUT", help="A .json, .yaml or .yml file, or - for standard input."),
]
SetOption = Annotated[
    list[str] | None,
    typer.Option(
        "--set",
        metavar="FIELD=VALUE",
        help="State a fact: site.water_temperature='60 degF', or pipes.*.material=copper for each "
        "pipe that states none. May be given several times.",
    ),
]
WithOption = Annotated[
    list[str] | None,
    typer.Option(
        "--with",
        metavar="FILE",
        help="Statements (.yaml, .json) in the shape of a layout, laid over it. Several times too.",
    ),
]
FormatOption = Annotated[
    Format, typer.Option("--format", help="text for people, json for programs.")
]
PackPath = Annotated[
    str | None,
    typer.Option("--pack", metavar="FILE", help="Your company's figures; see layoutcheck pack."),
]
OutputPath = Annotated[
    str | None,
    typer.Option("-o", "--output", metavar="FILE", help="Write to a file, not to the screen."),
]
Day = Annotated[
    datetime | None,
    typer.Option(
        "--on",
        formats=["%Y-%m-%d"],
        metavar="DATE",
        help="Day of judgement for waivers, as 2026-11-25. Today if the layout holds waivers.",
    ),
]


def day_of(layout: Layout, given: datetime | None) -> date | None:
    """Give the day of judgement: only waivers need one, and today serves where none is given."""
    if given is not None:
        return given.date()
    return today() if layout.waivers else None


def today() -> date:
    """Give the day of today, here."""
    return datetime.now(UTC).astimezone().date()
