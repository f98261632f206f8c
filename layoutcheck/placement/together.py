"""The stations of several plugs as a tape reads them: they pass together as they are printed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from layoutcheck.network.stretches import TOLERANCE, Interval, meet
from layoutcheck.network.tape import Reading, read_alike, read_into
from layoutcheck.placement.nearest import clear_at
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.judge import placing_rules

# m: a little over a sixteenth of an inch, the coarser of the two tapes' marks.
_A_MARK = 0.002


def own_spans(case: Case) -> dict[str, Interval]:
    """Give for each plug the stations (m) round it that it may have, were it alone."""
    found = {}
    for plug in case.plugs:
        clear = clear_at(replace(case, plugs=(plug,)), plug)
        found[plug.id] = (clear.start, clear.end)
    return found


def windows(case: Case) -> dict[str, Interval]:
    """Give for each plug the stations (m) about its own at which it may be read off any tape.

    However each plug is read in its window, all still pass together. A plug that passes nowhere
    near has its own station alone. The nearest mark of a usual tape lies within `_A_MARK`.
    """
    own = own_spans(case)
    found: dict[str, Interval] = {}
    read: list[PlacedPlug] = []  # those before it, at both ends of their windows
    for plug in _roomiest_first(case, own):
        later = [p for p in case.plugs if p.id not in found and p is not plug]
        around = replace(case, plugs=(*read, *later, plug))
        low, high = _span(around, plug, own[plug.id]) or (plug.station, plug.station)
        window = max(low, plug.station - _A_MARK), min(high, plug.station + _A_MARK)
        found[plug.id] = window
        for name, at in zip("ab", window, strict=True):
            there = case.placed(plug, case.network.spot(plug.pipe, at))
            read.append(replace(there, id=f"{plug.id} {name}"))
    return found


def _roomiest_first(case: Case, own: Mapping[str, Interval]) -> list[PlacedPlug]:
    return sorted(case.plugs, key=lambda p: (own[p.id][0] - own[p.id][1], p.id))


def read_together(case: Case, own: Mapping[str, Interval]) -> dict[str, Reading]:
    """Read the stations of plugs that pass together off a tape, so that they still do.

    own: the stations (m) that each plug may have by itself. One plug after another is read, those
    with most room first, and each keeps to what those before it left.
    """
    units = case.layout.units
    found: dict[str, Reading] = {}
    for plug in _roomiest_first(case, own):
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
