"""How far spots lie apart from one another, and by which way."""

from __future__ import annotations

import numpy as np

from layoutcheck.network.metric import Metric
from layoutcheck.network.model import Spot


class Apart:
    """The distances between spots, by the water that a metric lets connect."""

    def __init__(self, metric: Metric) -> None:
        """Keep the metric; it is walked from the ends of the spots that are asked about."""
        self.metric = metric
        self.network = metric.network

    def between(self, one: Spot, two: Spot) -> float:
        """Give the distance (m) between two spots; inf where nothing connects them."""
        return min(*self._by_the_ends(one, two)[0], _straight(one, two))

    def way(self, one: Spot, two: Spot) -> list[int]:
        """Give the nodes walked from one spot to another."""
        (there, other), goals = self._by_the_ends(one, two)
        if _straight(one, two) <= min(there, other):
            return []
        u, v = self.network.ends[one.piece].tolist()
        start, goal = (u, goals[0]) if there <= other else (v, goals[1])
        return self.metric.from_node(goal).walk(start)

    def _by_the_ends(self, one: Spot, two: Spot) -> tuple[tuple[float, float], tuple[int, int]]:
        """Give the distances (m) by way of the first piece's ends, and the other's end for each."""
        (begin, gap), (other, other_gap) = self._ends_of(one)
        (goal, beyond), (other_goal, other_beyond) = self._ends_of(two)

        def least(node: int) -> tuple[float, int]:
            far = self.metric.from_node(node).distance
            there, elsewhere = float(far[goal]) + beyond, float(far[other_goal]) + other_beyond
            return (there, goal) if there <= elsewhere else (elsewhere, other_goal)

        (near, by), (far, by_other) = least(begin), least(other)
        return (near + gap, far + other_gap), (by, by_other)

    def _ends_of(self, spot: Spot) -> tuple[tuple[int, float], tuple[int, float]]:
        """Give the nodes at both ends of a spot's piece, and how far (m) they are."""
        u, v = self.network.ends[spot.piece].tolist()
        return (u, spot.offset), (v, float(self.network.length[spot.piece]) - spot.offset)


def _straight(one: Spot, two: Spot) -> float:
    return abs(one.offset - two.offset) if one.piece == two.piece else np.inf
