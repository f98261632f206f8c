"""layoutcheck expand: the long form of a layout that was typed in the short one."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer
import yaml

from layoutcheck.cli.files import deliver
from layoutcheck.cli.given import GivenLayout
from layoutcheck.cli.problems import ExitCode
from layoutcheck.cli.typed import run_typed

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
    data = given.file.data
    if output is not None and Path(output).suffix.lower() in {".yaml", ".yml"}:
        text = yaml.safe_dump(data, sort_keys=False, allow_unicode=True, width=100)
    else:
        text = json.dumps(data, indent=2, ensure_ascii=False) + "\n"
    deliver(text.encode(), output)
    return ExitCode.COMPLIANT
