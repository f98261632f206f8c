"""A lower bound on what a plan costs: the least cut between all that threatens and the work.

The model is relaxed: a plug may stand wherever its jacket fits (on large networks on any pipe),
whether or not water flows there, and nothing is asked but that the work is cut off. Every real
plan cuts the work off, so none is cheaper than the least cut. An outlet on the work's side is out
of service, which costs too: that is an arc from the threats to the outlet. So does the water that
drains: a piece of pipe on the work's side costs its volume, half of it at each end. Where a plug
cuts the piece one half falls away, so that the plug's own arc is lowered by the other half and
the sum is never too high. Capacities are rounded down, so the bound stays below.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import breadth_first_order, maximum_flow

from layoutcheck.network import Trust
from layoutcheck.network.columns import outlet_columns
from layoutcheck.network.cut import opened_pieces, pump_threats, threats_of
from layoutcheck.network.drain import standing_water
from layoutcheck.network.model import PieceKind
from layoutcheck.planning.elements import Chosen, Element, Kind
from layoutcheck.planning.ground import Ground

# scipy's flows are 32-bit integers: a thousandth of a point is the step, and this is 'no cut'.
_STEP = 1000.0
_WALL = 1_000_000_000

# On networks of more pieces than this the bound lets a plug stand on any pipe. It is looser, but
# asking every size of pipe where its jacket fits would take longer than all the rest.
_EXACT_FITS = 2500


@dataclass(frozen=True)
class Least:
    """The least points of any plan with some elements (inf: none), and the pieces of the cut."""

    points: float
    cut: frozenset[int]


class Bound:
    """The least cut for any set of elements chosen and left out."""

    def __init__(self, ground: Ground) -> None:
        """Lay out the arcs once."""
        self.ground = ground
        network = ground.network
        self.size = network.node_count + 3
        self.start, self.gate, self.work = (network.node_count + i for i in range(3))
        world = ground.case.worlds.working(Trust.PROVEN)
        self.opened = opened_pieces(network)
        keep = world.connects.copy()
        keep[list(self.opened)] = True
        self.pieces = np.flatnonzero(keep)
        self.barred: set[int] = set()
        self.pipes = network.kind == PieceKind.PIPE
        self.capacity = self._capacities()
        self.half = self._half_volumes()
        self.extra = np.array([*self._threat_arcs(), *self._outlet_arcs()], dtype=np.int64)
        self.extra = self.extra.reshape(-1, 3)

    def bar(self, pieces: list[int]) -> None:
        """Take plugs on some pieces out of every plan from now on."""
        self.barred.update(pieces)
        self.capacity[pieces] = _WALL

    def _capacities(self) -> np.ndarray:
        """Give the price (in steps) of cutting each piece, without anything chosen."""
        ground, network = self.ground, self.ground.network
        weights = ground.settings.weights
        capacity = np.full(len(network.pieces), _WALL, dtype=np.int64)
        if len(network.pieces) > _EXACT_FITS:
            price = (weights.plug + weights.plug_inch * network.inches) * _STEP
            capacity[self.pipes] = price[self.pipes].astype(np.int64)
        else:
            for index, element in ground.plugs.items():
                capacity[index] = _price(element)
        prices = ground.options.valve_prices(network) * _STEP
        capacity[network.valve_pieces] = np.minimum(prices, _WALL).astype(np.int64)
        capacity[list(self.opened)] = _WALL
        return capacity

    def _next(self, index: int, left_out: Chosen) -> int:
        """Give the price of the cheapest element on a valve that is not left out."""
        own = self.ground.of_valve.of(self.ground.network.pieces.elements[index])
        return min((_price(e) for e in own if e not in left_out), default=_WALL)

    def _half_volumes(self) -> np.ndarray:
        """Give half of what the water of each piece costs (in steps) if it drains at the work."""
        network, ground = self.ground.network, self.ground
        weight = ground.settings.weights.drained
        if not weight or not ground.work_nodes:
            return np.zeros(len(network.pieces))
        half = standing_water(network) * weight * _STEP / 2
        half = np.where(self.capacity < _WALL, np.minimum(half, self.capacity), half)
        return np.asarray(np.floor(np.minimum(half, _WALL) * (1 - 1e-9)))

    def _threat_arcs(self) -> list[tuple[int, int, int]]:
        """Give arcs from the start over the gate to each threat, and from the work to the end."""
        ground, network = self.ground, self.ground.network
        arcs = [(self.start, self.gate, _WALL)]
        arcs += [(node, self.work, _WALL) for node in ground.work_nodes]
        world = ground.case.worlds.working(Trust.PROVEN)
        pumps = pump_threats(world)
        for node, name in threats_of(world).items():
            if name not in pumps:
                arcs.append((self.gate, node, _WALL))
        # A pump can be locked off for its points, so it counts for no more than that.
        for index in sorted(world.running_pumps):
            piece = network.pieces[index]
            locks = ground.of_pump.of(piece.element)
            price = min((_price(e) for e in locks), default=_WALL)
            arcs.append((self.gate, piece.u, price // 2))
            arcs.append((self.gate, piece.v, price // 2))
        return arcs

    def _outlet_arcs(self) -> list[tuple[int, int, int]]:
        ground, taps = self.ground, outlet_columns(self.ground.network)
        points = int(ground.settings.weights.outlet_out_of_service * _STEP)
        served, kept = ground.served, ground.settings.keep_in_service
        price: dict[int, int] = {}
        for place, name in enumerate(taps.names):
            if name in served:
                node = int(taps.nodes[place])
                own = _WALL if name in kept else points
                price[node] = min(_WALL, price.get(node, 0) + own)
        return [(self.gate, node, points) for node, points in price.items() if points]

    def of(self, chosen: Chosen, left_out: Chosen) -> Least:
        """Give the least points that any plan with these elements costs, and the cut."""
        capacity, half = self.capacity.copy(), self.half.copy()
        most = self.ground.settings.max_plugs
        if most is not None and sum(e.kind is Kind.PLUG for e in chosen) >= most:
            capacity[self.pipes] = _WALL
        for element in left_out:
            self._leave_out(capacity, element, left_out)
        free_pumps = set()
        for element in chosen:
            if element.kind is Kind.LOCK_PUMP:
                free_pumps.add(element.id)
            for index in self.pieces_of(element):
                capacity[index], half[index] = 0, 0.0
        flow, cut = self._flow(capacity, half, self._freed(free_pumps))
        spent = sum(e.cost for e in chosen)
        return Least(math.inf if flow >= _WALL // 2 else spent + flow / _STEP, cut)

    def valves_alone(self) -> Chosen:
        """Give the elements of the least cut without plugs; none where there is no such cut.

        Nothing stands on a pipe then, so the cut weighs all that a plan of valves costs.
        """
        network = self.ground.network
        capacity = self.capacity.copy()
        capacity[self.pipes] = _WALL
        everything = np.ones(len(self.extra), dtype=bool)
        flow, cut = self._flow(capacity, self.half, everything)
        if flow >= _WALL // 2:
            return frozenset()
        found = set()
        for index in sorted(cut):
            own = self.ground.of_valve.of(network.pieces.elements[index])
            found.update(sorted(own, key=lambda e: (e.cost, e))[:1])
        return frozenset(found)

    def _leave_out(self, capacity: np.ndarray, element: Element, left_out: Chosen) -> None:
        for index in self.pieces_of(element):
            is_plug = element.kind is Kind.PLUG
            capacity[index] = _WALL if is_plug else self._next(index, left_out)

    def pieces_of(self, element: Element) -> tuple[int, ...]:
        """Give the pieces that an element cuts."""
        if element.kind is Kind.PLUG:
            return (element.piece,)
        if element.kind in {Kind.CLOSE, Kind.PROVE}:
            return self.ground.valve_pieces.get(element.id, ())
        return ()

    def _freed(self, pumps: set[str]) -> np.ndarray:
        """Tell which extra arcs stand though some pumps are locked off."""
        stands = np.ones(len(self.extra), dtype=bool)
        if not pumps:
            return stands
        network = self.ground.network
        mine = {
            n
            for i in map(int, np.flatnonzero(network.kind == PieceKind.PUMP))
            if network.pieces[i].element in pumps
            for n in (network.pieces[i].u, network.pieces[i].v)
        }
        mine -= {*network.sources, *network.tanks, *network.outlets}
        for index, (tail, head, _) in enumerate(self.extra.tolist()):
            if tail == self.gate and head in mine:
                stands[index] = False
        return stands

    def graph(
        self,
        capacity: np.ndarray | None = None,
        half: np.ndarray | None = None,
        stands: np.ndarray | None = None,
    ) -> csr_array:
        """Lay the arcs out with their capacities; as they are when nothing is chosen if None."""
        capacity = self.capacity if capacity is None else capacity
        half = self.half if half is None else half
        extra = self.extra if stands is None else self.extra[stands]
        ends, kept = self.ground.network.ends[self.pieces], capacity[self.pieces]
        water = half[self.pieces].astype(np.int64)
        pluggable = self.pipes[self.pieces] & (kept < _WALL)
        kept = np.where(pluggable, np.maximum(kept - water, 0), kept)
        drains = np.bincount(ends.ravel(), np.repeat(water, 2), self.size).astype(np.int64)
        wet = np.flatnonzero(drains)
        tail = np.concatenate([ends[:, 0], ends[:, 1], extra[:, 0], np.full(len(wet), self.gate)])
        head = np.concatenate([ends[:, 1], ends[:, 0], extra[:, 1], wet])
        value = np.concatenate([kept, kept, extra[:, 2], drains[wet]])
        return _matrix(tail, head, value, self.size)

    def _flow(
        self, capacity: np.ndarray, half: np.ndarray, stands: np.ndarray
    ) -> tuple[int, frozenset[int]]:
        graph = self.graph(capacity, half, stands)
        solved = maximum_flow(graph, self.start, self.work)
        left = graph - solved.flow
        left.eliminate_zeros()
        side = np.zeros(self.size, dtype=bool)
        side[breadth_first_order(left, self.start, return_predecessors=False)] = True
        ends = self.ground.network.ends[self.pieces]
        across = side[ends[:, 0]] != side[ends[:, 1]]
        return int(solved.flow_value), frozenset(self.pieces[across].tolist())


def _matrix(tail: np.ndarray, head: np.ndarray, value: np.ndarray, size: int) -> csr_array:
    """Lay arcs out as a matrix of 32-bit integers; parallel ones are added, up to 'no cut'."""
    graph = csr_array((value, (tail, head)), shape=(size, size))
    graph.sum_duplicates()
    data = np.minimum(graph.data, _WALL).astype(np.int32)
    indices, starts = graph.indices.astype(np.int32), graph.indptr.astype(np.int32)
    return csr_array((data, indices, starts), shape=graph.shape)


def _price(element: Element) -> int:
    return int(element.cost * _STEP)
