"""layoutcheck import: make a layout of a building model, a drawing, a network file or sheets."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any

import typer

from layoutcheck.cli.files import Stated, read_bytes, write_file
from layoutcheck.cli.options import Format, FormatOption, SetOption, WithOption
from layoutcheck.cli.problems import ExitCode, UnusableInput
from layoutcheck.cli.screen import print_bytes, print_text
from layoutcheck.cli.typed import run_typed
from layoutcheck.document import LayoutFaults
from layoutcheck.document.faults import shown
from layoutcheck.importers.draft import Document, Imported, Progress, no_progress, one_fault
from layoutcheck.importers.read import read_file
from layoutcheck.report.imports import ImportReport, explain_text, import_report, import_text

FilePath = Annotated[
    str,
    typer.Argument(
        metavar="FILE", help=".ifc, .dxf, .inp, .csv, .xlsx, .zip, or a folder of sheets."
    ),
]
Output = Annotated[
    str | None,
    typer.Option("-o", "--output", metavar="LAYOUT", help="The layout (.json) to write."),
]
MapPath = Annotated[
    str | None,
    typer.Option("--map", metavar="FILE", help="What the layers and blocks of a drawing mean."),
]
MapOut = Annotated[
    str | None,
    typer.Option("--map-out", metavar="FILE", help="Write the map that a drawing is read by."),
]
NamesPath = Annotated[
    str | None,
    typer.Option(
        "--names",
        metavar="FILE",
        help="Your own names of materials, sizes and walls (.toml); a faulty file shows a right "
        "one.",
    ),
]
Systems = Annotated[
    list[str] | None,
    typer.Option(
        "--system", metavar="NAME", help="A system of a model to read; give it for each of several."
    ),
]
Explain = Annotated[
    bool, typer.Option("--explain", help="List what to fill in by hand, what matters most first.")
]


def run(argv: Sequence[str]) -> int:
    """Run the command; give its exit code."""
    return run_typed("import", _import, argv)


def layout_bytes(document: Document) -> bytes:
    """Write a layout document as a file: one element to a line, so that changes show."""
    lines = []
    for key, value in document.items():
        if isinstance(value, list):
            rows = ",\n".join(f"    {json.dumps(row, ensure_ascii=False)}" for row in value)
            lines.append(f"  {json.dumps(key)}: [\n{rows}\n  ]")
        else:
            lines.append(f"  {json.dumps(key)}: {json.dumps(value, ensure_ascii=False)}")
    return ("{\n" + ",\n".join(lines) + "\n}\n").encode()


def _import(
    path: FilePath,
    *,
    output: Output = None,
    map_path: MapPath = None,
    systems: Systems = None,
    explain: Explain = False,
    map_out: MapOut = None,
    names_path: NamesPath = None,
    facts: SetOption = None,
    files: WithOption = None,
    form: FormatOption = Format.TEXT,
) -> int:
    """Make a layout of what you have, and say what was assumed and what is missing.

    Exit codes: 0 read, 2 unusable input, 4 fault inside. Nothing is judged: see check.
    """
    mapping, names = _text("map", map_path), _text("names", names_path)
    if map_out is not None:
        write_file(map_out, _map_for(path).encode() if mapping is None else mapping.encode())
    how = {"systems": tuple(systems or ()), "mapping": mapping, "names": names}
    imported, report = _read(path, how, Stated.of(files, facts))
    if output is not None:
        write_file(output, layout_bytes(imported.document))
    if form is Format.JSON:
        print_bytes(report.to_json().encode())
    else:
        print_text(explain_text(report) if explain else import_text(report))
    return ExitCode.COMPLIANT


def _text(what: str, path: str | None) -> str | None:
    if path is None:
        return None
    return read_bytes(f"{what} {shown(path)}", path).decode("utf-8-sig", "replace")


def _map_for(path: str) -> str:
    from layoutcheck.importers.dxf.read import propose_map  # noqa: PLC0415 - an optional extra

    try:
        return propose_map(Path(path))
    except LayoutFaults as error:
        raise UnusableInput(f"file {shown(path, 200)}", error.faults) from None


def _read(path: str, how: dict[str, Any], stated: Stated) -> tuple[Imported, ImportReport]:
    try:
        imported = read_file(Path(path), **how, progress=_progress())
        imported = replace(imported, document=stated.over(imported.document))
        return imported, import_report(imported)
    except LayoutFaults as error:
        raise UnusableInput(f"file {shown(path, 200)}", error.faults) from None
    except OSError as error:
        problem = f"can not be read: {shown(error.strerror or 'unknown reason')}"
        fault = one_fault(found=path, problem=problem, example="a file that you may read")
        raise UnusableInput(f"file {shown(path, 200)}", fault.faults) from None


def _progress() -> Progress:
    """Tell of the steps on a screen; a program that reads us is told nothing."""
    if not sys.stderr.isatty():
        return no_progress

    def told(what: str, done: int, total: int) -> None:
        share = f" {100 * done // total} %" if total > 1 else ""
        sys.stderr.write(f"\r\x1b[K{what}{share}" if done < total else "\r\x1b[K")
        sys.stderr.flush()

    return told
