"""A lower bound on what a plan costs: the least cut between all that threatens and the work.

The model is relaxed: a plug may stand wherever its jacket fits, whether or not water flows there,
and nothing is asked but that the work is cut off. Every real plan cuts the work off, so none is
cheaper than the least cut. An outlet on the work's side is out of service, which costs too: that
is an arc from the threats to the outlet. So does the water that drains: a piece of pipe on the
work's side costs its volume, half of it at each end. Where a plug cuts the piece one half falls
away, so that the plug's own arc is lowered by the other half and the sum is never too high.
Capacities are rounded down, so the bound stays below.
"""

from __future__ import annotations

import math

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_flow

from layoutcheck.document.models import Moment, OutletState
from layoutcheck.network import Trust
from layoutcheck.network.cut import Threats, opened_pieces
from layoutcheck.network.model import PieceKind
from layoutcheck.plan.elements import Chosen, Element, Kind
from layoutcheck.plan.ground import Ground

# scipy's flows are 32-bit integers: a thousandth of a point is the step, and this is 'no cut'.
_STEP = 1000.0
_WALL = 1_000_000_000


class Bound:
    """The least cut for any set of elements chosen and left out."""

    def __init__(self, ground: Ground) -> None:
        """Lay out arcs: (tail, head, capacity), and which element stands on each."""
        self.ground = ground
        network = ground.network
        self.size = network.node_count + 3
        self.start, self.gate, self.work = (network.node_count + i for i in range(3))
        world = ground.case.worlds.working(Trust.PROVEN)
        opened = opened_pieces(network)
        keep = world.connects.copy()
        keep[list(opened)] = True
        self.pieces = np.flatnonzero(keep)
        self.capacity = np.full(len(network.pieces), _WALL, dtype=np.int64)
        self.arc_of: dict[Element, int] = {}
        self.barred: set[int] = set()
        self._price_pieces(opened)
        self.half = self._half_volumes()
        self.extra = self._extra_arcs()

    def _price_pieces(self, opened: frozenset[int]) -> None:
        ground = self.ground
        for piece in ground.network.pieces:
            if piece.index in opened:
                continue
            for element in self._on(piece.index):
                self.arc_of[element] = piece.index
        for element, index in self.arc_of.items():
            self.capacity[index] = min(self.capacity[index], _price(element))

    def _on(self, index: int) -> tuple[Element, ...]:
        piece = self.ground.network.pieces[index]
        if piece.kind is PieceKind.VALVE:
            return self.ground.of_valve.get(piece.element, ())
        own = self.ground.plugs.get(index)
        return () if own is None else (own,)

    def bar(self, pieces: list[int]) -> None:
        """Take plugs on some pieces out of every plan from now on."""
        self.barred.update(pieces)
        self.capacity[pieces] = _WALL

    def _half_volumes(self) -> np.ndarray:
        """Give half of what the water of each piece costs (in steps) if it drains at the work."""
        network, ground = self.ground.network, self.ground
        weight = ground.settings.weights.drained
        half = np.zeros(len(network.pieces))
        if not weight or not ground.work_nodes or np.isnan(network.elevation).any():
            return half
        lowest = float(network.elevation[ground.work_nodes].min())
        heights = np.sort(network.elevation[network.ends], axis=1)
        rise = heights[:, 1] - heights[:, 0]
        with np.errstate(divide="ignore", invalid="ignore"):
            share = np.where(rise > 0.0, (heights[:, 1] - lowest) / rise, heights[:, 1] > lowest)
        share = np.clip(share, 0.0, 1.0)
        for piece in network.pieces:
            if piece.kind is PieceKind.PIPE:
                bore = network.dimensions[piece.element].inside_diameter
                volume = math.pi * bore**2 / 4 * piece.length * share[piece.index]
                half[piece.index] = volume * weight * _STEP / 2
        plugs = {index: _price(e) for index, e in ground.plugs.items()}
        for index, price in plugs.items():
            half[index] = min(half[index], price)
        return np.floor(half * (1 - 1e-9))

    def _extra_arcs(self) -> list[tuple[int, int, int]]:
        """Give arcs from the start over the gate to each threat, and to each outlet in service."""
        ground, network = self.ground, self.ground.network
        arcs = [(self.start, self.gate, _WALL)]
        arcs += [(node, self.work, _WALL) for node in ground.work_nodes]
        world = ground.case.worlds.working(Trust.PROVEN)
        for node, name in Threats.of(world).nodes.items():
            if not name.startswith("pump "):
                arcs.append((self.gate, node, _WALL))
        # A pump can be locked off for its points, so it counts for no more than that.
        for index in sorted(world.running_pumps - opened_pieces(network)):
            piece = network.pieces[index]
            locks = ground.of_pump.get(piece.element, ())
            price = min((_price(e) for e in locks), default=_WALL)
            arcs.append((self.gate, piece.u, price // 2))
            arcs.append((self.gate, piece.v, price // 2))
        return [*arcs, *self._outlet_arcs()]

    def _outlet_arcs(self) -> list[tuple[int, int, int]]:
        ground, network = self.ground, self.ground.network
        supplied = ground.supplied(ground.case, ())
        points = int(ground.settings.weights.outlet_out_of_service * _STEP)
        taps = {o.id: o for o in network.layout.outlets}
        arcs = []
        for node, names in network.outlets.items():
            live = [n for n in names if n in supplied]
            live = [n for n in live if taps[n].at(Moment.WORKING) is not OutletState.LOCKED_OFF]
            kept = any(n in ground.settings.keep_in_service for n in live)
            price = _WALL if kept else points * len(live)
            if price:
                arcs.append((self.gate, node, price))
        return arcs

    def of(self, chosen: Chosen, left_out: Chosen) -> float:
        """Give the least points that any plan with these elements costs; inf if there is none."""
        spent = sum(e.cost for e in chosen)
        rest = self._least_cut(chosen, left_out)
        return spent + rest

    def _least_cut(self, chosen: Chosen, left_out: Chosen) -> float:
        network = self.ground.network
        capacity = self.capacity.copy()
        most = self.ground.settings.max_plugs
        full = most is not None and sum(e.kind is Kind.PLUG for e in chosen) >= most
        if full:
            capacity[network.kind == PieceKind.PIPE] = _WALL
        for element in left_out:
            if element in self.arc_of:
                capacity[self.arc_of[element]] = self._next(self.arc_of[element], left_out)
        free_pumps = set()
        for element in chosen:
            if element in self.arc_of:
                capacity[self.arc_of[element]] = 0
            elif element.kind is Kind.LOCK_PUMP:
                free_pumps.add(element.id)
        half = self.half.copy()
        half[[e.piece for e in chosen if e.kind is Kind.PLUG]] = 0.0
        flow = self._flow(capacity, free_pumps, half)
        return np.inf if flow >= _WALL // 2 else flow / _STEP

    def _next(self, index: int, left_out: Chosen) -> int:
        """Give the price of the cheapest element on a piece that is not left out."""
        prices = [_price(e) for e in self._on(index) if e not in left_out]
        return min(prices, default=_WALL)

    def _flow(self, capacity: np.ndarray, free_pumps: set[str], half: np.ndarray) -> int:
        network = self.ground.network
        ends, kept = network.ends[self.pieces], capacity[self.pieces]
        water = half[self.pieces].astype(np.int64)
        pluggable = (network.kind[self.pieces] == PieceKind.PIPE) & (kept < _WALL)
        kept = np.where(pluggable, np.maximum(kept - water, 0), kept)
        drains = np.bincount(ends.ravel(), np.repeat(water, 2), self.size).astype(np.int64)
        wet = np.flatnonzero(drains)
        extra = np.array(
            [(u, v, c) for u, v, c in self.extra if not self._is_freed(u, v, free_pumps)],
            dtype=np.int64,
        ).reshape(-1, 3)
        gate = np.full(len(wet), self.gate)
        tail = np.concatenate([ends[:, 0], ends[:, 1], extra[:, 0], gate])
        head = np.concatenate([ends[:, 1], ends[:, 0], extra[:, 1], wet])
        value = np.concatenate([kept, kept, extra[:, 2], drains[wet]])
        graph = csr_array((value, (tail, head)), shape=(self.size, self.size))
        graph.sum_duplicates()
        graph.data = np.minimum(graph.data, _WALL).astype(np.int32)
        graph = csr_array(
            (graph.data, graph.indices.astype(np.int32), graph.indptr.astype(np.int32)),
            shape=graph.shape,
        )
        return int(maximum_flow(graph, self.start, self.work).flow_value)

    def _is_freed(self, tail: int, head: int, free_pumps: set[str]) -> bool:
        """Tell whether an arc is the threat of a pump that is locked off."""
        if tail != self.gate or not free_pumps:
            return False
        network = self.ground.network
        mine = {
            n
            for p in network.pieces
            if p.kind is PieceKind.PUMP and p.element in free_pumps
            for n in (p.u, p.v)
        }
        return head in mine and head not in network.sources and head not in network.outlets


def _price(element: Element) -> int:
    return int(element.cost * _STEP)
