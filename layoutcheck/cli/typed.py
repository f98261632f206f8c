"""Run a function as a command: typer reads its options from the function's signature."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import typer
from typer.exceptions import TyperException

from layoutcheck.cli.problems import ExitCode, WrongCall


def run_typed(name: str, function: Callable[..., int], argv: Sequence[str]) -> int:
    """Call a function with the options and arguments of a command line; give its exit code.

    Raises WrongCall where they do not fit its signature.
    """
    app = typer.Typer(add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False)
    app.command(context_settings={"help_option_names": ["-h", "--help"]})(function)
    try:
        code = app(list(argv), prog_name=f"layoutcheck {name}", standalone_mode=False)
    except TyperException as error:
        problem = error.format_message().replace("Value error, ", "").strip().rstrip(".")
        raise WrongCall(f"{problem}. See layoutcheck {name} --help") from None
    except typer.Abort:
        raise KeyboardInterrupt from None
    return int(code or ExitCode.COMPLIANT)
