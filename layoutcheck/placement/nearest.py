"""The nearest compliant location of a plug, exactly.

Each rule that depends on place leaves closed intervals on each piece of pipe. What all of them
leave, on the pieces where a plug would still isolate the work, are the clear stretches. The
nearest point of a stretch to the mark is one of its ends, or the mark itself, since the distance
along the pipe falls and rises linearly on a piece. Nothing is sampled.

Ties: of places equally near, the one on the pipe whose id sorts first is taken, then the lower
station. A stretch of no length is a place like any other, with no room to spare.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property

import numpy as np

from layoutcheck.network import Spot
from layoutcheck.network.stretches import TOLERANCE, Interval
from layoutcheck.network.tape import Reading, read_into
from layoutcheck.placement.allowed import Allowed
from layoutcheck.placement.deciding import deciding
from layoutcheck.placement.keeping import BUCKET, drained, holds_back, keeping_spans
from layoutcheck.placement.told import ClearStretch, ShutOut, clear_list, shut_list
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.judge import judge_about
from layoutcheck.rules.outcome import Judgement, Outcome

# Two ways to a place whose lengths differ by less than this (m) are a tie.
_TIE = 1e-9


@dataclass(frozen=True)
class Proposal:
    """A place to move a plug to. travel is developed length (m) from the mark.

    clear: the stretch that it lies in. tape: the station read off a tape, into that stretch.
    remaining: what still does not hold of this plug once it stands there, judged afresh.
    """

    spot: Spot
    pipe: str
    station: float
    tape: Reading
    travel: float
    clear: ClearStretch
    remaining: tuple[Judgement, ...]


@dataclass(frozen=True)
class Placing:
    """All that is known of where one plug may stand.

    isolates: whether the places given also cut the work off; where no place of this plug alone can
    do that, they keep out what the plug keeps out now. clear and shut_out are written out when they
    are first asked for: they may run to the whole site, and the nearest place needs neither.
    """

    plug: str
    nearest: Proposal | None
    isolates: bool
    allowed: Allowed = field(repr=False, compare=False)
    on: date | None = field(default=None, repr=False, compare=False)

    @cached_property
    def holds_back(self) -> bool:
        """Tell whether the plug, where it is marked, keeps anything back from the work."""
        return not self.allowed.case.network.work or holds_back(
            self.allowed.case, self.allowed.plug
        )

    @cached_property
    def keeping(self) -> Proposal | None:
        """Give the nearest place that lets hardly more water drain, where the nearest lets much."""
        case, plug, nearest = self.allowed.case, self.allowed.plug, self.nearest
        if not case.network.work or nearest is None or nearest.travel <= TOLERANCE:
            return None
        if drained(case.moved(plug, nearest.spot)) <= drained(case) + BUCKET:
            return None
        allowed = self.allowed.within(keeping_spans(case, plug))
        best = _nearest(allowed)
        return None if best is None else _propose(allowed, best, self.on)

    @cached_property
    def clear(self) -> tuple[ClearStretch, ...]:
        """Give the stretches in which the plug passes every rule."""
        return clear_list(self.allowed)

    @cached_property
    def shut_out(self) -> tuple[ShutOut, ...]:
        """Give the stretches from which rules shut the plug out, and which rules."""
        return shut_list(self.allowed)


def place_plug(case: Case, plug: PlacedPlug, *, on: date | None = None) -> Placing:
    """Find the clear stretches of a plug and the nearest compliant place to its mark.

    on: the day of judgement, for waivers. The other plugs stay where they are. A mark that already
    passes is its own nearest place, at travel 0.
    """
    pieces, isolates = deciding(case, plug)
    allowed = Allowed(case, plug, pieces)
    best = _nearest(allowed)
    nearest = None if best is None else _propose(allowed, best, on)
    allowed.forget()
    return Placing(plug=plug.id, nearest=nearest, isolates=isolates, allowed=allowed, on=on)


# The search widens from this far (m), by this much each time, ...
_FIRST_LOOK, _WIDER = 4.0, 4.0
# ... until so many nodes have been walked to; from there on the whole site is asked at once.
_MANY = 20_000


def _nearest(allowed: Allowed) -> tuple[float, Spot, Interval] | None:
    """Find the nearest point of the clear stretches: (travel, spot, its interval).

    It looks round the mark first: as a rule a place is found there, and the site stays unread.
    """
    worlds, network = allowed.case.worlds, allowed.case.network
    within, walked = _FIRST_LOOK, -1
    while True:
        near = worlds.all_pipe.near(allowed.plug.spot, within)
        touching = network.at_nodes(near.nodes)
        part = allowed.part(np.union1d(touching, [allowed.plug.spot.piece]))
        best = _nearest_of(part, near.to(network.ends[part.pieces]))
        if best is not None and best[0] <= within:
            return best
        if len(near) == walked or len(near) > _MANY:
            break
        within, walked = within * _WIDER, len(near)
    distance = worlds.along(allowed.plug.spot).distance
    return _nearest_of(allowed, distance[network.ends[allowed.pieces]])


def _nearest_of(allowed: Allowed, distance: np.ndarray) -> tuple[float, Spot, Interval] | None:
    """Find the nearest point of a allowed's pieces, looking at them from near to far.

    distance: (pieces, 2) how far (m) the ends of each are; inf where that is not known.
    """
    least = _least_travel(allowed, distance)
    met: dict[int, list[tuple[float, Spot, Interval]]] = {}
    best = np.inf
    for place in np.argsort(least, kind="stable").tolist():
        if not least[place] <= best + 4 * TOLERANCE or math.isinf(least[place]):
            break
        ways = _ways(allowed, place, distance[place].tolist())
        if ways:
            met[place] = ways
            best = min(best, *(w[0] for w in ways))
    return _first_of_the_nearest(allowed, [way for place in sorted(met) for way in met[place]])


def _least_travel(allowed: Allowed, distance: np.ndarray) -> np.ndarray:
    """Bound the travel (m) to each piece from below, by its outermost clear points."""
    clear, length = allowed.unsettled, allowed.case.network.length[allowed.pieces]
    low, high = clear.low.copy(), clear.high.copy()
    for place, parts in clear.split.items():
        low[place], high[place] = (parts[0][0], parts[-1][1]) if parts else (np.inf, -np.inf)
    least: np.ndarray = np.minimum(distance[:, 0] + low, distance[:, 1] + length - high)
    least[allowed.pieces == allowed.plug.spot.piece] = 0.0
    least[low > high + 2 * TOLERANCE] = np.inf
    return least


def _first_of_the_nearest(
    allowed: Allowed, ways: Iterable[tuple[float, Spot, Interval]]
) -> tuple[float, Spot, Interval] | None:
    """Choose the least travel (m); of ties the first pipe, then the lower station."""
    best: tuple[float, Spot, Interval] | None = None
    best_key: tuple[str, float] = ("", 0.0)
    for way in ways:
        key = allowed.case.network.station(way[1])
        nearer = best is None or way[0] < best[0] - _TIE
        tied = best is not None and abs(way[0] - best[0]) <= _TIE and key < best_key
        if nearer or tied:
            best, best_key = way, key
    return best


def _ways(
    allowed: Allowed, place: int, ends: Sequence[float]
) -> list[tuple[float, Spot, Interval]]:
    """Give the least travel (m) to each clear interval of a piece, and where it is met.

    ends: how far (m) the piece's two ends are.
    """
    piece = int(allowed.pieces[place])
    found = []
    for interval in allowed.clear(place):
        travel, offset = _closest(allowed, piece, ends, interval)
        if math.isfinite(travel):
            found.append((travel, Spot(piece, offset), interval))
    return found


def _closest(
    allowed: Allowed, piece: int, ends: Sequence[float], interval: Interval
) -> tuple[float, float]:
    """Give the least travel (m) to an interval of a piece, and the offset where it is met."""
    low, high = interval
    mark = allowed.plug.spot
    length = float(allowed.case.network.length[piece])
    ways = [(ends[0] + low, low), (ends[1] + length - high, high)]
    if mark.piece == piece:
        own = min(max(mark.offset, low), high)
        if abs(own - mark.offset) <= TOLERANCE:
            own = mark.offset  # exactly on a limit: rounding must not move the plug
        ways.append((abs(own - mark.offset), own))
    least = min(ways)[0]
    # Equally far by both ends, as on a loop: the lower station, whatever the last bit says.
    return min((w for w in ways if w[0] <= least + _TIE), key=lambda w: w[1])


def _propose(allowed: Allowed, best: tuple[float, Spot, Interval], on: date | None) -> Proposal:
    case, plug = allowed.case, allowed.plug
    travel, spot, _ = best
    pipe, station = case.network.station(spot)
    clear = _stretch_at(allowed, spot)
    moved = case.moved(plug, spot) if travel > 0.0 else case
    remaining = tuple(
        j
        for j in judge_about(moved, moved.plug(plug.id), on=on)
        if j.outcome in {Outcome.BROKEN, Outcome.UNDECIDED, Outcome.FAULT}
    )
    return Proposal(
        spot=spot,
        pipe=pipe,
        station=station,
        tape=read_into(station, (clear.start, clear.end), case.layout.units),
        travel=travel,
        clear=clear,
        remaining=remaining,
    )


def _stretch_at(allowed: Allowed, spot: Spot) -> ClearStretch:
    """Give the clear stretch that a spot lies in, over joints of its pipe; itself if in none."""
    network = allowed.case.network
    pipe, station = network.station(spot)
    for stretch in clear_list(allowed.part(np.array(network.pieces_of[pipe]))):
        if stretch.start - TOLERANCE <= station <= stretch.end + TOLERANCE:
            return ClearStretch(pipe, min(stretch.start, station), max(stretch.end, station))
    return ClearStretch(pipe, station, station)


def clear_at(case: Case, plug: PlacedPlug) -> ClearStretch:
    """Give the stretch round a plug in which it passes every rule of place, the others standing."""
    pieces = np.array(case.network.pieces_of[plug.pipe])
    return _stretch_at(Allowed(case, plug, pieces), plug.spot)
