"""Run a function as a command: typer reads its options from the function's signature."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Sequence
from typing import Any

import typer
from typer.exceptions import TyperException

from layoutcheck.cli.problems import ExitCode, WrongCall

# The parameter of a command that stands for a layout, with options of its own.
_GIVEN = "given"


def run_typed(name: str, function: Callable[..., int], argv: Sequence[str]) -> int:
    """Call a function with the options and arguments of a command line; give its exit code.

    Raises WrongCall where they do not fit its signature.
    """
    app = typer.Typer(add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False)
    app.command(context_settings={"help_option_names": ["-h", "--help"]})(_spelled_out(function))
    try:
        code = app(list(argv), prog_name=f"layoutcheck {name}", standalone_mode=False)
    except TyperException as error:
        problem = error.format_message().replace("Value error, ", "").strip().rstrip(".")
        raise WrongCall(f"{problem}. See layoutcheck {name} --help") from None
    except typer.Abort:
        raise KeyboardInterrupt from None
    return int(code or ExitCode.COMPLIANT)


def _spelled_out(function: Callable[..., int]) -> Callable[..., int]:
    """Give a function that takes the parts of what is given one by one, as typer needs them."""
    signature = inspect.signature(function, eval_str=True)
    if _GIVEN not in signature.parameters:
        return function
    given = signature.parameters[_GIVEN].annotation
    parts = inspect.signature(given, eval_str=True).parameters

    def called(**values: Any) -> int:  # noqa: ANN401 - whatever typer read
        rest = {name: value for name, value in values.items() if name not in parts}
        return function(given(**{name: values[name] for name in parts}), **rest)

    first, *last = parts.values()
    own = [p for name, p in signature.parameters.items() if name != _GIVEN]
    every = [p.replace(kind=inspect.Parameter.KEYWORD_ONLY) for p in (first, *own, *last)]
    called.__signature__ = inspect.Signature(every)  # type: ignore[attr-defined]
    called.__annotations__, called.__doc__ = {}, function.__doc__
    return called
