"""Distances along the pipe: the metric on the network.

All distances are developed lengths in metres, by the shortest way that water connects. scipy's
Dijkstra does the walking. Its sparse matrices add parallel entries together, so parallel pieces
are first reduced to the shortest; pieces of no length are kept as explicit zeros, which scipy
reads as edges of no length.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components, dijkstra

from layoutcheck.network.model import Network, Spot
from layoutcheck.network.once import Latest

NOWHERE = -9999  # scipy's mark for 'no predecessor'

# Fields from single nodes are kept for so many nodes in all (a dozen bytes each), and so many at
# least.
_FIELDS, _FEWEST = 20_000_000, 8


def walk_back(before: np.ndarray, node: int) -> list[int]:
    """Give the nodes from one back to where a walk began, that node first.

    before: (nodes,) the node before each on the walk; negative where it began.
    """
    way = [int(node)]
    while before[way[-1]] >= 0:
        way.append(int(before[way[-1]]))
    return way


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
        return walk_back(self.before, node)


@dataclass(frozen=True, eq=False)
class Near(Mapping[int, float]):
    """The nodes that lie near a spot, in order, and how far from it they are (m), by node.

    nodes, distances: (n,). Of many nodes at once `to` is asked; one at a time is looked up.
    """

    nodes: np.ndarray
    distances: np.ndarray

    def __getitem__(self, node: int) -> float:
        """Give how far (m) a node that lies near is."""
        return self._by_node[node]

    def __iter__(self) -> Iterator[int]:
        """Give every node that lies near."""
        return iter(self._by_node)

    def __len__(self) -> int:
        """Give how many nodes lie near."""
        return len(self.nodes)

    @cached_property
    def _by_node(self) -> dict[int, float]:
        return dict(zip(self.nodes.tolist(), self.distances.tolist(), strict=True))

    def to(self, nodes: np.ndarray) -> np.ndarray:
        """Give the distances (m) to an array of nodes, in its shape; inf where one is not near."""
        if not len(self.nodes):
            return np.full(nodes.shape, np.inf)
        places = np.minimum(np.searchsorted(self.nodes, nodes), len(self.nodes) - 1)
        return np.where(self.nodes[places] == nodes, self.distances[places], np.inf)


class Metric:
    """The metric on the pieces that connect (a boolean array over pieces)."""

    def __init__(self, network: Network, connects: np.ndarray) -> None:
        """Keep what connects."""
        self.network = network
        self.connects = connects

    @cached_property
    def _matrix(self) -> csr_array:
        """Lay the connecting pieces out as a sparse matrix, once."""
        return _matrix(self.network, self.connects)

    def from_nodes(self, nodes: np.ndarray) -> Field:
        """Spread from a set of nodes (an array of node numbers)."""
        count = self.network.node_count
        if len(nodes) == 0:
            return Field(np.full(count, np.inf), np.full(count, NOWHERE, dtype=np.int32))
        distance, before, _ = dijkstra(
            self._matrix,
            directed=False,
            indices=_each_once(nodes, count),
            return_predecessors=True,
            min_only=True,
        )
        return Field(distance, before)

    def from_seeds(self, seeds: np.ndarray, *, within: float = np.inf) -> np.ndarray:
        """Give each node's distance (m) to a set from which some nodes already lie away.

        seeds: (nodes,) how far each already lies away (m), inf where that is not known; what
        rounding has put below nought counts as nought. within: what lies farther (m) counts as
        inf. One more node stands for the set, joined to each seed by a step as long as its gap:
        one spreading, however many the seeds are.
        """
        there = np.flatnonzero(seeds < np.inf)
        # With a step below nought, be it by 1e-16 m, scipy's walk may go round for ever.
        gaps = np.maximum(seeds[there], 0.0)
        size, matrix = self.network.node_count, self._matrix.tocoo()
        row = np.concatenate([matrix.row, np.full(len(there), size)])
        column = np.concatenate([matrix.col, there])
        length = np.concatenate([matrix.data, gaps])
        joined = csr_array((length, (row, column)), shape=(size + 1, size + 1))
        distance = dijkstra(joined, directed=False, indices=np.array([size]), limit=within)
        return np.asarray(distance[0, :size])

    def near(self, spot: Spot, within: float) -> Near:
        """Give the distances (m) from a spot to the nodes that lie within some distance (m)."""
        piece = self.network.pieces[spot.piece]
        rows = dijkstra(self._matrix, directed=False, indices=[piece.u, piece.v], limit=within)
        far = np.minimum(rows[0] + spot.offset, rows[1] + (piece.length - spot.offset))
        nodes = np.flatnonzero((far <= within) & (far < np.inf))
        return Near(nodes, far[nodes])

    def from_node(self, node: int) -> Field:
        """Spread from one node; of the latest nodes asked for the answer is kept."""
        return self._fields(node, lambda: self._from_node(node))

    def _from_node(self, node: int) -> Field:
        distance, before = dijkstra(
            self._matrix, directed=False, indices=[node], return_predecessors=True
        )
        return Field(distance[0], before[0])

    @cached_property
    def _fields(self) -> Latest:
        return Latest(max(_FEWEST, _FIELDS // max(1, self.network.node_count)))

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


def _each_once(nodes: np.ndarray, count: int) -> np.ndarray:
    met = np.zeros(count, dtype=bool)
    met[nodes] = True
    return np.flatnonzero(met)


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
