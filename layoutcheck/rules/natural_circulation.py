"""natural-circulation: a closed loop with a heater or cooler may turn by itself."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from layoutcheck.document.models import Moment
from layoutcheck.network import Trust, World
from layoutcheck.rules.base import COMMON_PRACTICE, Rule, plug_subject
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.outcome import Dimension, Judgement, Outcome, Severity
from layoutcheck.rules.pack import Figure, Tighter


class NaturalCirculation(Rule):
    """A plug is not on a closed loop that a heater or cooler may turn by itself.

    Reason: Warm water rises and cold water sinks: a loop with a heater or cooler in it and a
        difference in height circulates with every pump stopped.
    Figure: A difference in height of more than 12 in round the loop.
    Source: common practice, no published source.
    Does not apply: Where the plug is on no such loop, or the heater or cooler is locked off.
    Undecided: Where heights round the loop are not all known.
    Does not see: Loops through equipment that the document leaves out, and how fast it turns.
    """

    name = "natural-circulation"
    severity = Severity.CAUTION
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

    def judge(self, case: Case) -> Iterator[Judgement]:
        """Judge each plug."""
        for plug in case.plugs:
            yield self._judge_plug(case, plug)

    def _judge_plug(self, case: Case, plug: PlacedPlug) -> Judgement:
        subject, world = plug_subject(plug), case.worlds.freezing(Trust.STATED)
        nodes = _loop_nodes(world, plug.spot.piece)
        gear = _live_heat(case, nodes)
        if not gear:
            sentence = "The plug is on no closed loop with a heater or cooler that may be on."
            return self.says(subject, Outcome.DOES_NOT_APPLY, "no such loop", sentence)
        heights = case.network.elevation[nodes]
        if np.isnan(heights).any():
            sentence = f"The plug is on a closed loop with {gear}; its heights are not all known."
            missing = ("elevations round the loop",)
            return self.says(
                subject, Outcome.UNDECIDED, "heights unknown", sentence, missing=missing
            )
        rise = float(np.ptp(heights))
        turns = rise > case.pack.number(self.name, "height")
        sentence = (
            f"The plug is on a closed loop with {gear} and a difference in height of "
            f"{case.length(rise)}{': it may circulate by itself' if turns else ''}."
        )
        outcome = Outcome.BROKEN if turns else Outcome.HOLDS
        return self.says(
            subject,
            outcome,
            "may turn" if turns else "level",
            sentence,
            concerns=tuple(gear.split(", ")),
            todo=f"Shut down {gear} and let it cool, or close a valve in the loop."
            if turns
            else "",
        )


def _loop_nodes(world: World, piece: int) -> np.ndarray:
    """Give the nodes of the closed loops that a piece lies on (its biconnected component)."""
    loops = world.loops
    if loops[piece] < 0:
        return np.empty(0, dtype=np.int64)
    return np.unique(world.network.ends[loops == loops[piece]])


def _live_heat(case: Case, nodes: np.ndarray) -> str:
    gear = {g.id: g for g in case.layout.equipment}
    live = [
        f"{gear[name].kind} {name}"
        for node in nodes
        for name in case.network.heat.get(int(node), ())
        if not gear[name].is_locked(Moment.FREEZING)
    ]
    return ", ".join(sorted(live))
