"""The joint mending of all plugs as plain text."""

from __future__ import annotations

from layoutcheck.report.model import Report, ShutWayPart
from layoutcheck.report.wrap import some_of, wrapped

_MOST_PIPES = 4
_MOST_LEFT = 5


def mending_lines(report: Report) -> list[str]:
    """Say how all plugs pass together, what must be added, or why nothing will do."""
    mending = report.mending
    if mending is None or (len(report.plugs) == 1 and mending.status == "moves"):
        return []  # a single plug's own nearest place says it all
    lines = wrapped(f"ALL PLUGS TOGETHER. {mending.says}", indent="  ", first="")
    for move in mending.moves:
        name = f"plug {move.plug}" + (" (one more)" if move.added else "")
        text = (
            f"{name}: {move.pipe}, tape {move.tape.shown} from {move.from_junction}; "
            f"{move.travel.shown} of travel"
        )
        lines += wrapped(text, indent="      ", first="  - ")
    if mending.added is not None and mending.added.kind.endswith("valve"):
        text = f"Prove valve {mending.added.id} tight before any cylinder is opened."
        lines += wrapped(text, indent="    ", first="  ! ")
    if mending.remaining:
        left = tuple(dict.fromkeys(r.rule for r in mending.remaining))
        text = f"Still open then: {some_of(left, _MOST_LEFT)}."
        lines += wrapped(text, indent="    ", first="  ")
    for way in mending.ways:
        lines += _way(way)
    return lines


def _way(way: ShutWayPart) -> list[str]:
    lines = wrapped(f"From {way.source}, no plug may stand on:", indent="    ", first="  ")
    for pipe in way.pipes[:_MOST_PIPES]:
        text = f"{pipe.pipe}: {some_of(pipe.rules, _MOST_PIPES)}"
        lines += wrapped(text, indent="        ", first="    - ")
    if len(way.pipes) > _MOST_PIPES:
        lines.append(f"    and {len(way.pipes) - _MOST_PIPES} more pipes")
    return lines
