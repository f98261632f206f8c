"""layoutcheck check: judge a layout and say where its plugs may go."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from enum import StrEnum
from typing import Annotated

import typer

from layoutcheck.cli.files import Stated, deliver, read_layout, read_pack
from layoutcheck.cli.options import (
    Day,
    LayoutPath,
    OutputPath,
    PackPath,
    SetOption,
    WithOption,
    day_of,
)
from layoutcheck.cli.patience import patience
from layoutcheck.cli.screen import print_text
from layoutcheck.cli.typed import run_typed
from layoutcheck.document import Layout
from layoutcheck.report import Report, check
from layoutcheck.report.handouts import make_handout
from layoutcheck.report.text import full_text, report_text


class CheckFormat(StrEnum):
    """How a report is written."""

    TEXT = "text"
    JSON = "json"
    HTML = "html"
    BCF = "bcf"
    BCF_2_1 = "bcf-2.1"


_HANDOUTS = {
    CheckFormat.HTML: "report.html",
    CheckFormat.BCF: "issues.bcf",
    CheckFormat.BCF_2_1: "issues-2.1.bcf",
}


def run(argv: Sequence[str]) -> int:
    """Run the command; give its exit code."""
    return run_typed("check", _check, argv)


def _check(
    path: LayoutPath,
    form: Annotated[
        CheckFormat,
        typer.Option(
            "--format",
            help="text for people, json for programs, html for a page, bcf for BIM issues.",
        ),
    ] = CheckFormat.TEXT,
    full: Annotated[
        bool,
        typer.Option("--full", help="Text: each rule, place and figure under what is to be done."),
    ] = False,
    output: OutputPath = None,
    pack_path: PackPath = None,
    day: Day = None,
    facts: SetOption = None,
    files: WithOption = None,
) -> int:
    """Check a layout: which rules its plugs break, by how much, and where each plug may go.

    Exit codes: 0 compliant, 1 broken, 2 unusable input, 3 undecided, 4 fault inside.
    """
    pack = None if pack_path is None else read_pack(pack_path)
    layout = read_layout(path, Stated.of(files, facts))
    with patience("checking"):
        report = check(layout, pack=pack, on=day_of(layout, day))
    write = full_text if full else report_text
    if form is CheckFormat.TEXT and output is None:
        print_text(write(report))
    else:
        # The day given, not that of judgement: issues bear a date only if one is asked for.
        text = form is CheckFormat.TEXT
        on = None if day is None else day.date()
        deliver(write(report).encode() if text else _written(form, layout, report, on), output)
    return report.exit_code


def _written(form: CheckFormat, layout: Layout, report: Report, on: date | None) -> bytes:
    if form is CheckFormat.JSON:
        return report.to_json().encode()
    return make_handout(_HANDOUTS[form], layout, report, on=on)
