"""How far some pieces lie apart from one another, and by which way.

Between the pieces asked about, most of a network is no matter: dead ends are walked into by no
shortest way, and a run of pipe without a branch is but one step. So nodes with one or two steps
are taken out one by one, as in Gaussian elimination, and what is left (the core: loops that cross
one another) is walked from each piece. On a site of a million pipes the core has a few thousand
steps. Taking out costs the same for each pipe, however many pieces are asked about.

Why compiled and not a graph library: none takes nodes out and keeps what the steps were made of.
"""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from layoutcheck.compiled import compiled
from layoutcheck.network.metric import NOWHERE, Metric
from layoutcheck.network.model import Spot

_NONE = -1


class Apart:
    """The distances between any spots on some pieces."""

    def __init__(self, metric: Metric, pieces: Collection[int]) -> None:
        """Take out all nodes but the ends of the pieces and those where loops cross."""
        self.network = metric.network
        fixed = np.unique(self.network.ends[sorted(pieces)])
        ends, length = metric.steps
        kept = np.zeros(self.network.node_count, dtype=bool)
        kept[fixed] = True
        self._steps, weight, self._made_of, alive = _take_out(
            self.network.node_count, ends, length, kept
        )
        core = np.flatnonzero(alive)
        self._nodes = np.unique(np.concatenate([fixed, self._steps[core].ravel()]))
        rows = np.searchsorted(self._nodes, self._steps[core])
        low, high = rows.min(axis=1), rows.max(axis=1)
        size = len(self._nodes)
        matrix = csr_array((weight[core], (low, high)), shape=(size, size))
        steps = np.column_stack([low, high, core, self._steps[core, 0]]).tolist()
        # The step between two nodes of the core, and the node that it begins at.
        self._step_of = {(a, b): (step, first) for a, b, step, first in steps}
        places = np.searchsorted(self._nodes, fixed)
        distance, self._before = dijkstra(
            matrix, directed=False, indices=places, return_predecessors=True
        )
        # Two hundred plugs make twenty thousand pairs: plain lists are read faster one by one.
        self._distance: list[list[float]] = distance[:, places].tolist()
        self._row = {int(node): row for row, node in enumerate(fixed)}
        self._ways: dict[int, tuple[int, ...]] = {}
        self._pieces: dict[int, tuple[int, int, float]] = {}

    def between(self, one: Spot, two: Spot) -> float:
        """Give the distance (m) between two spots; inf where nothing connects them."""
        return min(*self._by_the_ends(one, two)[0], _straight(one, two))

    def way(self, one: Spot, two: Spot) -> list[int]:
        """Give the nodes walked from one spot to another."""
        (there, other), goals = self._by_the_ends(one, two)
        if _straight(one, two) <= min(there, other):
            return []
        u, v = self.network.ends[one.piece].tolist()
        first = there <= other
        return self._walk(u if first else v, goals[0] if first else goals[1])

    def _by_the_ends(self, one: Spot, two: Spot) -> tuple[tuple[float, float], tuple[int, int]]:
        """Give the distances (m) by way of the first piece's ends, and the other's end for each."""
        (begin, gap), (other, other_gap) = self._ends_of(one)
        (goal, beyond), (other_goal, other_beyond) = self._ends_of(two)
        first, last = self._row[goal], self._row[other_goal]

        def least(node: int) -> tuple[float, int]:
            row = self._distance[self._row[node]]
            there, elsewhere = row[first] + beyond, row[last] + other_beyond
            return (there, goal) if there <= elsewhere else (elsewhere, other_goal)

        (near, by), (far, by_other) = least(begin), least(other)
        return (near + gap, far + other_gap), (by, by_other)

    def _ends_of(self, spot: Spot) -> tuple[tuple[int, float], tuple[int, float]]:
        """Give the nodes at both ends of a spot's piece, and how far (m) they are."""
        if spot.piece not in self._pieces:
            u, v = self.network.ends[spot.piece].tolist()
            self._pieces[spot.piece] = (u, v, float(self.network.length[spot.piece]))
        u, v, length = self._pieces[spot.piece]
        return (u, spot.offset), (v, length - spot.offset)

    def _walk(self, start: int, goal: int) -> list[int]:
        """Give the nodes on a shortest way between two fixed nodes."""
        before = self._before[self._row[goal]]
        here = int(np.searchsorted(self._nodes, start))
        way = [start]
        while before[here] != NOWHERE:
            after = int(before[here])
            step, first = self._step_of[min(here, after), max(here, after)]
            inner = self._inner(step)
            way += [*(inner if first == way[-1] else reversed(inner)), int(self._nodes[after])]
            here = after
        return way

    def _inner(self, step: int) -> tuple[int, ...]:
        """Give the nodes that were taken out within a step, from its first node to its second."""
        if step not in self._ways:
            self._ways[step] = self._unfold(step)
        return self._ways[step]

    def _unfold(self, step: int) -> tuple[int, ...]:
        """Unfold a step without recursion: a long run of pipe is many steps deep."""
        found: list[int] = []
        stack = [(int(step), int(self._steps[step, 0]))]
        last = int(self._steps[step, 1])
        while stack:
            this, start = stack.pop()
            first, second = self._made_of[this].tolist()
            stop = int(self._steps[this].sum()) - start
            if first == _NONE:
                found.append(stop)
                continue
            if start not in self._steps[first]:
                first, second = second, first
            middle = int(self._steps[first].sum()) - start
            stack += [(second, middle), (first, start)]
        assert found[-1] == last, "a step ends where it says"
        return tuple(found[:-1])


