"""layoutcheck survey: many sites at once, on all cores or on a cluster."""

from __future__ import annotations

import difflib
import json
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer

from layoutcheck.cli.files import Stated, read_bytes, read_pack
from layoutcheck.cli.options import PackPath, SetOption, WithOption
from layoutcheck.cli.problems import ExitCode, WrongCall
from layoutcheck.cli.screen import print_problem, print_text
from layoutcheck.cli.typed import run_typed
from layoutcheck.document.faults import shown
from layoutcheck.quantities import QuantityError, parse_duration
from layoutcheck.rules.pack import Pack
from layoutcheck.rules.registry import default_pack
from layoutcheck.survey.items import Choice, Settings
from layoutcheck.survey.journal import Busy
from layoutcheck.survey.run import Standing, Watch
from layoutcheck.survey.sites import NoSites, find_sites

Where = Annotated[
    str,
    typer.Argument(
        metavar="DIR|LIST", help="A folder to search for layouts, or a text file with their paths."
    ),
]
Works = Annotated[
    list[str] | None,
    typer.Option(
        "--work",
        metavar="|".join([*Choice, "ID"]),
        help="What is opened, also a valve or pump by its id or GlobalId; may be given more than "
        "once. [every-valve]",
    ),
]
Result = Annotated[
    str, typer.Option("-o", "--output", metavar="RESULT.parquet", help="Where the table goes.")
]
Scheduler = Annotated[
    str | None,
    typer.Option(
        "--scheduler",
        metavar="ADDRESS",
        help="A dask cluster, as tcp://host:8786; its workers need layoutcheck. [this machine]",
    ),
]
Workers = Annotated[
    int | None,
    typer.Option("--workers", min=1, max=1024, help="Processes of this machine. [its cores]"),
]
Steps = Annotated[
    int,
    typer.Option(
        "--steps", min=1, max=10_000_000, help="Steps of each search; the best so far is taken."
    ),
]
TimeLimit = Annotated[
    float,
    typer.Option(
        "--time-limit", min=0.1, max=86400, metavar="SECONDS", help="Longest search of one work."
    ),
]
Duration = Annotated[
    str, typer.Option("--duration", help="How long a work takes where its layout states none.")
]
IfAPlugGoes = Annotated[
    str | None,
    typer.Option(
        "--if-a-plug-goes",
        metavar="TEXT",
        help="Who stops the water, where and how, where a layout states none.",
    ),
]

# s between two lines of progress where no screen shows a bar.
_EVERY = 30.0


def run(argv: Sequence[str]) -> int:
    """Run the command; give its exit code."""
    return run_typed("survey", _survey, argv)


def _survey(
    where: Where,
    output: Result,
    *,
    works: Works = None,
    scheduler: Scheduler = None,
    workers: Workers = None,
    pack_path: PackPath = None,
    steps: Steps = 300,
    time_limit: TimeLimit = 120.0,
    duration: Duration = "4 h",
    if_a_plug_goes: IfAPlugGoes = None,
    facts: SetOption = None,
    files: WithOption = None,
) -> int:
    """Ask of many layouts which valves, pumps or stated works can be isolated by freezing.

    Beside the table go a summary (.summary.json), a picture (.png) and a journal (.journal) of
    finished items. After Ctrl-C or a crash the same command goes on where it was; delete the
    journal to begin afresh. Valves are taken as each layout states them.
    Exit codes: 0 each work is answered, 2 unusable input, 3 some have no answer, 4 fault inside.
    """
    if scheduler is not None and workers is not None:
        raise WrongCall("--workers is for this machine; a cluster at an address has its own")
    pack, text = _pack(pack_path)
    over = _over(Stated.of(files, facts))
    settings = Settings(text, steps, time_limit, _checked(duration), if_a_plug_goes, over)
    # Imported here: the extra parts are not there in every installation.
    from layoutcheck.survey.cluster import ClusterLost  # noqa: PLC0415
    from layoutcheck.survey.door import Job, Results, choices_of, run_survey  # noqa: PLC0415
    from layoutcheck.survey.summary import summary_text  # noqa: PLC0415
    from layoutcheck.survey.tasks import OtherVersion  # noqa: PLC0415

    try:
        job = Job(
            find_sites(Path(where)), choices_of(works or ()), settings, pack, Results(Path(output))
        )
        with _progress() as watch:
            summary, standing = run_survey(job, scheduler=scheduler, workers=workers, watch=watch)
        _known_works(works or (), standing)
    except (NoSites, Busy, ClusterLost, OtherVersion) as error:
        raise WrongCall(str(error)) from None
    except OSError as error:
        raise WrongCall(f"{output} can not be written: {error.strerror}") from None
    except KeyboardInterrupt:
        print_problem("What is finished is kept. The same command goes on from there.")
        raise
    print_text(summary_text(summary))
    print_problem(_effort(standing))
    return ExitCode.UNDECIDED if summary.whole.failed else ExitCode.COMPLIANT


def _pack(path: str | None) -> tuple[Pack, str | None]:
    """Give the pack and its text: workers read it for themselves."""
    if path is None:
        return default_pack(), None
    return read_pack(path), read_bytes(f"pack {path}", path).decode("utf-8-sig")


def _over(stated: Stated) -> str | None:
    """Give the statements over each layout as text: workers lay them over for themselves."""
    overlays = stated.overlays
    return json.dumps(overlays, sort_keys=True, default=str) if overlays else None


def _known_works(names: Sequence[str], standing: Standing) -> None:
    """Refuse a survey of an element that no layout has: an empty table would look like one."""
    strange = sorted(set(names) - set(Choice))
    if standing.items or standing.troubled or not strange:
        return
    near = difflib.get_close_matches(strange[0], list(Choice), n=1)
    meant = f"; is {near[0]} meant?" if near else ""
    raise WrongCall(
        f"no layout has a valve or pump with the id or GlobalId {shown(strange[0], 80)!r}{meant}"
    )


def _checked(duration: str) -> str:
    try:
        parse_duration(duration)
    except QuantityError as error:
        raise WrongCall(f"--duration {error.problem}, as in {error.example}") from None
    return duration


def _effort(standing: Standing) -> str:
    kept = standing.done - standing.asked
    return (
        f"{standing.asked} works asked in {standing.seconds:.0f} s of one core's work; "
        f"{kept} were answered before."
    )


@contextmanager
def _progress() -> Iterator[Watch]:
    """Show how far a survey is: a bar on a screen, a line now and then elsewhere."""
    if not sys.stderr.isatty():
        yield _Lines()
        return
    from rich.console import Console  # noqa: PLC0415
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn  # noqa: PLC0415

    columns = (TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        shown = bar.add_task("starting")

        def watch(standing: Standing) -> None:
            total = max(1, standing.items)
            bar.update(shown, description=_said(standing), completed=standing.done, total=total)

        yield watch


class _Lines:
    """Prints how far a survey is, a line now and then."""

    def __init__(self) -> None:
        self._last = time.monotonic()

    def __call__(self, standing: Standing) -> None:
        if time.monotonic() - self._last >= _EVERY:
            self._last = time.monotonic()
            print_problem(_said(standing))


def _said(standing: Standing) -> str:
    trouble = f", {standing.troubled} failed" if standing.troubled else ""
    return (
        f"{standing.opened} of {standing.sites} sites, {standing.done} of {standing.items} works"
        f"{trouble}; {standing.width} at a time"
    )
