"""layoutcheck explain: what a rule asks, why, and where its figures come from."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from typing import Annotated

import typer

from layoutcheck.cli.files import read_pack
from layoutcheck.cli.options import Format, FormatOption, PackPath
from layoutcheck.cli.problems import ExitCode, WrongCall
from layoutcheck.cli.screen import print_bytes, print_text
from layoutcheck.cli.typed import run_typed
from layoutcheck.document.faults import shown
from layoutcheck.report.explain import (
    UnknownRule,
    measuring_manual,
    rule_manual,
    rule_manuals,
)
from layoutcheck.report.manual_text import manual_list_text, manual_text
from layoutcheck.rules.pack import Pack

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
    pack = None if pack_path is None else read_pack(pack_path)
    if rule is None:
        return _list(form, pack)
    try:
        manual = rule_manual(rule, pack=pack)
    except UnknownRule as error:
        raise WrongCall(_no_such_rule(error)) from None
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


def _list(form: Format, pack: Pack | None) -> int:
    manuals = rule_manuals(pack=pack)
    if form is Format.JSON:
        rows = ",\n".join(m.model_dump_json(indent=2) for m in manuals)
        print_bytes(f"[\n{rows}\n]\n".encode())
    else:
        print_text(manual_list_text(manuals, measuring_manual(pack=pack)))
    return ExitCode.COMPLIANT


def _no_such_rule(error: UnknownRule) -> str:
    near = difflib.get_close_matches(error.name, error.known, n=3, cutoff=0.4)
    hint = f" Nearest: {', '.join(near)}." if near else ""
    return f'there is no rule "{shown(error.name, 60)}".{hint} layoutcheck explain lists all'
