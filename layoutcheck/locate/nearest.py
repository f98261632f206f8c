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
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

import numpy as np

from layoutcheck.network import Field, Spot, Trust
from layoutcheck.network.cut import deciding_pieces, ways_in
from layoutcheck.network.held import held_water
from layoutcheck.network.stretches import TOLERANCE, Interval, Stretches, complement
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.judge import judge_case, placing_rules
from layoutcheck.rules.outcome import Judgement, Outcome

# The name under which pieces that would not isolate the work are shut out.
ISOLATION = "isolation"

# A plug that keeps no source out but holds back standing water is only offered places that hold
# back nearly as much (own choice: nine tenths, so that it may move past a short branch).
HELD_SHARE = 0.9

# Two ways to a place whose lengths differ by less than this (m) are a tie.
_TIE = 1e-9


@dataclass(frozen=True)
class ClearStretch:
    """A stretch of one pipe (stations in m) where the plug's centre passes every rule."""

    pipe: str
    start: float
    end: float

    @property
    def room(self) -> float:
        """Give the length (m) of the stretch."""
        return self.end - self.start


@dataclass(frozen=True)
class ShutOut:
    """A stretch of one pipe (stations in m) and the rules that shut the plug out of it."""

    pipe: str
    start: float
    end: float
    rules: tuple[str, ...]


@dataclass(frozen=True)
class Proposal:
    """A place to move a plug to. travel is developed length (m) from the mark.

    tape: the station (m) rounded into the stretch to a reading of a tape, where it has room.
    remaining: what still does not hold of this plug once it stands there, judged afresh.
    """

    spot: Spot
    pipe: str
    station: float
    tape: float
    travel: float
    room: float
    remaining: tuple[Judgement, ...]


@dataclass(frozen=True)
class Terms:
    """What a proposal is made by: the tape's step (m), and the day of judgement."""

    reading: float
    on: date | None


@dataclass(frozen=True)
class Placing:
    """All that is known of where one plug may stand.

    isolates: whether the places given also cut the work off; where no place of this plug alone can
    do that, they keep out what the plug keeps out now.
    """

    plug: str
    clear: tuple[ClearStretch, ...]
    shut_out: tuple[ShutOut, ...]
    nearest: Proposal | None
    isolates: bool


def place_plug(case: Case, plug: PlacedPlug, *, reading: float, on: date | None = None) -> Placing:
    """Find the clear stretches of a plug and the nearest compliant place to its mark.

    reading: the tape's step (m): a sixteenth of an inch, or a millimetre. on: the day of judgement,
    for waivers. The other plugs stay where they are. A mark that already passes is its own nearest
    place, at travel 0.
    """
    deciding, isolates = _deciding(case, plug)
    allowed = {name: rule.allows(case, plug) for name, rule in placing_rules().items()}
    clear = Stretches.everywhere(case.network.length).only(deciding)
    for stretches in allowed.values():
        clear = clear.meet(stretches)
    clear = _settled(case, plug, clear)
    best = _nearest(case, plug, clear)
    return Placing(
        plug=plug.id,
        clear=_clear_list(case, clear),
        shut_out=_shut_list(case, deciding, allowed),
        nearest=None if best is None else _propose(case, plug, best, clear, Terms(reading, on)),
        isolates=isolates,
    )


def _settled(case: Case, plug: PlacedPlug, clear: Stretches) -> Stretches:
    """Leave out the places at which a rule that depends on more than distance does not hold.

    Such a rule (does the pipe close at all?) depends on the piece, and on the station only by the
    head: what settles low on a riser settles higher up too. So each interval is kept, dropped, or
    cut at one place.
    """
    low = np.full(len(case.network.pieces), np.inf)
    high = np.full(len(case.network.pieces), -np.inf)
    for piece in clear.pieces():
        ends = clear.of(piece)
        first, last = ends[0][0], ends[-1][1]
        good = [_settles(case, plug, Spot(piece, at)) for at in (first, last)]
        if all(good):
            low[piece], high[piece] = first, last
        elif good[0]:
            low[piece], high[piece] = first, _last_settled(case, plug, piece, (first, last))
        elif good[1]:
            low[piece], high[piece] = _last_settled(case, plug, piece, (last, first)), last
    return clear.meet(Stretches.between(low, high))


