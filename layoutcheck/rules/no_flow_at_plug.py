"""no-flow-at-plug: nothing may flow in the frozen pipe."""

from __future__ import annotations

from collections.abc import Hashable
from functools import partial

from layoutcheck.network import Trust, World
from layoutcheck.network.jacket import wholly_on
from layoutcheck.network.state import FlowReason
from layoutcheck.network.stretches import Interval, Stretches
from layoutcheck.rules.base import PlacingRule, plug_subject
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.declared import CUTS, Blank, Cure, RestsOn
from layoutcheck.rules.doubts import doubtful_valves
from layoutcheck.rules.in_hold import (
    flows_more,
    ice_around,
    in_hold,
    still_in_hold,
    still_where_it_is,
)
from layoutcheck.rules.outcome import Gravity, Judgement, Outcome
from layoutcheck.rules.reasons import flow_in_words, stopping


class NoFlowAtPlug(PlacingRule):
    """Nothing may flow in the frozen pipe.

    Reason: Moving water brings heat faster than a jacket takes it away, so the plug does not
        close, or closes late and weak.
    Figure: No flow at all, in any pipe that the jacket covers, through joints and tees: while it
        freezes, and at work beside the ice, where a valve or an outlet is opened for it.
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
    gravity_reason = "Moving water keeps the plug open, or leaves it weak"
    reason = "Moving water brings heat faster than the jacket takes it away."
    waivable = False

    def judge_plug(self, case: Case, plug: PlacedPlug) -> Judgement:
        """Look whether any pipe under the jacket can flow while freezing, or in the hold."""
        for trust, judge in ((Trust.BEST, self._flows), (Trust.PROVEN, self._may_flow)):
            found = _first_flowing(case, plug, case.worlds.freezing(trust))
            if found is not None:
                return judge(case, plug, *found, "while freezing", "")
            if flows_more(case, trust).any():
                found = _first_flowing(case, plug, in_hold(case, plug, trust))
                if found is not None:
                    return judge(case, plug, *found, "while the plug is held", " in the hold")
        return self.says(
            plug_subject(plug), Outcome.HOLDS, "still", "Nothing can flow under this jacket."
        )

    def _flows(
        self, case: Case, plug: PlacedPlug, piece: int, why: FlowReason, when: str, code: str
    ) -> Judgement:
        return self.says(
            plug_subject(plug),
            Outcome.BROKEN,
            f"flows{code}: {why.kind}",
            f"{_which(case, plug, piece)} can flow {when}: {flow_in_words(case, why)}.",
            way=why.way,
            concerns=why.ends,
            todo=f"{stopping(case, why)}, or freeze elsewhere.",
        )

    def _may_flow(
        self, case: Case, plug: PlacedPlug, piece: int, why: FlowReason, when: str, code: str
    ) -> Judgement:
        return self.says(
            plug_subject(plug),
            Outcome.UNDECIDED,
            f"flows{code} if in doubt",
            f"{_which(case, plug, piece)} may flow {when}: {flow_in_words(case, why)}.",
            way=why.way,
            concerns=why.ends,
            missing=doubtful_valves(case, piece),
            todo="State or prove the valves named, or freeze elsewhere.",
        )

    def besides(self, case: Case) -> Hashable:
        """Say what of the other plugs it depends on: where their ice stops what flows at work."""
        return ice_around(case)

    def allows(self, case: Case, plug: PlacedPlug) -> Stretches:
        """Allow what keeps the whole jacket on pieces that can not flow."""
        before = self.allows_freezing(case, plug)
        held = still_in_hold(case, plug, partial(_allowed, case, plug))
        return before if held is None else before.meet(held)

    def allows_held(self, case: Case, plug: PlacedPlug) -> tuple[Interval, ...] | None:
        """Give what lies still in the hold, on the plug's own piece."""
        return still_where_it_is(case, plug, partial(_allowed, case, plug))

    def allows_freezing(self, case: Case, plug: PlacedPlug) -> Stretches:
        """Allow what keeps the whole jacket on pieces that can not flow while freezing."""
        return _allowed(case, plug, case.worlds.freezing(Trust.PROVEN))

    def alike(self, case: Case, plug: PlacedPlug) -> Hashable:
        """Say what the places allowed depend on: the jacket's length, and ice in the hold."""
        return plug.jacket, ice_around(case)


def _allowed(case: Case, plug: PlacedPlug, world: World) -> Stretches:
    still = Stretches.everywhere(case.network.length).only(~world.flowing)
    return wholly_on(case.worlds.all_pipe, still, plug.jacket / 2, asked=world.flowing)


def _first_flowing(case: Case, plug: PlacedPlug, world: World) -> tuple[int, FlowReason] | None:
    """Give the first piece under the jacket that can flow, and why; the plug's own first."""
    found = ((piece, world.why_flowing(piece)) for piece, _ in case.under(plug))
    return next(((piece, why) for piece, why in found if why is not None), None)


def _which(case: Case, plug: PlacedPlug, piece: int) -> str:
    """Name a piece under a jacket: the plug's own pipe needs no name."""
    name = case.network.pieces.elements[piece]
    own = piece == plug.spot.piece or name == plug.pipe
    return "The pipe" if own else f"{name}, which lies under the jacket too,"
