"""What can flow while freezing, and what is cut while working.

A pipe can flow if it lies on a simple path between two places where water can enter or leave,
or on a loop with a running pump. Both are properties of biconnected components: join every
terminal to one further node T; a piece lies on a simple path between two terminals exactly when
it shares a block with an edge to T. (In a block of three or more nodes any edge and any node lie
on a common cycle, and a cycle through T is a path between two terminals.) A piece lies on a loop
with a pump exactly when it shares a block with the pump's own edge. No path is searched for.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

import numpy as np

from layoutcheck.document.models import Moment
from layoutcheck.document.named import Named
from layoutcheck.network.blocks import block_numbers
from layoutcheck.network.columns import (
    CLOSED,
    NOT_PROVEN,
    NOT_STATED,
    PROVEN,
    ValveColumns,
    outlet_columns,
    stated_flowing,
    valve_columns,
)
from layoutcheck.network.disjoint import two_ways
from layoutcheck.network.metric import Metric, connected_parts
from layoutcheck.network.model import Network
from layoutcheck.network.once import Once


class Trust(StrEnum):
    """How far statements are trusted when water could go either way.

    BEST: what is not stated of a valve is taken as shut and holding. A fault that shows even
    so is certain. STATED: a valve not stated is open, a closed one holds. DENIED: as STATED, but a
    closed valve that is said to be not proven passes. PROVEN: only a closed valve proven tight
    holds. What passes under PROVEN passes however the doubt falls.
    """

    BEST = "best"
    STATED = "stated"
    DENIED = "denied"
    PROVEN = "proven"


@dataclass(frozen=True)
class FlowReason:
    """Why a pipe is taken as flowing.

    kind: 'stated', 'way through' (with the way in and the way out), or 'pump loop'.
    ends: the sources, outlets or pump concerned. way: the nodes of the path or loop.
    """

    kind: str
    ends: tuple[Named, ...]
    way: tuple[int, ...] = ()


_WAYS_IN = frozenset({"source", "tank"})


class World:
    """The network at one moment, read with one degree of trust."""

    def __init__(self, network: Network, moment: Moment, trust: Trust) -> None:
        """Settle which pieces connect."""
        self.network = network
        self.moment = moment
        self.trust = trust
        self.once = Once()
        self.connects = np.ones(len(network.pieces), dtype=bool)
        self.connects[network.valve_pieces] = ~_holding(valve_columns(network), moment, trust)

    def with_ice(self, pieces: Collection[int]) -> World:
        """Give the same with ice in some pieces, which no water passes."""
        world = World(self.network, self.moment, self.trust)
        world.connects[sorted(pieces)] = False
        return world

    @cached_property
    def metric(self) -> Metric:
        """Give the metric on the water that connects."""
        return Metric(self.network, self.connects)

    @cached_property
    def terminal_nodes(self) -> frozenset[int]:
        """Give the nodes where water can enter or leave."""
        network, taps = self.network, outlet_columns(self.network)
        drawing = taps.nodes[taps.draws(self.moment)].tolist()
        return frozenset((*network.sources, *self.live_tanks, *drawing))

    @property
    def terminals(self) -> dict[int, tuple[Named, ...]]:
        """Give the nodes where water can enter or leave, with the names of what stands there."""
        return {node: self.terminal_names(node) for node in sorted(self.terminal_nodes)}

    def terminal_names(self, node: int) -> tuple[Named, ...]:
        """Name what lets water in or out at a node."""
        network, taps = self.network, outlet_columns(self.network)
        there = np.flatnonzero((taps.nodes == node) & taps.draws(self.moment)).tolist()
        return (
            *(Named("source", n) for n in network.sources.get(node, ())),
            *(Named("tank", n) for n in self.live_tanks.get(node, ())),
            *(Named("outlet", taps.names[place]) for place in there),
        )

    @cached_property
    def live_tanks(self) -> dict[int, list[str]]:
        """Give the tanks that are not locked off, by node."""
        gear = {g.id: g for g in self.network.layout.equipment}
        found = {
            node: [n for n in names if not gear[n].is_locked(self.moment)]
            for node, names in self.network.tanks.items()
        }
        return {node: names for node, names in found.items() if names}

    @cached_property
    def running_pumps(self) -> frozenset[int]:
        """Give the pieces of pumps that may run."""
        pumps = self.network.pumps
        pieces = self.network.pieces
        return frozenset(
            index
            for index in self.network.pump_pieces.tolist()
            if not pumps[pieces[index].element].is_locked(self.moment)
        )

    @property
    def blocks(self) -> np.ndarray:
        """Give each piece's biconnected component, with T joined in; -1 where it does not connect.

        Parallel pieces share a block; a piece from a node to itself is a block of its own.
        """
        return self._blocks[0]

    @cached_property
    def _blocks(self) -> tuple[np.ndarray, np.ndarray]:
        """Give the blocks, and which of them hold an edge to T."""
        network = self.network
        block = np.full(len(network.pieces), -1, dtype=np.int64)
        live = np.flatnonzero(self.connects)
        hub = network.node_count
        ways_out = np.array(sorted(self.terminal_nodes), dtype=np.int64)
        to_hub = np.column_stack([ways_out, np.full_like(ways_out, hub)])
        numbers = block_numbers(hub + 1, np.concatenate([network.ends[live], to_hub]))
        block[live] = numbers[: len(live)]
        return block, numbers[len(live) :]

    @cached_property
    def loops(self) -> np.ndarray:
        """Give the closed loops each piece lies on, as a number; -1 where it lies on none.

        Loops are of water alone: ways through sources and outlets do not close one.
        """
        network = self.network
        live = np.flatnonzero(self.connects)
        ends = network.ends[live]
        numbers = block_numbers(network.node_count, ends)
        several = np.bincount(numbers, minlength=1)[numbers] > 1
        loop = np.full(len(network.pieces), -1, dtype=np.int64)
        loop[live] = np.where(several | (ends[:, 0] == ends[:, 1]), numbers, -1)
        return loop

    @cached_property
    def _through(self) -> np.ndarray:
        """Tell for each piece whether its block holds T and two ways out: a path through T."""
        blocks, at_hub = self._blocks
        # A block with two edges to T has two ways out; one that is only an edge to T has one.
        count = np.bincount(at_hub, minlength=blocks.max(initial=-1) + 2)
        found: np.ndarray = self.connects & (count[blocks] > 1)
        return found

    @cached_property
    def flowing(self) -> np.ndarray:
        """Tell for each piece whether it can flow."""
        flows = self._through.copy()
        for pump in sorted(self.running_pumps):
            if self.loops[pump] >= 0:
                flows |= self.loops == self.loops[pump]
        flows |= stated_flowing(self.network)
        return flows

    @cached_property
    def flowing_nodes(self) -> np.ndarray:
        """Give the nodes at which a piece that can flow begins or ends."""
        return self.network.nodes_of(self.flowing)

    def why_flowing(self, piece: int) -> FlowReason | None:
        """Find a way in and a way out, or the loop and its pump, for a piece that can flow."""
        if not self.flowing[piece]:
            return None
        if self._through[piece]:
            return self._way_through(piece)
        loop = self.loops[piece]
        pump = next((p for p in sorted(self.running_pumps) if self.loops[p] == loop), None)
        if pump is not None and loop >= 0:
            return FlowReason("pump loop", (Named("pump", self.network.pieces[pump].element),))
        return FlowReason("stated", (Named("pipe", self.network.pieces[piece].element),))

    def _way_through(self, piece: int) -> FlowReason:
        """Find two ways from a piece's ends to T that share no node: a path through the piece."""
        ways = two_ways(self.network, self.connects, piece, self.terminal_nodes)
        assert ways is not None, "a piece in a block with two ways out has a path through it"
        ends = [(self.terminal_names(way[-1])[0], way) for way in ways]
        ends.sort(key=lambda e: (e[0].kind not in _WAYS_IN, e[0]))
        path = (*reversed(ends[0][1]), *ends[1][1])
        return FlowReason("way through", tuple(name for name, _ in ends), path)

    def parts(self) -> np.ndarray:
        """Label the nodes by the part that the water connects."""
        return connected_parts(self.network, self.connects)


def _holding(valves: ValveColumns, moment: Moment, trust: Trust) -> np.ndarray:
    """Tell which valves cut the water at a moment, as far as they are trusted (a boolean array).

    A check valve never does.
    """
    state, tightness = valves.state(moment), valves.tightness
    holds = state == CLOSED
    if trust is Trust.BEST:
        holds = holds | (state == NOT_STATED)
    elif trust is Trust.DENIED:
        holds = holds & (tightness != NOT_PROVEN)
    elif trust is Trust.PROVEN:
        holds = holds & (tightness == PROVEN)
    return np.asarray(holds & ~valves.check)
