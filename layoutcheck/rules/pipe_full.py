"""pipe-full: the pipe under the jacket is full of water, with no air kept in it."""

from __future__ import annotations

from collections.abc import Hashable

import numpy as np

from layoutcheck.network.jacket import wholly_on
from layoutcheck.network.peaks import air_keeping
from layoutcheck.network.stretches import Stretches
from layoutcheck.rules.base import COMMON_PRACTICE, PlacingRule, plug_subject
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.declared import Cure, RestsOn
from layoutcheck.rules.outcome import Gravity, Judgement, Outcome

AS_FULL = "The pipe is full of water at the plug."


class PipeFull(PlacingRule):
    """The pipe under the jacket is full of water, with no air kept in it.

    Reason: Ice does not close over a pocket of air: water and pressure pass through the gap, and
        frost on the pipe shows nothing of it.
    Figure: No high point without an outlet in the run that the jacket lies in.
    Source: common practice, no published source.
    Does not apply: Never; every plug is judged.
    Undecided: Where the jacket lies at a high point that nothing lets air out of, or on a leg that
        goes down from one, as far as the first branch or outlet.
    Does not see: Air where heights are not stated, sags and humps between stated heights, pipe that
        was drained and not filled again, and whether a vent was opened. That the pipe is full is
        taken for granted, and the crew finds it out before the first injection.
    """

    name = "pipe-full"
    cures = frozenset({Cure.MOVE})
    rests_on = RestsOn.PIPE
    gravity = Gravity.FLOOD
    gravity_reason = "Water and pressure pass over the ice, and frost hides it"
    reason = "Ice does not close over a pocket of air."
    source = COMMON_PRACTICE

    def judge_plug(self, case: Case, plug: PlacedPlug) -> Judgement:
        """Look whether the jacket lies where air would gather."""
        tops = air_keeping(case.network)
        top = next((tops[piece] for piece, _ in case.under(plug) if piece in tops), None)
        if top is None:
            return self.says(
                plug_subject(plug),
                Outcome.HOLDS,
                "no air kept",
                "No high point that would hold air is known on its run; it is taken as full.",
                assumed=(AS_FULL,),
            )
        name = case.node_name(top)
        return self.says(
            plug_subject(plug),
            Outcome.UNDECIDED,
            "air may be kept",
            f"Air gathers at {name}, a high point with nothing to let it out, and reaches down "
            "the pipe that the jacket is on. Ice does not close over air.",
            where=top,
            missing=(f"a vent at {name}, or proof that {plug.pipe} is full at plug {plug.id}",),
            todo=f"Let the air out at {name} and add that outlet to the layout, or freeze below "
            "the next branch.",
        )

    def allows(self, case: Case, plug: PlacedPlug) -> Stretches:
        """Allow what keeps the whole jacket out of pieces in which air gathers."""
        airy = np.zeros(len(case.network.pieces), dtype=bool)
        airy[list(air_keeping(case.network))] = True
        full = Stretches.everywhere(case.network.length).only(~airy)
        return wholly_on(case.worlds.all_pipe, full, plug.jacket / 2, asked=airy)

    def alike(self, case: Case, plug: PlacedPlug) -> Hashable:
        """Say what the places allowed depend on: the jacket's length."""
        del case
        return plug.jacket
