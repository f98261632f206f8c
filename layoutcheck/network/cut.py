"""What the plugs and valves cut off: ways in to the work, and the pipes that alone decide it.

While working, plugs and valves that hold are removed from the network. What is still connected
with the work must hold no source and no pump.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from layoutcheck.document.named import Named
from layoutcheck.network.blocks import bridges_between
from layoutcheck.network.model import Network, PieceKind
from layoutcheck.network.spread import Spread, spread
from layoutcheck.network.state import World


@dataclass(frozen=True)
class WayIn:
    """A way by which water still reaches the work.

    source: what it comes from. nodes: from the source to the work. pump: the id of the pump that it
    comes from, where it is one: locked off, it threatens no more.
    """

    source: Named
    nodes: tuple[int, ...]
    pump: str | None = None


def threats_of(world: World) -> dict[int, Named]:
    """Name what water may come from while working, by node: sources, tanks and pumps.

    Locked-off machines are none. A pump that is opened is one until it is locked off: started, it
    throws water at whoever works on it.
    """
    return world.once("threats", lambda: _threats_of(world))


def pump_threats(world: World) -> dict[str, str]:
    """Give the pumps that may run while working, by the name under which each threatens."""
    elements = world.network.pieces.elements
    return {f"pump {elements[i]}": elements[i] for i in sorted(world.running_pumps)}


def _threats_of(world: World) -> dict[int, Named]:
    network = world.network
    nodes = {node: Named("tank", names[0]) for node, names in world.live_tanks.items()}
    for index in sorted(world.running_pumps):
        piece = network.pieces[index]
        nodes[piece.u] = nodes[piece.v] = Named("pump", piece.element)
    for node, names in network.sources.items():
        nodes[node] = Named("source", names[0])
    return nodes


def opened_pieces(network: Network) -> frozenset[int]:
    """Give the pieces that are opened: a plug in one of them is no barrier."""
    return frozenset(p for place in network.work for p in place.pieces)


def kept_pieces(world: World, plugged: Collection[int]) -> np.ndarray:
    """Tell which pieces still connect once some pieces are plugged (a boolean array).

    The opened pieces connect even if a closed valve stands there: it is being taken out.
    """
    keep = world.connects.copy()
    keep[list(plugged)] = False
    keep[list(opened_pieces(world.network))] = True
    return keep


def ways_in(world: World, plugged: Collection[int], nodes: Collection[int]) -> list[WayIn]:
    """Give the shortest way in from each threat that still connects with the opened nodes."""
    return ways_met(_walk(world, plugged, nodes), world)


def ways_met(walk: Spread, world: World) -> list[WayIn]:
    """Read off the way from each threat that a walk from the opened nodes met, the nearest first.

    Of ways from one threat with as few pieces, that from the node with the lowest number is told.
    """
    threats, pumps = threats_of(world), pump_threats(world)
    there = np.fromiter(threats, dtype=np.int64, count=len(threats))
    hits = there[walk.met()[there]].tolist()
    ways = sorted((walk.way(node) for node in hits), key=lambda way: (len(way), way[0]))
    found: dict[Named, WayIn] = {}
    for way in ways:
        name = threats[way[0]]
        found.setdefault(name, WayIn(name, tuple(way), pumps.get(name)))
    return list(found.values())


def reached(world: World, plugged: Collection[int], nodes: Collection[int]) -> np.ndarray:
    """Tell which nodes stay connected with the opened nodes (a boolean array)."""
    return _walk(world, plugged, nodes).met()


def is_cut_off(world: World, plugged: Collection[int], nodes: Collection[int]) -> bool:
    """Tell whether no threat connects with the opened nodes any more."""
    inside = reached(world, plugged, nodes)
    return not any(inside[node] for node in threats_of(world))


def _walk(world: World, plugged: Collection[int], nodes: Collection[int]) -> Spread:
    return spread(world.network, kept_pieces(world, plugged), nodes)


def deciding_pieces(
    world: World, plugged: Collection[int], *, besides: Collection[str] = ()
) -> np.ndarray:
    """Find the pieces of pipe that, plugged as well, cut the work off (a boolean array).

    besides: names of threats that this plug need not keep out, since others must.

    With the given plugs alone the work is cut off or it is not. If it is, every piece of pipe
    will do. If not, a further plug cuts the work off exactly when its piece is a bridge between
    all that threatens and all that is opened, with either side joined into one node. Opened pieces
    never count.
    """
    network = world.network
    pipes: np.ndarray = network.kind == PieceKind.PIPE
    pipes = pipes.copy()
    pipes[list(opened_pieces(network))] = False
    work = network.work_nodes
    threats = threats_of(world)
    inside = reached(world, plugged, work)
    live = [n for n in threats if inside[n] and threats[n] not in besides]
    if not live:
        return pipes
    if set(live) & set(work):
        return np.zeros_like(pipes)
    keep = kept_pieces(world, plugged)
    deciding: np.ndarray = _bridging(network, keep, set(work), set(live)) & pipes
    return deciding


def _bridging(network: Network, keep: np.ndarray, work: set[int], live: set[int]) -> np.ndarray:
    """Find the kept pieces that are bridges between two sets of nodes."""
    start, stop = network.node_count, network.node_count + 1
    joined = np.arange(network.node_count + 2)
    joined[list(work)] = start
    joined[list(live)] = stop
    kept = np.flatnonzero(keep)
    ends = joined[network.ends[kept]]
    on_way = np.zeros(len(network.pieces), dtype=bool)
    on_way[kept] = bridges_between(network.node_count + 2, ends, start, stop)
    return on_way
