"""The water that a single further plug would hold back from the opened work."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import breadth_first_order

from layoutcheck.network.blocks import bridges
from layoutcheck.network.cut import kept_pieces
from layoutcheck.network.drain import standing_water
from layoutcheck.network.model import Network
from layoutcheck.network.state import World


def held_water(world: World, plugged: Collection[int]) -> np.ndarray:
    """Give for each piece the water (m3) that a plug in it, besides those given, would hold back.

    Counted is water that stands above the lowest opening and could run there otherwise; where a
    height is unknown, all of it. Zero where the piece is not the only way for its water.

    A breadth-first tree from the work reaches all that could drain. A bridge has all of its far
    side in one subtree, so summing up the tree once gives every bridge its volume.
    """
    network = world.network
    keep = np.flatnonzero(kept_pieces(world, plugged))
    start = network.node_count
    joined = np.arange(start + 1)
    joined[list(network.work_nodes)] = start
    ends = joined[network.ends[keep]]
    order, before = _tree(ends, start)
    rank = np.full(start + 1, np.inf)
    rank[order] = np.arange(len(order))
    nearer = np.where(rank[ends[:, 0]] <= rank[ends[:, 1]], ends[:, 0], ends[:, 1])
    total = np.zeros(start + 1)
    np.add.at(total, nearer, standing_water(network)[keep])
    return _of_bridges(network, keep, ends, rank, _sum_up(order, before, total))


def _tree(ends: np.ndarray, start: int) -> tuple[np.ndarray, np.ndarray]:
    ones = np.ones(len(ends))
    matrix = csr_array((ones, (ends[:, 0], ends[:, 1])), shape=(start + 1, start + 1))
    order, before = breadth_first_order(matrix, start, directed=False)
    return order, before


def _sum_up(order: np.ndarray, before: np.ndarray, total: np.ndarray) -> np.ndarray:
    """Add the total of each node to that of the node before it, from the last in order back."""
    summed, above = total.tolist(), before.tolist()
    for node in order[:0:-1].tolist():
        summed[above[node]] += summed[node]
    return np.array(summed)


def _of_bridges(
    network: Network, keep: np.ndarray, ends: np.ndarray, rank: np.ndarray, total: np.ndarray
) -> np.ndarray:
    """Give each piece that is a bridge the total of its far end."""
    bridge = bridges(len(rank), ends) & np.isfinite(rank[ends[:, 0]])
    farther = np.where(rank[ends[:, 0]] > rank[ends[:, 1]], ends[:, 0], ends[:, 1])
    beyond = np.zeros(len(network.pieces))
    beyond[keep[bridge]] = total[farther[bridge]]
    return beyond
