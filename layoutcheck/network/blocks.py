"""Biconnected components (blocks) and bridges of a graph that is given as arrays.

Tarjan's walk (R. Tarjan, Depth-first search and linear graph algorithms, SIAM J. Comput. 1(2),
1972), on edges rather than pairs of nodes: parallel edges share a block, an edge from a node to
itself is a block of its own, and a block of one edge between two nodes is a bridge.

Why compiled and not a graph library: their answers come as a set or a dict of pairs, which for a
campus of a million pipes takes longer to build and to read back than the walk itself. The tests
hold this to rustworkx and networkx.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from layoutcheck.compiled import compiled

_NONE = -1


def block_numbers(nodes: int, ends: np.ndarray) -> np.ndarray:
    """Number the block of each edge.

    nodes: how many there are. ends: (edges, 2) node numbers. Gives (edges,) numbers from 0.
    """
    if not len(ends):
        return np.empty(0, dtype=np.int64)
    walk = _begin(nodes, ends)
    _walk_blocks(walk)
    found = walk.block
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


def bridges_between(nodes: int, ends: np.ndarray, start: int, stop: int) -> np.ndarray:
    """Tell which edges every way from one node to another goes over (a boolean array).

    nodes, ends: as for block_numbers. None where there is no way, or no single edge on all.
    """
    walk, found = _begin(nodes, ends), np.zeros(len(ends), dtype=bool)
    _walk_from(start, walk)
    _climb(stop, walk.note, found)
    return found


@compiled
def _adjacency(nodes: int, ends: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Give each node's edges as a compressed list: starts, the other ends, edge numbers.

    An edge from a node to itself is left out. Counted: to sort takes longer than a walk.
    """
    starts = np.zeros(nodes + 1, dtype=np.int64)
    for edge in range(len(ends)):
        if ends[edge, 0] != ends[edge, 1]:
            starts[ends[edge, 0] + 1] += 1
            starts[ends[edge, 1] + 1] += 1
    for node in range(nodes):
        starts[node + 1] += starts[node]
    free = np.empty(nodes, dtype=np.int64)
    for node in range(nodes):
        free[node] = starts[node]
    others = np.empty(starts[nodes], dtype=np.int64)
    edges = np.empty(starts[nodes], dtype=np.int64)
    for side in range(2):
        for edge in range(len(ends)):
            here, there = ends[edge, side], ends[edge, 1 - side]
            if here != there:
                others[free[here]] = there
                edges[free[here]] = edge
                free[here] += 1
    return starts, others, edges


# What is noted of each node, a row each: when it was first met, the earliest node that its part of
# the walk leads back to, the next of its edges to look at, and the edge and node it was met by.
_MET, _LOW, _NEXT, _EDGE, _ABOVE = range(5)
# What is counted on the way: nodes met, edges whose block is not closed yet, closed blocks.
_TIME, _HEIGHT, _NUMBER = range(3)


class _Walk(NamedTuple):
    """A walk over a graph: each node's edges (see _adjacency), and what is noted on the way.

    block: (edges,) the block of each. pending: room for the edges whose block is not closed yet.
    note: (5, nodes). counts: (3,).
    """

    starts: np.ndarray
    others: np.ndarray
    edges: np.ndarray
    block: np.ndarray
    pending: np.ndarray
    note: np.ndarray
    counts: np.ndarray


def _begin(nodes: int, ends: np.ndarray) -> _Walk:
    starts, others, edges = _adjacency(nodes, ends)
    note = np.full((5, nodes), _NONE, dtype=np.int64)
    note[_NEXT] = starts[:-1]
    return _Walk(
        starts=starts,
        others=others,
        edges=edges,
        block=np.full(len(ends), _NONE, dtype=np.int64),
        pending=np.empty(len(ends), dtype=np.int64),
        note=note,
        counts=np.zeros(3, dtype=np.int64),
    )


@compiled
def _walk_blocks(walk: _Walk) -> None:
    for root in range(len(walk.starts) - 1):
        if walk.note[_MET, root] < 0:
            _walk_from(root, walk)


@compiled
def _climb(node: int, note: np.ndarray, found: np.ndarray) -> None:
    """Climb from a node to where the walk began, and mark the bridges on the way."""
    while note[_EDGE, node] >= 0:
        if note[_LOW, node] == note[_MET, node]:
            found[note[_EDGE, node]] = True
        node = note[_ABOVE, node]


@compiled
def _walk_from(root: int, walk: _Walk) -> None:
    """Walk over all that connects with a node, depth first."""
    note, counts = walk.note, walk.counts
    _meet(root, note, counts)
    node = root
    while node >= 0:
        if note[_NEXT, node] < walk.starts[node + 1]:
            at = note[_NEXT, node]
            note[_NEXT, node] += 1
            node = _look(node, walk.others[at], walk.edges[at], walk.pending, note, counts)
        else:
            node = _leave(node, walk.block, walk.pending, note, counts)


@compiled
def _meet(node: int, note: np.ndarray, counts: np.ndarray) -> None:
    note[_MET, node] = note[_LOW, node] = counts[_TIME]
    counts[_TIME] += 1


@compiled
def _look(
    node: int, other: int, edge: int, pending: np.ndarray, note: np.ndarray, counts: np.ndarray
) -> int:
    """Look along an edge; give the node to go on from."""
    if edge == note[_EDGE, node]:
        return node
    new = note[_MET, other] < 0
    if not new and note[_MET, other] >= note[_MET, node]:
        return node
    pending[counts[_HEIGHT]] = edge
    counts[_HEIGHT] += 1
    if not new:
        note[_LOW, node] = min(note[_LOW, node], note[_MET, other])
        return node
    _meet(other, note, counts)
    note[_EDGE, other] = edge
    note[_ABOVE, other] = node
    return other


@compiled
def _leave(
    node: int, block: np.ndarray, pending: np.ndarray, note: np.ndarray, counts: np.ndarray
) -> int:
    """Go back from a node that is done; close the block that it was the last of."""
    above = note[_ABOVE, node]
    if above < 0:
        return _NONE
    if note[_LOW, node] >= note[_MET, above]:
        edge = _NONE
        while edge != note[_EDGE, node]:
            counts[_HEIGHT] -= 1
            edge = pending[counts[_HEIGHT]]
            block[edge] = counts[_NUMBER]
        counts[_NUMBER] += 1
    note[_LOW, above] = min(note[_LOW, above], note[_LOW, node])
    return int(above)
