"""The water below a place that can rise to it: what has to be cooled with a plug there."""

from __future__ import annotations

import math

import numpy as np

from layoutcheck.network.columns import bore_area
from layoutcheck.network.model import Network, Spot
from layoutcheck.network.state import World

# Two heights nearer to each other than this (m) are one.
_AS_HIGH = 1e-6


def rising_below(
    world: World, spot: Spot, area: float, *, enough: float = math.inf
) -> float | None:
    """Give the length of the water that connects below a spot and can rise to it.

    Cooled water sinks, and warmer water takes its place, along every way that never rises: down,
    and along level pipe. All of it counts, as metres of the pipe at the spot that would hold as
    much.

    world: what connects. area: of the bore at the spot, m2. enough: no more than about this is
    looked for, m.
    Returns m; none where a height or a length on the way is not known.
    """
    network = world.network
    piece = network.pieces[spot.piece]
    heights = {node: float(network.elevation[node]) for node in (piece.u, piece.v)}
    if any(math.isnan(height) for height in heights.values()):
        return None
    lowest = min(heights.values()) + _AS_HIGH
    ends = [node for node, height in heights.items() if height <= lowest]
    length = {piece.u: spot.offset, piece.v: piece.length - spot.offset}
    below = _water_below(world, ends, spot.piece, enough * area)
    if below is None or not math.isfinite(piece.length + below):
        return None
    return sum(length[node] for node in ends) + below / area


def _water_below(world: World, starts: list[int], behind: int, enough: float) -> float | None:
    """Add up the water (m3) that is reached from some nodes without rising, but for one piece."""
    network, area = world.network, bore_area(world.network)
    met, waiting, seen, total = set(starts), list(starts), {behind}, 0.0
    while waiting and total < enough:
        node = waiting.pop()
        for index in _onward(world, node):
            other = _far_end(network, index, node)
            if index in seen or network.elevation[other] > network.elevation[node] + _AS_HIGH:
                continue
            if math.isnan(network.elevation[other]):
                return None
            seen.add(index)
            total += float(area[index] * network.length[index])
            if other not in met:
                met.add(other)
                waiting.append(other)
    return total


def _onward(world: World, node: int) -> list[int]:
    touching = world.network.at_node(node)
    found: list[int] = touching[world.connects[touching]].tolist()
    return found


def _far_end(network: Network, index: int, node: int) -> int:
    u, v = np.asarray(network.ends[index]).tolist()
    return int(v if u == node else u)
