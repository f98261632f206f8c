"""Mend all plugs together, at the least cost: what a foreman weighs first, then how far plugs move.

Each plug's clear stretches (by every rule of its own) are options, with the travel to them rising
by a metre for each metre, by one way or the other. Combinations of options are taken in the order
of the least they could cost. Each is asked whether it isolates the work, and then where in the
options the plugs keep their spacing at the least travel: a small linear programme. Nothing is
sampled.

Before a plug goes round a corner, or more is cut off or drained than with the marks, what is there
is seen to: a valve to prove or close, an outlet, a machine. Last of all comes one more plug. Where
nothing will do, the ways in that no plug can be put on say why. Every search is bounded by a count
of steps, and says so where it was cut short.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from itertools import count, pairwise

import numpy as np

from layoutcheck.network.model import PieceKind, Pieces
from layoutcheck.network.stretches import Interval, Stretches
from layoutcheck.placement.allowed import all_over, met
from layoutcheck.planning.combinations import (
    Combinations,
    Moves,
    Option,
    PlugMove,
    is_isolated,
    ways_left,
)
from layoutcheck.planning.conflict import Explainer
from layoutcheck.planning.elements import Chosen, Element, Kind
from layoutcheck.planning.follow import followed
from layoutcheck.planning.ground import Ground
from layoutcheck.planning.rating import Burden, Scales, runs_of
from layoutcheck.planning.stations import Seat
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.declared import Role
from layoutcheck.rules.judge import spot_rules
from layoutcheck.rules.registry import rule_of

# So many sets of things to do are tried, before the search for a better one is broken off, and so
# many single things before it is not known whether any of them would do.
MOST_SETS = 24
MOST_SINGLES = 60
# Steps of all searches together.
MOST_STEPS = 12_000
# Of things to do, so many at a time.
MOST_DONE = 2


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
class Proposal:
    """Moves, and what is done besides. cost: what it is ranked by, the weightiest first."""

    moves: Moves
    done: Chosen = frozenset()
    extra: int = 0

    @property
    def cost(self) -> tuple[int, tuple[int, int], int, float, float]:
        """Give plugs more, (cut off, buckets) more, corners, points of what is done, travel (m)."""
        points = math.fsum(e.cost for e in self.done)
        found = self.moves
        return self.extra, found.over, found.corners, round(points, 9), found.travel


@dataclass(frozen=True)
class Mending:
    """What mends the plugs together.

    exact: nothing costs less. done: what must be done besides moving. used: the moves. case: the
    case with all of it done. ways: where it is impossible, ways in with the rules that shut plugs
    out. alone: what moves alone would come to. steps: how many were taken. before, after, without:
    what the marks, the proposal, and moves alone ask of the building.
    """

    status: MendStatus
    case: Case
    before: Burden
    after: Burden
    without: Burden
    used: Moves
    exact: bool = True
    done: Chosen = frozenset()
    ways: tuple[ShutWay, ...] = ()
    alone: Moves = field(default_factory=lambda: Moves(None, exact=True))
    steps: int = 0

    @property
    def moves(self) -> tuple[PlugMove, ...]:
        """Give the moves, those of new plugs among them; none where nothing will do."""
        return self.used.moves or ()

    @property
    def travel(self) -> float:
        """Give the total travel (m)."""
        return math.fsum(m.travel for m in self.moves)


def mend(case: Case) -> Mending:
    """Mend the plugs of a case together."""
    return _Mender(case).mending()


class _Mender:
    """One search for what mends a case."""

    def __init__(self, case: Case) -> None:
        self.case, self.scales = case, Scales(case)
        self.ground = ground = Ground(case)
        self.settings = ground.settings
        if case.plugs:
            longest = max(p.jacket for p in case.plugs)
            ground.settings = replace(ground.settings, jacket=longest)
        self.explain = Explainer(ground)
        # Nothing costs less; and there is nothing but what was found.
        self.exact, self.proven, self.in_runs, self.steps = True, True, True, 0
        self.found: list[Proposal] = []

    def mending(self) -> Mending:
        """Look for moves alone, then for what is done besides, then for one plug more."""
        alone = self._moves(self.case)
        if alone.moves is not None:
            self.found.append(Proposal(alone))
        if self.case.network.work and not self._is_good():
            self._with_things_done()
            if not any(p.moves.over == (0, 0) for p in self.found):
                self._with_one_thing_done()
            if not self.found:
                self._with_one_more()
        if not self.found:
            return self._none(alone)
        best = min(self.found, key=lambda p: p.cost)
        there = self._there(best)
        done = best.done | followed(self.ground, there, best.done)
        there = self._there(replace(best, done=done))
        return Mending(
            MendStatus.ADDITION if done or best.extra else MendStatus.MOVES,
            there,
            self.scales.marks,
            self.scales.burden(there),
            self.scales.burden(self._there(Proposal(alone))),
            best.moves,
            self._is_least(best),
            done,
            alone=alone,
            steps=self.steps,
        )

    def _is_least(self, best: Proposal) -> bool:
        """Tell whether nothing costs less. Where all plugs stay in their runs only those count."""
        return self.exact if best.cost[:3] > (0, (0, 0), 0) else best.moves.exact and self.in_runs

    def _is_good(self) -> bool:
        """Tell whether what is found asks no more of the building, and leads round no corner."""
        return any(p.cost[:3] == (0, (0, 0), 0) for p in self.found)

    def _none(self, alone: Moves) -> Mending:
        status = MendStatus.IMPOSSIBLE if self.proven else MendStatus.NOT_SETTLED
        marks, ways = self.scales.marks, _shut_ways(self.case) if self.case.network.work else ()
        return Mending(
            status, self.case, marks, marks, marks, alone, self.proven, ways=ways, steps=self.steps
        )

    def _there(self, proposal: Proposal) -> Case:
        plugs = sorted((m.plug for m in proposal.moves.moves or ()), key=lambda p: p.id)
        return replace(self._under(proposal.done), plugs=tuple(plugs))

    def _under(self, done: Chosen) -> Case:
        """Give the case, plugs as marked, once something is done; waivers stay."""
        if not done:
            return self.case
        changed = self.ground.under(done)
        kept = {"plugs": self.case.layout.plugs, "waivers": self.case.layout.waivers}
        layout = changed.layout.model_copy(update=kept)
        return replace(changed, layout=layout, plugs=self.case.plugs)

    def _moves(
        self,
        case: Case,
        plugs: Sequence[PlacedPlug] | None = None,
        *,
        free: frozenset[str] = frozenset(),
        in_runs: frozenset[str] = frozenset(),
    ) -> Moves:
        """Find the moves of least cost. free: plugs that may go anywhere of their size.

        in_runs: plugs that stay in their straight run.
        """
        plugs = case.plugs if plugs is None else plugs
        options = [
            [
                o
                for o in _options(case, p, is_free=p.id in free)
                if not (p.id in in_runs and o.corner)
            ]
            for p in plugs
        ]
        if not plugs or any(not o for o in options) or not _could_isolate(case, options):
            return Moves(None, exact=True)
        weigh = lambda there: self.scales.over(self.scales.burden(there))  # noqa: E731
        left = MOST_STEPS - self.steps
        if left <= 0:
            self.exact = self.proven = False
            return Moves(None, exact=False)
        found = Combinations(case, plugs, options, weigh, left).best()
        self.steps += found.tries
        self.exact &= found.exact
        self.proven &= found.exact
        return found

    def _with_things_done(self) -> None:
        """See to what is there, cheapest first, with every plug in its straight run."""
        names = frozenset(p.id for p in self.case.plugs)
        number = count()
        queue: list[tuple[float, int, Chosen]] = [(0.0, next(number), frozenset())]
        seen: set[Chosen] = {frozenset()}
        for _ in range(MOST_SETS):
            if not queue or self.steps >= MOST_STEPS:
                break
            _, _, done = heapq.heappop(queue)
            case = self._under(done)
            found = self._moves(case, in_runs=names)
            self.in_runs &= found.exact
            if found.moves is not None:
                self.found.append(Proposal(found, done))
                if found.over == (0, 0):
                    return
            if len(done) < MOST_DONE:
                for element in sorted(self._wanted(case, done)):
                    more = done | {element}
                    rival = any((element.kind, element.id) in e.rivals for e in done)
                    if more not in seen and not rival:
                        seen.add(more)
                        points = math.fsum(e.cost for e in more)
                        heapq.heappush(queue, (points, next(number), more))
        self.exact &= not queue

    def _wanted(self, case: Case, done: Chosen) -> frozenset[Element]:
        """Give the things of which one at least is needed if every plug stays in its run."""
        base, runs = self.ground.under(done), runs_of(case)
        pieces: set[int] = set()
        found: frozenset[Element] = frozenset()
        for plug in case.plugs:
            own = {o.seat.piece for o in _options(case, plug, is_free=False) if not o.corner}
            pieces |= own
            if not own:
                run = np.flatnonzero(runs == runs[plug.spot.piece]).tolist()
                found |= {e for p in run for e in self.explain.limits(base, p)}
        way = self.explain.way_in(base, sorted(pieces)) or frozenset()
        return frozenset(e for e in found | way if e.kind is not Kind.PLUG and e not in done)

    def _with_one_thing_done(self) -> None:
        """See to one thing, cheapest first, with plugs wherever they may stand."""
        helpful = sorted(_helpful(self.case, self.ground), key=lambda e: (e.cost, e))
        for element in helpful[:MOST_SINGLES]:
            if self.steps >= MOST_STEPS:
                break
            done = frozenset([element])
            found = self._moves(self._under(done))
            if found.moves is not None:
                self.found.append(Proposal(found, done))
                if found.over == (0, 0):
                    return
        self.proven &= len(helpful) <= MOST_SINGLES and self.steps < MOST_STEPS

    def _with_one_more(self) -> None:
        """Freeze one plug more, on the size that costs least."""
        case = self.case
        names = {p.id for p in case.plugs}
        name = next(f"F{n}" for n in range(1, len(names) + 2) if f"F{n}" not in names)
        # Any piece stands for its size; the options hold every place there is for that size.
        sizes: dict[float, int] = {}
        plugs = self.ground.plugs
        for piece in sorted(plugs, key=lambda p: (plugs[p].cost, p)):
            sizes.setdefault(float(case.network.inches[piece]), piece)
        for piece in sizes.values():
            probe = self.ground.probe(piece, None, name)
            plug = replace(probe, jacket=self.settings.jacket_for(probe.inches))
            found = self._moves(case, (*case.plugs, plug), free=frozenset([name]))
            if found.moves is not None:
                self.found.append(Proposal(found, extra=1))
                return


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


def _options(case: Case, plug: PlacedPlug, *, is_free: bool) -> list[Option]:
    """Give where a plug may go, nearest first. Asked again with each thing that is added."""
    key = ("options", plug, is_free)
    return case.worlds.remember(key, lambda: _find_options(case, plug, is_free=is_free))


def _find_options(case: Case, plug: PlacedPlug, *, is_free: bool) -> list[Option]:
    clear = clear_of(replace(case, plugs=(plug,)), plug)
    distance, reach = case.worlds.along(plug.spot).distance, case.reach(plug)
    found: list[Option] = []
    runs = runs_of(case)
    for piece in clear.pieces():
        inches = float(case.network.inches[piece])
        corner = not is_free and bool(runs[piece] != runs[plug.spot.piece])
        for interval in clear.of(piece):
            if is_free:
                ways = [(0.0, 0.0, interval)] if inches == plug.inches else []
            else:
                ways = list(_ways(case, plug, piece, interval, distance))
            found += [
                Option(Seat(piece, part, reach, inches, None), b, s, corner) for b, s, part in ways
            ]
    return sorted(
        found, key=lambda o: (o.corner, o.least, *_place(case.network.pieces, o), o.slope)
    )


def _place(pieces: Pieces, option: Option) -> tuple[str, float]:
    piece = option.seat.piece
    return pieces.elements[piece], float(pieces.start[piece]) + option.seat.interval[0]


def clear_of(case: Case, plug: PlacedPlug) -> Stretches:
    """Give the stretches on which a plug passes every rule of its own, wherever the others are."""
    return met(all_over(case), (rule.places(case, plug) for rule in spot_rules().values()))


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
    steps, cuts_off = [{a, b} for a, b in pairwise(nodes)], rule_of(Role.CUTS_OFF).name
    found: dict[str, set[str]] = {}
    for step in steps:
        for piece in case.network.pieces:
            if piece.kind is PieceKind.PIPE and {piece.u, piece.v} == step:
                whole = ((0.0, piece.length),)
                rules = {n for n, s in allowed.items() if s.of(piece.index) != whole}
                found.setdefault(piece.element, set()).update(rules or {cuts_off})
    return tuple((pipe, tuple(sorted(rules))) for pipe, rules in found.items())
