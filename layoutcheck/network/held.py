"""The water that a single further plug would hold back from the opened work."""

from __future__ import annotations

import math
from collections.abc import Collection
from typing import cast

import numpy as np
import rustworkx as rx
from scipy.sparse import csr_array
from scipy.sparse.csgraph import breadth_first_order

from layoutcheck.network.cut import kept_pieces
from layoutcheck.network.drain import water_above
from layoutcheck.network.model import Network, PieceKind
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
    for node in order[:0:-1]:
        total[before[node]] += total[node]
    return _of_bridges(network, keep, ends, rank, total)


def _tree(ends: np.ndarray, start: int) -> tuple[np.ndarray, np.ndarray]:
    ones = np.ones(len(ends))
    matrix = csr_array((ones, (ends[:, 0], ends[:, 1])), shape=(start + 1, start + 1))
    order, before = breadth_first_order(matrix, start, directed=False)
    return order, before


def _of_bridges(
    network: Network, keep: np.ndarray, ends: np.ndarray, rank: np.ndarray, total: np.ndarray
) -> np.ndarray:
    """Give each piece that is a bridge the total of its far end."""
    graph = rx.PyGraph(multigraph=True)
    graph.add_nodes_from(range(len(rank)))
    pairs, counts = np.unique(np.sort(ends, axis=1), axis=0, return_counts=True)
    graph.add_edges_from_no_data([(int(a), int(b)) for a, b in pairs if a != b])
    alone = {(int(a), int(b)) for (a, b), count in zip(pairs, counts, strict=True) if count == 1}
    found = cast("set[tuple[int, int]]", rx.bridges(graph))
    bridges = {(min(a, b), max(a, b)) for a, b in found} & alone
    beyond = np.zeros(len(network.pieces))
    for index, (a, b) in zip(keep, ends, strict=True):
        if (min(a, b), max(a, b)) in bridges and np.isfinite(rank[a]):
            beyond[index] = total[a if rank[a] > rank[b] else b]
    return beyond


def standing_water(network: Network) -> np.ndarray:
    """Give the water (m3) of each piece that stands above the lowest opening.

    Where a height is unknown all of a piece's water counts.
    """
    lowest = float(np.min(network.elevation[list(network.work_nodes)]))
    water = np.zeros(len(network.pieces))
    for piece in network.pieces:
        if piece.kind is not PieceKind.PIPE:
            continue
        if math.isnan(lowest + float(network.elevation[[piece.u, piece.v]].sum())):
            bore = network.dimensions[piece.element].inside_diameter
            water[piece.index] = math.pi * bore**2 / 4 * piece.length
        else:
            water[piece.index] = water_above(network, piece.index, 0.0, piece.length, lowest)
    return water
