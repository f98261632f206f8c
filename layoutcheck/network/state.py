"""What can flow while freezing, and what is cut while working.

A pipe can flow if it lies on a simple path between two places where water can enter or leave,
or on a loop with a running pump. Both are properties of biconnected components: join every
terminal to one further node T; a piece lies on a simple path between two terminals exactly when
it shares a block with an edge to T. (In a block of three or more nodes any edge and any node lie
on a common cycle, and a cycle through T is a path between two terminals.) A piece lies on a loop
with a pump exactly when it shares a block with the pump's own edge. No path is searched for.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

import networkx as nx
import numpy as np
import rustworkx as rx

from layoutcheck.document.models import (
    Moment,
    OutletState,
    PipeFlow,
    Tightness,
    Valve,
    ValveKind,
    ValveState,
)
from layoutcheck.network.metric import Metric, connected_parts
from layoutcheck.network.model import Network, PieceKind


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
    ends: tuple[str, ...]
    way: tuple[int, ...] = ()


class World:
    """The network at one moment, read with one degree of trust."""

    def __init__(self, network: Network, moment: Moment, trust: Trust) -> None:
        """Settle which pieces connect."""
        self.network = network
        self.moment = moment
        self.trust = trust
        self.connects = np.ones(len(network.pieces), dtype=bool)
        for index in np.flatnonzero(network.kind == PieceKind.VALVE).tolist():
            valve = network.valves[network.pieces[index].element]
            self.connects[index] = not self.holds(valve)

    def holds(self, valve: Valve) -> bool:
        """Tell whether a valve cuts the water at this moment, as far as it is trusted."""
        if valve.kind is ValveKind.CHECK:
            return False
        state = valve.at(self.moment)
        if state is None:
            return self.trust is Trust.BEST
        if state is not ValveState.CLOSED:
            return False
        if self.trust is Trust.DENIED:
            return valve.tightness is not Tightness.NOT_PROVEN
        return self.trust is not Trust.PROVEN or valve.tightness is Tightness.PROVEN

    @cached_property
    def metric(self) -> Metric:
        """Give the metric on the water that connects."""
        return Metric(self.network, self.connects)

    @cached_property
    def terminals(self) -> dict[int, tuple[str, ...]]:
        """Give the nodes where water can enter or leave, with the names of what stands there."""
        found: dict[int, list[str]] = defaultdict(list)
        for node, names in self.network.sources.items():
            found[node] += [f"source {n}" for n in names]
        gear = {g.id: g for g in self.network.layout.equipment}
        for node, names in self.network.tanks.items():
            found[node] += [f"tank {n}" for n in names if not gear[n].is_locked(self.moment)]
        taps = {o.id: o for o in self.network.layout.outlets}
        for node, names in self.network.outlets.items():
            may = [n for n in names if taps[n].at(self.moment) not in _SHUT]
            found[node] += [f"outlet {n}" for n in may]
        return {node: tuple(names) for node, names in found.items() if names}

    @cached_property
    def running_pumps(self) -> frozenset[int]:
        """Give the pieces of pumps that may run."""
        pumps = self.network.pumps
        pieces = self.network.pieces
        return frozenset(
            index
            for index in np.flatnonzero(self.network.kind == PieceKind.PUMP).tolist()
            if not pumps[pieces[index].element].is_locked(self.moment)
        )

    @property
    def blocks(self) -> np.ndarray:
        """Give each piece's biconnected component, with T joined in; -1 where it does not connect.

        Parallel pieces share a block; a piece from a node to itself is a block of its own.
        """
        return self._blocks[0]

    @cached_property
    def _blocks(self) -> tuple[np.ndarray, frozenset[int]]:
        """Give the blocks, and which of them hold an edge to T."""
        network = self.network
        block = np.full(len(network.pieces), -1, dtype=np.int64)
        live = np.flatnonzero(self.connects)
        pairs = np.sort(network.ends[live], axis=1)
        looped = pairs[:, 0] == pairs[:, 1]
        hub = network.node_count
        edges = [(int(a), int(b)) for a, b in np.unique(pairs[~looped], axis=0)]
        edges += [(node, hub) for node in sorted(self.terminals)]
        numbered = _biconnected(hub + 1, edges)
        for index, (low, high) in zip(live, pairs, strict=True):
            block[index] = numbered.get((int(low), int(high)), -2 - int(index))
        return block, frozenset(numbered[node, hub] for node in self.terminals)

    @cached_property
    def loops(self) -> np.ndarray:
        """Give the closed loops each piece lies on, as a number; -1 where it lies on none.

        Loops are of water alone: ways through sources and outlets do not close one.
        """
        network = self.network
        live = np.flatnonzero(self.connects)
        pairs = np.sort(network.ends[live], axis=1)
        edges, count = np.unique(pairs, axis=0, return_counts=True)
        joins = [(int(a), int(b)) for a, b in edges if a != b]
        numbered = _biconnected(network.node_count, joins)
        size: dict[int, int] = defaultdict(int)
        for (low, high), parallel in zip(edges, count, strict=True):
            size[numbered.get((int(low), int(high)), -1)] += int(parallel)
        loop = np.full(len(network.pieces), -1, dtype=np.int64)
        for index, (low, high) in zip(live, pairs, strict=True):
            number = numbered.get((int(low), int(high)))
            if number is None:
                loop[index] = len(numbered) + index  # a piece from a node to itself
            elif size[number] > 1:
                loop[index] = number
        return loop

    @cached_property
    def _through_blocks(self) -> frozenset[int]:
        """Find the blocks in which T has two ways out: only these hold a path through T."""
        blocks, at_hub = self._blocks
        nodes: dict[int, set[int]] = defaultdict(set)
        for index in np.flatnonzero(self.connects & np.isin(blocks, list(at_hub))):
            nodes[int(blocks[index])].update(map(int, self.network.ends[index]))
        ways_out = set(self.terminals)
        return frozenset(n for n, inside in nodes.items() if len(inside & ways_out) > 1)

    @cached_property
    def flowing(self) -> np.ndarray:
        """Tell for each piece whether it can flow."""
        network, blocks = self.network, self.blocks
        through = self._through_blocks
        flows = np.zeros(len(network.pieces), dtype=bool)
        if through:
            flows |= np.isin(blocks, list(through))
        for pump in sorted(self.running_pumps):
            if self.loops[pump] >= 0:
                flows |= self.loops == self.loops[pump]
        for piece in network.pieces:
            if piece.kind is PieceKind.PIPE:
                flows[piece.index] |= network.pipes[piece.element].flow is PipeFlow.FLOWING
        return flows

    @cached_property
    def flowing_nodes(self) -> np.ndarray:
        """Give the nodes at which a piece that can flow begins or ends."""
        return np.unique(self.network.ends[self.flowing])

    def why_flowing(self, piece: int) -> FlowReason | None:
        """Find a way in and a way out, or the loop and its pump, for a piece that can flow."""
        if not self.flowing[piece]:
            return None
        item = self.network.pieces[piece]
        number = int(self.blocks[piece])
        if number in self._through_blocks:
            return self._way_through(piece)
        loop = self.loops[piece]
        pump = next((p for p in sorted(self.running_pumps) if self.loops[p] == loop), None)
        if pump is not None and loop >= 0:
            return FlowReason("pump loop", (f"pump {self.network.pieces[pump].element}",))
        return FlowReason("stated", (f"pipe {item.element}",))

    def _way_through(self, piece: int) -> FlowReason:
        """Find two ways from a piece's ends to T that share no node: a path through the piece."""
        network, hub, middle = self.network, -1, -2
        same = np.flatnonzero((self.blocks == self.blocks[piece]) & self.connects)
        graph: nx.Graph[int] = nx.Graph()
        for index in same:
            u, v = map(int, network.ends[index])
            if index != piece:
                graph.add_edge(u, v)
        u, v = map(int, network.ends[piece])
        graph.add_edges_from([(middle, u), (middle, v)])
        graph.add_edges_from((node, hub) for node in sorted(self.terminals) if node in graph)
        ways = sorted(nx.node_disjoint_paths(graph, middle, hub, cutoff=2), key=lambda w: w[-2])
        ends = tuple(self.terminals[way[-2]][0] for way in ways)
        ordered = sorted(zip(ends, ways, strict=True), key=lambda e: (not _is_way_in(e[0]), e[0]))
        path = (*reversed(ordered[0][1][1:-1]), *ordered[-1][1][1:-1])
        return FlowReason("way through", tuple(e for e, _ in ordered), tuple(path))

    def parts(self) -> np.ndarray:
        """Label the nodes by the part that the water connects."""
        return connected_parts(self.network, self.connects)


def _biconnected(nodes: int, edges: list[tuple[int, int]]) -> dict[tuple[int, int], int]:
    """Number the biconnected components: (lower node, higher node) of each edge -> its number."""
    graph = rx.PyGraph(multigraph=False)
    graph.add_nodes_from(range(nodes))
    graph.add_edges_from_no_data(edges)
    found = rx.biconnected_components(graph)
    return {(min(a, b), max(a, b)): number for (a, b), number in found.items()}


_SHUT = {OutletState.LOCKED_OFF, OutletState.BLEED}


def _is_way_in(name: str) -> bool:
    return name.startswith(("source ", "tank "))