def _settles(case: Case, plug: PlacedPlug, spot: Spot) -> bool:
    moved = case.moved(plug, spot)
    return all(rule.settles(moved, moved.plug(plug.id)) for rule in placing_rules().values())


def _last_settled(case: Case, plug: PlacedPlug, piece: int, span: Interval) -> float:
    """Give the last offset (m) that settles, from a good one towards a bad one.

    The model's answer changes with whole centimetres of ice only, so the runs are few.
    """
    good, bad = span
    while abs(bad - good) > TOLERANCE:
        middle = (good + bad) / 2
        if _settles(case, plug, Spot(piece, middle)):
            good = middle
        else:
            bad = middle
    return good


def _deciding(case: Case, plug: PlacedPlug) -> tuple[np.ndarray, bool]:
    """Find the pieces on which this plug, with the others, would isolate the work.

    Where the set as marked needs no unproven valve, no place that would need one is offered.
    Where no place of this plug alone can isolate the work, those are given on which it keeps out
    all that it keeps out where it is marked; the second value is then False. Where the others
    isolate the work already, the plug holds back standing water: it keeps holding nearly as much.
    """
    everything: np.ndarray = case.pipes_of_pieces
    if not case.network.work:
        return everything, True
    others = sorted({p.spot.piece for p in case.others(plug)})
    proven = case.worlds.working(Trust.PROVEN)
    work = case.network.work_nodes
    now_proven = not ways_in(proven, [*others, plug.spot.piece], work)
    world = proven if now_proven else case.worlds.working(Trust.STATED)
    found = deciding_pieces(world, others)
    if not ways_in(world, others, work):
        # The other plugs keep the sources out; this one holds water back, and must go on to.
        beyond = held_water(world, others)
        return found & (beyond >= HELD_SHARE * beyond[plug.spot.piece]), True
    if found.any():
        return found, True
    open_now = {w.source for w in ways_in(world, [*others, plug.spot.piece], work)}
    return deciding_pieces(world, others, besides=open_now), False


def _nearest(case: Case, plug: PlacedPlug, clear: Stretches) -> tuple[float, Spot, Interval] | None:
    """Find the nearest point of the clear stretches: (travel, spot, its interval)."""
    field = case.worlds.along(plug.spot)
    best: tuple[float, Spot, Interval] | None = None
    best_key: tuple[str, float] = ("", 0.0)
    for piece in clear.pieces():
        for interval in clear.of(piece):
            travel, offset = _closest(case, field, plug.spot, piece, interval)
            if not math.isfinite(travel):
                continue
            spot = Spot(piece, offset)
            key = case.network.station(spot)
            nearer = best is None or travel < best[0] - _TIE
            tied = best is not None and abs(travel - best[0]) <= _TIE and key < best_key
            if nearer or tied:
                best, best_key = (travel, spot, interval), key
    return best


def _closest(
    case: Case, field: Field, mark: Spot, piece: int, interval: Interval
) -> tuple[float, float]:
    """Give the least travel (m) to an interval of a piece, and the offset where it is met."""
    low, high = interval
    item = case.network.pieces[piece]
    ways = [
        (float(field.distance[item.u]) + low, low),
        (float(field.distance[item.v]) + item.length - high, high),
    ]
    if mark.piece == piece:
        own = min(max(mark.offset, low), high)
        if abs(own - mark.offset) <= TOLERANCE:
            own = mark.offset  # exactly on a limit: rounding must not move the plug
        ways.append((abs(own - mark.offset), own))
    least = min(ways)[0]
    # Equally far by both ends, as on a loop: the lower station, whatever the last bit says.
    return min((w for w in ways if w[0] <= least + _TIE), key=lambda w: w[1])


