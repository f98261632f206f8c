"""Walking breadth first from some nodes over the pieces that are kept."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import breadth_first_order

from layoutcheck.network.metric import walk_back
from layoutcheck.network.model import Network


@dataclass(frozen=True)
class Spread:
    """What a walk met.

    order: the nodes met, in order. before: (nodes,) the node before each, negative where the walk
    began and where it did not come.
    """

    order: np.ndarray
    before: np.ndarray

    def met(self) -> np.ndarray:
        """Tell which nodes were met (a boolean array)."""
        found = np.zeros(len(self.before), dtype=bool)
        found[self.order] = True
        return found

    def way(self, node: int) -> list[int]:
        """Give the nodes walked, from one that was met back to where the walk began."""
        return walk_back(self.before, node)


def spread(network: Network, keep: np.ndarray, seeds: Collection[int]) -> Spread:
    """Walk from some nodes over the kept pieces (a boolean array), by ways of the fewest pieces.

    Of ways with as few pieces the one over the lowest numbers is taken: each node's pieces are
    gone over in the order of their numbers, which scipy keeps to.
    """
    starts, touching = network.incidence
    kept = keep[touching]
    row = np.append(0, np.cumsum(kept))[starts]
    begin = np.array(sorted(set(seeds)), dtype=np.int64)
    # One more node stands for the seeds: its steps lead to each of them, and none leads back.
    count = network.node_count
    others = np.concatenate([network.other_ends[kept], begin])
    row = np.append(row, row[-1] + len(begin))
    matrix = csr_array((np.ones(len(others)), others, row), shape=(count + 1, count + 1))
    order, before = breadth_first_order(matrix, count)
    before = before[:count].astype(np.int64)
    before[begin] = -1
    return Spread(order[1:].astype(np.int64), before)
