"""layoutcheck expand: the long form of a layout that was typed in the short one."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from layoutcheck.cli.files import deliver
from layoutcheck.cli.given import GivenLayout
from layoutcheck.cli.problems import ExitCode
from layoutcheck.cli.typed import run_typed
from layoutcheck.report.exports import Given, make_export

Output = Annotated[
    str | None,
    typer.Option("-o", "--output", metavar="FILE", help="The .json or .yaml to write."),
]


def run(argv: Sequence[str]) -> int:
    """Run the command; give its exit code."""
    return run_typed("expand", _expand, argv)


def _expand(given: GivenLayout, output: Output = None) -> int:
    """Write a layout out in the long form. It is the same document: every check says the same.

    Exit codes: 0 written, 2 unusable input, 4 fault inside. Nothing is judged: see check.
    """
    ending = Path(output or "").suffix.lower()
    name = "layout.yaml" if ending in {".yaml", ".yml"} else "layout.json"
    deliver(make_export(name, Given(given.layout, given.file.data)), output)
    return ExitCode.COMPLIANT
