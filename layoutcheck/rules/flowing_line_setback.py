"""flowing-line-setback: a length of pipe to the nearest line that can flow."""

from __future__ import annotations

import numpy as np

from layoutcheck.network import Trust
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.declared import CUTS, Blank, Cure, RestsOn
from layoutcheck.rules.doubts import doubtful_valves
from layoutcheck.rules.feet_per_inch import PerInchRule, per_inch_figure
from layoutcheck.rules.outcome import Gravity
from layoutcheck.rules.reasons import flow_in_words


class FlowingLineSetback(PerInchRule):
    """A plug keeps a length of pipe between itself and the nearest line that can flow.

    Reason: Water that moves in a line stirs the still water at its branch and feeds heat to the
        plug; too near, the plug grows slowly or never closes.
    Figure: 12 in of pipe for each inch of nominal size of the frozen pipe: 24 in for a 2 in line,
        72 in for a 6 in line. From the jacket's near end to the centre of the tee at which the
        flowing line joins, by the shortest way that water connects.
    Source: common practice, no published source.
    Does not apply: Never; where no flowing line connects, the rule holds and says so.
    Undecided: Where the line flows only if a valve not stated is open, or one not proven passes.
    Does not see: How fast the line flows, and a wider pipe on the way, which stirs more water.
    """

    name = "flowing-line-setback"
    cures = CUTS | {Cure.MOVE}
    rests_on = RestsOn.FLOW
    of_place = True
    needs = frozenset({Blank.LENGTH, Blank.SIZE, Blank.OUTLET_STATE, Blank.PLUGS})
    gravity = Gravity.FLOOD
    gravity_reason = "Heat from moving water melts the plug"
    reason = "Flow in a line stirs the still water at its branch and feeds heat to the plug."
    feature = "line that can flow"
    figures = (per_inch_figure("the nearest line that can flow"),)

    def feature_nodes(self, case: Case, trust: Trust) -> np.ndarray:
        """Give the nodes at which a flowing line joins."""
        return case.worlds.freezing(trust).flowing_nodes

    def feature_pieces(self, case: Case, trust: Trust) -> np.ndarray | None:
        """Give the flowing pieces: a plug in one of them has no distance at all."""
        return case.worlds.freezing(trust).flowing

    def explain(self, case: Case, plug: PlacedPlug, node: int | None, trust: Trust) -> str:
        """Name the flowing line at a node, and why it is taken as flowing."""
        world = case.worlds.freezing(trust)
        piece = plug.spot.piece if node is None else _flowing_piece(case, node, trust)
        reason = world.why_flowing(piece)
        name = case.network.pieces[piece].element
        why = f" ({flow_in_words(case, reason)})" if reason is not None else ""
        at = "" if node is None else f" at {case.node_name(node)}"
        return f"flowing line {name}{at}{why}"

    def doubts(self, case: Case, plug: PlacedPlug, node: int | None) -> tuple[str, ...]:
        """Name the valves by which the line may flow, unless it flows for certain."""
        piece = plug.spot.piece if node is None else _flowing_piece(case, node, Trust.PROVEN)
        return doubtful_valves(case, piece)


def _flowing_piece(case: Case, node: int, trust: Trust) -> int:
    """Pick the flowing piece that a node's line is named after: pipe first, lowest number."""
    world = case.worlds.freezing(trust)
    touching = case.network.at_node(node)
    ranked = sorted((int(case.network.kind[i]), int(i)) for i in touching[world.flowing[touching]])
    return ranked[0][1]
