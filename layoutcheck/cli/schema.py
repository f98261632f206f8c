"""layoutcheck schema: the JSON Schema of a document that is read or written."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

import typer

from layoutcheck.cli.problems import ExitCode, WrongCall
from layoutcheck.cli.screen import print_bytes
from layoutcheck.cli.typed import run_typed
from layoutcheck.document.faults import shown
from layoutcheck.kept import kept

_SUFFIX = ".schema.json"
# They are kept as files: to make one takes every model there is.
NAMES = sorted(f.name.removesuffix(_SUFFIX) for f in kept("schemas").glob(f"*{_SUFFIX}"))


def run(argv: Sequence[str]) -> int:
    """Run the command; give its exit code."""
    return run_typed("schema", _schema, argv)


def _schema(
    name: Annotated[
        str, typer.Argument(metavar="[NAME]", help=f"One of {', '.join(NAMES)}.")
    ] = "layout",
) -> int:
    """Print the JSON Schema of a document, that of the layout if none is named."""
    if name not in NAMES:
        raise WrongCall(f'there is no schema "{shown(name, 40)}"; there are {", ".join(NAMES)}')
    print_bytes(kept(f"schemas/{name}{_SUFFIX}").read_bytes())
    return ExitCode.COMPLIANT
