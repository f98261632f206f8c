"""plug-spacing: a length of pipe between plugs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial
from itertools import combinations

import numpy as np

from layoutcheck.document.named import Named
from layoutcheck.network import Near, Trust
from layoutcheck.network.stretches import TOLERANCE, Interval, Stretches, meet, settle, spans
from layoutcheck.rules.base import PlacingRule, plug_subject
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.declared import CUTS, Blank, Cure, Role
from layoutcheck.rules.doubts import doubts_on_way
from layoutcheck.rules.feet_per_inch import PER_INCH, per_inch_figure
from layoutcheck.rules.outcome import Gravity, Judgement, Outcome, Subject, metres


class PlugSpacing(PlacingRule):
    """Two plugs keep a length of pipe between them.

    Reason: Two plugs that grow towards each other squeeze the water between them, which can
        burst the pipe.
    Figure: 12 in of pipe for each inch of the larger nominal size of the two, from the near end
        of one jacket to the near end of the other.
    Source: common practice, no published source.
    Does not apply: To a single plug, and to plugs that no water connects.
    Undecided: Where water connects the two only through a valve not stated or not proven.
    Does not see: Whether the trapped water can expand; trapped-water computes it.
    """

    name = "plug-spacing"
    cures = CUTS | {Cure.MOVE}
    keeps_distance = True
    role = Role.KEEPS_APART
    of_place = True
    needs = frozenset({Blank.LENGTH, Blank.PLUGS})
    gravity = Gravity.DAMAGE
    gravity_reason = "Two plugs that grow together squeeze the pipe between them"
    between_plugs = True
    longer_is_safer = True
    reason = "Two plugs that grow towards each other squeeze the water between them."
    figures = (per_inch_figure("the next plug, by the larger of the two sizes"),)

    def judge(self, case: Case) -> Iterator[Judgement]:
        """Judge each pair of plugs."""
        for one, two in combinations(case.plugs, 2):
            yield self._pair(case, one, two)

    def judge_about(self, case: Case, plug: PlacedPlug) -> Iterator[Judgement]:
        """Judge each pair that a plug is in and that stands too near, if in doubt."""
        others = case.others(plug)
        if not others:
            return
        metric = case.worlds.freezing(Trust.PROVEN).metric
        near = metric.near(plug.spot, self._farthest(case))
        for other in others:
            by_ends = not near.keys().isdisjoint(case.network.ends[other.spot.piece].tolist())
            if by_ends or other.spot.piece == plug.spot.piece:
                yield self._pair(case, *sorted((plug, other), key=lambda p: p.id))

    def _pair(self, case: Case, one: PlacedPlug, two: PlacedPlug) -> Judgement:
        """Judge a pair once for where its two plugs stand."""
        # Of ways as long as each other, which one is told may hang on the pieces that plugs are on.
        key = ("judged", self.name, one, two, case.plugged)
        return case.worlds.remember(key, lambda: self._judge_pair(case, one, two))

    def judge_plug(self, case: Case, plug: PlacedPlug) -> Judgement:
        """Give the worst judgement of the pairs that a plug is in."""
        if not case.others(plug):
            return self.says(
                plug_subject(plug), Outcome.DOES_NOT_APPLY, "alone", "There is no other plug."
            )
        pairs = [
            self._pair(case, *sorted((plug, o), key=lambda p: p.id)) for o in case.others(plug)
        ]
        order = [Outcome.BROKEN, Outcome.UNDECIDED, Outcome.HOLDS, Outcome.DOES_NOT_APPLY]
        return min(pairs, key=lambda j: order.index(j.outcome))

    def _between(self, case: Case, one: PlacedPlug, two: PlacedPlug, trust: Trust) -> float:
        centres = case.worlds.apart(trust).between(one.spot, two.spot)
        return max(0.0, centres - case.reach(one) - case.reach(two))

    def _judge_pair(self, case: Case, one: PlacedPlug, two: PlacedPlug) -> Judgement:
        subject = Subject(
            "plugs", f"{one.id} + {two.id}", (Named("plug", one.id), Named("plug", two.id))
        )
        required = max(one.inches, two.inches) * case.pack.number(self.name, PER_INCH)
        sure = self._between(case, one, two, Trust.BEST)
        worst = self._between(case, one, two, Trust.PROVEN)
        if not np.isfinite(worst):
            sentence = "No water connects these two plugs."
            return self.says(subject, Outcome.DOES_NOT_APPLY, "apart", sentence)
        near = sure < required - TOLERANCE
        doubt = worst < required - TOLERANCE
        measured = sure if near else worst
        trust = Trust.BEST if near else Trust.PROVEN
        way = tuple(case.worlds.apart(trust).way(one.spot, two.spot))
        shown, limit = case.lengths(measured, required)
        sentence = f"{shown} between the jackets; at least {limit} is needed"
        sentence += f", {case.at_least(required - measured)} more." if near or doubt else "."
        outcome = Outcome.BROKEN if near else Outcome.UNDECIDED if doubt else Outcome.HOLDS
        return self.says(
            subject,
            outcome,
            "too near" if near else "too near if in doubt" if doubt else "far enough",
            sentence,
            measured=metres(measured),
            required=metres(required),
            way=way,
            missing=doubts_on_way(case, way) if doubt and not near else (),
            todo="Move one of the two plugs." if near or doubt else "",
            concerns=subject.parts,
        )

    def allows(self, case: Case, plug: PlacedPlug) -> Stretches:
        """Allow what keeps the distance from each of the other plugs."""
        return self.allows_on(case, plug, np.arange(len(case.network.pieces)))

    def allows_on(self, case: Case, plug: PlacedPlug, pieces: np.ndarray) -> Stretches:
        """Allow what keeps the distance, on some pieces; only pipe near another plug is cut."""
        network, per_inch = case.network, case.pack.number(self.name, PER_INCH)
        kept = Stretches.everywhere(network.length[pieces])
        split: dict[int, tuple[Interval, ...]] = {}
        for place, piece in self._crowded(case, pieces):
            u, v = network.ends[piece].tolist()
            length, inches = float(network.length[piece]), float(network.inches[piece])
            for other, near in self._near(case)[piece]:
                if other.id == plug.id:
                    continue
                reach = max(inches, other.inches) * per_inch + case.reach(plug) + case.reach(other)
                low = max(0.0, reach - near.get(u, np.inf))
                high = min(length, length + near.get(v, np.inf) - reach)
                own = other.spot.piece == piece
                if own or place in split:
                    parts = _beside((low, high), other.spot.offset, reach) if own else None
                    so_far = Stretches(kept.low, kept.high, split).of(place)
                    split[place] = meet(so_far, spans((low, high)) if parts is None else parts)
                kept.low[place] = max(kept.low[place], low)
                kept.high[place] = min(kept.high[place], high)
        return Stretches(kept.low, kept.high, split)

    def _crowded(self, case: Case, pieces: np.ndarray) -> Iterator[tuple[int, int]]:
        """Give those of some pieces (in order) that lie near a plug, each with its place."""
        near = self._near(case)
        if len(pieces) < len(near):
            yield from ((i, p) for i, p in enumerate(pieces.tolist()) if p in near)
            return
        for piece in sorted(near):
            place = int(np.searchsorted(pieces, piece))
            if place < len(pieces) and pieces[place] == piece:
                yield place, piece

    def _near(self, case: Case) -> Mapping[int, list[tuple[PlacedPlug, Near]]]:
        """Give the pieces that any plug reaches, with the plugs and how far their nodes are (m)."""
        return case.worlds.remember(
            ("near plugs", case.plugs), lambda: _near_plugs(case, self._farthest(case))
        )

    def _farthest(self, case: Case) -> float:
        """Give a distance (m) between two centres from which on no two plugs are too near."""
        widest = float(case.network.inches.max(initial=0.0))
        jacket = max(case.reach(p) for p in case.plugs)
        return widest * case.pack.number(self.name, PER_INCH) + 2 * jacket


def _near_plugs(case: Case, within: float) -> dict[int, list[tuple[PlacedPlug, Near]]]:
    network, metric = case.network, case.worlds.freezing(Trust.PROVEN).metric
    found: dict[int, list[tuple[PlacedPlug, Near]]] = {}
    for plug in case.plugs:
        key = ("near", plug.spot, within)
        near = case.worlds.remember(key, partial(metric.near, plug.spot, within))
        touching = network.at_nodes(near.nodes).tolist()
        for piece in {plug.spot.piece, *touching}:
            found.setdefault(piece, []).append((plug, near))
    return found


def _beside(span: Interval, centre: float, reach: float) -> tuple[Interval, ...]:
    """Leave out the stretch round another plug on the same piece."""
    low, high = span
    before = settle(low, min(high, centre - reach))
    after = settle(max(low, centre + reach), high)
    return tuple(part for part in (before, after) if part is not None)
