"""layoutcheck plan: from what will be opened to where to freeze."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import Annotated

import typer

from layoutcheck.cli.files import read_pack
from layoutcheck.cli.given import GivenLayout
from layoutcheck.cli.options import Format, FormatOption, PackPath
from layoutcheck.cli.screen import print_bytes, print_text
from layoutcheck.cli.typed import run_typed
from layoutcheck.planning.search import Progress
from layoutcheck.report.plans import plan_layout
from layoutcheck.report.text_plans import plans_text

Top = Annotated[int, typer.Option("--top", min=1, max=50, help="How many plans to give.")]
TimeLimit = Annotated[
    float,
    typer.Option(
        "--time-limit", min=0.1, max=86400, metavar="SECONDS", help="When to stop looking (s)."
    ),
]
_EVERY = 50


def run(argv: Sequence[str]) -> int:
    """Run the command; give its exit code."""
    return run_typed("plan", _plan, argv)


def _plan(
    given: GivenLayout,
    top: Top = 5,
    time_limit: TimeLimit = 30.0,
    form: FormatOption = Format.TEXT,
    pack_path: PackPath = None,
) -> int:
    """Find the best valves to close and plugs to freeze for a layout's work.

    Marked plugs are taken as wishes. Ctrl-C ends the search with the best so far.
    Exit codes: 0 a plan, 1 there is none, 2 unusable input, 3 undecided (none found in time, or the
    layout leaves open what may decide), 4 fault inside.
    """
    pack = None if pack_path is None else read_pack(pack_path)
    watch = _Watch() if sys.stderr.isatty() else None
    file = given.file
    report = plan_layout(
        file.layout, data=file.data, pack=pack, top=top, time_limit=time_limit, watch=watch
    )
    if form is Format.JSON:
        print_bytes(report.to_json().encode())
    else:
        print_text(plans_text(report))
    return report.exit_code


class _Watch:
    """Tells on a screen how far the search is."""

    def __call__(self, progress: Progress) -> None:
        if progress.tried % _EVERY == 0:
            best = "none yet" if progress.passed == 0 else f"best {progress.best:.1f} points"
            bound = f"none below {progress.bound:.1f}" if progress.tried else ""
            sys.stderr.write(f"\r{progress.tried} tried; {best}; {bound}   ")
            sys.stderr.flush()
