"""layoutcheck draw: the drawing of a layout and its report, as SVG, PNG or PDF."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from layoutcheck.cli.files import write_file
from layoutcheck.cli.given import GivenCheck
from layoutcheck.cli.patience import patience
from layoutcheck.cli.problems import WrongCall
from layoutcheck.cli.typed import run_typed
from layoutcheck.document.faults import shown
from layoutcheck.report.drawing import Page
from layoutcheck.report.drawing.picked import NothingToHighlight
from layoutcheck.report.handouts import make_handout

Output = Annotated[
    str,
    typer.Option("-o", "--output", metavar="FILE", help="The file to write: .svg, .png or .pdf."),
]
Highlight = Annotated[
    str | None,
    typer.Option("--highlight", metavar="ID", help="Draw attention to an element or a finding."),
]
PageOption = Annotated[
    Page,
    typer.Option("--page", help="paper (A4, or US Letter where a site is in feet), or phone."),
]
_ENDINGS = (".svg", ".png", ".pdf")


def run(argv: Sequence[str]) -> int:
    """Run the command; give its exit code."""
    return run_typed("draw", _draw, argv)


def _draw(
    given: GivenCheck,
    output: Output,
    page: PageOption = Page.PAPER,
    highlight: Highlight = None,
) -> int:
    """Draw a layout: pipes, plugs, what shuts them out, where they may go, and the verdict.

    Exit codes are those of check: 0 compliant, 1 broken, 2 unusable input, 3 undecided, 4 fault.
    """
    ending = Path(output).suffix.lower()
    if ending not in _ENDINGS:
        raise WrongCall(f"{shown(output)} must end in {', '.join(_ENDINGS)}")
    layout, report = given.layout, given.judged()
    try:
        with patience("drawing"):
            drawn = make_handout(
                f"drawing{ending}", layout, report, highlight=highlight, page=page.value
            )
    except NothingToHighlight as problem:
        raise WrongCall(str(problem)) from None
    write_file(output, drawn)
    return report.exit_code
