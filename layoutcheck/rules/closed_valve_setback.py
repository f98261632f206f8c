"""closed-valve-setback: a length of pipe to the nearest closed valve."""

from __future__ import annotations

import numpy as np

from layoutcheck.document.models import Moment, ValveState
from layoutcheck.network import Trust
from layoutcheck.network.columns import CLOSED, NOT_STATED, PASSING, valve_columns
from layoutcheck.network.model import PieceKind
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.declared import CUTS, Blank, Cure, RestsOn
from layoutcheck.rules.doubts import doubt_about
from layoutcheck.rules.feet_per_inch import PerInchRule, per_inch_figure
from layoutcheck.rules.outcome import Gravity


class ClosedValveSetback(PerInchRule):
    """A plug keeps a length of pipe between itself and the nearest closed valve.

    Reason: Ice pushes water ahead of itself as it grows. Against a closed valve that water has
        nowhere to go, and the pressure can burst the pipe or the valve; the cold can crack it.
    Figure: 12 in of pipe for each inch of nominal size of the frozen pipe, from the jacket's near
        end to the near face of the valve.
    Source: common practice, no published source.
    Does not apply: Never; where no closed valve connects, the rule holds and says so.
    Undecided: Where the nearest valve's state while freezing is not stated, be it a check valve:
        that one sits shut in still water unless it is stated to be open.
    Does not see: Whether the trapped water can expand: the setback alone is never proof of that;
        trapped-water computes it. A valve that passes is shut all the same and counts here. A
        check valve is no barrier, but ice pushes against it as against any other.
    """

    name = "closed-valve-setback"
    cures = CUTS | {Cure.MOVE}
    rests_on = RestsOn.PIPE
    of_place = True
    needs = frozenset({Blank.VALVE_STATE})
    gravity = Gravity.DAMAGE
    gravity_reason = "Squeezed water can crack a shut valve"
    reason = "Growing ice pushes water against a closed valve, which leaves it nowhere to go."
    feature = "closed valve"
    figures = (per_inch_figure("the nearest closed valve"),)

    def feature_nodes(self, case: Case, trust: Trust) -> np.ndarray:
        """Give the faces of valves that are shut, or in the worst reading may be."""
        valves = valve_columns(case.network)
        state = valves.state(Moment.FREEZING)
        shut = (state == CLOSED) | (state == PASSING)
        if trust is not Trust.BEST:
            shut |= state == NOT_STATED
        return np.unique(case.network.ends[valves.pieces[shut]])

    def explain(self, case: Case, plug: PlacedPlug, node: int | None, trust: Trust) -> str:
        """Name the valve whose face is at a node."""
        del plug
        name = _valve_at(case, node, trust)
        state = case.network.valves[name].at(Moment.FREEZING)
        return f"valve {name} ({state or 'state not stated'})"

    def doubts(self, case: Case, plug: PlacedPlug, node: int | None) -> tuple[str, ...]:
        """Ask for the valve's state where it is not stated."""
        del plug
        name = _valve_at(case, node, Trust.PROVEN)
        known = case.network.valves[name].at(Moment.FREEZING) is not None
        return () if known else (doubt_about(case, name, Moment.FREEZING),)


def _shut(case: Case, valve_id: str, trust: Trust) -> bool:
    state = case.network.valves[valve_id].at(Moment.FREEZING)
    if state is None:
        return trust is not Trust.BEST
    return state in {ValveState.CLOSED, ValveState.PASSING}


def _valve_at(case: Case, node: int | None, trust: Trust) -> str:
    touching = case.network.at_node(-1 if node is None else node).tolist()
    pieces = (case.network.pieces[i] for i in touching)
    name: str = next(
        p.element for p in pieces if p.kind is PieceKind.VALVE and _shut(case, p.element, trust)
    )
    return name
