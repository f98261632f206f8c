"""Which place each of several plugs takes: the combination of options with the least travel.

Combinations are taken in the order of the least travel they could have. One that fails does so for
some of its plugs: two that stand too near each other, those that might stand on the way in that is
left. Whatever the other plugs do, it fails as long as those keep their options. So only those are
given their next option, and every combination that might do is still come by: it differs from the
failed one in one of those, and has only later options.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

from layoutcheck.network import Spot, Trust
from layoutcheck.network.cut import WayIn, ways_in
from layoutcheck.plan.stations import Links, Seat, programmes, seat_cheaply
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.judge import spot_rules

# Combinations and linear programmes that are gone through before the search is broken off. A count,
# never a time: the same layout gives the same answer on every machine.
MOST_TRIES = 4000
_TIE = 1e-9

At = tuple[int, ...]  # the number of each plug's option
Blame = frozenset[int]  # the numbers of some plugs


@dataclass(frozen=True)
class PlugMove:
    """One plug's new place. travel: m of developed length from the mark (0 for a plug added)."""

    plug: PlacedPlug
    travel: float


@dataclass(frozen=True)
class Option:
    """Where a plug may go: travel (m) is base + slope * offset on the seat."""

    seat: Seat
    base: float
    slope: float

    @cached_property
    def least(self) -> float:
        """Give the least travel (m) there is to it."""
        low, high = self.seat.interval
        return self.base + min(self.slope * low, self.slope * high)


@dataclass(frozen=True)
class Moves:
    """The moves found; None if there are none. exact: whether the search came to its end."""

    moves: tuple[PlugMove, ...] | None
    exact: bool

    @property
    def travel(self) -> float:
        """Give the total travel (m)."""
        return math.inf if self.moves is None else math.fsum(m.travel for m in self.moves)


@dataclass(frozen=True)
class _Group:
    """Some plugs that stand near each other: their offsets (m), None where they have no room.

    pushed: whether they travel farther for each other's sake.
    """

    offsets: tuple[float, ...] | None
    pushed: bool


def is_isolated(case: Case, pieces: frozenset[int]) -> bool:
    """Tell whether plugs on these pieces cut the work off in the worst reading."""
    return not ways_left(case, pieces)


def ways_left(case: Case, pieces: frozenset[int]) -> list[WayIn]:
    """Give the ways in to the work that plugs on these pieces leave, in the worst reading."""
    work = case.network.work_nodes
    return ways_in(case.worlds.working(Trust.PROVEN), sorted(pieces), work) if work else []


class Combinations:
    """The options of some plugs, each plug's in the order of the least travel to them."""

    def __init__(
        self, case: Case, plugs: Sequence[PlacedPlug], options: Sequence[Sequence[Option]]
    ) -> None:
        """Keep what is asked about."""
        self.case, self.plugs, self.options = case, plugs, options
        self._links = Links(case)
        self._tries = 0
        self._ways: dict[frozenset[int], list[WayIn]] = {}
        self._groups: dict[tuple[tuple[int, int], ...], _Group] = {}
        self._settled: dict[tuple[str, int], bool] = {}

    def best(self) -> Moves:
        """Take combinations until none that is left can be better."""
        first = (0,) * len(self.plugs)
        queue, seen = [(self._least(first), first)], {first}
        best = Moves(None, exact=True)
        while queue:
            least, at = heapq.heappop(queue)
            if least >= best.travel - _TIE:
                break
            self._tries += 1
            if self._tries > MOST_TRIES:
                return replace(best, exact=False)
            found, blame = self._try(at)
            if found.travel < best.travel - _TIE:
                best = found
            for k in blame:
                step = (*at[:k], at[k] + 1, *at[k + 1 :])
                if step[k] < len(self.options[k]) and step not in seen:
                    seen.add(step)
                    heapq.heappush(queue, (self._least(step), step))
        return best

    def _chosen(self, at: At) -> list[Option]:
        return [own[i] for own, i in zip(self.options, at, strict=True)]

    def _least(self, at: At) -> float:
        return math.fsum(option.least for option in self._chosen(at))

    def _try(self, at: At) -> tuple[Moves, Blame]:
        """Give the moves of a combination, and the plugs without whose next option none is better.

        No moves: these plugs keep it from being one. Moves: these travel farther than they might.
        """
        none, chosen = Moves(None, exact=True), self._chosen(at)
        pieces = frozenset(o.seat.piece for o in chosen)
        if pieces not in self._ways:
            self._ways[pieces] = ways_left(self.case, pieces)
        if self._ways[pieces]:
            blames = (self._that_could_close(way, at) for way in self._ways[pieces])
            return none, min(blames, key=len)
        offsets, blame = self._seat(at, chosen)
        if offsets is None:
            return none, blame
        moves = tuple(
            self._move(plug, option, offset)
            for plug, option, offset in zip(self.plugs, chosen, offsets, strict=True)
        )
        for k, move in enumerate(moves):
            if not self._is_settled(move.plug):
                return none, frozenset([k])
        return Moves(moves, exact=True), blame

    def _that_could_close(self, way: WayIn, at: At) -> Blame:
        """Give the plugs with a later option on a way in: one of them must come to stand there."""
        network = self.case.network
        on_way: set[int] = set()
        for one, two in pairwise(way.nodes):
            on_way |= {*network.at_node(one).tolist()} & {*network.at_node(two).tolist()}
        return frozenset(
            k
            for k, (own, i) in enumerate(zip(self.options, at, strict=True))
            if any(option.seat.piece in on_way for option in own[i + 1 :])
        )

    def _seat(self, at: At, chosen: Sequence[Option]) -> tuple[list[float] | None, Blame]:
        """Give the offsets (m) of least travel, and the plugs that have no room or are pushed."""
        offsets = [0.0] * len(chosen)
        pushed: set[int] = set()
        for numbers in self._links.groups([o.seat for o in chosen]):
            group = self._group(at, numbers)
            if group.offsets is None:
                return None, frozenset(numbers)
            for k, offset in zip(numbers, group.offsets, strict=True):
                offsets[k] = offset
            if group.pushed:
                pushed.update(numbers)
        return offsets, frozenset(pushed)

    def _group(self, at: At, numbers: Sequence[int]) -> _Group:
        key = tuple((k, at[k]) for k in numbers)
        if key not in self._groups:
            self._groups[key] = self._find_group([self.options[k][at[k]] for k in numbers])
        return self._groups[key]

    def _find_group(self, chosen: Sequence[Option]) -> _Group:
        seats = [o.seat for o in chosen]
        self._tries += programmes(seats) if len(seats) > 1 else 0
        offsets = seat_cheaply(self._links, seats, [o.slope for o in chosen])
        if offsets is None:
            return _Group(None, pushed=False)
        travel = math.fsum(o.base + o.slope * x for o, x in zip(chosen, offsets, strict=True))
        return _Group(offsets, pushed=travel > math.fsum(o.least for o in chosen) + _TIE)

    def _move(self, plug: PlacedPlug, option: Option, offset: float) -> PlugMove:
        moved = self.case.placed(plug, Spot(option.seat.piece, offset))
        return PlugMove(moved, max(0.0, option.base + option.slope * offset))

    def _is_settled(self, moved: PlacedPlug) -> bool:
        """Ask the rules that are slow, once for each plug and piece."""
        key = (moved.id, moved.spot.piece)
        if key not in self._settled:
            case = replace(self.case, plugs=(moved,))
            self._settled[key] = all(r.settles(case, moved) for r in spot_rules().values())
        return self._settled[key]
