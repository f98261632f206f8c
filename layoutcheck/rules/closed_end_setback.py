"""closed-end-setback: a length of pipe to the nearest cap, blind or closed connection."""

from __future__ import annotations

import numpy as np

from layoutcheck.document.models import Moment, Outlet, OutletState
from layoutcheck.network import Trust
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.declared import CUTS, Blank, Cure, RestsOn
from layoutcheck.rules.feet_per_inch import PerInchRule, per_inch_figure
from layoutcheck.rules.outcome import Gravity


class ClosedEndSetback(PerInchRule):
    """A plug keeps a length of pipe between itself and the nearest closed end.

    Reason: Ice pushes water ahead of itself as it grows. Against a closed end that water has
        nowhere to go, and the pressure can burst the pipe.
    Figure: 12 in of pipe for each inch of nominal size of the frozen pipe, from the jacket's near
        end to the cap, blind, locked-off outlet or other closed connection.
    Source: common practice, no published source.
    Does not apply: Never; where no closed end connects, the rule holds and says so.
    Undecided: Where the nearest end is an outlet that may draw: then it may as well be shut.
    Does not see: Whether the trapped water can expand: the setback alone is never proof of that;
        trapped-water computes it. A pipe's end with nothing stated counts as closed.
    """

    name = "closed-end-setback"
    cures = CUTS | {Cure.MOVE, Cure.OPEN}
    rests_on = RestsOn.SHUT_END
    of_place = True
    needs = frozenset({Blank.END, Blank.LENGTH})
    gravity = Gravity.DAMAGE
    gravity_reason = "Squeezed water can split the pipe at a closed end"
    reason = "Growing ice pushes water against a closed end, which leaves it nowhere to go."
    feature = "closed end"
    figures = (per_inch_figure("the nearest cap, blind or other closed connection"),)

    def feature_nodes(self, case: Case, trust: Trust) -> np.ndarray:
        """Give the nodes of closed ends; in the worst reading also of outlets that may be shut."""
        network = case.network
        outlets = {o.id: o for o in network.layout.outlets}
        shut = [n for n, ids in network.outlets.items() if _all_shut(outlets, ids, trust)]
        return np.array(sorted({*network.dead_ends, *shut, *_shut_tanks(case)}), dtype=np.int64)

    def explain(self, case: Case, plug: PlacedPlug, node: int | None, trust: Trust) -> str:
        """Name the closed end at a node."""
        del plug, trust
        if node is not None and node in case.network.dead_ends:
            return case.network.dead_ends[node]
        if node is not None and node in _shut_tanks(case):
            return f"locked-off tank {_shut_tanks(case)[node]}"
        names = ", ".join(case.network.outlets.get(-1 if node is None else node, ()))
        return f"outlet {names}"

    def doubts(self, case: Case, plug: PlacedPlug, node: int | None) -> tuple[str, ...]:
        """Ask whether an outlet is locked off or kept open."""
        del plug
        names = case.network.outlets.get(-1 if node is None else node, ())
        outlets = {o.id: o for o in case.network.layout.outlets}
        ask = {
            OutletState.MAY_DRAW: "whether outlet {} is locked off or kept open",
            OutletState.LEAKING: "whether the leak at outlet {} has stopped",
        }
        states = ((n, _state(outlets[n])) for n in names)
        return tuple(ask[state].format(n) for n, state in states if state in ask)


def _shut_tanks(case: Case) -> dict[int, str]:
    """Give the nodes of tanks that are all locked off while freezing, with a name."""
    gear = {g.id: g for g in case.layout.equipment}
    return {
        node: names[0]
        for node, names in case.network.tanks.items()
        if all(gear[n].is_locked(Moment.FREEZING) for n in names)
    }


def _state(outlet: Outlet) -> OutletState:
    return outlet.at(Moment.FREEZING) or OutletState.MAY_DRAW


def _all_shut(outlets: dict[str, Outlet], ids: tuple[str, ...], trust: Trust) -> bool:
    states = {_state(outlets[i]) for i in ids}
    if trust is Trust.BEST:
        return states <= {OutletState.LOCKED_OFF, OutletState.BLEED}
    return OutletState.KEPT_OPEN not in states
