"""Biconnected components (blocks) and bridges of a graph that is given as arrays.

Tarjan's walk (R. Tarjan, Depth-first search and linear graph algorithms, SIAM J. Comput. 1(2),
1972), on edges rather than pairs of nodes: parallel edges share a block, an edge from a node to
itself is a block of its own, and a block of one edge between two nodes is a bridge.

Why compiled and not a graph library: their answers come as a set or a dict of pairs, which for a
campus of a million pipes takes longer to build and to read back than the walk itself. The tests
hold this to rustworkx and networkx.
"""

from __future__ import annotations

import numpy as np

from layoutcheck.compiled import compiled

_NONE = -1


def block_numbers(nodes: int, ends: np.ndarray) -> np.ndarray:
    """Number the block of each edge.

    nodes: how many there are. ends: (edges, 2) node numbers. Gives (edges,) numbers from 0.
    """
    if not len(ends):
        return np.empty(0, dtype=np.int64)
    starts, others, edges = _adjacency(nodes, ends)
    found: np.ndarray = _walk_blocks(starts, others, edges, len(ends))
    alone = np.flatnonzero(found == _NONE)  # from a node to itself: no walk goes over it
    found[alone] = found.max(initial=-1) + 1 + np.arange(len(alone))
    return found


def bridges(nodes: int, ends: np.ndarray) -> np.ndarray:
    """Tell which edges are bridges: the only way between their two ends (a boolean array)."""
    numbers = block_numbers(nodes, ends)
    if not len(numbers):
        return np.zeros(0, dtype=bool)
    single = np.bincount(numbers)[numbers] == 1
    return np.asarray(single & (ends[:, 0] != ends[:, 1]))


def _adjacency(nodes: int, ends: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Give each node's edges as a compressed list: starts, the other ends, edge numbers."""
    proper = np.flatnonzero(ends[:, 0] != ends[:, 1])
    here = np.concatenate([ends[proper, 0], ends[proper, 1]])
    there = np.concatenate([ends[proper, 1], ends[proper, 0]])
    edge = np.tile(proper, 2)
    order = np.argsort(here, kind="stable")
    starts = np.zeros(nodes + 1, dtype=np.int64)
    np.cumsum(np.bincount(here, minlength=nodes), out=starts[1:])
    return starts, there[order], edge[order]


@compiled
def _walk_blocks(
    starts: np.ndarray, others: np.ndarray, edges: np.ndarray, count: int
) -> np.ndarray:
    nodes = len(starts) - 1
    block = np.full(count, -1, dtype=np.int64)
    met = np.full(nodes, -1, dtype=np.int64)  # when a node was first met
    low = np.empty(nodes, dtype=np.int64)  # the earliest node its part of the walk leads back to
    place = starts[:-1].copy()  # the next of each node's edges to look at
    came_by = np.full(nodes, -1, dtype=np.int64)
    came_from = np.full(nodes, -1, dtype=np.int64)
    pending = np.empty(count, dtype=np.int64)  # edges whose block is not closed yet
    height = 0
    time = 0
    number = 0
    for root in range(nodes):
        if met[root] >= 0:
            continue
        met[root] = low[root] = time
        time += 1
        node = root
        while True:
            if place[node] < starts[node + 1]:
                at = place[node]
                place[node] += 1
                other, edge = others[at], edges[at]
                if edge == came_by[node]:
                    continue
                if met[other] < 0:
                    pending[height] = edge
                    height += 1
                    met[other] = low[other] = time
                    time += 1
                    came_by[other] = edge
                    came_from[other] = node
                    node = other
                elif met[other] < met[node]:
                    pending[height] = edge
                    height += 1
                    low[node] = min(low[node], met[other])
                continue
            above = came_from[node]
            if above < 0:
                break
            if low[node] >= met[above]:
                while True:
                    height -= 1
                    block[pending[height]] = number
                    if pending[height] == came_by[node]:
                        break
                number += 1
            low[above] = min(low[above], low[node])
            node = above
    return block
