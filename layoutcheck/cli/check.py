"""layoutcheck check: judge a layout and say where its plugs may go."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from typing import Annotated

import typer

from layoutcheck.cli.files import deliver
from layoutcheck.cli.given import GivenCheck
from layoutcheck.cli.options import OutputPath, today
from layoutcheck.cli.patience import patience
from layoutcheck.cli.screen import print_text
from layoutcheck.cli.typed import run_typed
from layoutcheck.report import Report
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
    given: GivenCheck,
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
) -> int:
    """Check a layout: which rules its plugs break, by how much, and where each plug may go.

    Exit codes: 0 compliant, 1 broken, 2 unusable input, 3 undecided, 4 fault inside.
    """
    report = given.judged()
    write = full_text if full else report_text
    if form is CheckFormat.TEXT and output is None:
        print_text(write(report))
    else:
        # Issues bear the day of the report: the one given, or today.
        text = form is CheckFormat.TEXT
        written = write(report).encode() if text else _written(form, given, report)
        deliver(written, output)
    return report.exit_code


def _written(form: CheckFormat, given: GivenCheck, report: Report) -> bytes:
    if form is CheckFormat.JSON:
        return report.to_json().encode()
    with patience("printing"):
        return make_handout(_HANDOUTS[form], given.layout, report, on=given.on or today())
