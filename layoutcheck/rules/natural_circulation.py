"""natural-circulation: a closed loop with a heater or cooler may turn by itself."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from layoutcheck.document.models import Moment
from layoutcheck.document.named import Named
from layoutcheck.network import Trust, World
from layoutcheck.rules.base import COMMON_PRACTICE, PlugRule, plug_subject
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.declared import CUTS, Blank, Cure, RestsOn
from layoutcheck.rules.doubts import doubtful_valves
from layoutcheck.rules.outcome import Dimension, Gravity, Judgement, Outcome, Severity, metres
from layoutcheck.rules.pack import Figure, Tighter

_GRAVEST = (Outcome.BROKEN, Outcome.UNDECIDED, Outcome.HOLDS, Outcome.DOES_NOT_APPLY)


class NaturalCirculation(PlugRule):
    """No part of a jacket is on a closed loop that a heater or cooler may turn by itself.

    Reason: Warm water rises and cold water sinks: a loop with a heater or cooler in it and a
        difference in height circulates with every pump stopped.
    Figure: A difference in height of more than 12 in round the loop.
    Source: common practice, no published source.
    Does not apply: Where no pipe under the jacket is on such a loop, or the heater or cooler is
        locked off.
    Undecided: Where heights round the loop are not all known, and where the loop closes only
        through a valve not stated or not proven.
    Does not see: Loops through equipment that the document leaves out, and how fast it turns.
    """

    name = "natural-circulation"
    cures = CUTS | {Cure.MOVE}
    rests_on = RestsOn.LOOP
    needs = frozenset({Blank.HEIGHT})
    severity = Severity.CAUTION
    gravity = Gravity.DELAY
    gravity_reason = "Warm water that circulates keeps a plug open for hours"
    voids_estimate = True
    reason = "A loop with a heater or cooler circulates with every pump stopped."
    figures = (
        Figure(
            key="height",
            built_in="12 in",
            dimension=Dimension.LENGTH,
            tighter=Tighter.LESS,
            source=COMMON_PRACTICE,
            meaning="Difference in height round a loop above which it may turn by itself.",
        ),
    )

    def judge_plug(self, case: Case, plug: PlacedPlug) -> Judgement:
        """Give the gravest of what is said of each pipe under the jacket; its own pipe first."""
        best, worst = (case.worlds.freezing(t).loops for t in (Trust.BEST, Trust.PROVEN))
        pieces: dict[tuple[int, int], int] = {}
        for piece, _ in case.under(plug):
            pieces.setdefault((int(best[piece]), int(worst[piece])), piece)
        found = [self._judge_piece(case, plug, piece) for piece in pieces.values()]
        return min(found, key=lambda j: _GRAVEST.index(j.outcome))

    def _judge_piece(self, case: Case, plug: PlacedPlug, piece: int) -> Judgement:
        """Look at the loop that is there for certain, then at the one there may be."""
        limit = case.pack.number(self.name, "height")
        sure, worst = (_loop_of(case, piece, t) for t in (Trust.BEST, Trust.PROVEN))
        if not worst.gear:
            sentence = "The plug is on no closed loop with a heater or cooler that may be on."
            return self.says(plug_subject(plug), Outcome.DOES_NOT_APPLY, "no such loop", sentence)
        if sure.gear and sure.rise > limit:
            return self._turns(case, plug, sure, Outcome.BROKEN, ())
        if worst.rise > limit:
            missing = doubtful_valves(case, piece)
            return self._turns(case, plug, worst, Outcome.UNDECIDED, (*missing, *worst.missing))
        if worst.missing:
            return self.says(
                plug_subject(plug),
                Outcome.UNDECIDED,
                "heights unknown",
                f"The plug is on a closed loop with {worst.gear}; its heights are not all known.",
                missing=worst.missing,
            )
        sentence = f"The plug is on a closed loop with {worst.gear}, level within "
        sentence += f"{case.length(worst.rise)}."
        return self.says(plug_subject(plug), Outcome.HOLDS, "level", sentence)

    def _turns(
        self,
        case: Case,
        plug: PlacedPlug,
        loop: _Loop,
        outcome: Outcome,
        missing: tuple[str, ...],
    ) -> Judgement:
        certain = outcome is Outcome.BROKEN
        return self.says(
            plug_subject(plug),
            outcome,
            "may turn" if certain else "may turn if in doubt",
            f"The plug {'is' if certain else 'may be'} on a closed loop with {loop.gear} and a "
            f"difference in height of {case.length(loop.rise)}: it may circulate by itself.",
            measured=metres(loop.rise),
            required=metres(case.pack.number(self.name, "height")),
            concerns=loop.live,
            missing=missing,
            todo=f"Shut down {loop.gear} and let it cool, or close a valve in the loop.",
        )


@dataclass(frozen=True)
class _Loop:
    """A closed loop: its live heaters and coolers, known difference in height (m), what lacks."""

    live: tuple[Named, ...]
    rise: float
    missing: tuple[str, ...]

    @property
    def gear(self) -> str:
        """Name the heaters and coolers."""
        return ", ".join(self.live)


def _loop_of(case: Case, piece: int, trust: Trust) -> _Loop:
    """Find the loop that a piece is on, as far as statements are trusted."""
    nodes = _loop_nodes(case, case.worlds.freezing(trust), piece)
    heights = case.network.elevation[nodes]
    unknown = nodes[np.isnan(heights)]
    known = heights[~np.isnan(heights)]
    rise = float(np.ptp(known)) if len(known) else 0.0
    names = sorted({f"elevation of {case.node_name(int(n))}" for n in unknown})
    return _Loop(_live_heat(case, nodes), rise, tuple(names))


def _loop_nodes(case: Case, world: World, piece: int) -> np.ndarray:
    """Give the nodes of the closed loops that a piece lies on (its biconnected component)."""
    loops = world.loops
    if loops[piece] < 0:
        return np.empty(0, dtype=np.int64)
    # The pieces of each loop are sorted out once: several plugs ask, and a site has many loops.
    order, starts = case.worlds.once(("by loop", world.trust), lambda: _by_loop(loops))
    found = order[starts[loops[piece]] : starts[loops[piece] + 1]]
    return np.unique(world.network.ends[found])


def _by_loop(loops: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Sort the pieces by their loop: the pieces, and where each loop's begin."""
    order = np.argsort(loops, kind="stable")
    return order, np.searchsorted(loops[order], np.arange(loops.max(initial=-1) + 2))


def _live_heat(case: Case, nodes: np.ndarray) -> tuple[Named, ...]:
    gear = {g.id: g for g in case.layout.equipment}
    live = [
        Named(gear[name].kind, name)
        for node in nodes
        for name in case.network.heat.get(int(node), ())
        if not gear[name].is_locked(Moment.FREEZING)
    ]
    return tuple(sorted(live))
