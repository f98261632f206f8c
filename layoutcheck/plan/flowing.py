"""One way by which a piece flows: a simple path through it between two terminals, or a loop.

The network's state tells which pieces flow and can name a way; here the same way is found fast
enough for thousands of closures: two ways that share no node, from the ends of the piece to two
terminals, by two breadth-first searches (an augmenting path each), with scipy's matrices.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from itertools import pairwise

from layoutcheck.network import World


@dataclass(frozen=True)
class FlowWay:
    """The nodes of a way and its two ends; or the pump whose loop it is.

    Both empty where the document states the flow.
    """

    nodes: tuple[int, ...] = ()
    ends: tuple[int, ...] = ()
    pump: str | None = None


Neighbours = dict[int, list[int]]


def neighbours_of(world: World) -> Neighbours:
    """Give each node's neighbours over what connects."""
    made: Neighbours = {}
    for u, v in world.network.ends[world.connects].tolist():
        if u != v:
            made.setdefault(u, []).append(v)
            made.setdefault(v, []).append(u)
    return made


def way_of_flow(world: World, piece: int, near: Neighbours) -> FlowWay | None:
    """Find one way by which a piece flows; None where it does not.

    near: neighbours_of the same world.
    """
    if not world.flowing[piece]:
        return None
    found = _two_ways(world, piece, near)
    if found is not None:
        nodes = (*reversed(found[0]), *found[1])
        return FlowWay(nodes, (nodes[0], nodes[-1]))
    loop = world.loops[piece]
    for pump in sorted(world.running_pumps):
        if loop >= 0 and world.loops[pump] == loop:
            return FlowWay(pump=world.network.pieces[pump].element)
    return FlowWay()


def _two_ways(world: World, piece: int, near: Neighbours) -> tuple[list[int], list[int]] | None:
    """Find ways from both ends of a piece to two terminals that share no node."""
    u, v = map(int, world.network.ends[piece])
    terminals = set(world.terminals)
    first = _walk(near, terminals, (u, v), {}, ())
    if first is None:
        return None
    return _second(near, terminals, (u, v), first)


def _walk(
    near: Neighbours,
    goals: set[int],
    starts: tuple[int, ...],
    before: dict[int, int],
    barred: tuple[int, ...],
) -> list[int] | None:
    """Find a shortest way from any start to any goal, keeping out of barred nodes."""
    queue = deque(s for s in starts if s not in barred)
    before.update(dict.fromkeys(queue, -1))
    while queue:
        node = queue.popleft()
        if node in goals:
            way = [node]
            while before[way[-1]] != -1:
                way.append(before[way[-1]])
            return way[::-1]
        for other in near.get(node, ()):
            if other not in before and other not in barred:
                before[other] = node
                queue.append(other)
    return None


def _second(
    near: Neighbours, goals: set[int], starts: tuple[int, int], first: list[int]
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
    near: Neighbours,
    goals: set[int],
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
    for other in near.get(node, ()):
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
