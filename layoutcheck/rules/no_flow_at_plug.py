"""no-flow-at-plug: nothing may flow in the frozen pipe."""

from __future__ import annotations

from collections.abc import Hashable

import numpy as np

from layoutcheck.network import Trust
from layoutcheck.network.stretches import Stretches
from layoutcheck.rules.base import PlacingRule, plug_subject
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.doubts import doubtful_valves
from layoutcheck.rules.outcome import Judgement, Outcome
from layoutcheck.rules.reasons import flow_in_words


class NoFlowAtPlug(PlacingRule):
    """Nothing may flow in the frozen pipe.

    Reason: Moving water brings heat faster than a jacket takes it away, so the plug does not
        close, or closes late and weak.
    Figure: No flow at all.
    Source: common practice, no published source. Park et al. (2001, abstract only) found the
        greatest flow that still closes to grow with jacket length; no constant was read, so no
        flow is accepted.
    Does not apply: Never; every plug is judged.
    Undecided: Where the pipe flows only if a valve whose state is not stated is open, or if a
        closed valve that is not proven tight passes.
    Does not see: Flow through devices that the layout leaves out, and circulation of warm water
        inside the pipe itself (the freezing time allows for that). A loop with a heater that may
        turn by itself is the subject of natural-circulation.
    """

    name = "no-flow-at-plug"
    reason = "Moving water brings heat faster than the jacket takes it away."
    waivable = False

    def judge_plug(self, case: Case, plug: PlacedPlug) -> Judgement:
        """Look whether the plug's pipe can flow while freezing."""
        piece = plug.spot.piece
        sure = case.worlds.freezing(Trust.BEST).why_flowing(piece)
        if sure is not None:
            return self.says(
                plug_subject(plug),
                Outcome.BROKEN,
                f"flows: {sure.kind}",
                f"The pipe can flow while freezing: {flow_in_words(case, sure)}.",
                way=sure.way,
                concerns=sure.ends,
                todo="Close and prove a valve that stops this flow, or freeze elsewhere.",
            )
        world = case.worlds.freezing(Trust.PROVEN)
        doubt = world.why_flowing(piece)
        if doubt is not None:
            return self.says(
                plug_subject(plug),
                Outcome.UNDECIDED,
                "flows if in doubt",
                f"The pipe may flow while freezing: {flow_in_words(case, doubt)}.",
                way=doubt.way,
                concerns=doubt.ends,
                missing=doubtful_valves(case, piece),
                todo="State or prove the valves named, or freeze elsewhere.",
            )
        return self.says(
            plug_subject(plug), Outcome.HOLDS, "still", "Nothing can flow in this pipe."
        )

    def allows(self, case: Case, plug: PlacedPlug) -> Stretches:
        """Allow every piece that can not flow."""
        del plug
        flowing: np.ndarray = case.worlds.freezing(Trust.PROVEN).flowing
        return Stretches.everywhere(case.network.length).only(~flowing)

    def alike(self, case: Case, plug: PlacedPlug) -> Hashable:
        """Say what the places allowed depend on: on nothing of the plug."""
        del case, plug
        return ()
