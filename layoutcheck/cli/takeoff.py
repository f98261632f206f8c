"""layoutcheck takeoff: quantities of a planned freeze, for an estimating tool."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from typing import Annotated

import typer

from layoutcheck.cli.files import deliver
from layoutcheck.cli.given import GivenCheck
from layoutcheck.cli.options import OutputPath
from layoutcheck.cli.typed import run_typed
from layoutcheck.report.handouts import make_handout


class TakeoffFormat(StrEnum):
    """How the quantities are written."""

    CSV = "csv"
    JSON = "json"
    XLSX = "xlsx"


def run(argv: Sequence[str]) -> int:
    """Run the command; give its exit code."""
    return run_typed("takeoff", _takeoff, argv)


def _takeoff(
    given: GivenCheck,
    form: Annotated[
        TakeoffFormat,
        typer.Option("--format", help="csv, xlsx for spreadsheets; json for programs."),
    ] = TakeoffFormat.CSV,
    output: OutputPath = None,
) -> int:
    """Count jackets, coolant, cylinders, hours, outlets out of service, insulation to strip.

    Exit codes are those of check: 0 compliant, 1 broken, 2 unusable input, 3 undecided, 4 fault.
    """
    report = given.judged()
    deliver(make_handout(f"takeoff.{form.value}", given.layout, report, pack=given.pack), output)
    return report.exit_code
