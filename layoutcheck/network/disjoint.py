"""Two ways from the ends of a piece to two goals that share no node: a path through the piece.

Two breadth-first searches find them (an augmenting path each). They look at the network round the
piece only as far as they need to, so that a way of a few pipes costs the same on a site of any
size.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Collection
from functools import cache
from itertools import pairwise

import numpy as np

from layoutcheck.network.model import Network

Near = Callable[[int], tuple[int, ...]]


def two_ways(
    network: Network, connects: np.ndarray, piece: int, goals: Collection[int]
) -> tuple[list[int], list[int]] | None:
    """Find ways from both ends of a piece to two goals (nodes) that share no node.

    connects: the pieces that may be walked (a boolean array). Each way begins at an end of the
    piece and ends at a goal; None where there are none.
    """
    near = cache(lambda node: _neighbours(network, connects, node))
    u, v = map(int, network.ends[piece])
    first = _walk(near, goals, (u, v))
    if first is None:
        return None
    return _second(near, goals, (u, v), first)


def _neighbours(network: Network, connects: np.ndarray, node: int) -> tuple[int, ...]:
    pieces = network.at_node(node)
    ends = network.ends[pieces[connects[pieces]]]
    others = np.where(ends[:, 0] == node, ends[:, 1], ends[:, 0]).tolist()
    return tuple(dict.fromkeys(n for n in others if n != node))


def _walk(near: Near, goals: Collection[int], starts: tuple[int, ...]) -> list[int] | None:
    """Find a shortest way from any start to any goal."""
    before = dict.fromkeys(starts, -1)
    queue = deque(before)
    while queue:
        node = queue.popleft()
        if node in goals:
            way = [node]
            while before[way[-1]] != -1:
                way.append(before[way[-1]])
            return way[::-1]
        for other in near(node):
            if other not in before:
                before[other] = node
                queue.append(other)
    return None


def _second(
    near: Near, goals: Collection[int], starts: tuple[int, int], first: list[int]
) -> tuple[list[int], list[int]] | None:
    """Find a second way beside the first, letting it take over parts of the first.

    Each node is an entry and an exit (unit capacity between): a node of the first way is entered
    only to be left backwards along it.
    """
    on = {node: i for i, node in enumerate(first)}
    other = starts[0] if first[0] == starts[1] else starts[1]
    start = (other, "in") if other in on else (other, "out")
    before: dict[tuple[int, str], tuple[int, str] | None] = {start: None}
    queue = deque([start])
    end = None
    while queue and end is None:
        state = queue.popleft()
        for step in _steps(near, goals, first, on, state):
            if step == _GOAL:
                end = state
                break
            if step not in before:
                before[step] = state
                queue.append(step)
    if end is None:
        return None
    trail = [end]
    while (back := before[trail[-1]]) is not None:
        trail.append(back)
    return _untangle(first, [n for n, _ in trail[::-1]], on, starts)


_GOAL = (-1, "goal")


def _steps(
    near: Near,
    goals: Collection[int],
    first: list[int],
    on: dict[int, int],
    state: tuple[int, str],
) -> list[tuple[int, str]]:
    node, side = state
    steps: list[tuple[int, str]] = []
    if side == "in":  # entered a node of the first way from outside: only back along it
        if on[node] > 0:
            steps.append((first[on[node] - 1], "out"))
        return steps
    if node in goals and (node not in on or first[-1] != node):
        steps.append(_GOAL)
    for other in near(node):
        if node in on and on[node] + 1 < len(first) and first[on[node] + 1] == other:
            continue  # that arc is used by the first way
        steps.append((other, "in" if other in on else "out"))
    if node in on and on[node] > 0:
        steps.append((first[on[node] - 1], "out"))
    return steps


def _untangle(
    first: list[int], second: list[int], on: dict[int, int], starts: tuple[int, int]
) -> tuple[list[int], list[int]] | None:
    """Cancel arcs walked both ways and read off two ways that share no node."""
    arcs = set(pairwise(first))
    for a, b in pairwise(second):
        if (b, a) in arcs:
            arcs.discard((b, a))
        else:
            arcs.add((a, b))
    follow = dict(arcs)
    ways = []
    for start in starts:
        way = [start]
        while way[-1] in follow and len(way) <= len(arcs) + 1:
            way.append(follow[way[-1]])
        ways.append(way)
    if set(ways[0]) & set(ways[1]):
        return None
    return ways[0], ways[1]
