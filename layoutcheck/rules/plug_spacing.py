"""plug-spacing: a length of pipe between plugs."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

import numpy as np

from layoutcheck.network import Trust
from layoutcheck.network.stretches import TOLERANCE, Interval, Stretches, settle
from layoutcheck.rules.base import PlacingRule, keep_away, plug_subject
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.doubts import doubts_on_way
from layoutcheck.rules.feet_per_inch import PER_INCH, per_inch_figure
from layoutcheck.rules.outcome import Judgement, Outcome, Subject, metres


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
    reason = "Two plugs that grow towards each other squeeze the water between them."
    figures = (per_inch_figure("the next plug, by the larger of the two sizes"),)

    def judge(self, case: Case) -> Iterator[Judgement]:
        """Judge each pair of plugs."""
        for one, two in combinations(case.plugs, 2):
            yield self._judge_pair(case, one, two)

    def judge_plug(self, case: Case, plug: PlacedPlug) -> Judgement:
        """Give the worst judgement of the pairs that a plug is in."""
        if not case.others(plug):
            return self.says(
                plug_subject(plug), Outcome.DOES_NOT_APPLY, "alone", "There is no other plug."
            )
        pairs = [
            self._judge_pair(case, *sorted((plug, o), key=lambda p: p.id))
            for o in case.others(plug)
        ]
        order = [Outcome.BROKEN, Outcome.UNDECIDED, Outcome.HOLDS, Outcome.DOES_NOT_APPLY]
        return min(pairs, key=lambda j: order.index(j.outcome))

    def _between(self, case: Case, one: PlacedPlug, two: PlacedPlug, trust: Trust) -> float:
        field = case.worlds.field_of_spot(one.spot, trust)
        centres = field.at(case.network, two.spot)
        return max(0.0, centres - case.reach(one) - case.reach(two))

    def _judge_pair(self, case: Case, one: PlacedPlug, two: PlacedPlug) -> Judgement:
        subject = Subject("plugs", f"{one.id} + {two.id}")
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
        way = tuple(case.worlds.field_of_spot(two.spot, trust).way(case.network, one.spot))
        shown, limit = case.lengths(measured, required)
        sentence = f"{shown} between the jackets; {limit} is asked for"
        sentence += f", {case.length(required - measured)} more." if near or doubt else "."
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
            concerns=(f"plug {one.id}", f"plug {two.id}"),
        )

    def allows(self, case: Case, plug: PlacedPlug) -> Stretches:
        """Allow what keeps the distance from each of the other plugs."""
        network = case.network
        kept = Stretches.everywhere(network.length)
        per_inch = case.pack.number(self.name, PER_INCH)
        for other in case.others(plug):
            field = case.worlds.field_of_spot(other.spot, Trust.PROVEN)
            larger = np.maximum(network.inches, other.inches)
            reach = larger * per_inch + case.reach(plug) + case.reach(other)
            low, high = keep_away(network.ends, network.length, field.distance, reach)
            own = other.spot.piece
            span = (float(low[own]), float(high[own]))
            parts = _beside(span, other.spot.offset, float(reach[own]))
            kept = kept.meet(Stretches(low, high, {own: parts}))
        return kept


def _beside(span: Interval, centre: float, reach: float) -> tuple[Interval, ...]:
    """Leave out the stretch round another plug on the same piece."""
    low, high = span
    before = settle(low, min(high, centre - reach))
    after = settle(max(low, centre + reach), high)
    return tuple(part for part in (before, after) if part is not None)
