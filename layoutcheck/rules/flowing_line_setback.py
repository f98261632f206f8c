"""flowing-line-setback: a length of pipe to the nearest line that can flow."""

from __future__ import annotations

from collections.abc import Hashable, Iterator
from functools import partial

import numpy as np

from layoutcheck.network import Trust, World
from layoutcheck.network.stretches import TOLERANCE, Interval, Stretches
from layoutcheck.rules.base import keep_away, plug_subject
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.declared import CUTS, Blank, Cure, RestsOn
from layoutcheck.rules.doubts import doubtful_valves, doubts_on_way
from layoutcheck.rules.feet_per_inch import PerInchRule, per_inch_figure
from layoutcheck.rules.in_hold import (
    flows_more,
    ice_around,
    in_hold,
    still_in_hold,
    still_where_it_is,
)
from layoutcheck.rules.outcome import Gravity, Judgement, Outcome, metres
from layoutcheck.rules.reasons import flow_in_words, stopping


class FlowingLineSetback(PerInchRule):
    """A plug keeps a length of pipe between itself and the nearest line that can flow.

    Reason: Water that moves in a line stirs the still water at its branch and feeds heat to the
        plug; too near, the plug grows slowly or never closes.
    Figure: 12 in of pipe for each inch of nominal size of the frozen pipe: 24 in for a 2 in line,
        72 in for a 6 in line. From the jacket's near end to the centre of the tee at which the
        flowing line joins, by the shortest way that water connects; while it freezes, and at work
        with the ice in place.
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

    def judge_plug(self, case: Case, plug: PlacedPlug) -> Judgement:
        """Compare the distance with what is asked, while freezing and then in the hold."""
        found = super().judge_plug(case, plug)
        if found.outcome is Outcome.BROKEN or not flows_more(case).any():
            return found
        order = (Outcome.BROKEN, Outcome.UNDECIDED, Outcome.HOLDS)
        held = self._in_hold(case, plug)
        return min((found, *held), key=lambda j: order.index(j.outcome))

    def _in_hold(self, case: Case, plug: PlacedPlug) -> Iterator[Judgement]:
        """Judge what starts to flow at work beside the ice."""
        required = float(self.required(case, np.array([plug.inches]))[0])
        for trust, outcome in ((Trust.BEST, Outcome.BROKEN), (Trust.PROVEN, Outcome.UNDECIDED)):
            world = in_hold(case, plug, trust)
            field = world.metric.from_nodes(world.flowing_nodes)
            measured = max(0.0, field.at(case.network, plug.spot) - self.reach(case, plug))
            if not measured < required - TOLERANCE:
                continue
            way = tuple(field.way(case.network, plug.spot))
            shown, limit = case.lengths(measured, required)
            name = _line(case, way[-1], world)
            yield self.says(
                plug_subject(plug),
                outcome,
                "too near in the hold",
                f"{shown} to {name}, while the plug is held: "
                f"{case.at_least(required - measured)} short of the {limit} needed.",
                measured=metres(measured),
                required=metres(required),
                where=way[-1],
                way=way,
                missing=doubts_on_way(case, way) if outcome is Outcome.UNDECIDED else (),
                todo="Keep what starts this flow shut until the hold ends, or move the plug.",
            )

    def besides(self, case: Case) -> Hashable:
        """Say what of the other plugs it depends on: where their ice stops what flows at work."""
        return ice_around(case)

    def allows(self, case: Case, plug: PlacedPlug) -> Stretches:
        """Give the closed intervals that keep the distance while freezing and in the hold."""
        before = self.allows_freezing(case, plug)
        held = still_in_hold(case, plug, partial(self._away, case, plug))
        return before if held is None else before.meet(held)

    def _away(self, case: Case, plug: PlacedPlug, world: World) -> Stretches:
        network = case.network
        reach = self.required(case, network.inches) + self.reach(case, plug)
        distance = world.metric.from_nodes(world.flowing_nodes).distance
        low, high = keep_away(network.ends, network.length, distance, reach)
        return Stretches.between(low, high).only(~world.flowing)

    def allows_held(self, case: Case, plug: PlacedPlug) -> tuple[Interval, ...] | None:
        """Give what keeps the distance in the hold, on the plug's own piece."""
        return still_where_it_is(case, plug, partial(self._away, case, plug))

    def allows_freezing(self, case: Case, plug: PlacedPlug) -> Stretches:
        """Give the closed intervals that keep the distance from what flows while freezing."""
        return super().allows(case, plug)

    def alike(self, case: Case, plug: PlacedPlug) -> Hashable:
        """Say what the places allowed depend on: the jacket's reach, and ice in the hold."""
        return self.reach(case, plug), ice_around(case)

    def explain(self, case: Case, plug: PlacedPlug, node: int | None, trust: Trust) -> str:
        """Name the flowing line at a node, and why it is taken as flowing."""
        world = case.worlds.freezing(trust)
        return _line(case, node, world, plug.spot.piece)

    def away(self, case: Case, plug: PlacedPlug, node: int | None, trust: Trust) -> str:
        """Stop the flow, where it is known how; or move the plug, and away from what."""
        world = case.worlds.freezing(trust)
        piece = plug.spot.piece if node is None else _flowing_piece(case, node, world)
        stop = stopping(case, world.why_flowing(piece))
        if node is None:
            return f"{stop}, or move the plug to a line that stands still."
        line, joins = case.network.pieces[piece].element, case.node_name(node)
        return f"{stop}, or move the plug away from flowing line {line}, which joins at {joins}."

    def doubts(self, case: Case, plug: PlacedPlug, node: int | None) -> tuple[str, ...]:
        """Name the valves by which the line may flow, unless it flows for certain."""
        world = case.worlds.freezing(Trust.PROVEN)
        piece = plug.spot.piece if node is None else _flowing_piece(case, node, world)
        return doubtful_valves(case, piece)


def _line(case: Case, node: int | None, world: World, own: int = -1) -> str:
    """Name the line that flows at a node, and why; that of a piece itself where there is none."""
    piece = own if node is None else _flowing_piece(case, node, world)
    reason = world.why_flowing(piece)
    name = case.network.pieces[piece].element
    why = f" ({flow_in_words(case, reason)})" if reason is not None else ""
    at = "" if node is None else f" at {case.node_name(node)}"
    return f"flowing line {name}{at}{why}"


def _flowing_piece(case: Case, node: int, world: World) -> int:
    """Pick the flowing piece that a node's line is named after: pipe first, lowest number."""
    touching = case.network.at_node(node)
    ranked = sorted((int(case.network.kind[i]), int(i)) for i in touching[world.flowing[touching]])
    return ranked[0][1]
