"""layoutcheck log: hold a filled freeze log to the schedule of its layout."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

import typer

from layoutcheck.cli.files import read_bytes
from layoutcheck.cli.given import GivenCheck
from layoutcheck.cli.options import Format, FormatOption
from layoutcheck.cli.problems import UnusableInput
from layoutcheck.cli.screen import print_bytes, print_text
from layoutcheck.cli.typed import run_typed
from layoutcheck.document.faults import LayoutFaults, shown
from layoutcheck.report.log import judge_log, log_text, read_log

LogPath = Annotated[
    str, typer.Argument(metavar="LOG", help="The filled log, .csv or .json, as sheet writes it.")
]


def run(argv: Sequence[str]) -> int:
    """Run the command; give its exit code."""
    return run_typed("log", _log, argv)


def _log(
    given: GivenCheck,
    log_path: LogPath,
    form: FormatOption = Format.TEXT,
) -> int:
    """Hold a filled log to the schedule: what was missed, cut, late, too much or too soon.

    Exit codes: 0 as planned, 1 not as planned, 2 unusable input, 3 undecided, 4 fault inside.
    """
    named = f"log {shown(log_path, 200)}"
    try:
        log = read_log(read_bytes(named, log_path))
    except LayoutFaults as error:
        raise UnusableInput(named, error.faults) from None
    report = judge_log(log, given.judged())
    if form is Format.JSON:
        print_bytes(report.to_json().encode())
    else:
        print_text(log_text(report))
    return report.exit_code
