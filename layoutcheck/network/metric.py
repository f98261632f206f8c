"""Distances along the pipe: the metric on the network.

All distances are developed lengths in metres, by the shortest way that water connects. scipy's
Dijkstra does the walking. Its sparse matrices add parallel entries together, so parallel pieces
are first reduced to the shortest; pieces of no length are kept as explicit zeros, which scipy
reads as edges of no length.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components, dijkstra

from layoutcheck.network.model import Network, Spot

NOWHERE = -9999  # scipy's mark for 'no predecessor'


@dataclass(frozen=True)
class Field:
    """Distances (m) from a set of places to every node, with the way back.

    distance: (nodes,), inf where water does not connect. before: (nodes,) the next node towards
    the set, or NOWHERE. spot: set when the field spreads from a point on a piece.
    """

    distance: np.ndarray
    before: np.ndarray
    spot: Spot | None = None

    def at(self, network: Network, spot: Spot) -> float:
        """Give the distance (m) from a spot to the set, by the shorter way."""
        return min(*self._by_the_ends(network, spot), self._straight(spot))

    def way(self, network: Network, spot: Spot) -> list[int]:
        """Give the nodes walked from a spot to the set, in order."""
        there, other = self._by_the_ends(network, spot)
        if self._straight(spot) <= min(there, other):
            return []
        piece = network.pieces[spot.piece]
        return self.walk(piece.u if there <= other else piece.v)

    def _by_the_ends(self, network: Network, spot: Spot) -> tuple[float, float]:
        """Give the distances (m) from a spot by way of its piece's nodes u and v."""
        piece = network.pieces[spot.piece]
        there = float(self.distance[piece.u]) + spot.offset
        return there, float(self.distance[piece.v]) + piece.length - spot.offset

    def _straight(self, spot: Spot) -> float:
        """Give the distance (m) along the piece itself; inf where the field begins elsewhere."""
        if self.spot is None or self.spot.piece != spot.piece:
            return np.inf
        return abs(self.spot.offset - spot.offset)

    def walk(self, node: int) -> list[int]:
        """Give the nodes walked from a node to the set, that node first."""
        way = [int(node)]
        while self.before[way[-1]] != NOWHERE:
            way.append(int(self.before[way[-1]]))
        return way


class Metric:
    """The metric on the pieces that connect (a boolean array over pieces)."""

    def __init__(self, network: Network, connects: np.ndarray) -> None:
        """Lay the connecting pieces out as a sparse matrix, once."""
        self.network = network
        self.connects = connects
        self._matrix = _matrix(network, connects)

    def from_nodes(self, nodes: np.ndarray) -> Field:
        """Spread from a set of nodes (an array of node numbers)."""
        count = self.network.node_count
        if len(nodes) == 0:
            return Field(np.full(count, np.inf), np.full(count, NOWHERE, dtype=np.int32))
        distance, before, _ = dijkstra(
            self._matrix,
            directed=False,
            indices=np.unique(nodes),
            return_predecessors=True,
            min_only=True,
        )
        return Field(distance, before)

    def from_seeds(self, seeds: Mapping[int, float]) -> Field:
        """Spread from nodes that each already lie some distance (m) away from the set."""
        nodes = np.array(sorted(seeds), dtype=np.int64)
        rows, back = dijkstra(self._matrix, directed=False, indices=nodes, return_predecessors=True)
        rows = rows + np.array([seeds[int(n)] for n in nodes])[:, None]
        nearest = rows.argmin(axis=0)
        columns = np.arange(self.network.node_count)
        return Field(rows[nearest, columns], back[nearest, columns])

    def from_spot(self, spot: Spot) -> Field:
        """Spread from a point on a piece, whether or not the piece connects."""
        piece = self.network.pieces[spot.piece]
        rows, back = dijkstra(
            self._matrix,
            directed=False,
            indices=[piece.u, piece.v],
            return_predecessors=True,
        )
        through_u = rows[0] + spot.offset
        through_v = rows[1] + (piece.length - spot.offset)
        # Where both ways are equally long the one through u is told; either is a shortest way.
        distance = np.minimum(through_u, through_v)
        before = np.where(through_u <= through_v, back[0], back[1])
        return Field(distance, before, spot)


def steps_between(network: Network, keep: np.ndarray) -> csr_array:
    """Lay the kept pieces (a boolean array) out as a matrix of nodes that they join.

    Its entries say only that there is a step: parallel pieces are added together.
    """
    ends, size = network.ends[keep], network.node_count
    return csr_array((np.ones(len(ends)), (ends[:, 0], ends[:, 1])), shape=(size, size))


def connected_parts(network: Network, keep: np.ndarray) -> np.ndarray:
    """Label the nodes by the part that the kept pieces (a boolean array) connect."""
    labels: np.ndarray = connected_components(steps_between(network, keep), directed=False)[1]
    return labels


def _matrix(network: Network, connects: np.ndarray) -> csr_array:
    keep = np.flatnonzero(connects & (network.ends[:, 0] != network.ends[:, 1]))
    low = network.ends[keep].min(axis=1) if len(keep) else np.empty(0, dtype=np.int64)
    high = network.ends[keep].max(axis=1) if len(keep) else np.empty(0, dtype=np.int64)
    length = network.length[keep]
    order = np.lexsort((length, high, low))
    low, high, length = low[order], high[order], length[order]
    first = np.ones(len(low), dtype=bool)
    first[1:] = (low[1:] != low[:-1]) | (high[1:] != high[:-1])
    size = network.node_count
    return csr_array((length[first], (low[first], high[first])), shape=(size, size))
