"""Biconnected components (blocks) and bridges of a graph that is given as arrays.

networkx walks the graph (R. Tarjan, Depth-first search and linear graph algorithms, SIAM J.
Comput. 1(2), 1972) on pairs of nodes. Here edges count, not pairs: parallel edges share a block, an
edge from a node to itself is a block of its own, and a block of one edge between two nodes is a
bridge.
"""

from __future__ import annotations

import networkx as nx
import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import breadth_first_order, connected_components

_NONE = -1


def block_numbers(nodes: int, ends: np.ndarray) -> np.ndarray:
    """Number the block of each edge.

    nodes: how many there are. ends: (edges, 2) node numbers. Gives (edges,) numbers from 0.
    """
    low, high = ends.min(axis=1, initial=nodes), ends.max(axis=1, initial=0)
    pair, pair_of = np.unique(low * np.int64(nodes) + high, return_inverse=True)
    firsts, seconds = (pair // nodes).tolist(), (pair % nodes).tolist()
    place = {both: at for at, both in enumerate(zip(firsts, seconds, strict=True))}
    graph = nx.Graph((u, v) for u, v in place if u != v)
    block = np.full(len(pair), _NONE, dtype=np.int64)
    count = 0
    for edges in nx.biconnected_component_edges(graph):
        block[[place[(u, v) if u < v else (v, u)] for u, v in edges]] = count
        count += 1
    found: np.ndarray = block[pair_of.ravel()]
    alone = np.flatnonzero(found == _NONE)  # from a node to itself: no walk goes over it
    found[alone] = count + np.arange(len(alone))
    return found


def bridges(nodes: int, ends: np.ndarray) -> np.ndarray:
    """Tell which edges are bridges: the only way between their two ends (a boolean array)."""
    numbers = block_numbers(nodes, ends)
    if not len(numbers):
        return np.zeros(0, dtype=bool)
    single = np.bincount(numbers)[numbers] == 1
    return np.asarray(single & (ends[:, 0] != ends[:, 1]))


def bridges_between(nodes: int, ends: np.ndarray, start: int, stop: int) -> np.ndarray:
    """Tell which edges every way from one node to another goes over (a boolean array).

    nodes, ends: as for block_numbers. None where there is no way, or no single edge on all.

    Only edges of one way can be on all of them. Take the edges of a shortest way out, and see
    which of its nodes still hang together: such a group leads round every edge between its first
    and its last node on the way, and an edge that no group leads round is on every way.
    """
    found = np.zeros(len(ends), dtype=bool)
    way = _shortest_way(nodes, ends, start, stop)
    if len(way) < 2:
        return found
    place = np.full(nodes, _NONE, dtype=np.int64)
    place[way] = np.arange(len(way))
    on_way = _one_edge_each(ends, place, len(way))
    besides = np.ones(len(ends), dtype=bool)
    besides[on_way] = False
    group = connected_components(_joined(nodes, ends[besides]), directed=False)[1][way]
    _, group_of = np.unique(group, return_inverse=True)
    steps = np.arange(len(way))
    first, last = np.full(len(way), len(way)), np.zeros(len(way), dtype=np.int64)
    np.minimum.at(first, group_of, steps)
    np.maximum.at(last, group_of, steps)
    seen = last >= first
    leads_round = np.zeros(len(way) + 1, dtype=np.int64)
    np.add.at(leads_round, first[seen], 1)
    np.add.at(leads_round, last[seen], -1)
    found[on_way] = np.cumsum(leads_round)[: len(on_way)] == 0
    return found


def _joined(nodes: int, ends: np.ndarray) -> csr_array:
    return csr_array((np.ones(len(ends)), (ends[:, 0], ends[:, 1])), shape=(nodes, nodes))


def _shortest_way(nodes: int, ends: np.ndarray, start: int, stop: int) -> np.ndarray:
    """Give the nodes of a way with the fewest edges, from one node to another; none if none is."""
    _, before = breadth_first_order(_joined(nodes, ends), start, directed=False)
    way = [stop]
    while before[way[-1]] >= 0:
        way.append(int(before[way[-1]]))
    return np.array(way[::-1] if way[-1] == start else [], dtype=np.int64)


def _one_edge_each(ends: np.ndarray, place: np.ndarray, count: int) -> np.ndarray:
    """Give one edge for each step of a way, in order; parallel ones stay beside it.

    place: (nodes,) the place of each node on the way, -1 off it. count: the nodes on the way.
    """
    one, two = place[ends[:, 0]], place[ends[:, 1]]
    edges = np.flatnonzero((one >= 0) & (two >= 0) & (np.abs(one - two) == 1))
    step = np.minimum(one, two)[edges]
    chosen = np.full(count - 1, _NONE, dtype=np.int64)
    chosen[step[::-1]] = edges[::-1]  # of parallel edges the first
    return chosen
