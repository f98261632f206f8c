"""The joint mending of all plugs as plain text."""

from __future__ import annotations

from layoutcheck.quantities import UnitSystem
from layoutcheck.report.action_words import DOING
from layoutcheck.report.model import AddedPart, Report, ShutWayPart, TogetherMove
from layoutcheck.report.text_first import both
from layoutcheck.report.wrap import some_of, wrapped

_MOST_PIPES = 4
_MOST_LEFT = 5


def mending_lines(report: Report) -> list[str]:
    """Say how all plugs pass together, what must be added, or why nothing will do."""
    mending, units = report.mending, UnitSystem(report.units)
    if mending is None or (len(report.plugs) == 1 and mending.status == "moves"):
        return []  # a single plug's own nearest place says it all
    lines = wrapped(f"ALL PLUGS TOGETHER. {mending.says}", indent="  ", first="")
    for reason in mending.why:
        lines += wrapped(reason, indent="  ", first="  ")
    for action in mending.actions:
        lines += wrapped(to_do(action), indent="      ", first="  - ")
    for move in mending.moves:
        lines += wrapped(goes_to(move), indent="      ", first="  - ")
    if mending.drain_before is not None and mending.drain_after is not None:
        text = (
            f"Drains at the work: {both(mending.drain_before, units)} as marked, "
            f"{both(mending.drain_after, units)} then."
        )
        lines += wrapped(text, indent="    ", first="  ")
    if mending.remaining:
        left = tuple(dict.fromkeys(r.rule for r in mending.remaining))
        text = f"Still open then: {some_of(left, _MOST_LEFT)}."
        lines += wrapped(text, indent="    ", first="  ")
    for way in mending.ways:
        lines += _way(way)
    return lines


def to_do(action: AddedPart) -> str:
    """Say what must be done besides moving plugs."""
    return DOING[action.kind].format(action.id)


def goes_to(move: TogetherMove) -> str:
    """Say where one plug goes, or that it stays."""
    if not move.added and move.travel.value == 0.0:
        return f"plug {move.plug}: stays on {move.pipe}"
    where = f"{move.pipe}, tape {move.tape.shown} from {move.from_junction}"
    if move.added:
        return (
            f"plug {move.plug} (one more): {where}; jacket {move.jacket.shown}, {move.size}, "
            f"{move.coolant}"
        )
    return f"plug {move.plug}: {where}; moves {move.travel.shown}"


def _way(way: ShutWayPart) -> list[str]:
    lines = wrapped(f"From {way.source}, no plug may stand on:", indent="    ", first="  ")
    for pipe in way.pipes[:_MOST_PIPES]:
        text = f"{pipe.pipe}: {some_of(pipe.rules, _MOST_PIPES)}"
        lines += wrapped(text, indent="        ", first="    - ")
    if len(way.pipes) > _MOST_PIPES:
        lines.append(f"    and {len(way.pipes) - _MOST_PIPES} more pipes")
    return lines
