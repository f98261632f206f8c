"""What still connects with some nodes once some pieces are plugged: the region round the work.

As a rule the plugs leave little: a wing, a branch. The walk looks at that alone, so that it costs
the same on a site of any size; what it used of the network's arrays it puts back in order before it
ends.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

import numpy as np

from layoutcheck.compiled import compiled
from layoutcheck.network.cut import WayIn, opened_pieces, threats_of
from layoutcheck.network.metric import walk_back
from layoutcheck.network.state import World


@dataclass(frozen=True)
class Region:
    """The ways into a region, and what they depend on.

    ways: the shortest way in from each threat that still connects. touching: the pieces at its
    nodes, or None if it is large. barriers: the pieces that were plugged, of those at its nodes.
    """

    ways: tuple[WayIn, ...]
    touching: frozenset[int] | None
    barriers: frozenset[int]

    def holds(self, barriers: frozenset[int]) -> bool:
        """Tell whether it is the same region with other pieces plugged: with the same at hand."""
        near = barriers if self.touching is None else barriers & self.touching
        return near == self.barriers


# A region of more nodes than this is kept only for the very same plugs.
_LARGE = 5000


class Regions:
    """The regions round opened nodes in one world, kept while the plugs near them are the same."""

    def __init__(self, world: World) -> None:
        """Keep the world."""
        self.world = world
        self.threats: Mapping[int, str] = threats_of(world)
        self._keep = world.connects.copy()
        self._opened = opened_pieces(world.network)
        self._keep[list(self._opened)] = True
        count = world.network.node_count
        self._met = np.full(count, -1, dtype=np.int64)
        self._order = np.empty(count, dtype=np.int64)
        self._before = np.empty(count, dtype=np.int64)
        self._known: dict[tuple[int, ...], Region] = {}

    def ways_in(self, plugged: Collection[int], nodes: tuple[int, ...]) -> tuple[WayIn, ...]:
        """Give the shortest way in from each threat, as `cut.ways_in` does."""
        barriers = frozenset(plugged)
        if not barriers.isdisjoint(self._opened):
            barriers -= self._opened
        known = self._known.get(nodes)
        if known is None or not known.holds(barriers):
            known = self._known[nodes] = self._walk(barriers, nodes)
        return known.ways

    def _walk(self, barriers: frozenset[int], nodes: tuple[int, ...]) -> Region:
        network, cut = self.world.network, list(barriers)
        were = self._keep[cut]
        self._keep[cut] = False
        count = _spread_near(
            *network.incidence,
            network.ends,
            self._keep,
            np.array(sorted(nodes), dtype=np.int64),
            self._met,
            self._order,
            self._before,
        )
        found, before = self._order[:count].copy(), self._before[:count].copy()
        self._met[found] = -1
        self._keep[cut] = were
        ways = tuple(self._ways(found, before))
        if len(found) > _LARGE:
            return Region(ways, None, barriers)
        touching = frozenset(network.at_nodes(found).tolist())
        return Region(ways, touching, touching & barriers)

    def _ways(self, found: np.ndarray, before: np.ndarray) -> list[WayIn]:
        """Read off the way from each threat that was met, the nearest first."""
        order = found.tolist()
        if len(order) < len(self.threats):
            hits = [place for place, node in enumerate(order) if node in self.threats]
        else:
            met = np.isin(found, np.fromiter(self.threats, dtype=np.int64))
            hits = np.flatnonzero(met).tolist()
        ways: dict[str, WayIn] = {}
        for place in _by_steps(hits, order, before):
            name = self.threats[order[place]]
            if name not in ways:
                ways[name] = WayIn(name, tuple(order[p] for p in walk_back(before, place)))
        return list(ways.values())


def _by_steps(hits: list[int], order: list[int], before: np.ndarray) -> list[int]:
    """Sort places by their steps from the nodes begun at, then by the number of the node."""
    steps = {place: len(walk_back(before, place)) for place in hits}
    return sorted(hits, key=lambda place: (steps[place], order[place]))


@compiled
def _spread_near(
    starts: np.ndarray,
    touching: np.ndarray,
    ends: np.ndarray,
    keep: np.ndarray,
    seeds: np.ndarray,
    met: np.ndarray,
    order: np.ndarray,
    before: np.ndarray,
) -> int:
    """Walk breadth first over the kept pieces; count the nodes met.

    met: -1 for every node; those met get their place. order, before: filled with the nodes in the
    order in which they are met, and the place before each.
    """
    count = len(seeds)
    for place in range(count):
        order[place] = seeds[place]
        before[place] = -1
        met[seeds[place]] = place
    place = 0
    while place < count:
        node = order[place]
        for at in range(starts[node], starts[node + 1]):
            piece = touching[at]
            if not keep[piece]:
                continue
            other = ends[piece, 1] if ends[piece, 0] == node else ends[piece, 0]
            if met[other] < 0:
                met[other] = count
                order[count] = other
                before[count] = place
                count += 1
        place += 1
    return count
