"""layoutcheck record: keep what was agreed, and show later whether it was changed."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence
from contextlib import contextmanager
from enum import StrEnum
from typing import TYPE_CHECKING, Annotated

import typer

from layoutcheck.cli.files import deliver, read_bytes, read_pack_file
from layoutcheck.cli.given import GivenLayout
from layoutcheck.cli.options import Day, Format, FormatOption, OutputPath, PackPath, day_of
from layoutcheck.cli.problems import ExitCode, UnusableInput, WrongCall
from layoutcheck.cli.screen import print_bytes, print_problem, print_text
from layoutcheck.cli.typed import run_typed
from layoutcheck.document.faults import LayoutFaults, shown

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pydantic import BaseModel

    from layoutcheck.record.entry import Kept
    from layoutcheck.record.exported import ExportedRecord
    from layoutcheck.record.ledger import Ledger
    from layoutcheck.record.making import Recheck

DEFAULT_FILE = "layoutcheck-record.sqlite"
WHERE_VARIABLE = "LAYOUTCHECK_RECORD"

Where = Annotated[
    str,
    typer.Option(
        "--in",
        metavar="FILE|URL",
        envvar=WHERE_VARIABLE,
        show_envvar=True,
        help="The record: a SQLite file, or postgresql://USER@HOST/DATABASE. A password is best "
        "left to PostgreSQL's own password file.",
    ),
]
Number = Annotated[int, typer.Argument(metavar="NUMBER", min=1, help="The entry's number.")]


class Part(StrEnum):
    """A text that an entry keeps."""

    LAYOUT = "layout"
    PACK = "pack"
    REPORT = "report"


def run(argv: Sequence[str]) -> int:
    """Run the command; give its exit code."""
    if not argv or argv[0] in {"-h", "--help"}:
        print_text(_help())
        return ExitCode.COMPLIANT if argv else ExitCode.UNUSABLE
    function = _ACTIONS.get(argv[0])
    if function is None:
        raise WrongCall(f"record does not know {shown(argv[0], 40)!a}. See layoutcheck record -h")
    # Here, before anything is asked: the extra parts are not there in every installation.
    import alembic  # noqa: F401, PLC0415
    import psycopg  # noqa: F401, PLC0415
    import rfc8785  # noqa: F401, PLC0415
    import sqlalchemy  # noqa: F401, PLC0415

    from layoutcheck.record.making import NotToBeSigned  # noqa: PLC0415
    from layoutcheck.record.problems import RecordProblem, RecordUnsure  # noqa: PLC0415

    try:
        return run_typed(f"record {argv[0]}", function, argv[1:])
    except (NotToBeSigned, RecordUnsure) as problem:
        print_problem(f"layoutcheck record: {problem}")
        return ExitCode.FAULT
    except RecordProblem as problem:
        raise WrongCall(f"record: {problem}") from None


def _add(
    given: GivenLayout,
    name: Annotated[str, typer.Option("--name", help="Who signs.")],
    where: Where = DEFAULT_FILE,
    role: Annotated[str, typer.Option("--role", help="What the signer is on this job.")] = "",
    note: Annotated[str, typer.Option("--note", help="What else was agreed, in a line.")] = "",
    pack_path: PackPath = None,
    day: Day = None,
    form: FormatOption = Format.TEXT,
) -> int:
    """Check a layout and record the layout, the figures, the report, who and when.

    Exit codes: that of the report, once it is recorded: 0 compliant, 1 broken, 3 undecided. With
    2 and 4 nothing is recorded, except where the message says that this is not known.
    """
    from layoutcheck.record.making import Agreed, draft_of, read_signer  # noqa: PLC0415
    from layoutcheck.record.model import Recorded  # noqa: PLC0415
    from layoutcheck.record.text import recorded_text  # noqa: PLC0415

    with _faults_in("the signer"):
        signer = read_signer({"name": name, "role": role, "note": note})
    ledger = _ledger(where)
    pack = None if pack_path is None else read_pack_file(pack_path)[0]
    read = given.file
    on = day_of(read.layout, day)
    agreed = Agreed(read.layout, read.text, read.form, pack, on, signer)
    draft, report = draft_of(agreed)
    kept = ledger.append(draft)
    _show(form, Recorded.of(kept), recorded_text(kept))
    return report.exit_code


def _list(
    where: Where = DEFAULT_FILE,
    before: Annotated[
        int | None, typer.Option("--before", min=1, help="Only entries before this number.")
    ] = None,
    limit: Annotated[int, typer.Option("--limit", min=1, max=1000, help="How many.")] = 20,
    form: FormatOption = Format.TEXT,
) -> int:
    """List entries, the newest first."""
    from layoutcheck.record.model import page_of  # noqa: PLC0415
    from layoutcheck.record.text import list_text  # noqa: PLC0415

    ledger = _ledger(where)
    found = ledger.newest(before=before, limit=limit)
    _show(form, page_of(found), list_text(found, total=ledger.count()))
    return ExitCode.COMPLIANT


def _show_one(
    number: Number,
    where: Where = DEFAULT_FILE,
    part: Annotated[
        Part | None, typer.Option("--part", help="Give one text that it keeps, to the byte.")
    ] = None,
    output: OutputPath = None,
    form: FormatOption = Format.TEXT,
) -> int:
    """Show an entry, or give back a text that it keeps."""
    from layoutcheck.record.model import detail_of  # noqa: PLC0415
    from layoutcheck.record.text import entry_text  # noqa: PLC0415

    ledger = _ledger(where)
    kept = _entry(ledger, number)
    if part is not None:
        deliver(_text(ledger, kept, part), output)
    elif form is Format.JSON:
        deliver(_written(detail_of(kept, ledger.text)), output)
    else:
        _deliver_text(entry_text(kept, ledger.text(kept.entry.report)), output)
    return ExitCode.COMPLIANT


def _verify(
    where: Where = DEFAULT_FILE,
    heads: Annotated[
        list[str] | None,
        typer.Option("--head", metavar="HASH", help="A hash noted before; may be repeated."),
    ] = None,
    exported: Annotated[
        str | None,
        typer.Option("--export", metavar="FILE", help="Verify an exported file instead."),
    ] = None,
    again: Annotated[
        bool, typer.Option("--recheck", help="If whole, check each layout again as well.")
    ] = False,
    form: FormatOption = Format.TEXT,
) -> int:
    """Find out whether any entry was changed, taken out, put in or moved, and which.

    Exit codes: 0 whole, 1 changed, 2 no record, 3 a report could not be made again, 4 fault.
    """
    from layoutcheck.record.chain import UnsoundHash, noted_hash  # noqa: PLC0415
    from layoutcheck.record.model import Verification  # noqa: PLC0415
    from layoutcheck.record.text import verified_text  # noqa: PLC0415

    try:
        noted = [noted_hash(h) for h in heads or ()]
    except UnsoundHash as problem:
        raise WrongCall(f"--head: {problem}") from None
    source = _ledger(where) if exported is None else _read_export(exported)
    verified = source.verify(noted)
    rechecks = tuple(_rechecks(source)) if again and verified.whole else ()
    found = Verification.of(verified, rechecks)
    _show(form, found, verified_text(found))
    return found.exit_code


def _export(output: OutputPath = None, where: Where = DEFAULT_FILE) -> int:
    """Write the whole record as one file (JSON Lines), to hand on or to put away."""
    from layoutcheck.record.exported import export_lines  # noqa: PLC0415

    deliver(b"".join(export_lines(_ledger(where))), output)
    return ExitCode.COMPLIANT


def _prepare(where: Where = DEFAULT_FILE) -> int:
    """Begin a record, or bring one of an older version up to date."""
    ledger = _ledger(where)
    ledger.prepare()
    print_text(f"Ready: {ledger.place.shown}.\n")
    return ExitCode.COMPLIANT


_ACTIONS: dict[str, Callable[..., int]] = {
    "add": _add,
    "list": _list,
    "show": _show_one,
    "verify": _verify,
    "export": _export,
    "prepare": _prepare,
}


def _help() -> str:
    rows = {name: (f.__doc__ or "").split("\n")[0] for name, f in _ACTIONS.items()}
    listed = "\n".join(f"  {name:<8} {does}" for name, does in rows.items())
    return textwrap.dedent("""\
        layoutcheck record keeps what was agreed: layout, figures, report, who and when.

        layoutcheck record ACTION [OPTIONS]

        {listed}

        The record is a SQLite file ({file}) unless --in or
        {variable} names another file or a PostgreSQL database.
        layoutcheck record ACTION --help shows what an action takes.
        Recording is not a permit: local codes, the site's permits and licensed practice decide.
        """).format(listed=listed, file=DEFAULT_FILE, variable=WHERE_VARIABLE)


def _ledger(where: str) -> Ledger:
    from layoutcheck.record.ledger import Ledger  # noqa: PLC0415

    return Ledger(where)


def _entry(ledger: Ledger, number: int) -> Kept:
    kept = ledger.get(number)
    if kept is None:
        raise WrongCall(f"record: {ledger.place.shown} has no entry {number}.")
    return kept


def _text(ledger: Ledger, kept: Kept, part: Part) -> bytes:
    body = ledger.text(kept.entry.texts[part.value])
    if body is None:
        raise WrongCall(
            f"record: the {part.value} of entry {kept.entry.sequence} is not there. "
            "See layoutcheck record verify"
        )
    return body


def _read_export(path: str) -> ExportedRecord:
    from layoutcheck.record.exported import ExportedRecord  # noqa: PLC0415

    given = f"exported record {shown(path, 200)}"
    with _faults_in(given):
        return ExportedRecord(read_bytes(given, path))


def _rechecks(source: Ledger | ExportedRecord) -> Iterator[Recheck]:
    from layoutcheck.record.making import recheck  # noqa: PLC0415

    for kept in source.walk():
        yield recheck(kept, source.text)


@contextmanager
def _faults_in(given: str) -> Iterator[None]:
    try:
        yield
    except LayoutFaults as error:
        raise UnusableInput(given, error.faults) from None


def _written(model: BaseModel) -> bytes:
    return (model.model_dump_json(indent=2) + "\n").encode()


def _show(form: Format, model: BaseModel, text: str) -> None:
    if form is Format.JSON:
        print_bytes(_written(model))
    else:
        print_text(text)


def _deliver_text(text: str, output: str | None) -> None:
    if output is None:
        print_text(text)
    else:
        deliver(text.encode(), output)
