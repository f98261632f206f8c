"""Why a set of closures and plugs fails, as the elements of which one at least must be added.

A conflict is a set of elements such that every plan that contains the failed set and passes holds
one of them. It rests on a witness (a way in, a way through which water flows, a feature too near):
as long as no element of the conflict is added the witness stands, whatever else is added. An
empty conflict is a proof that the failed set is part of no plan.

One thing is taken as given: a further plug mends nothing of another plug. It is no barrier while
freezing, it stops no flow, and it only adds to coolant, to gas and to shut-in water.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from functools import cached_property
from itertools import pairwise

import numpy as np

from layoutcheck.network import Spot, Trust, World
from layoutcheck.network.cut import WayIn, kept_pieces, ways_in
from layoutcheck.network.model import PieceKind
from layoutcheck.network.stretches import TOLERANCE
from layoutcheck.planning.elements import Chosen, Element, Kind
from layoutcheck.planning.ground import Ground
from layoutcheck.planning.stations import field_from
from layoutcheck.rules.base import PlacingRule, SetbackRule
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.declared import CLOSURES, RestsOn
from layoutcheck.rules.in_hold import world_in_hold
from layoutcheck.rules.judge import spot_rules
from layoutcheck.rules.outcome import Judgement
from layoutcheck.rules.registry import all_rules
from layoutcheck.rules.sections import sections_of

# Of the ways in, the shortest ones are weighed against each other, to branch on the least.
_WAYS_WEIGHED = 4

Conflict = frozenset[Element]
NOTHING_HELPS: Conflict = frozenset()


class Explainer:
    """Finds conflicts on one ground."""

    def __init__(self, ground: Ground) -> None:
        """Keep the ground."""
        self.ground = ground
        self.network = ground.network

    @cached_property
    def everything(self) -> Conflict:
        """Give all that can be done: the conflict of a rule that nothing more is known of."""
        return frozenset(self.ground.actions)

    def way_in(self, case: Case, plugged: Iterable[int]) -> Conflict | None:
        """Explain a way in that is left to the work in the worst reading; None if there is none."""
        world, plugged = case.worlds.working(Trust.PROVEN), list(plugged)
        ways = ways_in(world, plugged, self.ground.work_nodes)
        if not ways:
            return None
        keep = kept_pieces(world, plugged)
        found = [self._against(way, keep) for way in ways[:_WAYS_WEIGHED]]
        return min(found, key=lambda c: (len(c), sorted(c)))

    def pieces_of_way(self, case: Case, plugged: Iterable[int]) -> list[int]:
        """Give the pieces of pipe on the ways that are left to the work."""
        world, plugged = case.worlds.working(Trust.PROVEN), list(plugged)
        keep = kept_pieces(world, plugged)
        ways = ways_in(world, plugged, self.ground.work_nodes)
        on_any = {p for way in ways for p in self._pieces_on(way.nodes, keep)}
        return sorted(p for p in on_any if case.pipes_of_pieces[p])

    def _against(self, way: WayIn, keep: np.ndarray) -> Conflict:
        found: set[Element] = set()
        if way.pump is not None:
            found.update(self.ground.of_pump.of(way.pump))
        for piece in self._pieces_on(way.nodes, keep):
            found.update(self._valve_on(piece))
            plug = self.ground.plug_on(piece)
            if plug is not None:
                found.add(plug)
        return frozenset(found)

    def _pieces_on(self, nodes: Sequence[int], keep: np.ndarray) -> Iterator[int]:
        """Give every piece that makes a step of a way, parallel ones too."""
        for u, v in pairwise(nodes):
            for piece in self.network.at_node(u).tolist():
                if keep[piece] and v in self.network.ends[piece]:
                    yield piece

    def _valve_on(self, piece: int) -> tuple[Element, ...]:
        item = self.network.pieces[piece]
        if item.kind is not PieceKind.VALVE:
            return ()
        return self.ground.of_valve.of(item.element)

    def no_room(self, case: Case, piece: int) -> Conflict:
        """Explain why no place on a piece is clear for a plug."""
        length = float(self.network.length[piece])
        alone: list[Conflict] = []
        together: set[Element] = set()
        for name, kept in self.ground.kept(case, piece).items():
            whole = kept == ((0.0, length),)
            if whole:
                continue
            why = self._why(case, name, piece)
            together |= why
            if not kept:
                alone.append(why)
        if alone:
            return min(alone, key=lambda c: (len(c), sorted(c)))
        return frozenset(together)

    def limits(self, case: Case, piece: int) -> Conflict:
        """Give what could widen the clear stretches on a piece."""
        names = self.ground.kept(case, piece)
        return frozenset(e for name in names for e in self._why(case, name, piece))

    def _why(self, case: Case, name: str, piece: int) -> Conflict:
        """Explain what one rule shuts out on a piece."""
        rule, probe = spot_rules()[name], self.ground.probe(piece)
        if not rule.cures & CLOSURES:
            return NOTHING_HELPS
        # What flows while freezing is witness enough where it leaves no place.
        if rule.rests_on is RestsOn.FLOW and rule.allows_freezing(case, probe).of(piece):
            world = world_in_hold(case, probe)
            if world is not None:
                return self._before(case, rule, piece) | self._in_hold(case, world, rule, probe)
        return self._before(case, rule, piece)

    def _before(self, case: Case, rule: PlacingRule, piece: int) -> Conflict:
        """Explain what a rule shuts out on a piece by what is so while it freezes."""
        if isinstance(rule, SetbackRule):
            return self._setback(case, rule, piece)
        if rule.rests_on is RestsOn.FLOW:
            return self._flow_under(case, piece)
        if rule.rests_on is RestsOn.HEAD:
            return self.head(case, piece)
        return self.everything

    def _in_hold(self, case: Case, world: World, rule: PlacingRule, probe: PlacedPlug) -> Conflict:
        """Explain what flows in the hold in a piece or near it: closures end that, and ice."""
        piece, reach = probe.spot.piece, probe.jacket / 2
        if isinstance(rule, SetbackRule):
            needed = rule.required(case, np.array([probe.inches]))
            reach = max(reach, float(needed[0]) + rule.reach(case, probe))
        ends = (Spot(piece, at) for at in (0.0, float(self.network.length[piece])))
        near = [case.worlds.all_pipe.near(end, reach + TOLERANCE).nodes for end in ends]
        around = {piece, *self.network.at_nodes(np.unique(np.concatenate(near))).tolist()}
        found: set[Element] = set()
        for index in sorted(i for i in around if world.flowing[i]):
            found |= self._flow_in(world, case, index) | self._ice_against(world, index)
        return frozenset(found)

    def _ice_against(self, world: World, piece: int) -> set[Element]:
        """Give the plugs that stand in the way by which a piece flows, or in its loop."""
        why = world.why_flowing(piece)
        if why is None:
            return set()
        if why.kind == "pump loop":
            on_way = np.flatnonzero(world.loops == world.loops[piece]).tolist()
        else:
            on_way = list(self._pieces_on(why.way, world.connects))
        return {plug for i in on_way if (plug := self.ground.plug_on(i)) is not None}

    def _flow_under(self, case: Case, piece: int) -> Conflict:
        """Explain why no jacket with its centre on a piece, or not everywhere on it, lies still.

        Where the piece itself is still, that is what flows within half a jacket of its ends.
        """
        flowing = case.worlds.freezing(Trust.PROVEN).flowing
        if flowing[piece]:
            return self.flow(case, piece)
        half, length = self.ground.probe(piece).jacket / 2, float(self.network.length[piece])
        near = [case.worlds.all_pipe.near(Spot(piece, at), half) for at in (0.0, length)]
        around = self.network.at_nodes(np.unique(np.concatenate([n.nodes for n in near])))
        return frozenset(e for i in around[flowing[around]] for e in self.flow(case, int(i)))

    def flow(self, case: Case, piece: int) -> Conflict:
        """Explain why a piece can flow while freezing, in the worst reading."""
        return self._flow_in(case.worlds.freezing(Trust.PROVEN), case, piece)

    def _flow_in(self, world: World, case: Case, piece: int) -> Conflict:
        why = world.why_flowing(piece)
        if why is None:
            return NOTHING_HELPS
        if why.kind == "pump loop":
            locks = frozenset(self.ground.of_pump.of(why.ends[0].id))
            return self._loop(world, world.loops[piece]) | locks
        if not why.way:
            return NOTHING_HELPS  # the document states the flow
        found: set[Element] = set()
        for index in self._pieces_on(why.way, world.connects):
            found.update(self._valve_on(index))
        for node in (why.way[0], why.way[-1]):
            found |= self._stop_at(case, node)
        return frozenset(found)

    def _loop(self, world: World, number: int) -> Conflict:
        inside = np.flatnonzero((world.loops == number) & world.connects)
        return frozenset(e for i in inside for e in self._valve_on(int(i)))

    def _loops_under(self, case: Case, plug: PlacedPlug) -> Conflict:
        """Give what parts the loops under a jacket, in the worst reading, or shuts their heat."""
        world = case.worlds.freezing(Trust.PROVEN)
        found: set[Element] = set()
        for number in {int(world.loops[i]) for i, _ in case.under(plug)} - {-1}:
            nodes = np.unique(self.network.ends[world.loops == number])
            gear = {g for n in nodes for g in self.network.heat.get(int(n), ())}
            found |= self._loop(world, number)
            found |= {e for g in gear for e in self.ground.of_gear.of(g)}
        return frozenset(found)

    def _stop_at(self, case: Case, node: int) -> set[Element]:
        """Give what stops water from leaving at an end: every outlet there shut."""
        if node in self.network.sources or node in self.network.tanks:
            return set()
        outlets = self.network.outlets.get(node, ())
        return {
            e
            for name in outlets
            for e in self.ground.of_outlet.of(name)
            if e.kind is not Kind.KEEP_OPEN
        }

    def _setback(self, case: Case, rule: SetbackRule, piece: int) -> Conflict:
        world = case.worlds.freezing(Trust.PROVEN)
        inside = rule.feature_pieces(case, Trust.PROVEN)
        if inside is not None and inside[piece]:
            flows = rule.rests_on is RestsOn.FLOW
            return self.flow(case, piece) if flows else self.everything
        item = self.network.pieces[piece]
        field = rule.field(case, Trust.PROVEN)
        probe = self.ground.probe(piece)
        reach = float(rule.required(case, np.array([probe.inches]))[0]) + rule.reach(case, probe)
        sides: list[tuple[float, Conflict]] = []
        for node in (item.u, item.v):
            short = reach - float(field.distance[node])
            if short > TOLERANCE:
                why = self._feature(case, world, rule, field.walk(node))
                sides.append((short, why))
        alone = [why for short, why in sides if short > item.length + 2 * TOLERANCE]
        if alone:
            return min(alone, key=lambda c: (len(c), sorted(c)))
        return frozenset(e for _, why in sides for e in why)

    def _feature(self, case: Case, world: World, rule: SetbackRule, way: list[int]) -> Conflict:
        """Give what cuts the way to a feature, or does away with it."""
        found: set[Element] = set()
        for index in self._pieces_on(way, world.connects):
            found.update(self._valve_on(index))
        return frozenset(found) | self._remove(case, world, rule, way[-1])

    def _remove(self, case: Case, world: World, rule: SetbackRule, node: int) -> Conflict:
        if rule.rests_on is RestsOn.FLOW:
            touching = np.flatnonzero(world.flowing & (self.network.ends == node).any(axis=1))
            if not len(touching):
                return self.everything
            ways = [self.flow(case, int(i)) for i in touching[:4]]
            return min(ways, key=lambda c: (len(c), sorted(c)))
        if rule.rests_on is RestsOn.SHUT_END:
            names = self.network.outlets.get(node, ())
            return frozenset(
                e
                for name in names
                for e in self.ground.of_outlet.of(name)
                if e.kind is Kind.KEEP_OPEN
            )
        if rule.rests_on is RestsOn.PIPE:
            return NOTHING_HELPS
        return self.everything

    def too_near(self, case: Case, pieces: Sequence[int]) -> Conflict:
        """Explain why plugs that each have room can not stand together."""
        world = case.worlds.freezing(Trust.PROVEN)
        found: set[Element] = set()
        for piece in pieces:
            found |= self.limits(case, piece)
        nodes = sorted({int(n) for p in pieces for n in self.network.ends[p]})
        for node in nodes:
            field = field_from(case, node)
            for other in nodes:
                if other != node and np.isfinite(field.distance[other]):
                    for index in self._pieces_on(field.walk(other), world.connects):
                        found.update(self._valve_on(index))
        return frozenset(found)

    def head(self, case: Case, piece: int) -> Conflict:
        """Explain the head at a piece: what cuts it from any source, pump, or the water above.

        As long as all of these stay connected the head stays what it is.
        """
        network, world = self.network, case.worlds.working(Trust.PROVEN)
        if np.isnan(network.elevation).any():
            return self.everything
        start = network.pieces[piece].u
        field = case.worlds.once(
            f"plan head from {start}", lambda: world.metric.from_nodes(np.array([start]))
        )
        wet = np.flatnonzero(np.isfinite(field.distance))
        reached = set(wet.tolist())
        highest = int(wet[np.argmax(network.elevation[wet])])
        targets = {highest, *network.sources, *network.tanks}
        found: set[Element] = set()
        for pump in sorted(world.running_pumps):
            targets.add(network.pieces[pump].u)
            if network.pieces[pump].u in reached:
                found.update(self.ground.of_pump.of(network.pieces[pump].element))
        for target in sorted(targets & reached):
            for index in self._pieces_on(field.walk(target), world.connects):
                found.update(self._valve_on(index))
        return frozenset(found)

    def _shut_in(self, case: Case, name: str, plugs: Sequence[PlacedPlug]) -> Conflict:
        """Explain a section that ice shuts: what gives its water a way out, or parts it.

        A part of the section is no better off on the whole: one part at least comes to as much
        pressure. But it may hold other pipe, so the valves inside count as well.
        """
        with_plugs = replace(case, plugs=tuple(plugs))
        section = next((s for s in sections_of(with_plugs) if s.name == name), None)
        if section is None:
            return self.everything  # what shuts it in is something else done since
        vents = {
            e
            for outlet in section.outlets
            for e in self.ground.of_outlet.of(outlet)
            if e.kind is not Kind.LOCK_OUTLET
        }
        inside = np.isin(self.network.ends, section.nodes).all(axis=1)
        valves = {e for i in np.flatnonzero(inside) for e in self._valve_on(int(i))}
        heads = {e for p in plugs if p.id in section.plugs for e in self.head(case, p.spot.piece)}
        return frozenset(vents | valves | heads)

    def judged(self, case: Case, judgement: Judgement, plugs: Sequence[PlacedPlug]) -> Conflict:
        """Explain what a rule found when all was judged."""
        rule = all_rules()[judgement.rule]
        if not rule.cures & CLOSURES:
            return NOTHING_HELPS
        if rule.rests_on is RestsOn.HEAD:
            own = [p for p in plugs if p.id == judgement.subject.id] or plugs
            return frozenset(e for p in own for e in self.head(case, p.spot.piece))
        if rule.rests_on is RestsOn.SECTION:
            return self._shut_in(case, judgement.subject.id, plugs)
        if rule.rests_on is RestsOn.LOOP:
            plug = next(p for p in plugs if p.id == judgement.subject.id)
            return self._loops_under(case, plug)
        return self.everything


def without_rivals(conflict: Conflict, chosen: Chosen) -> Conflict:
    """Leave out what is chosen already and what can not be done beside it."""
    barred = {pair for e in chosen for pair in e.rivals}
    return frozenset(e for e in conflict if e not in chosen and (e.kind, e.id) not in barred)
