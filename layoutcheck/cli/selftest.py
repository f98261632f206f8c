"""layoutcheck selftest: does this installation work figures out rightly, on this machine?"""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from typing import Annotated

import typer

from layoutcheck.cli.problems import ExitCode
from layoutcheck.cli.screen import print_bytes, print_text
from layoutcheck.cli.typed import run_typed
from layoutcheck.selftest import run_selftest, selftest_text


# Not those of the other commands: they load the models, which a damaged installation may fail at.
class SelftestFormat(StrEnum):
    """How the self-test is told."""

    TEXT = "text"
    JSON = "json"


def run(argv: Sequence[str]) -> int:
    """Run the command; give its exit code."""
    return run_typed("selftest", _selftest, argv)


def _selftest(
    form: Annotated[
        SelftestFormat, typer.Option("--format", help="text for people, json for programs.")
    ] = SelftestFormat.TEXT,
) -> int:
    """Hold this installation to exact solutions, published tables and the conformance cases.

    Exit codes: 0 all right, 4 a figure is off: do not rely on results from this installation.
    """
    report = run_selftest()
    if form is SelftestFormat.JSON:
        print_bytes(report.to_json().encode())
    else:
        print_text(selftest_text(report))
    return ExitCode.COMPLIANT if report.verdict == "right" else ExitCode.FAULT
