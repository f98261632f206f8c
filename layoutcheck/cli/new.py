"""layoutcheck new: a small layout in the short form to begin with."""

from __future__ import annotations

import os
from collections.abc import Sequence
from enum import StrEnum
from importlib.resources import files
from pathlib import Path
from typing import Annotated

import typer

from layoutcheck.cli.problems import ExitCode, WrongCall
from layoutcheck.cli.screen import print_text
from layoutcheck.cli.typed import run_typed
from layoutcheck.document.faults import shown


class Shape(StrEnum):
    """What a layout may be begun from."""

    RISER = "riser"
    LOOP = "loop"
    HEADER = "header"


def run(argv: Sequence[str]) -> int:
    """Run the command; give its exit code."""
    return run_typed("new", _new, argv)


def _new(
    path: Annotated[str, typer.Argument(metavar="FILE", help="The .yaml to write: a new file.")],
    shape: Annotated[Shape, typer.Option("--from", help="What it is to look like.")] = Shape.RISER,
) -> int:
    """Write a small layout that you can change to your site. Never overwrites.

    Exit codes: 0 written, 2 it can not be written, 4 fault inside.
    """
    if Path(path).suffix.lower() not in {".yaml", ".yml"}:
        raise WrongCall(f"{shown(path)} must end in .yaml or .yml: it is to be read and typed in")
    text = (files("layoutcheck.document") / "starters" / f"{shape.value}.yaml").read_bytes()
    _write_new(path, text)
    print_text(
        f"Wrote {shown(path, 200)}: an invented site. Change it to yours, then:\n"
        f"  layoutcheck check {shown(path, 200)}\n"
        "What each word means: layoutcheck explain layout\n"
    )
    return ExitCode.COMPLIANT


def _write_new(path: str, data: bytes) -> None:
    try:
        with open(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666), "wb") as stream:
            stream.write(data)
    except FileExistsError:
        raise WrongCall(f"{shown(path)} is there already and is left as it is") from None
    except OSError as error:
        reason = shown(error.strerror or "unknown reason")
        raise WrongCall(f"{shown(path)} can not be written: {reason}") from None
