"""no-flow-at-plug: nothing may flow in the frozen pipe."""

from __future__ import annotations

from collections.abc import Hashable

import numpy as np

from layoutcheck.network import Trust
from layoutcheck.network.jacket import wholly_on
from layoutcheck.network.state import FlowReason
from layoutcheck.network.stretches import Stretches
from layoutcheck.rules.base import PlacingRule, plug_subject
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.declared import CUTS, Blank, Cure, RestsOn
from layoutcheck.rules.doubts import doubtful_valves
from layoutcheck.rules.outcome import Gravity, Judgement, Outcome
from layoutcheck.rules.reasons import flow_in_words


class NoFlowAtPlug(PlacingRule):
    """Nothing may flow in the frozen pipe.

    Reason: Moving water brings heat faster than a jacket takes it away, so the plug does not
        close, or closes late and weak.
    Figure: No flow at all, in any pipe that the jacket covers, through joints and tees.
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
    cures = CUTS | {Cure.MOVE}
    rests_on = RestsOn.FLOW
    of_place = True
    needs = frozenset(
        {Blank.SOURCES, Blank.VALVE_STATE, Blank.PUMP_LOCK, Blank.END, Blank.OUTLET_STATE}
    )
    gravity = Gravity.FLOOD
    gravity_reason = "Moving water keeps the plug open, or closes it weak"
    reason = "Moving water brings heat faster than the jacket takes it away."
    waivable = False

    def judge_plug(self, case: Case, plug: PlacedPlug) -> Judgement:
        """Look whether any pipe under the jacket can flow while freezing."""
        sure = self._first_flowing(case, plug, Trust.BEST)
        if sure is not None:
            piece, why = sure
            return self.says(
                plug_subject(plug),
                Outcome.BROKEN,
                f"flows: {why.kind}",
                f"{_which(case, plug, piece)} can flow while freezing: {flow_in_words(case, why)}.",
                way=why.way,
                concerns=why.ends,
                todo="Close and prove a valve that stops this flow, or freeze elsewhere.",
            )
        doubt = self._first_flowing(case, plug, Trust.PROVEN)
        if doubt is not None:
            piece, why = doubt
            return self.says(
                plug_subject(plug),
                Outcome.UNDECIDED,
                "flows if in doubt",
                f"{_which(case, plug, piece)} may flow while freezing: {flow_in_words(case, why)}.",
                way=why.way,
                concerns=why.ends,
                missing=doubtful_valves(case, piece),
                todo="State or prove the valves named, or freeze elsewhere.",
            )
        return self.says(
            plug_subject(plug), Outcome.HOLDS, "still", "Nothing can flow under this jacket."
        )

    def _first_flowing(
        self, case: Case, plug: PlacedPlug, trust: Trust
    ) -> tuple[int, FlowReason] | None:
        """Give the first piece under the jacket that can flow, and why; the plug's own first."""
        world = case.worlds.freezing(trust)
        found = ((piece, world.why_flowing(piece)) for piece, _ in case.under(plug))
        return next(((piece, why) for piece, why in found if why is not None), None)

    def allows(self, case: Case, plug: PlacedPlug) -> Stretches:
        """Allow what keeps the whole jacket on pieces that can not flow."""
        flowing: np.ndarray = case.worlds.freezing(Trust.PROVEN).flowing
        still = Stretches.everywhere(case.network.length).only(~flowing)
        return wholly_on(case.worlds.all_pipe, still, plug.jacket / 2, asked=flowing)

    def alike(self, case: Case, plug: PlacedPlug) -> Hashable:
        """Say what the places allowed depend on: the jacket's length."""
        del case
        return plug.jacket


def _which(case: Case, plug: PlacedPlug, piece: int) -> str:
    """Name a piece under a jacket: the plug's own pipe needs no name."""
    name = case.network.pieces.elements[piece]
    own = piece == plug.spot.piece or name == plug.pipe
    return "The pipe" if own else f"{name}, which lies under the jacket too,"
