"""layoutcheck parts: what this installation is made of, and under which licences."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from importlib.metadata import PackageNotFoundError
from typing import Annotated

import typer

from layoutcheck.cli.files import deliver
from layoutcheck.cli.options import OutputPath
from layoutcheck.cli.problems import ExitCode, WrongCall
from layoutcheck.cli.screen import print_text
from layoutcheck.cli.typed import run_typed
from layoutcheck.document.faults import shown
from layoutcheck.parts import UnknownExtra, cyclonedx_json, installation, parts_text


class PartsFormat(StrEnum):
    """How the parts are listed."""

    TEXT = "text"
    JSON = "json"


def run(argv: Sequence[str]) -> int:
    """Run the command; give its exit code."""
    return run_typed("parts", _parts, argv)


def _parts(
    form: Annotated[
        PartsFormat,
        typer.Option("--format", help="text for people, json for a CycloneDX bill of materials."),
    ] = PartsFormat.TEXT,
    extras: Annotated[
        list[str] | None,
        typer.Option(
            "--extra", metavar="NAME", help="Count this extra in; again for more. Else all there."
        ),
    ] = None,
    output: OutputPath = None,
) -> int:
    """List every installed package that layoutcheck needs, with its licence.

    Exit codes: 0 all there, 2 no such extra, 4 a needed package is not installed.
    """
    try:
        whole = installation(extras or None)
    except UnknownExtra as error:
        known = ", ".join(error.known)
        raise WrongCall(f'there is no extra "{shown(error.name, 60)}"; known: {known}') from None
    except PackageNotFoundError:
        raise WrongCall("layoutcheck runs from its sources; nothing is installed to list") from None
    if form is PartsFormat.JSON:
        deliver(cyclonedx_json(whole).encode(), output)
    elif output is None:
        print_text(parts_text(whole))
    else:
        deliver(parts_text(whole).encode(), output)
    return ExitCode.FAULT if whole.missing else ExitCode.COMPLIANT
