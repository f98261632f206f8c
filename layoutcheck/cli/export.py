"""layoutcheck export: plugs and jackets into a copy of a model or drawing, or sheets."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from layoutcheck.cli.files import write_file
from layoutcheck.cli.given import GivenLayout
from layoutcheck.cli.problems import ExitCode, UnusableInput, WrongCall
from layoutcheck.cli.screen import print_text
from layoutcheck.cli.typed import run_typed
from layoutcheck.document import Layout, LayoutFaults
from layoutcheck.document.faults import shown
from layoutcheck.importers.sheets import write_sheets
from layoutcheck.report.cautions import DEFERENCE

Output = Annotated[
    str, typer.Option("-o", "--output", metavar="FILE", help="The .ifc, .dxf or .zip to write.")
]
SourcePath = Annotated[
    str | None,
    typer.Option("--source", metavar="FILE", help="The model or drawing the layout was read from."),
]
_ENDINGS = (".ifc", ".dxf", ".zip")
# Files made on any day hold the same bytes: the first day an archive can name.
_DAY = (1980, 1, 1, 0, 0, 0)


def run(argv: Sequence[str]) -> int:
    """Run the command; give its exit code."""
    return run_typed("export", _export, argv)


def _export(given: GivenLayout, output: Output, source: SourcePath = None) -> int:
    """Write plugs and jackets into a copy of the source (.ifc, .dxf), or write sheets (.zip).

    Exit codes: 0 written, 2 unusable input, 4 fault inside. Nothing is judged: see check.
    """
    ending = Path(output).suffix.lower()
    if ending not in _ENDINGS:
        raise WrongCall(f"{shown(output)} must end in {', '.join(_ENDINGS)}")
    layout = given.layout
    if ending == ".zip":
        write_file(output, sheets_archive(layout))
    else:
        write_file(output, _copied(layout, ending, source))
    print_text(f"Wrote {shown(output, 200)}.\n{DEFERENCE}\n")
    return ExitCode.COMPLIANT


def sheets_archive(layout: Layout) -> bytes:
    """Pack a layout's sheets into one archive: the same bytes for the same layout."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for sheet, data in write_sheets(layout).items():
            archive.writestr(zipfile.ZipInfo(f"{sheet}.csv", _DAY), data)
    return out.getvalue()


def _copied(layout: Layout, ending: str, source: str | None) -> bytes:
    if source is None:
        raise WrongCall(f"a {ending} is a copy of its source with the plugs in it: give --source")
    if not Path(source).is_file():
        raise WrongCall(f"{shown(source)} is not there, or is not a file")
    try:
        if ending == ".ifc":
            from layoutcheck.importers.ifc.write import write_plugs  # noqa: PLC0415 - slow to load

            return write_plugs(layout, Path(source))
        from layoutcheck.importers.dxf.write import draw_plugs  # noqa: PLC0415 - slow to load

        return draw_plugs(layout, Path(source))
    except LayoutFaults as error:
        raise UnusableInput(f"source {shown(source, 200)}", error.faults) from None
