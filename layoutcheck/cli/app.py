"""Find the command that was asked for, run it, and turn whatever happens into an exit code.

A command is a module of this package with run(argv) -> exit code, and one line in COMMANDS. It is
imported only when it is asked for, so that help and errors come at once.
"""

from __future__ import annotations

import difflib
import gc
import importlib
import itertools
import os
import sys
import textwrap
from collections.abc import Callable, Sequence
from importlib.metadata import entry_points

from layoutcheck import __version__
from layoutcheck.cli.problems import ExitCode, ReaderGone, UnusableInput, WrongCall
from layoutcheck.cli.screen import print_bytes, print_problem, print_text
from layoutcheck.extras import how_to_install

Runner = Callable[[Sequence[str]], int]

# Name of the command -> (its module, what it does).
COMMANDS: dict[str, tuple[str, str]] = {
    "new": ("layoutcheck.cli.new", "Begin a layout: a small one to change to your site."),
    "check": ("layoutcheck.cli.check", "Check a layout: what is broken, and where plugs may go."),
    "draw": ("layoutcheck.cli.draw", "Draw a layout and its verdict as SVG, PNG or PDF."),
    "plan": ("layoutcheck.cli.plan", "Find what to close and where to freeze for the work."),
    "survey": ("layoutcheck.cli.survey", "Ask many sites at once what can be isolated."),
    "sheet": ("layoutcheck.cli.sheet", "Write the crew's sheet, and the log to fill in."),
    "log": ("layoutcheck.cli.log", "Hold a filled log to the schedule."),
    "takeoff": ("layoutcheck.cli.takeoff", "Count quantities for an estimate: CSV, JSON, XLSX."),
    "import": ("layoutcheck.cli.import_", "Make a layout of a model, drawing, network or sheets."),
    "export": (
        "layoutcheck.cli.export",
        "Write plugs into a copy of a model or drawing, or sheets.",
    ),
    "expand": ("layoutcheck.cli.expand", "Write a layout that was typed short out in full."),
    "explain": ("layoutcheck.cli.explain", "Say what the rules ask, why, and who says so."),
    "schema": ("layoutcheck.cli.schema", "Print the JSON Schema of a layout or a report."),
    "freeze": ("layoutcheck.cli.freeze", "Estimate the freeze of one pipe, without a layout."),
    "pack": ("layoutcheck.cli.pack", "Print the built-in figures, to copy and change."),
    "record": ("layoutcheck.cli.record", "Keep what was agreed, and show whether it was changed."),
    "selftest": ("layoutcheck.cli.selftest", "Test that this installation calculates correctly."),
}

# Commands of other packages: (what they do, how to get them).
ELSEWHERE: dict[str, tuple[str, str]] = {
    "serve": ("Answer over HTTP, with a page to draw on.", "pip install ./api"),
    "keys": ("Make, list and revoke the API keys of the service.", "pip install ./api"),
}

ENTRY_POINTS = "layoutcheck.commands"
DEBUG = "LAYOUTCHECK_DEBUG"


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line and give its exit code. It never ends in a traceback.

    argv: the arguments; those of the process if None. LAYOUTCHECK_DEBUG=1 in the environment
    shows where a fault arose.
    """
    given = list(sys.argv[1:] if argv is None else argv)
    try:
        try:
            return _dispatch(given)
        except UnusableInput as problem:
            return _refuse(given, problem)
    except WrongCall as problem:
        print_problem(f"layoutcheck: {problem}")
        return ExitCode.UNUSABLE
    except KeyboardInterrupt:
        return ExitCode.INTERRUPTED
    except (ReaderGone, BrokenPipeError):
        _let_go_of_output()
        return ExitCode.READER_GONE
    except Exception as error:
        return _ended_with(error)


def _ended_with(error: Exception) -> int:
    told = how_to_install(error) if isinstance(error, ImportError) else None
    if told is not None:
        print_problem(f"layoutcheck: {told}")
        return ExitCode.UNUSABLE
    if os.environ.get(DEBUG):
        raise error
    print_problem(
        f"layoutcheck: a fault of layoutcheck itself ({type(error).__name__}); there is no "
        f"answer, and nothing may be taken from it. {DEBUG}=1 shows where it arose."
    )
    return ExitCode.FAULT


def _dispatch(argv: list[str]) -> int:
    if not argv or argv[0] in {"-h", "--help", "help"}:
        print_text(help_text())
        return ExitCode.COMPLIANT if argv else ExitCode.UNUSABLE
    if argv[0] == "--version":
        print_text(f"layoutcheck {__version__}\n")
        return ExitCode.COMPLIANT
    return _runner(argv[0])(argv[1:])


def _runner(name: str) -> Runner:
    if name in COMMANDS:
        gc.disable()  # to load modules makes no garbage, and looking for it takes a while
        try:
            module = importlib.import_module(COMMANDS[name][0])
        finally:
            gc.enable()
        run: Runner = module.run
        return run
    for entry in entry_points(group=ENTRY_POINTS, name=name):
        found: Runner = entry.load()
        return found
    if name in ELSEWHERE:
        raise WrongCall(f"{name} is not installed. To install it: {ELSEWHERE[name][1]}")
    near = difflib.get_close_matches(name, [*COMMANDS, *ELSEWHERE], n=1)
    meant = f"; is {near[0]} meant?" if near else "."
    raise WrongCall(f"there is no command {name[:40]!a}{meant} See layoutcheck --help")


def help_text() -> str:
    """Write what the commands do, a line for each."""
    rows = {name: does for name, (_, does) in COMMANDS.items()}
    rows |= {name: does for name, (does, _) in ELSEWHERE.items()}
    width = max(len(name) for name in rows)
    listed = "\n".join(f"  {name:<{width}}  {does}" for name, does in rows.items())
    return textwrap.dedent("""\
        layoutcheck checks where ice plugs may be frozen in water-filled building pipe.

        layoutcheck COMMAND [OPTIONS]

        {listed}

        layoutcheck COMMAND --help shows what a command takes; layoutcheck --version its version.
        Exit codes: 0 compliant, 1 broken, 2 unusable input, 3 undecided, 4 fault inside.
        Local codes, the site's permits and licensed practice decide; this only checks a drawing.
        """).format(listed=listed)


def _refuse(argv: Sequence[str], problem: UnusableInput) -> int:
    # Imported here, for help and wrong calls must not wait for the models.
    from layoutcheck.report.model import Refusal  # noqa: PLC0415
    from layoutcheck.report.text import faults_text  # noqa: PLC0415

    if _asks_for_json(argv):
        refusal = Refusal(given=problem.given, faults=problem.faults)
        print_bytes(refusal.to_json().encode())
    else:
        print_problem(faults_text(problem.given, problem.faults))
    return ExitCode.UNUSABLE


def _asks_for_json(argv: Sequence[str]) -> bool:
    pairs = itertools.pairwise(argv)
    return "--format=json" in argv or ("--format", "json") in pairs


def _let_go_of_output() -> None:
    """Point standard output at nothing, or Python complains once more as it ends."""
    try:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except (OSError, ValueError):
        return
