"""How much water still drains by gravity at the opened work."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from layoutcheck.network.cut import opened_pieces, reached
from layoutcheck.network.model import Network, PieceKind, Spot
from layoutcheck.network.state import World
from layoutcheck.network.stretches import TOLERANCE


@dataclass(frozen=True)
class Drained:
    """Water (m3) above the lowest opening in the part that is cut off with the work.

    volume is None where heights are missing; missing then names the junctions.
    """

    volume: float | None
    missing: tuple[str, ...]


def drained_water(world: World, plugs: Sequence[tuple[Spot, float]]) -> Drained:
    """Sum the water that stands above the lowest opened point in the part cut off with the work.

    plugs: (spot, half the jacket's length in m). The pipe's bore from the part up to the near end
    of each jacket is counted. Water held in a trap is counted as draining: more is the safe side.
    """
    network = world.network
    work = list(network.work_nodes)
    # A plug in what is opened holds nothing back.
    opened = opened_pieces(network)
    plugs = [(spot, half) for spot, half in plugs if spot.piece not in opened]
    plugged = sorted({spot.piece for spot, _ in plugs})
    inside = reached(world, plugged, work)
    lowest = float(np.min(network.elevation[work]))
    stretches = _stretches(network, inside, plugs, set(plugged), world.connects)
    missing = _unknown(network, stretches, work)
    if missing or math.isnan(lowest):
        return Drained(None, tuple(missing))
    volume = sum(water_above(network, piece, start, end, lowest) for piece, start, end in stretches)
    volume += _tank_water(world, inside)
    return Drained(float(volume), ())


def _stretches(
    network: Network,
    inside: np.ndarray,
    plugs: Sequence[tuple[Spot, float]],
    plugged: set[int],
    connects: np.ndarray,
) -> list[tuple[int, float, float]]:
    found = []
    halves: dict[int, list[tuple[float, float]]] = defaultdict(list)
    for spot, half in plugs:
        halves[spot.piece].append((spot.offset, half))
    for piece in network.pieces:
        if piece.kind is not PieceKind.PIPE:
            continue
        if piece.index in plugged:
            first, last = min(halves[piece.index]), max(halves[piece.index])
            if inside[piece.u]:
                found.append((piece.index, 0.0, max(0.0, first[0] - first[1])))
            if inside[piece.v]:
                start = min(piece.length, last[0] + last[1])
                found.append((piece.index, start, piece.length))
        elif connects[piece.index] and inside[piece.u]:
            found.append((piece.index, 0.0, piece.length))
    return found


def _unknown(
    network: Network, stretches: list[tuple[int, float, float]], work: list[int]
) -> list[str]:
    nodes = {n for i, _, _ in stretches for n in (network.pieces[i].u, network.pieces[i].v)}
    nodes |= set(work)
    unknown = [network.places[n] for n in sorted(nodes) if math.isnan(network.elevation[n])]
    names = {f"elevation of junction {p.junction}" for p in unknown if p.junction is not None}
    return sorted(names) or (["elevations near the work"] if unknown else [])


def water_above(network: Network, index: int, start: float, end: float, lowest: float) -> float:
    """Give the water (m3) in a stretch of a piece (offsets in m) above a height (m), all known."""
    piece = network.pieces[index]
    bore = network.dimensions[piece.element].inside_diameter
    area = math.pi * bore**2 / 4
    if end <= start:
        return 0.0
    rise = float(network.elevation[piece.v] - network.elevation[piece.u])
    slope = rise / piece.length if piece.length else 0.0
    low = float(network.elevation[piece.u]) + slope * start
    high = float(network.elevation[piece.u]) + slope * end
    bottom, top = min(low, high), max(low, high)
    if top <= lowest + TOLERANCE:
        return 0.0
    share = 1.0 if bottom >= lowest else (top - lowest) / (top - bottom)
    return area * (end - start) * share


def _tank_water(world: World, inside: np.ndarray) -> float:
    gear = {g.id: g for g in world.network.layout.equipment}
    names = (n for node, ids in world.network.tanks.items() if inside[node] for n in ids)
    return sum(gear[n].volume or 0.0 for n in names)
