"""How much water still drains by gravity at the opened work."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from layoutcheck.document.models import GoesOn
from layoutcheck.network.columns import bore_area
from layoutcheck.network.cut import opened_pieces, reached
from layoutcheck.network.model import Network, PieceKind, Spot
from layoutcheck.network.state import World
from layoutcheck.network.stretches import TOLERANCE


@dataclass(frozen=True)
class Drained:
    """Water (m3) above the lowest opening in the part that is cut off with the work.

    volume is None where heights are missing; missing then names the junctions. counted is the
    volume with all the water of each piece whose heights are not known.
    """

    volume: float | None
    missing: tuple[str, ...]
    counted: float


@dataclass(frozen=True)
class _Wet:
    """Stretches of pipe in the part: pieces (n,), and where each begins and ends (m)."""

    pieces: np.ndarray
    start: np.ndarray
    end: np.ndarray


def lowest_opening(network: Network) -> float:
    """Give the height (m) of the lowest opened point; nan where one of them is not known.

    The faces of a valve at a junction may stand higher than the junction, where its body is.
    """
    return network.geometry("lowest opening", lambda: _lowest_opening(network))


def _lowest_opening(network: Network) -> float:
    nodes = list(network.work_nodes)
    at = {network.places[n].junction for n in nodes}
    stated = [j.elevation for j in network.layout.junctions if j.id in at]
    heights = [*network.elevation[nodes].tolist(), *(z for z in stated if z is not None)]
    return float(np.min(heights))


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
    inside = reached(world, sorted({spot.piece for spot, _ in plugs}), work)
    wet = _wet(world, inside, plugs)
    counted = float(_above(network, wet, lowest_opening(network)).sum())
    counted += _tank_water(world, inside)
    missing = (*_unknown(network, wet, work), *_beyond(network, inside))
    return Drained(None if missing else counted, missing, counted)


def _wet(world: World, inside: np.ndarray, plugs: Sequence[tuple[Spot, float]]) -> _Wet:
    """Give the stretches whose water is in the part: whole pieces, and those up to a jacket."""
    network = world.network
    whole = (network.kind == PieceKind.PIPE) & world.connects & inside[network.ends[:, 0]]
    halves: dict[int, list[tuple[float, float]]] = defaultdict(list)
    for spot, half in plugs:
        halves[spot.piece].append((spot.offset, half))
    rows: list[tuple[int, float, float]] = []
    for index in sorted(halves):
        whole[index] = False
        piece, first, last = network.pieces[index], min(halves[index]), max(halves[index])
        if inside[piece.u]:
            rows.append((index, 0.0, max(0.0, first[0] - first[1])))
        if inside[piece.v]:
            rows.append((index, min(piece.length, last[0] + last[1]), piece.length))
    full = np.flatnonzero(whole)
    cut = np.array(rows, dtype=float).reshape(-1, 3)
    return _Wet(
        np.concatenate([full, cut[:, 0].astype(np.int64)]),
        np.concatenate([np.zeros(len(full)), cut[:, 1]]),
        np.concatenate([network.length[full], cut[:, 2]]),
    )


def _beyond(network: Network, inside: np.ndarray) -> list[str]:
    """Name the ends in the part beyond which the pipe goes on, with water that nobody stated."""
    ends = network.geometry("goes on", lambda: _goes_on(network))
    return [f"how much water lies beyond junction {name}" for node, name in ends if inside[node]]


def _goes_on(network: Network) -> list[tuple[int, str]]:
    found = sorted(j.id for j in network.layout.junctions if j.goes_on is GoesOn.DEAD)
    return [(node, name) for name in found for node in network.junction_nodes[name]]


def _unknown(network: Network, wet: _Wet, work: list[int]) -> list[str]:
    nodes = np.unique(np.concatenate([network.ends[wet.pieces].ravel(), np.array(work)]))
    unknown = [network.places[n] for n in nodes[np.isnan(network.elevation[nodes])].tolist()]
    names = {f"elevation of junction {p.junction}" for p in unknown if p.junction is not None}
    return sorted(names) or (["elevations near the work"] if unknown else [])


def _above(network: Network, wet: _Wet, lowest: float) -> np.ndarray:
    """Give the water (m3) of each stretch above a height (m); all of it where one is unknown."""
    low, high = network.elevation[network.ends[wet.pieces]].T
    length = network.length[wet.pieces]
    slope = np.divide(high - low, length, out=np.zeros_like(length), where=length > 0.0)
    first, last = low + slope * wet.start, low + slope * wet.end
    bottom, top = np.minimum(first, last), np.maximum(first, last)
    share = np.ones_like(length)
    known = ~np.isnan(bottom) & (not math.isnan(lowest))
    dry = known & (top <= lowest + TOLERANCE)
    partly = known & ~dry & (bottom < lowest)
    share[partly] = (top[partly] - lowest) / (top[partly] - bottom[partly])
    share[dry] = 0.0
    return np.asarray(bore_area(network)[wet.pieces] * (wet.end - wet.start).clip(0.0) * share)


def standing_water(network: Network) -> np.ndarray:
    """Give the water (m3) of each piece that stands above the lowest opening.

    Where a height is unknown all of a piece's water counts.
    """
    every = np.arange(len(network.pieces))
    whole = _Wet(every, np.zeros(len(every)), network.length)
    return _above(network, whole, lowest_opening(network))


def _tank_water(world: World, inside: np.ndarray) -> float:
    gear = {g.id: g for g in world.network.layout.equipment}
    names = (n for node, ids in world.network.tanks.items() if inside[node] for n in ids)
    return sum(gear[n].volume or 0.0 for n in names)