def _straight(one: Spot, two: Spot) -> float:
    return abs(one.offset - two.offset) if one.piece == two.piece else np.inf


def _take_out(
    nodes: int, ends: np.ndarray, length: np.ndarray, kept: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Take out every node with at most two steps, but for those kept.

    ends: (steps, 2), no two alike and none from a node to itself. Gives all steps there ever were,
    their lengths (m), what each was made of (-1: nothing), and which are left.
    """
    count = len(ends)
    steps = np.zeros((count + nodes, 2), dtype=np.int64)
    steps[:count] = ends
    weight = np.zeros(count + nodes)
    weight[:count] = length
    made_of = np.full((count + nodes, 2), _NONE, dtype=np.int64)
    alive = np.zeros(count + nodes, dtype=bool)
    alive[:count] = True
    used = _eliminate(steps, weight, made_of, alive, kept, count)
    return steps[:used], weight[:used], made_of[:used], alive[:used]


@compiled
def _eliminate(
    steps: np.ndarray,
    weight: np.ndarray,
    made_of: np.ndarray,
    alive: np.ndarray,
    kept: np.ndarray,
    count: int,
) -> int:
    """Take nodes out in the order in which they come to have two steps; give the steps in all."""
    nodes = len(kept)
    # Each node's steps are a linked list of half steps (2 * step + side); dead ones fall out of it
    # when they are next met.
    head = np.full(nodes, -1, dtype=np.int64)
    after = np.full(2 * len(steps), -1, dtype=np.int64)
    degree = np.zeros(nodes, dtype=np.int64)
    for step in range(count):
        _link(step, steps, head, after, degree)
    waiting = np.zeros(nodes, dtype=np.bool_)
    queue = np.empty(nodes, dtype=np.int64)
    first = held = 0
    for node in range(nodes):
        if not kept[node] and degree[node] <= 2:
            waiting[node] = True
            queue[held] = node
            held += 1
    pair = np.empty(2, dtype=np.int64)
    others = np.empty(2, dtype=np.int64)
    while held:
        node = queue[first]
        first = (first + 1) % nodes
        held -= 1
        waiting[node] = False
        found = _cut_off(node, steps, head, after, alive, pair, others)
        degree[node] = 0
        for place in range(found):
            degree[others[place]] -= 1
        if found == 2:
            length = weight[pair[0]] + weight[pair[1]]
            if _gives_way(others, length, steps, weight, head, after, alive, degree):
                weight[count], alive[count] = length, True
                for side in range(2):
                    steps[count, side], made_of[count, side] = others[side], pair[side]
                _link(count, steps, head, after, degree)
                count += 1
        for place in range(found):
            other = others[place]
            if not kept[other] and not waiting[other] and degree[other] <= 2:
                queue[(first + held) % nodes] = other
                waiting[other] = True
                held += 1
    return count


@compiled
def _link(
    step: int, steps: np.ndarray, head: np.ndarray, after: np.ndarray, degree: np.ndarray
) -> None:
    """Put a step into the lists of its two nodes."""
    for side in range(2):
        node = steps[step, side]
        after[2 * step + side] = head[node]
        head[node] = 2 * step + side
        degree[node] += 1


@compiled
def _cut_off(
    node: int,
    steps: np.ndarray,
    head: np.ndarray,
    after: np.ndarray,
    alive: np.ndarray,
    pair: np.ndarray,
    others: np.ndarray,
) -> int:
    """Take the steps of a node (two at most) away: how many, which, and where they lead."""
    found = 0
    half = head[node]
    while half >= 0:
        step = half // 2
        if alive[step]:
            alive[step] = False
            pair[found] = step
            others[found] = steps[step, 1 - half % 2]
            found += 1
        half = after[half]
    head[node] = -1
    return found


@compiled
def _gives_way(
    between: np.ndarray,
    length: float,
    steps: np.ndarray,
    weight: np.ndarray,
    head: np.ndarray,
    after: np.ndarray,
    alive: np.ndarray,
    degree: np.ndarray,
) -> bool:
    """Tell whether two nodes have no step as short as a length; a longer one is taken away."""
    one, two = between[0], between[1]
    last, half = -1, head[one]
    while half >= 0:
        step, following = half // 2, after[half]
        if not alive[step]:
            if last < 0:
                head[one] = following
            else:
                after[last] = following
        elif steps[step, 1 - half % 2] == two:
            if weight[step] <= length:
                return False
            alive[step] = False
            degree[one] -= 1
            degree[two] -= 1
            return True
        else:
            last = half
        half = following
    return True
