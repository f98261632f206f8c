"""layoutcheck schema: the JSON Schema of a document that is read or written."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Annotated

import typer

from layoutcheck.cli.problems import ExitCode, WrongCall
from layoutcheck.cli.screen import print_bytes
from layoutcheck.cli.typed import run_typed
from layoutcheck.document.faults import shown
from layoutcheck.report.schemas import SCHEMAS, schema_of


def run(argv: Sequence[str]) -> int:
    """Run the command; give its exit code."""
    return run_typed("schema", _schema, argv)


def schema_bytes(name: str) -> bytes:
    """Write a schema as it is printed and kept in shared/."""
    return (json.dumps(schema_of(name), indent=2, ensure_ascii=False) + "\n").encode()


def _schema(
    name: Annotated[
        str, typer.Argument(metavar="[NAME]", help=f"One of {', '.join(SCHEMAS)}.")
    ] = "layout",
) -> int:
    """Print the JSON Schema of a document, that of the layout if none is named."""
    if name not in SCHEMAS:
        raise WrongCall(f'there is no schema "{shown(name, 40)}"; there are {", ".join(SCHEMAS)}')
    print_bytes(schema_bytes(name))
    return ExitCode.COMPLIANT
