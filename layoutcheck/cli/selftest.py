"""layoutcheck selftest: does this installation work figures out rightly, on this machine?"""

from __future__ import annotations

from collections.abc import Sequence

from layoutcheck.cli.options import Format, FormatOption
from layoutcheck.cli.problems import ExitCode
from layoutcheck.cli.screen import print_bytes, print_text
from layoutcheck.cli.typed import run_typed
from layoutcheck.selftest import run_selftest, selftest_text


def run(argv: Sequence[str]) -> int:
    """Run the command; give its exit code."""
    return run_typed("selftest", _selftest, argv)


def _selftest(form: FormatOption = Format.TEXT) -> int:
    """Hold this installation to exact solutions, published tables and the conformance cases.

    Exit codes: 0 all right, 4 a figure is off: do not rely on results from this installation.
    """
    report = run_selftest()
    if form is Format.JSON:
        print_bytes(report.to_json().encode())
    else:
        print_text(selftest_text(report))
    return ExitCode.COMPLIANT if report.verdict == "right" else ExitCode.FAULT
