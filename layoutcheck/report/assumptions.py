"""What was taken for granted where the document says nothing. A report is never silent of it."""

from __future__ import annotations

from collections.abc import Sequence

from layoutcheck.document.models import Moment
from layoutcheck.network.model import PieceKind
from layoutcheck.rules.case import Case
from layoutcheck.rules.fillings import waters

_MOST_NAMED = 12


def assumptions_of(case: Case) -> tuple[str, ...]:
    """List every assumption, each with the elements that it concerns."""
    layout, network = case.layout, case.network
    valves = sorted(v.id for v in layout.valves if None in {v.at(m) for m in Moment})
    outlets = sorted(o.id for o in layout.outlets if None in {o.at(m) for m in Moment})
    pumps = sorted(p.id for p in layout.pumps if not all(p.is_locked(m) for m in Moment))
    ends = sorted(text for text in network.dead_ends.values() if text.startswith("closed end"))
    walls = sorted(i for i, d in network.dimensions.items() if "(assumed)" in d.wall_name)
    bare = sorted(p.id for p in layout.pipes if p.covering is None)
    heights = sorted(j.id for j in layout.junctions if j.elevation is None)
    still = sorted(
        {p.element for p in network.pieces if p.kind is PieceKind.PIPE}
        & {p.id for p in layout.pipes if p.length is None}
        - {name for name, facts in case.unstated.items() if any(u.field == "length" for u in facts)}
    )
    filled = waters(case)
    unsaid = {p.id for p in layout.pipes if filled.fluid_of(layout, p) is None}
    frozen = {p.pipe for p in case.plugs} or unsaid
    rows: list[tuple[str, Sequence[str]]] = [
        ("What fills a pipe is not stated and taken as plain water", sorted(unsaid & frozen)),
        ("The pipe is taken as full of water, with no air, at plugs", [p.id for p in case.plugs]),
        (
            "Valves whose state is not stated are taken as open for water and as closed for "
            "setbacks",
            valves,
        ),
        ("Outlets not stated otherwise may draw", outlets),
        ("Pumps not stated as locked off may run", pumps),
        ("Pipe ends with nothing stated are closed", ends),
        ("Walls not stated are taken as the usual ones", walls),
        ("Pipes with no covering stated are taken as bare, or as easy to strip", bare),
        ("Lengths not stated are measured on the scaled drawing", still),
        ("Heights not stated are unknown", heights),
    ]
    pipes = [p.id for p in layout.pipes]
    return tuple(f"{text}: {_listed(ids, pipes)}." for text, ids in rows if ids)


def _listed(ids: Sequence[str], pipes: Sequence[str]) -> str:
    """Name them all; where they are nearly all pipes, say how many, and which not."""
    rest = [name for name in pipes if name not in set(ids)]
    if len(ids) > _MOST_NAMED >= len(rest) and set(ids) <= set(pipes):
        return f"all {len(pipes)} pipes" + (f" but {', '.join(rest)}" if rest else "")
    return ", ".join(ids)
