"""Mend all plugs together: the moves with the least total travel after which all pass at once.

Each plug's clear stretches (by every rule of its own) are options, with the travel to them rising
by a metre for each metre, by one way or the other. Combinations of options are taken in the order
of the least travel they could have. Each is asked whether it isolates the work, and then where in
the options the plugs keep their spacing at the least travel: a small linear programme. When the
next combination could not be better than the best found, the best is exact. Nothing is sampled.

Where no moves will do, one thing more is tried: a valve to close or prove, an outlet or a machine
to see to, one more plug. Where that will not do either, the proof says why.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import pairwise

import numpy as np

from layoutcheck.locate.nearest import ISOLATION
from layoutcheck.network.model import PieceKind, Pieces
from layoutcheck.network.stretches import Interval, Stretches
from layoutcheck.plan.combinations import (
    Combinations,
    Moves,
    Option,
    PlugMove,
    is_isolated,
    ways_left,
)
from layoutcheck.plan.conflict import Explainer
from layoutcheck.plan.elements import Element, Kind
from layoutcheck.plan.ground import Ground
from layoutcheck.plan.stations import Seat
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.judge import spot_rules


class MendStatus(StrEnum):
    """What mends a set of plugs."""

    MOVES = "moves"
    ADDITION = "addition"
    IMPOSSIBLE = "impossible"
    NOT_SETTLED = "not settled"


@dataclass(frozen=True)
class ShutWay:
    """A way in that no plug can be put on: the source, its nodes, and what shuts out each pipe."""

    source: str
    nodes: tuple[int, ...]
    rules: tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(frozen=True)
class Mending:
    """What mends the plugs together.

    exact: no other moves have less travel. added: what must be done besides; None if nothing.
    ways: where it is impossible, ways in with the rules that shut plugs out. why: one sentence.
    """

    status: MendStatus
    moves: tuple[PlugMove, ...] = ()
    exact: bool = True
    added: Element | None = None
    ways: tuple[ShutWay, ...] = ()
    why: str = ""

    @property
    def travel(self) -> float:
        """Give the total travel (m)."""
        return math.fsum(m.travel for m in self.moves)


def mend(case: Case) -> Mending:
    """Mend the plugs of a case together."""
    moved = _least_moves(case, case.plugs)
    if moved.moves is not None:
        return Mending(MendStatus.MOVES, moved.moves, moved.exact)
    ground = Ground(case)
    longest = max((p.jacket for p in case.plugs), default=ground.settings.least_jacket)
    ground.settings = replace(ground.settings, jacket=longest)
    if not case.network.work:
        return Mending(MendStatus.IMPOSSIBLE, exact=moved.exact, why=_apart_why(case))
    exact = moved.exact
    for element, more in _additions(case, ground):
        found = _least_moves(more, more.plugs, free=frozenset(_extra_names(case, more)))
        exact &= found.exact
        if found.moves is not None:
            return Mending(MendStatus.ADDITION, found.moves, exact, element)
    ways = _shut_ways(case)
    status = MendStatus.IMPOSSIBLE if exact else MendStatus.NOT_SETTLED
    return Mending(status, exact=exact, ways=ways, why=_why_not(case, ways))


def _extra_names(case: Case, more: Case) -> set[str]:
    return {p.id for p in more.plugs} - {p.id for p in case.plugs}


def _additions(case: Case, ground: Ground) -> Iterator[tuple[Element, Case]]:
    """Give the case with one thing more, cheapest first; at the last with one more plug."""
    for element in sorted(_helpful(case, ground), key=lambda e: (e.cost, e)):
        yield element, replace(ground.under([element]), plugs=case.plugs)
    names = {p.id for p in case.plugs}
    name = next(f"F{n}" for n in range(1, len(names) + 2) if f"F{n}" not in names)
    # Any piece stands for its size; the options hold every place there is for that size.
    tried: set[float] = set()
    for piece, element in sorted(ground.plugs.items(), key=lambda item: (item[1].cost, item[0])):
        inches = float(case.network.inches[piece])
        if inches not in tried:
            tried.add(inches)
            plug = ground.probe(piece, None, name)
            yield element, replace(case, plugs=(*case.plugs, plug))


def _helpful(case: Case, ground: Ground) -> frozenset[Element]:
    """Give the actions of which one alone could help.

    Where a way in is left that no plug can be put on, only those help that cut this way, or that
    widen what is clear on it. Else any action may help.
    """
    explain = Explainer(ground)
    options = {o.seat.piece for p in case.plugs for o in _options(case, p, is_free=False)}
    case = replace(ground.case, plugs=())
    on_way = explain.way_in(case, sorted(options))
    if on_way is None:
        return explain.everything
    found = {e for e in on_way if e.kind is not Kind.PLUG}
    pieces = explain.pieces_of_way(case, sorted(options))
    for piece in pieces:
        found |= explain.limits(case, piece)
    return frozenset(found)


def _least_moves(
    case: Case, plugs: Sequence[PlacedPlug], free: frozenset[str] = frozenset()
) -> Moves:
    """Find the moves of least total travel; plugs named in free may go anywhere of their size."""
    options = [_options(case, p, is_free=p.id in free) for p in plugs]
    if not plugs or any(not o for o in options) or not _could_isolate(case, options):
        return Moves(None, exact=True)
    return Combinations(case, plugs, options).best()


def _options(case: Case, plug: PlacedPlug, *, is_free: bool) -> list[Option]:
    """Give where a plug may go, nearest first. Asked again with each thing that is added."""
    key = ("options", plug, is_free)
    return case.worlds.remember(key, lambda: _find_options(case, plug, is_free=is_free))


def _find_options(case: Case, plug: PlacedPlug, *, is_free: bool) -> list[Option]:
    clear = clear_of(replace(case, plugs=(plug,)), plug)
    distance, reach = case.worlds.along(plug.spot).distance, case.reach(plug)
    found: list[Option] = []
    for piece in clear.pieces():
        inches = float(case.network.inches[piece])
        for interval in clear.of(piece):
            if is_free:
                ways = [(0.0, 0.0, interval)] if inches == plug.inches else []
            else:
                ways = list(_ways(case, plug, piece, interval, distance))
            found += [Option(Seat(piece, part, reach, inches, None), b, s) for b, s, part in ways]
    return sorted(found, key=lambda o: (o.least, *_place(case.network.pieces, o), o.slope))


def _place(pieces: Pieces, option: Option) -> tuple[str, float]:
    piece = option.seat.piece
    return pieces.elements[piece], float(pieces.start[piece]) + option.seat.interval[0]


def clear_of(case: Case, plug: PlacedPlug) -> Stretches:
    """Give the stretches on which a plug passes every rule of its own, wherever the others are."""
    clear = Stretches.everywhere(case.network.length).only(case.placeable)
    for rule in spot_rules().values():
        clear = clear.meet(rule.places(case, plug))
    return clear


def _ways(
    case: Case, plug: PlacedPlug, piece: int, interval: Interval, distance: np.ndarray
) -> Iterator[tuple[float, float, Interval]]:
    """Give the ways to an interval, each as (base, slope, the part of it that it serves)."""
    low, high = interval
    u, v = case.network.ends[piece].tolist()
    from_u, from_v = float(distance[u]), float(distance[v]) + float(case.network.length[piece])
    if piece == plug.spot.piece:
        mark = plug.spot.offset
        if low <= mark:
            yield mark, -1.0, (low, min(mark, high))
        if high >= mark:
            yield -mark, 1.0, (max(mark, low), high)
        return
    if math.isfinite(from_u):
        yield from_u, 1.0, interval
    if math.isfinite(from_v):
        yield from_v, -1.0, interval


def _could_isolate(case: Case, options: Sequence[Sequence[Option]]) -> bool:
    """Tell whether plugs in every place there is would cut the work off."""
    pieces = {o.seat.piece for own in options for o in own}
    return is_isolated(case, frozenset(pieces))


def _shut_ways(case: Case) -> tuple[ShutWay, ...]:
    """Find ways in on which no plug has any place, with the rules that shut it out of each pipe."""
    clear: set[int] = set()
    for plug in case.plugs:
        clear.update(clear_of(replace(case, plugs=(plug,)), plug).pieces())
    ways = ways_left(case, frozenset(clear))
    return tuple(ShutWay(w.source, w.nodes, _rules_on(case, w.nodes)) for w in ways)


def _rules_on(case: Case, nodes: Sequence[int]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Say for each pipe on a way which rules shut out the first plug, in the order of the way."""
    if not case.plugs:
        return ()
    plug = case.plugs[0]
    alone = replace(case, plugs=(plug,))
    allowed = {name: rule.places(alone, plug) for name, rule in spot_rules().items()}
    steps = [{a, b} for a, b in pairwise(nodes)]
    found: dict[str, set[str]] = {}
    for step in steps:
        for piece in case.network.pieces:
            if piece.kind is PieceKind.PIPE and {piece.u, piece.v} == step:
                whole = ((0.0, piece.length),)
                rules = {n for n, s in allowed.items() if s.of(piece.index) != whole}
                found.setdefault(piece.element, set()).update(rules or {ISOLATION})
    return tuple((pipe, tuple(sorted(rules))) for pipe, rules in found.items())


def _why_not(case: Case, ways: tuple[ShutWay, ...]) -> str:
    if ways:
        return (
            f"From {ways[0].source} a way leads to the work on which no plug may stand, and no "
            "single valve, outlet or machine changes that."
        )
    return _apart_why(case)


def _apart_why(case: Case) -> str:
    number = len(case.plugs)
    return (
        f"There are places for plugs, but no {number} of them isolate the work and keep "
        "their distance at once, nor with one plug or one closure more."
    )
