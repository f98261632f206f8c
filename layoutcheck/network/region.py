"""What still connects with some nodes once some pieces are plugged: the region round the work.

As a rule the plugs leave little: a wing, a branch. What was found is kept for as long as the plugs
near it are the same, so that plugs moved elsewhere cost nothing.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from layoutcheck.network.cut import WayIn, kept_pieces, opened_pieces, ways_met
from layoutcheck.network.spread import spread
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
        self._opened = opened_pieces(world.network)
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
        network = self.world.network
        walk = spread(network, kept_pieces(self.world, barriers), nodes)
        ways = tuple(ways_met(walk, self.world))
        if len(walk.order) > _LARGE:
            return Region(ways, None, barriers)
        touching = frozenset(network.at_nodes(walk.order).tolist())
        return Region(ways, touching, touching & barriers)
