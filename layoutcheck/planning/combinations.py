"""Which place each of several plugs takes: the combination of options that costs least.

Combinations are taken in the order of the least they could cost: plugs that go round a corner, then
travel. What else a foreman weighs (what drains, what is cut off) is asked of each that does; where
one asks more of the building than the marks do, the search goes on. One that fails does so for
some of its plugs: two that stand too near each other, those that might stand on the way in that is
left. Whatever the other plugs do, it fails as long as those keep their options. So only those are
given their next option, and every combination that might do is still come by: it differs from the
failed one in one of those, and has only later options.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

from layoutcheck.network import Spot, Trust
from layoutcheck.network.cut import WayIn, ways_in
from layoutcheck.placement.allowed import settled
from layoutcheck.planning.stations import Links, Seat, programmes, seat_cheaply
from layoutcheck.rules.case import Case, PlacedPlug

# Combinations and linear programmes that are gone through before the search is broken off. A count,
# never a time: the same layout gives the same answer on every machine.
MOST_TRIES = 4000
# Once plugs stand somewhere that asks more of the building than the marks do, so many more are
# tried for a set that does not.
MORE_TRIES = 200
# The freezing model takes as long as so many combinations.
MODEL_TRIES = 40
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
    """Where a plug may go: travel (m) is base + slope * offset on the seat.

    corner: whether the way there leaves the straight run of pipe that the plug is marked on.
    """

    seat: Seat
    base: float
    slope: float
    corner: bool = False

    @cached_property
    def least(self) -> float:
        """Give the least travel (m) there is to it."""
        low, high = self.seat.interval
        return self.base + min(self.slope * low, self.slope * high)


@dataclass(frozen=True)
class Moves:
    """The moves found; None if there are none.

    exact: whether the search came to its end. corners: how many plugs go round one. over: what is
    asked of the building beyond what the marks ask. tries: how many steps the search took.
    """

    moves: tuple[PlugMove, ...] | None
    exact: bool
    corners: int = 0
    over: tuple[int, int] = (0, 0)
    tries: int = 0

    @property
    def cost(self) -> tuple[tuple[int, int], int, float]:
        """Give what the moves cost, the weightiest first."""
        return self.over, self.corners, self.travel

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


Weigh = Callable[[Case], tuple[int, int]]


def _no_burden(case: Case) -> tuple[int, int]:
    del case
    return 0, 0


class Combinations:
    """The options of some plugs, each plug's in the order of corners and the least travel to them.

    weigh: gives what a set of plugs asks of the building beyond what the marks ask.
    """

    def __init__(
        self,
        case: Case,
        plugs: Sequence[PlacedPlug],
        options: Sequence[Sequence[Option]],
        weigh: Weigh = _no_burden,
        most: int | None = None,
    ) -> None:
        """Keep what is asked about. most: steps; MOST_TRIES if None."""
        self.case, self.plugs, self.options = case, plugs, options
        self._links, self._weigh = Links(case), weigh
        self._tries, self._most = 0, MOST_TRIES if most is None else min(most, MOST_TRIES)
        self._ways: dict[frozenset[int], list[WayIn]] = {}
        self._groups: dict[tuple[tuple[int, int], ...], _Group] = {}
        self._settled: dict[tuple[int, Seat], Seat | None] = {}

    def best(self) -> Moves:
        """Take combinations until none that is left can be better."""
        first = (0,) * len(self.plugs)
        queue, seen = [(self._least(first), first)], {first}
        best, most = Moves(None, exact=True), self._most
        while queue:
            least, at = heapq.heappop(queue)
            none_over = best.moves is not None and best.over == (0, 0)
            if none_over and least >= (best.corners, best.travel - _TIE):
                break
            self._tries += 1
            if self._tries > most:
                return replace(best, exact=False, tries=self._tries - 1)
            found, blame = self._try(at)
            if found.moves is not None and found.over > (0, 0):
                blame = frozenset(range(len(at)))
            if _is_better(found, best):
                most = min(most, self._tries + MORE_TRIES)
                best = found
            for k in blame:
                step = (*at[:k], at[k] + 1, *at[k + 1 :])
                if step[k] < len(self.options[k]) and step not in seen:
                    seen.add(step)
                    heapq.heappush(queue, (self._least(step), step))
        return replace(best, tries=self._tries)

    def _chosen(self, at: At) -> list[Option]:
        return [own[i] for own, i in zip(self.options, at, strict=True)]

    def _least(self, at: At) -> tuple[int, float]:
        chosen = self._chosen(at)
        return sum(o.corner for o in chosen), math.fsum(o.least for o in chosen)

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
        for k, option in enumerate(chosen):
            seat = self._settle(k, option.seat)
            if seat is None:
                return none, frozenset([k])
            chosen[k] = replace(option, seat=seat)
        offsets, blame = self._seat(at, chosen)
        if offsets is None:
            return none, blame
        moves = tuple(
            self._move(plug, option, offset)
            for plug, option, offset in zip(self.plugs, chosen, offsets, strict=True)
        )
        there = replace(self.case, plugs=tuple(m.plug for m in moves))
        corners = sum(o.corner for o in chosen)
        return Moves(moves, exact=True, corners=corners, over=self._weigh(there)), blame

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
            group = self._group(at, numbers, chosen)
            if group.offsets is None:
                return None, frozenset(numbers)
            for k, offset in zip(numbers, group.offsets, strict=True):
                offsets[k] = offset
            if group.pushed:
                pushed.update(numbers)
        return offsets, frozenset(pushed)

    def _group(self, at: At, numbers: Sequence[int], chosen: Sequence[Option]) -> _Group:
        key = tuple((k, at[k]) for k in numbers)
        if key not in self._groups:
            least = [self.options[k][at[k]].least for k in numbers]
            self._groups[key] = self._find_group([chosen[k] for k in numbers], least)
        return self._groups[key]

    def _find_group(self, chosen: Sequence[Option], least: Sequence[float]) -> _Group:
        seats = [o.seat for o in chosen]
        self._tries += programmes(seats) if len(seats) > 1 else 0
        offsets = seat_cheaply(self._links, seats, [o.slope for o in chosen])
        if offsets is None:
            return _Group(None, pushed=False)
        travel = math.fsum(o.base + o.slope * x for o, x in zip(chosen, offsets, strict=True))
        return _Group(offsets, pushed=travel > math.fsum(least) + _TIE)

    def _move(self, plug: PlacedPlug, option: Option, offset: float) -> PlugMove:
        moved = self.case.placed(plug, Spot(option.seat.piece, offset))
        return PlugMove(moved, max(0.0, option.base + option.slope * offset))

    def _settle(self, number: int, seat: Seat) -> Seat | None:
        """Ask the rules that are slow what they leave of a seat, once for each plug and seat."""
        key = (number, seat)
        if key not in self._settled:
            self._tries += MODEL_TRIES
            plug = self.plugs[number]
            left = settled(replace(self.case, plugs=(plug,)), plug, seat.piece, seat.interval)
            self._settled[key] = replace(seat, interval=left[0]) if left else None
        return self._settled[key]


def _is_better(one: Moves, other: Moves) -> bool:
    """Tell whether moves cost less; equal travel but for rounding is no less."""
    if (one.over, one.corners) != (other.over, other.corners) and one.moves and other.moves:
        return (one.over, one.corners) < (other.over, other.corners)
    return one.travel < other.travel - _TIE
