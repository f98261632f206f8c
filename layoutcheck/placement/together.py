"""The stations of several plugs as a tape reads them: they pass together as they are printed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from layoutcheck.network.stretches import TOLERANCE, Interval, meet
from layoutcheck.placement.nearest import clear_at
from layoutcheck.placement.tape import Reading, read_alike, read_into
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.judge import placing_rules


def own_spans(case: Case) -> dict[str, Interval]:
    """Give for each plug the stations (m) round it that it may have, were it alone."""
    found = {}
    for plug in case.plugs:
        clear = clear_at(replace(case, plugs=(plug,)), plug)
        found[plug.id] = (clear.start, clear.end)
    return found


def read_together(case: Case, own: Mapping[str, Interval]) -> dict[str, Reading]:
    """Read the stations of plugs that pass together off a tape, so that they still do.

    own: the stations (m) that each plug may have by itself. One plug after another is read, those
    with most room first, and each keeps to what those before it left.
    """
    units = case.layout.units
    found: dict[str, Reading] = {}
    for plug in sorted(case.plugs, key=lambda p: (own[p.id][0] - own[p.id][1], p.id)):
        here = (plug.station, plug.station)
        reading = read_into(plug.station, _span(case, plug, own[plug.id]) or here, units)
        found[plug.id] = reading
        case = _at(case, plug, reading.value)
    second = case
    for plug in case.plugs:
        second = _at(second, plug, found[plug.id].other)
    if any(_span(second, plug, (-np.inf, np.inf)) is None for plug in second.plugs):
        found = {name: read_alike(reading, units) for name, reading in found.items()}
    return found


def _at(case: Case, plug: PlacedPlug, station: float) -> Case:
    return case.moved(plug, case.network.spot(plug.pipe, station))


def _span(case: Case, plug: PlacedPlug, own: Interval) -> Interval | None:
    """Give the stations (m) round a plug that are its own and keep off the others, if any."""
    piece = plug.spot.piece
    start = float(case.network.pieces[piece].start)
    left: tuple[Interval, ...] = ((own[0] - start, own[1] - start),)
    for rule in placing_rules().values():
        if rule.between_plugs:
            left = meet(left, rule.allows_on(case, plug, np.array([piece])).of(0))
    for low, high in left:
        if low - TOLERANCE <= plug.spot.offset <= high + TOLERANCE:
            return start + low, start + high
    return None
