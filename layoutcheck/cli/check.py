"""layoutcheck check: judge a layout and say where its plugs may go."""

from __future__ import annotations

from collections.abc import Sequence

from layoutcheck.cli.files import read_layout, read_pack
from layoutcheck.cli.options import Day, Format, FormatOption, LayoutPath, PackPath, day_of
from layoutcheck.cli.screen import print_bytes, print_text
from layoutcheck.cli.typed import run_typed
from layoutcheck.report import check
from layoutcheck.report.text import report_text


def run(argv: Sequence[str]) -> int:
    """Run the command; give its exit code."""
    return run_typed("check", _check, argv)


def _check(
    path: LayoutPath,
    form: FormatOption = Format.TEXT,
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
