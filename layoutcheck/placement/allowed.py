"""Where rules allow a plug: the closed intervals of all of them, met in this one place.

Each rule that depends on place leaves closed intervals on each segment of pipe. Whoever looks for
places (one plug, all plugs together, a plan) asks here what all of them leave.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from functools import cached_property

import numpy as np

from layoutcheck.network import Spot
from layoutcheck.network.stretches import TOLERANCE, Interval, Stretches, meet, spans
from layoutcheck.rules.base import PlacingRule
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.judge import placing_rules


def met(ground: Stretches, allowed: Iterable[Stretches]) -> Stretches:
    """Give what several rules leave of a ground."""
    for stretches in allowed:
        ground = ground.meet(stretches)
    return ground


def all_over(case: Case) -> Stretches:
    """Give every place on a site where a plug's centre may be at all."""
    return Stretches.everywhere(case.network.length).only(case.placeable)


class Allowed:
    """The pieces on which a plug may be looked for, and what the rules leave of them.

    pieces: their numbers, in order. Everything else is numbered by place in that array.
    """

    def __init__(self, case: Case, plug: PlacedPlug, pieces: np.ndarray) -> None:
        """Keep what is asked about."""
        self.case = case
        self.plug = plug
        self.pieces = pieces
        self._spans: Mapping[int, Interval] | None = None
        self._settled: dict[int, tuple[Interval, ...]] = {}  # by the number of the piece

    def part(self, wanted: np.ndarray) -> Allowed:
        """Give a part of it: those of some pieces (in order) that are in it."""
        places = np.searchsorted(self.pieces, wanted)
        places[places == len(self.pieces)] = 0
        inside = self.pieces[places] == wanted if len(self.pieces) else np.zeros(0, dtype=bool)
        part = Allowed(self.case, self.plug, wanted[inside])
        part._settled, part._spans = self._settled, self._spans
        return part

    def within(self, spans: Mapping[int, Interval]) -> Allowed:
        """Give what of it lies in one interval (m) on each of some pieces, by their numbers."""
        part = self.part(np.array(sorted(spans), dtype=np.int64))
        part._settled, part._spans = {}, spans
        return part

    def forget(self) -> None:
        """Let go of what takes much memory on a large site; it is worked out again if asked for."""
        for name in ("by_rule", "unsettled"):
            self.__dict__.pop(name, None)

    @cached_property
    def by_rule(self) -> dict[str, Stretches]:
        """Give what each rule allows."""
        rules = placing_rules().items()
        return {name: r.allows_on(self.case, self.plug, self.pieces) for name, r in rules}

    @cached_property
    def unsettled(self) -> Stretches:
        """Give what all rules allow by distance."""
        ground = Stretches.everywhere(self.case.network.length[self.pieces])
        if self._spans is not None:
            rows = np.array([self._spans[p] for p in self.pieces.tolist()]).reshape(-1, 2)
            ground = Stretches.between(rows[:, 0], rows[:, 1])
        return met(ground, self.by_rule.values())

    @cached_property
    def _slow_rules(self) -> list[PlacingRule]:
        asked = PlacingRule.settles
        return [r for r in placing_rules().values() if type(r).settles is not asked]

    def clear(self, place: int) -> tuple[Interval, ...]:
        """Give what all rules leave of one piece, with what is slow to find out.

        Such a rule (does the pipe close at all?) depends on the piece, and on the station only by
        the head: what settles low on a riser settles higher up too. So each interval is kept,
        dropped, or cut at one place.
        """
        found = self.unsettled.of(place)
        if not found or not self._slow_rules:
            return found
        piece = int(self.pieces[place])
        if piece not in self._settled:
            self._settled[piece] = self.settle(piece, found)
        return self._settled[piece]

    def settle(self, piece: int, found: tuple[Interval, ...]) -> tuple[Interval, ...]:
        """Give what the slow rules leave of some intervals (m) on a piece."""
        first, last = found[0][0], found[-1][1]
        good = [self.settles(Spot(piece, at)) for at in (first, last)]
        if all(good):
            return meet(found, ((first, last),))
        if good[0]:
            return meet(found, spans((first, _last_settled(self, piece, (first, last)))))
        if good[1]:
            return meet(found, spans((_last_settled(self, piece, (last, first)), last)))
        return ()

    def settles(self, spot: Spot) -> bool:
        """Tell whether the slow rules hold at a spot."""
        moved = self.case.placed(self.plug, spot)
        there = replace(self.case, plugs=(moved,))
        return all(rule.settles(there, moved) for rule in self._slow_rules)


def settled(case: Case, plug: PlacedPlug, piece: int, span: Interval) -> tuple[Interval, ...]:
    """Give what the slow rules leave of an interval (m) on a piece."""
    return Allowed(case, plug, np.array([piece])).settle(piece, (span,))


def _last_settled(allowed: Allowed, piece: int, span: Interval) -> float:
    """Give the last offset (m) that settles, from a good one towards a bad one.

    The model's answer changes with whole centimetres of ice only, so the runs are few.
    """
    good, bad = span
    while abs(bad - good) > TOLERANCE:
        middle = (good + bad) / 2
        if allowed.settles(Spot(piece, middle)):
            good = middle
        else:
            bad = middle
    return good
