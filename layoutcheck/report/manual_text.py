"""Rule manuals as plain text."""

from __future__ import annotations

from collections.abc import Sequence

from layoutcheck.report.manuals import FigureManual, RuleManual
from layoutcheck.report.wrap import wrapped


def manual_list_text(manuals: Sequence[RuleManual], measuring: Sequence[FigureManual]) -> str:
    """List the rules: severity, figures in force, and one line on each."""
    lines: list[str] = []
    for manual in manuals:
        firm = "" if manual.waivable else ", can not be waived"
        figures = ", ".join(_in_force(f) for f in manual.figures)
        lines.append(f"{manual.name}  ({manual.severity}{firm})")
        lines += wrapped(manual.summary, indent="  ")
        lines += wrapped(f"In force: {figures}.", indent="  ") if figures else []
    lines += ["", *wrapped(" ".join(f.meaning for f in measuring))]
    lines += [f"In force: {', '.join(_in_force(f) for f in measuring)}."]
    lines += ["", "layoutcheck explain RULE shows all of one rule."]
    return "\n".join(lines) + "\n"


def manual_text(manual: RuleManual) -> str:
    """Write one rule's manual."""
    firm = "it can be waived" if manual.waivable else "it can not be waived"
    lines = [f"{manual.name}: {manual.severity}; {firm}", "", *wrapped(manual.summary)]
    lines += ["", "Gravity", *wrapped(f"{manual.gravity}: {manual.gravity_reason}", indent="  ")]
    for part in manual.parts:
        lines += ["", part.heading, *wrapped(part.text, indent="  ")]
    if manual.figures:
        lines += ["", "Figures that a pack can set"]
    for figure in manual.figures:
        changed = "" if figure.in_force == figure.built_in else f" (built in: {figure.built_in})"
        lines.append(f"  {figure.key} = {figure.in_force}{changed}")
        lines += wrapped(figure.meaning, indent="    ")
        lines += wrapped(f"Source: {figure.source}.", indent="    ")
    return "\n".join(lines) + "\n"


def _in_force(figure: FigureManual) -> str:
    changed = "" if figure.in_force == figure.built_in else f" (built in: {figure.built_in})"
    return f"{figure.key} {figure.in_force}{changed}"
