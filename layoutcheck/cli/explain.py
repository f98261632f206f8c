"""layoutcheck explain: what a rule asks, why, and where its figures come from."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from typing import Annotated

import typer

from layoutcheck.cli.files import read_pack
from layoutcheck.cli.options import Format, FormatOption, PackPath
from layoutcheck.cli.problems import ExitCode, WrongCall
from layoutcheck.cli.screen import print_bytes, print_text
from layoutcheck.cli.typed import run_typed
from layoutcheck.document.faults import shown
from layoutcheck.report.manual_text import manual_list_text, manual_text
from layoutcheck.report.manuals import Manuals, kept_manuals

# Not a rule: the document itself.
LAYOUT = "layout"


def run(argv: Sequence[str]) -> int:
    """Run the command; give its exit code."""
    return run_typed("explain", _explain, argv)


def _explain(
    rule: Annotated[
        str | None,
        typer.Argument(
            metavar="[RULE]", help="A rule's name, or 'layout'; without one, all rules."
        ),
    ] = None,
    form: FormatOption = Format.TEXT,
    pack_path: PackPath = None,
) -> int:
    """Explain a rule, list all of them with the figures in force, or say how to write a layout."""
    if rule == LAYOUT:
        return _layout(form)
    manuals = kept_manuals() if pack_path is None else _with_pack(pack_path)
    if rule is None:
        return _list(form, manuals)
    named = {manual.name: manual for manual in manuals.rules}
    if rule not in named:
        raise WrongCall(_no_such_rule(rule, named))
    manual = named[rule]
    if form is Format.JSON:
        print_bytes((manual.model_dump_json(indent=2) + "\n").encode())
    else:
        print_text(manual_text(manual))
    return ExitCode.COMPLIANT


def _layout(form: Format) -> int:
    from layoutcheck.report.guide import guide_text, layout_guide  # noqa: PLC0415 - rarely asked

    guide = layout_guide()
    if form is Format.JSON:
        print_bytes((guide.model_dump_json(indent=2) + "\n").encode())
    else:
        print_text(guide_text(guide))
    return ExitCode.COMPLIANT


def _with_pack(path: str) -> Manuals:
    from layoutcheck.report.explain import manuals  # noqa: PLC0415 - loads every rule

    return manuals(pack=read_pack(path))


def _list(form: Format, manuals: Manuals) -> int:
    if form is Format.JSON:
        rows = ",\n".join(m.model_dump_json(indent=2) for m in manuals.rules)
        print_bytes(f"[\n{rows}\n]\n".encode())
    else:
        print_text(manual_list_text(manuals.rules, manuals.measuring))
    return ExitCode.COMPLIANT


def _no_such_rule(name: str, known: Iterable[str]) -> str:
    near = difflib.get_close_matches(name, known, n=3, cutoff=0.4)
    hint = f" Nearest: {', '.join(near)}." if near else ""
    return f'there is no rule "{shown(name, 60)}".{hint} layoutcheck explain lists all'
