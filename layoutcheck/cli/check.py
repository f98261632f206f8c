"""layoutcheck check: judge a layout and say where its plugs may go."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime
from enum import StrEnum
from typing import Annotated

import typer

from layoutcheck.cli.files import read_layout, read_pack
from layoutcheck.cli.screen import print_bytes, print_text
from layoutcheck.cli.typed import run_typed
from layoutcheck.document import Layout
from layoutcheck.report import check
from layoutcheck.report.text import report_text


class Format(StrEnum):
    """How the report is written."""

    TEXT = "text"
    JSON = "json"


LayoutPath = Annotated[
    str,
    typer.Argument(metavar="LAYOUT", help="A .json, .yaml or .yml file, or - for standard input."),
]
PackPath = Annotated[
    str | None,
    typer.Option("--pack", metavar="FILE", help="Your company's figures; see layoutcheck pack."),
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


def run(argv: Sequence[str]) -> int:
    """Run the command; give its exit code."""
    return run_typed("check", _check, argv)


def day_of(layout: Layout, given: datetime | None) -> date | None:
    """Give the day of judgement: only waivers need one, and today serves where none is given."""
    if given is not None:
        return given.date()
    return datetime.now(UTC).astimezone().date() if layout.waivers else None


def _check(
    path: LayoutPath,
    form: Annotated[Format, typer.Option("--format", help="For people or programs.")] = Format.TEXT,
    pack_path: PackPath = None,
    day: Day = None,
) -> int:
    """Check a layout: which rules its plugs break, by how much, and where each plug may go.

    Exit codes: 0 compliant, 1 broken, 2 unusable input, 3 undecided, 4 fault inside.
    """
    pack = None if pack_path is None else read_pack(pack_path)
    layout = read_layout(path)
    report = check(layout, pack=pack, on=day_of(layout, day))
    if form is Format.JSON:
        print_bytes(report.to_json().encode())
    else:
        print_text(report_text(report))
    return report.exit_code
