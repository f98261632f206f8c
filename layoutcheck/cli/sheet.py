"""layoutcheck sheet: the crew's sheet of a layout, and the log to fill in."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from layoutcheck.cli.files import write_file
from layoutcheck.cli.given import GivenCheck
from layoutcheck.cli.patience import patience
from layoutcheck.cli.problems import WrongCall
from layoutcheck.cli.screen import print_problem
from layoutcheck.cli.typed import run_typed
from layoutcheck.document.faults import shown
from layoutcheck.report.handouts import make_handout
from layoutcheck.report.log import NoSchedule

Output = Annotated[
    str, typer.Option("-o", "--output", metavar="FILE", help="The file to write: .pdf or .html.")
]
LogTemplate = Annotated[
    str | None,
    typer.Option(
        "--log-template",
        metavar="FILE",
        help="Also write the log to fill in: .csv or .json. Only a compliant layout has one.",
    ),
]


def run(argv: Sequence[str]) -> int:
    """Run the command; give its exit code."""
    return run_typed("sheet", _sheet, argv)


def _sheet(
    given: GivenCheck,
    output: Output,
    log_path: LogTemplate = None,
) -> int:
    """Write the sheet that a crew works by: where, when, in what order, and when to stop.

    A layout that is not compliant gets a sheet that says DO NOT FREEZE and holds no schedule. Exit
    codes are those of check: 0 compliant, 1 broken, 2 unusable input, 3 undecided, 4 fault.
    """
    ending = _ending(output, (".pdf", ".html"))
    log_ending = None if log_path is None else _ending(log_path, (".csv", ".json"))
    layout, pack, report = given.layout, given.pack, given.judged()
    with patience("printing"):
        sheet = make_handout(f"sheet{ending}", layout, report, pack=pack)
    write_file(output, sheet)
    if log_path is not None:
        try:
            log = make_handout(f"log-template{log_ending}", layout, report, pack=pack)
        except NoSchedule as problem:
            print_problem(f"layoutcheck: {shown(log_path)} is not written: {problem}")
        else:
            write_file(log_path, log)
    return report.exit_code


def _ending(path: str, allowed: tuple[str, ...]) -> str:
    ending = Path(path).suffix.lower()
    if ending not in allowed:
        raise WrongCall(f"{shown(path)} must end in {' or '.join(allowed)}")
    return ending
