"""A jacket is a length of pipe: what lies under it, and where it lies wholly on what is allowed.

It is measured along all pipe, whatever the valves do, through joints and to both sides of a tee:
what lies within half its length of its centre lies under it.
"""

from __future__ import annotations

import numpy as np

from layoutcheck.network.metric import Metric
from layoutcheck.network.model import Spot
from layoutcheck.network.stretches import TOLERANCE, Interval, Stretches, complement, meet, spans

Under = tuple[int, Interval]


def under_jacket(all_pipe: Metric, spot: Spot, half: float) -> tuple[Under, ...]:
    """Give the pieces under a jacket with the offsets (m) that it covers on each.

    all_pipe: the metric on all pieces. spot: the jacket's centre. half: half its length (m). The
    centre's own piece comes first, then the others in order. What only touches an end is not under
    it, but for pieces of no length.
    """
    network = all_pipe.network
    near = all_pipe.near(spot, half)
    own = network.pieces[spot.piece]
    span = (max(0.0, spot.offset - half), min(own.length, spot.offset + half))
    found = [(own.index, span)]
    for index in network.at_nodes(near.nodes).tolist():
        if index == own.index:
            continue
        piece = network.pieces[index]
        from_u, from_v = (half - near.get(node, np.inf) for node in (piece.u, piece.v))
        if from_u > TOLERANCE:
            found.append((index, (0.0, min(piece.length, from_u))))
        if from_v > TOLERANCE:
            found.append((index, (max(0.0, piece.length - from_v), piece.length)))
    return tuple(found)


def wholly_on(
    all_pipe: Metric,
    allowed: Stretches,
    half: float,
    *,
    asked: np.ndarray,
    nodes: np.ndarray | None = None,
) -> Stretches:
    """Give where a jacket's centre may be so that all of the jacket lies on what is allowed.

    allowed: stretches of single points. half: half the jacket's length (m). asked: the pieces that
    can be forbidden at all (a boolean array); the others count as free. nodes: places that no
    jacket may lie across, whatever is allowed beside them.

    What is forbidden is what is left of each piece. From its edges the distance spreads along all
    pipe, and the centre keeps half a jacket away from it: on each piece closed intervals again.
    """
    network = all_pipe.network
    length, ends = network.length, network.ends
    single = asked.copy()
    single[list(allowed.split)] = False
    empty = single & (allowed.low > allowed.high + 2 * TOLERANCE)
    low, high = np.where(single & ~empty, allowed.low, 0.0), np.where(single, allowed.high, length)
    at_u, at_v = low > TOLERANCE, high < length - TOLERANCE  # what is forbidden begins at that end
    seeds = np.full(network.node_count, np.inf)
    near_u = np.where(at_u | empty, 0.0, np.where(at_v, high, np.inf))
    near_v = np.where(at_v | empty, 0.0, np.where(at_u, length - low, np.inf))
    np.minimum.at(seeds, ends, np.column_stack([near_u, near_v]))
    parts = {p: s for p, s in allowed.split.items() if asked[p]}
    for index, intervals in parts.items():
        gaps, (u, v) = complement(intervals, float(length[index])), ends[index].tolist()
        if gaps:
            seeds[u] = min(seeds[u], gaps[0][0])
            seeds[v] = min(seeds[v], length[index] - gaps[-1][1])
    if nodes is not None:
        seeds[nodes] = 0.0
    clear = _clear_of(all_pipe, seeds, half)
    first = np.where(empty, np.inf, np.maximum(clear.low, low + half * at_u))
    last = np.where(empty, -np.inf, np.minimum(clear.high, high - half * at_v))
    split = {p: meet(_shrunk(s, float(length[p]), half), clear.of(p)) for p, s in parts.items()}
    return Stretches(first, last, split)


def _clear_of(all_pipe: Metric, seeds: np.ndarray, half: float) -> Stretches:
    """Give what lies at least some way (m) from what lies so far (m) from each node."""
    length, ends = all_pipe.network.length, all_pipe.network.ends
    if not np.isfinite(seeds).any():
        return Stretches.everywhere(length)
    distance = all_pipe.from_seeds(seeds, within=half)
    low = np.maximum(0.0, half - distance[ends[:, 0]])
    return Stretches.between(low, np.minimum(length, length + distance[ends[:, 1]] - half))


def _shrunk(intervals: tuple[Interval, ...], length: float, half: float) -> tuple[Interval, ...]:
    """Take half a jacket (m) off each edge of some intervals that is no end of their piece."""
    edges = (
        (low + half * (low > TOLERANCE), high - half * (high < length - TOLERANCE))
        for low, high in intervals
    )
    return tuple(span for edge in edges for span in spans(edge))
