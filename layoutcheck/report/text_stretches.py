"""Where a plug may stand and what shuts out the rest, in few lines."""

from __future__ import annotations

import math
from collections.abc import Iterable

from layoutcheck.placement import away_from
from layoutcheck.quantities import UnitSystem
from layoutcheck.report.model import PlugPart, ShutStretch
from layoutcheck.report.wrap import some_of, wrapped

_MOST_CLEAR = 12
_MOST_SHUT = 5
# Two stretches that lie this near (m) are one to a reader.
_TOUCH = 1e-6

# A stretch of a pipe: (pipe, start, end), stations in m.
Span = tuple[str, float, float]


def stretches_lines(plug: PlugPart, units: str) -> list[str]:
    """Write a plug's clear stretches and, rule by rule, what shuts out the rest."""
    if not plug.clear and not plug.shut_out:
        return []
    title = f"WHERE PLUG {plug.id} MAY STAND (its centre, the other plugs as marked)"
    lines = wrapped(title, indent="  ", first="")
    for clear in plug.clear[:_MOST_CLEAR]:
        text = (
            f"{clear.pipe} from {clear.from_junction}: {clear.start.shown} to {clear.end.shown}, "
            f"{clear.room.shown} long"
        )
        lines += wrapped(text, indent="      ", first="    ")
    more = len(plug.clear) - _MOST_CLEAR
    if more > 0:
        lines.append(f"    and {more} more stretches; the JSON report lists them all")
    if not plug.clear:
        lines.append("    nowhere")
    return lines + _shut_lines(plug.shut_out, UnitSystem(units))


def _shut_lines(stretches: Iterable[ShutStretch], units: UnitSystem) -> list[str]:
    by_rule: dict[str, list[Span]] = {}
    for stretch in stretches:
        span = (stretch.pipe, stretch.start.value, stretch.end.value)
        for rule in stretch.rules:
            by_rule.setdefault(rule, []).append(span)
    lines: list[str] = []
    for rule, spans in sorted(by_rule.items()):
        joined = _joined(spans)
        texts = [
            f"{pipe} {away_from(start, -math.inf, units).texts[0]} to "
            f"{away_from(end, math.inf, units).texts[0]}"
            for pipe, start, end in joined
        ]
        in_all = sum(end - start for _, start, end in joined)
        total = away_from(in_all, math.inf, units).texts[0]
        text = f"ruled out by {rule}, {total} in all: {some_of(texts, _MOST_SHUT)}"
        lines += wrapped(text, indent="        ", first="    ")
    return lines


def _joined(spans: Iterable[Span]) -> list[Span]:
    """Join the stretches of one rule that touch on one pipe."""
    found: list[Span] = []
    for pipe, start, end in sorted(spans):
        last = found[-1] if found else None
        if last is not None and last[0] == pipe and start - last[2] <= _TOUCH:
            found[-1] = (pipe, last[1], max(last[2], end))
        else:
            found.append((pipe, start, end))
    return found
