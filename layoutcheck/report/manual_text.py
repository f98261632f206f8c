"""Rule manuals as plain text."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from layoutcheck.report.explain import FigureManual, RuleManual

WIDTH = 96


def manual_list_text(manuals: Sequence[RuleManual], measuring: Sequence[FigureManual]) -> str:
    """List the rules: severity, figures in force, and one line on each."""
    lines: list[str] = []
    for manual in manuals:
        firm = "" if manual.waivable else ", can not be waived"
        figures = ", ".join(_in_force(f) for f in manual.figures)
        lines.append(f"{manual.name}  ({manual.severity}{firm})")
        lines += _wrapped(manual.summary, "  ")
        lines += _wrapped(f"In force: {figures}.", "  ") if figures else []
    lines += ["", *_wrapped(" ".join(f.meaning for f in measuring))]
    lines += [f"In force: {', '.join(_in_force(f) for f in measuring)}."]
    lines += ["", "layoutcheck explain RULE tells the whole of one rule."]
    return "\n".join(lines) + "\n"


def manual_text(manual: RuleManual) -> str:
    """Write one rule's manual."""
    firm = "it can be waived" if manual.waivable else "it can not be waived"
    lines = [f"{manual.name}: {manual.severity}; {firm}", "", *_wrapped(manual.summary)]
    for part in manual.parts:
        lines += ["", part.heading, *_wrapped(part.text, "  ")]
    if manual.figures:
        lines += ["", "Figures that a pack can set"]
    for figure in manual.figures:
        changed = "" if figure.in_force == figure.built_in else f" (built in: {figure.built_in})"
        lines.append(f"  {figure.key} = {figure.in_force}{changed}")
        lines += _wrapped(figure.meaning, "    ")
        lines += _wrapped(f"Source: {figure.source}.", "    ")
    return "\n".join(lines) + "\n"


def _in_force(figure: FigureManual) -> str:
    changed = "" if figure.in_force == figure.built_in else f" (built in: {figure.built_in})"
    return f"{figure.key} {figure.in_force}{changed}"


def _wrapped(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(
        text,
        WIDTH,
        initial_indent=indent,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
