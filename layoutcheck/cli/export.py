"""layoutcheck export: plugs and jackets into a copy of a model or drawing, or sheets."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from layoutcheck.cli.files import write_file
from layoutcheck.cli.given import GivenLayout
from layoutcheck.cli.problems import ExitCode, UnusableInput, WrongCall
from layoutcheck.cli.screen import print_text
from layoutcheck.cli.typed import run_typed
from layoutcheck.document import LayoutFaults
from layoutcheck.document.faults import shown
from layoutcheck.report.cautions import DEFERENCE
from layoutcheck.report.exports import EXPORTS, Given, NoSource, export_named, make_export

Output = Annotated[
    str,
    typer.Option(
        "-o", "--output", metavar="FILE", help="The .ifc, .dxf, .zip, .json or .yaml to write."
    ),
]
SourcePath = Annotated[
    str | None,
    typer.Option("--source", metavar="FILE", help="The model or drawing the layout was read from."),
]
Short = Annotated[bool, typer.Option("--short", help=".json, .yaml: in the short form.")]
_ENDINGS = (".ifc", ".dxf", ".zip", ".json", ".yaml")


def run(argv: Sequence[str]) -> int:
    """Run the command; give its exit code."""
    return run_typed("export", _export, argv)


def _export(
    given: GivenLayout, output: Output, source: SourcePath = None, short: Short = False
) -> int:
    """Write plugs into a copy of the source (.ifc, .dxf), sheets (.zip), or the layout itself.

    Exit codes: 0 written, 2 unusable input, 4 fault inside. Nothing is judged: see check.
    """
    ending = Path(output).suffix.lower()
    name = export_named(ending, short=short)
    if name is None:
        raise WrongCall(f"{shown(output)} must end in {', '.join(_ENDINGS)}")
    source_path = _source(name, ending, source)
    write_file(output, _made(name, Given(given.layout, given.file.data, source_path)))
    print_text(f"Wrote {shown(output, 200)}.\n{DEFERENCE}\n")
    return ExitCode.COMPLIANT


def _source(name: str, ending: str, source: str | None) -> Path | None:
    if source is None and EXPORTS[name].copies:
        raise WrongCall(f"a {ending} is a copy of its source with the plugs in it: give --source")
    if source is not None and not Path(source).is_file():
        raise WrongCall(f"{shown(source)} is not there, or is not a file")
    return None if source is None else Path(source)


def _made(name: str, given: Given) -> bytes:
    try:
        return make_export(name, given)
    except NoSource as problem:
        raise WrongCall(str(problem)) from None
    except LayoutFaults as error:
        raise UnusableInput(f"source {shown(str(given.source), 200)}", error.faults) from None