def _propose(
    case: Case,
    plug: PlacedPlug,
    best: tuple[float, Spot, Interval],
    clear: Stretches,
    terms: Terms,
) -> Proposal:
    travel, spot, interval = best
    pipe, station = case.network.station(spot)
    start = case.network.pieces[spot.piece].start
    tape = _on_tape(station, (start + interval[0], start + interval[1]), terms.reading)
    moved = case.moved(plug, spot) if travel > 0.0 else case
    remaining = tuple(
        j
        for j in judge_case(moved, on=terms.on)
        if j.outcome in {Outcome.BROKEN, Outcome.UNDECIDED, Outcome.FAULT}
        and (j.subject.id == plug.id or f"plug {plug.id}" in j.concerns or j.subject.kind == "work")
    )
    return Proposal(
        spot=spot,
        pipe=pipe,
        station=station,
        tape=tape,
        travel=travel,
        room=_room(case, spot, clear),
        remaining=remaining,
    )


def _on_tape(station: float, span: Interval, reading: float) -> float:
    """Round a station to a tape's reading inside a span; the station itself if there is none."""
    marks = (math.floor(station / reading) * reading, math.ceil(station / reading) * reading)
    inside = [m for m in marks if span[0] - TOLERANCE <= m <= span[1] + TOLERANCE]
    return min(inside, key=lambda m: abs(m - station)) if inside else station


def _room(case: Case, spot: Spot, clear: Stretches) -> float:
    """Give the length (m) of the clear stretch that a spot lies in, over joints of its pipe."""
    pipe, station = case.network.station(spot)
    for stretch in _clear_list(case, clear):
        inside = stretch.start - TOLERANCE <= station <= stretch.end + TOLERANCE
        if stretch.pipe == pipe and inside:
            return stretch.room
    return 0.0


def _clear_list(case: Case, clear: Stretches) -> tuple[ClearStretch, ...]:
    found: list[ClearStretch] = []
    rows = []
    for index in clear.pieces():
        piece = case.network.pieces[index]
        for low, high in clear.of(index):
            rows.append((piece.element, piece.start + low, piece.start + high))
    for pipe, start, end in sorted(rows):
        last = found[-1] if found else None
        if last is not None and last.pipe == pipe and start - last.end <= TOLERANCE:
            found[-1] = ClearStretch(pipe, last.start, max(last.end, end))
        else:
            found.append(ClearStretch(pipe, start, end))
    return tuple(found)


def _shut_list(
    case: Case, deciding: np.ndarray, allowed: dict[str, Stretches]
) -> tuple[ShutOut, ...]:
    """Say which rules shut out which stretch, on the pieces that would isolate the work."""
    rows: list[ShutOut] = []
    for index in np.flatnonzero(deciding):
        piece = case.network.pieces[int(index)]
        gaps = {
            name: complement(stretches.of(int(index)), piece.length)
            for name, stretches in allowed.items()
        }
        marks = sorted({0.0, piece.length, *(m for g in gaps.values() for ab in g for m in ab)})
        for low, high in pairwise(marks) if len(marks) > 1 else [(0.0, 0.0)]:
            middle = (low + high) / 2
            rules = tuple(n for n, g in sorted(gaps.items()) if any(a <= middle <= b for a, b in g))
            if rules and (high - low > TOLERANCE or piece.length <= TOLERANCE):
                rows.append(ShutOut(piece.element, piece.start + low, piece.start + high, rules))
    return _merged(sorted(rows, key=lambda r: (r.pipe, r.start, r.end)))


def _merged(rows: list[ShutOut]) -> tuple[ShutOut, ...]:
    found: list[ShutOut] = []
    for row in rows:
        last = found[-1] if found else None
        same = last is not None and last.pipe == row.pipe and last.rules == row.rules
        if last is not None and same and row.start - last.end <= TOLERANCE:
            found[-1] = ShutOut(row.pipe, last.start, row.end, row.rules)
        else:
            found.append(row)
    return tuple(found)
