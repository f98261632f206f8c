"""What a plug holds back of the water that would drain, and where it would go on doing so."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial

import numpy as np

from layoutcheck.network import Spot, Trust
from layoutcheck.network.cut import reached, ways_in
from layoutcheck.network.drain import drained_water, standing_water
from layoutcheck.network.held import held_water
from layoutcheck.network.stretches import TOLERANCE, Interval
from layoutcheck.rules.case import Case, PlacedPlug

# So much more water at the work (m3) is worth knowing of: a bucket. Own choice; it only decides
# whether a second place is told beside the nearest one.
BUCKET = 0.010
_DROP = 1e-6


def drained(case: Case) -> float:
    """Give the water (m3) that drains at the work, as stated; all where heights are unknown."""
    plugs = [(p.spot, p.jacket / 2) for p in case.plugs]
    return drained_water(case.worlds.working(Trust.STATED), plugs).counted


def holds_back(case: Case, plug: PlacedPlug) -> bool:
    """Tell whether a plug keeps any pressure or water from the work that the others do not.

    Where water comes round to both its ends, it may do so once the other ways are shut.
    """
    work = case.network.work_nodes
    others = sorted({p.spot.piece for p in case.plugs if p.id != plug.id})
    every = [*others, plug.spot.piece]
    for trust in (Trust.STATED, Trust.PROVEN):
        world = case.worlds.working(trust)
        left = {w.source for w in ways_in(world, every, work)}
        if left != {w.source for w in ways_in(world, others, work)}:
            return True
        if left and reached(world, every, work)[case.network.ends[plug.spot.piece]].all():
            return True
    return drained(case) < drained(case.without(plug)) - _DROP


def keeping_spans(case: Case, plug: PlacedPlug) -> Mapping[int, Interval]:
    """Give where, by piece (m), a plug lets at most a bucket more drain than where it is marked.

    Along a piece the water that it holds back rises or falls, so each piece has one interval.
    """
    network, most = case.network, drained(case) + BUCKET
    others = sorted({p.spot.piece for p in case.plugs if p.id != plug.id})
    beyond = held_water(case.worlds.working(Trust.STATED), others)
    need = drained(case.without(plug)) - most
    whole, some = beyond >= need, beyond + standing_water(network) >= need - _DROP
    found = {int(p): (0.0, float(network.length[p])) for p in np.flatnonzero(whole)}
    for piece in np.flatnonzero(some & ~whole & case.pipes_of_pieces).tolist():
        length = float(network.length[piece])
        keeps = partial(_keeps, case, plug, piece, most)
        first, last = keeps(0.0), keeps(length)
        if first or last:
            low = 0.0 if first else _edge(keeps, (length, 0.0))
            found[piece] = (low, length if last else _edge(keeps, (0.0, length)))
    return found


def _keeps(case: Case, plug: PlacedPlug, piece: int, most: float, offset: float) -> bool:
    return drained(case.moved(plug, Spot(piece, offset))) <= most


def _edge(keeps: Callable[[float], bool], span: Interval) -> float:
    """Give the last offset (m) that keeps, from an end that does towards one that does not."""
    good, bad = span
    while abs(bad - good) > TOLERANCE:
        middle = (good + bad) / 2
        good, bad = (middle, bad) if keeps(middle) else (good, middle)
    return good
