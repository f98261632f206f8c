"""High points that keep air: where pipe rises to a top from which nothing lets the air out.

A top is a joint, or joints on one level, that no pipe leaves upward and at least one leaves
downward, with every height about it known. Nothing at it lets air out: no outlet, tank or source
(where pipe goes on beyond the sketch). Air that came in while the pipe was filled, or out of the
water since, gathers there, and reaches down each leg as far as the first branch or way out: beyond
that it would have gone up or out another way.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from layoutcheck.network.model import Network

# Joints whose heights differ by less (m) are on one level. It is far below any slope that is laid
# over a length of pipe, so that a graded run is not taken as level joint by joint.
LEVEL = 1e-3


def air_keeping(network: Network) -> dict[int, int]:
    """Give each piece that may hold air with the node of its high point, found once."""
    return network.geometry("air", lambda: _air_keeping(network))


def _air_keeping(network: Network) -> dict[int, int]:
    found: dict[int, int] = {}
    for top in _tops(network):
        for piece in _legs(network, top):
            found.setdefault(piece, min(top))
    return found


def _tops(network: Network) -> Iterator[frozenset[int]]:
    """Give the nodes of each high point that keeps its air, in order."""
    ends, height = network.ends, network.elevation
    drop = height[ends[:, 0]] - height[ends[:, 1]]
    level = np.abs(drop) <= LEVEL
    joined = ends[level]
    weights = np.ones(len(joined))
    size = network.node_count
    graph = coo_matrix((weights, (joined[:, 0], joined[:, 1])), shape=(size, size))
    _, level_of = connected_components(graph, directed=False)
    # What leaves a level upward, or to a height that nobody stated, makes it no top.
    barred = np.zeros(size, dtype=bool)
    lower = np.zeros(size, dtype=bool)
    down, up = drop > LEVEL, drop < -LEVEL
    lower[level_of[ends[down, 0]]] = True
    lower[level_of[ends[up, 1]]] = True
    barred[level_of[ends[down, 1]]] = True
    barred[level_of[ends[up, 0]]] = True
    unknown = np.isnan(drop)
    barred[level_of[ends[unknown].ravel()]] = True
    ways_out = np.array(sorted(_ways_out(network)), dtype=np.int64)
    barred[level_of[ways_out]] = True
    members: dict[int, list[int]] = defaultdict(list)
    keeps = lower & ~barred
    for node in np.flatnonzero(keeps[level_of]).tolist():
        members[int(level_of[node])].append(node)
    yield from sorted((frozenset(nodes) for nodes in members.values()), key=min)


def _ways_out(network: Network) -> set[int]:
    return {*network.outlets, *network.tanks, *network.sources}


def _legs(network: Network, top: frozenset[int]) -> Iterator[int]:
    """Give the pieces of a high point, and of each leg down to where air would have got away."""
    ways_out = _ways_out(network)
    seen: set[int] = set()
    row = sorted(top)
    while row:
        node = row.pop()
        touching = network.at_node(node).tolist()
        ends_here = len(touching) > 2 or node in ways_out or np.isnan(network.elevation[node])
        if ends_here and node not in top:
            continue
        for piece in touching:
            other = sum(network.ends[piece].tolist()) - node
            rises = network.elevation[other] > network.elevation[node] + LEVEL
            if piece in seen or rises:
                continue
            seen.add(piece)
            yield piece
            row.append(other)
