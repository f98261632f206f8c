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
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property
from itertools import pairwise

import numpy as np

from layoutcheck.locate.keeping import BUCKET, drained, holds_back, keeping_spans
from layoutcheck.network import Spot, Trust
from layoutcheck.network.cut import (
    deciding_pieces,
    is_cut_off,
    kept_pieces,
    opened_pieces,
    threats_of,
)
from layoutcheck.network.metric import connected_parts
from layoutcheck.network.stretches import TOLERANCE, Interval, Stretches, complement, meet, spans
from layoutcheck.placement import Reading, read_into
from layoutcheck.rules.base import PlacingRule
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.judge import judge_about, placing_rules
from layoutcheck.rules.outcome import Judgement, Outcome

# The name under which pieces that would not isolate the work are shut out.
ISOLATION = "isolation"

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
    ground: Ground = field(repr=False, compare=False)
    on: date | None = field(default=None, repr=False, compare=False)

    @cached_property
    def holds_back(self) -> bool:
        """Tell whether the plug, where it is marked, keeps anything back from the work."""
        return not self.ground.case.network.work or holds_back(self.ground.case, self.ground.plug)

    @cached_property
    def keeping(self) -> Proposal | None:
        """Give the nearest place that lets hardly more water drain, where the nearest lets much."""
        case, plug, nearest = self.ground.case, self.ground.plug, self.nearest
        if not case.network.work or nearest is None or nearest.travel <= TOLERANCE:
            return None
        if drained(case.moved(plug, nearest.spot)) <= drained(case) + BUCKET:
            return None
        ground = self.ground.within(keeping_spans(case, plug))
        best = _nearest(ground)
        return None if best is None else _propose(ground, best, self.on)

    @cached_property
    def clear(self) -> tuple[ClearStretch, ...]:
        """Give the stretches in which the plug passes every rule."""
        return _clear_list(self.ground)

    @cached_property
    def shut_out(self) -> tuple[ShutOut, ...]:
        """Give the stretches from which rules shut the plug out, and which rules."""
        return _shut_list(self.ground)


def place_plug(case: Case, plug: PlacedPlug, *, on: date | None = None) -> Placing:
    """Find the clear stretches of a plug and the nearest compliant place to its mark.

    on: the day of judgement, for waivers. The other plugs stay where they are. A mark that already
    passes is its own nearest place, at travel 0.
    """
    pieces, isolates = _deciding(case, plug)
    ground = Ground(case, plug, pieces)
    best = _nearest(ground)
    nearest = None if best is None else _propose(ground, best, on)
    ground.forget()
    return Placing(plug=plug.id, nearest=nearest, isolates=isolates, ground=ground, on=on)


class Ground:
    """The pieces on which a plug may be looked for, and what the rules leave of them.

    pieces: their numbers, in order. Everything else is numbered by place in that array.
    """

    def __init__(self, case: Case, plug: PlacedPlug, pieces: np.ndarray) -> None:
        """Keep what is asked about."""
        self.case = case
        self.plug = plug
        self.pieces = pieces
        self._spans: Mapping[int, Interval] | None = None
        self._settled: dict[int, tuple[Interval, ...]] = {}  # by the number of the piece

    def part(self, wanted: np.ndarray) -> Ground:
        """Give a part of it: those of some pieces (in order) that are in it."""
        places = np.searchsorted(self.pieces, wanted)
        places[places == len(self.pieces)] = 0
        inside = self.pieces[places] == wanted if len(self.pieces) else np.zeros(0, dtype=bool)
        part = Ground(self.case, self.plug, wanted[inside])
        part._settled, part._spans = self._settled, self._spans
        return part

    def within(self, spans: Mapping[int, Interval]) -> Ground:
        """Give what of it lies in one interval (m) on each of some pieces, by their numbers."""
        part = self.part(np.array(sorted(spans), dtype=np.int64))
        part._settled, part._spans = {}, spans
        return part

    def forget(self) -> None:
        """Let go of what takes much memory on a large site; it is worked out again if asked for."""
        for name in ("allowed", "unsettled"):
            self.__dict__.pop(name, None)

    @cached_property
    def allowed(self) -> dict[str, Stretches]:
        """Give what each rule allows."""
        rules = placing_rules().items()
        return {name: r.allows_on(self.case, self.plug, self.pieces) for name, r in rules}

    @cached_property
    def unsettled(self) -> Stretches:
        """Give what all rules allow by distance."""
        clear = Stretches.everywhere(self.case.network.length[self.pieces])
        if self._spans is not None:
            rows = np.array([self._spans[p] for p in self.pieces.tolist()]).reshape(-1, 2)
            clear = Stretches.between(rows[:, 0], rows[:, 1])
        for stretches in self.allowed.values():
            clear = clear.meet(stretches)
        return clear

    @cached_property
    def _slow_rules(self) -> list[PlacingRule]:
        asked = PlacingRule.settles
        return [r for r in placing_rules().values() if type(r).settles is not asked]

    def clear(self, place: int) -> tuple[Interval, ...]:
        """Give what all rules leave of one piece, with what is slow to find out.

        Such a rule (does the pipe close at all?) depends on the piece, and on the station only by
        the head: what settles low on a riser settles higher up too. So each interval is kept,
        dropped, or cut at one place.
        """
        found = self.unsettled.of(place)
        if not found or not self._slow_rules:
            return found
        piece = int(self.pieces[place])
        if piece not in self._settled:
            self._settled[piece] = self.settle(piece, found)
        return self._settled[piece]

    def settle(self, piece: int, found: tuple[Interval, ...]) -> tuple[Interval, ...]:
        """Give what the slow rules leave of some intervals (m) on a piece."""
        first, last = found[0][0], found[-1][1]
        good = [self.settles(Spot(piece, at)) for at in (first, last)]
        if all(good):
            return meet(found, ((first, last),))
        if good[0]:
            return meet(found, spans((first, _last_settled(self, piece, (first, last)))))
        if good[1]:
            return meet(found, spans((_last_settled(self, piece, (last, first)), last)))
        return ()

    def settles(self, spot: Spot) -> bool:
        """Tell whether the slow rules hold at a spot."""
        moved = self.case.placed(self.plug, spot)
        there = replace(self.case, plugs=(moved,))
        return all(rule.settles(there, moved) for rule in self._slow_rules)


def settled(case: Case, plug: PlacedPlug, piece: int, span: Interval) -> tuple[Interval, ...]:
    """Give what the slow rules leave of an interval (m) on a piece."""
    return Ground(case, plug, np.array([piece])).settle(piece, (span,))


def _last_settled(ground: Ground, piece: int, span: Interval) -> float:
    """Give the last offset (m) that settles, from a good one towards a bad one.

    The model's answer changes with whole centimetres of ice only, so the runs are few.
    """
    good, bad = span
    while abs(bad - good) > TOLERANCE:
        middle = (good + bad) / 2
        if ground.settles(Spot(piece, middle)):
            good = middle
        else:
            bad = middle
    return good


def _deciding(case: Case, plug: PlacedPlug) -> tuple[np.ndarray, bool]:
    """Find the pieces on which this plug, with the others, would isolate the work.

    Where the set as marked needs no unproven valve, no place that would need one is offered.
    Where no place of this plug alone can isolate the work, those are given on which it keeps out
    all that it keeps out where it is marked; the second value is then False. Where the others
    isolate the work already, any place goes on isolating it.
    """
    if not case.network.work:
        return _all_pipe(case), True
    others = frozenset(p.spot.piece for p in case.plugs if p.id != plug.id)

    def find() -> tuple[np.ndarray, bool]:
        if not _standing(case).leads_in(case, plug.spot.piece, others):
            # Water reaches the work past all the plugs, and this one keeps out nothing more.
            return _all_pipe(case, besides=opened_pieces(case.network)), False
        found, isolates = _find_deciding(case, plug.spot.piece, others)
        pieces = np.flatnonzero(found & case.placeable)
        every = _all_pipe(case)
        # One array for all plugs that may stand anywhere: on a large site they would fill memory.
        return (every if len(pieces) == len(every) else pieces), isolates

    # Of the other plugs only that one may stand on the same piece makes a difference.
    key = ("deciding", plug.spot.piece, plug.spot.piece in others, case.plugged)
    return case.worlds.remember(key, find)


def _all_pipe(case: Case, besides: frozenset[int] = frozenset()) -> np.ndarray:
    def find() -> np.ndarray:
        pipes = case.placeable.copy()
        pipes[list(besides)] = False
        return np.flatnonzero(pipes)

    return case.worlds.once(("all pipe", bool(besides)), find)


@dataclass(frozen=True)
class _Standing:
    """How the site stands cut up with all plugs where they are marked.

    parts: (nodes,) the number of each node's part; None where nothing can be told. with_work:
    the parts that hold work. closed_off: those that hold a threat which does not reach the work.

    Where water reaches the work past all plugs, by no piece that every way leads through, no place
    of one plug alone can cut it off: to take that plug away only adds ways. What the plug still
    keeps out then lies in the part beyond it.
    """

    parts: np.ndarray | None
    with_work: frozenset[int] = frozenset()
    closed_off: frozenset[int] = frozenset()

    def leads_in(self, case: Case, piece: int, others: frozenset[int]) -> bool:
        """Tell whether more might reach the work without the plug on a piece."""
        if self.parts is None:
            return True
        if piece in others or piece in opened_pieces(case.network):
            return False
        beside = set(self.parts[case.network.ends[piece]].tolist())
        return not beside.isdisjoint(self.with_work) and not beside.isdisjoint(self.closed_off)


def _standing(case: Case) -> _Standing:
    key = ("standing", case.plugged)
    return case.worlds.remember(key, lambda: _find_standing(case))


def _find_standing(case: Case) -> _Standing:
    work, plugged = case.network.work_nodes, case.plugged
    trust = Trust.STATED if case.worlds.regions(Trust.PROVEN).ways_in(plugged, work) else None
    if trust is None or not (ways := case.worlds.regions(trust).ways_in(plugged, work)):
        return _Standing(None)
    world = case.worlds.working(trust)
    if deciding_pieces(world, plugged).any():
        return _Standing(None)
    open_now = {w.source for w in ways}
    parts = connected_parts(case.network, kept_pieces(world, plugged))
    kept_out = [node for node, name in threats_of(world).items() if name not in open_now]
    return _Standing(
        parts=parts,
        with_work=frozenset(parts[list(work)].tolist()),
        closed_off=frozenset(parts[kept_out].tolist()),
    )


def _find_deciding(case: Case, piece: int, others: frozenset[int]) -> tuple[np.ndarray, bool]:
    proven = case.worlds.working(Trust.PROVEN)
    work = case.network.work_nodes
    now_proven = not case.worlds.regions(Trust.PROVEN).ways_in((*others, piece), work)
    world = proven if now_proven else case.worlds.working(Trust.STATED)
    found = deciding_pieces(world, others)
    if is_cut_off(world, others, work):
        return found, True
    if found.any():
        return found, True
    trust = Trust.PROVEN if now_proven else Trust.STATED
    open_now = {w.source for w in case.worlds.regions(trust).ways_in((*others, piece), work)}
    return deciding_pieces(world, others, besides=open_now), False


# The search widens from this far (m), by this much each time, ...
_FIRST_LOOK, _WIDER = 4.0, 4.0
# ... until so many nodes have been walked to; from there on the whole site is asked at once.
_MANY = 20_000


def _nearest(ground: Ground) -> tuple[float, Spot, Interval] | None:
    """Find the nearest point of the clear stretches: (travel, spot, its interval).

    It looks round the mark first: as a rule a place is found there, and the site stays unread.
    """
    worlds, network = ground.case.worlds, ground.case.network
    within, walked = _FIRST_LOOK, -1
    while True:
        near = worlds.all_pipe.near(ground.plug.spot, within)
        touching = network.at_nodes(near.nodes)
        part = ground.part(np.union1d(touching, [ground.plug.spot.piece]))
        best = _nearest_of(part, near.to(network.ends[part.pieces]))
        if best is not None and best[0] <= within:
            return best
        if len(near) == walked or len(near) > _MANY:
            break
        within, walked = within * _WIDER, len(near)
    distance = worlds.along(ground.plug.spot).distance
    return _nearest_of(ground, distance[network.ends[ground.pieces]])


def _nearest_of(ground: Ground, distance: np.ndarray) -> tuple[float, Spot, Interval] | None:
    """Find the nearest point of a ground's pieces, looking at them from near to far.

    distance: (pieces, 2) how far (m) the ends of each are; inf where that is not known.
    """
    least = _least_travel(ground, distance)
    met: dict[int, list[tuple[float, Spot, Interval]]] = {}
    best = np.inf
    for place in np.argsort(least, kind="stable").tolist():
        if not least[place] <= best + 4 * TOLERANCE or math.isinf(least[place]):
            break
        ways = _ways(ground, place, distance[place].tolist())
        if ways:
            met[place] = ways
            best = min(best, *(w[0] for w in ways))
    return _first_of_the_nearest(ground, [way for place in sorted(met) for way in met[place]])


def _least_travel(ground: Ground, distance: np.ndarray) -> np.ndarray:
    """Bound the travel (m) to each piece from below, by its outermost clear points."""
    clear, length = ground.unsettled, ground.case.network.length[ground.pieces]
    low, high = clear.low.copy(), clear.high.copy()
    for place, parts in clear.split.items():
        low[place], high[place] = (parts[0][0], parts[-1][1]) if parts else (np.inf, -np.inf)
    least: np.ndarray = np.minimum(distance[:, 0] + low, distance[:, 1] + length - high)
    least[ground.pieces == ground.plug.spot.piece] = 0.0
    least[low > high + 2 * TOLERANCE] = np.inf
    return least


def _first_of_the_nearest(
    ground: Ground, ways: Iterable[tuple[float, Spot, Interval]]
) -> tuple[float, Spot, Interval] | None:
    """Choose the least travel (m); of ties the first pipe, then the lower station."""
    best: tuple[float, Spot, Interval] | None = None
    best_key: tuple[str, float] = ("", 0.0)
    for way in ways:
        key = ground.case.network.station(way[1])
        nearer = best is None or way[0] < best[0] - _TIE
        tied = best is not None and abs(way[0] - best[0]) <= _TIE and key < best_key
        if nearer or tied:
            best, best_key = way, key
    return best


def _ways(ground: Ground, place: int, ends: Sequence[float]) -> list[tuple[float, Spot, Interval]]:
    """Give the least travel (m) to each clear interval of a piece, and where it is met.

    ends: how far (m) the piece's two ends are.
    """
    piece = int(ground.pieces[place])
    found = []
    for interval in ground.clear(place):
        travel, offset = _closest(ground, piece, ends, interval)
        if math.isfinite(travel):
            found.append((travel, Spot(piece, offset), interval))
    return found


def _closest(
    ground: Ground, piece: int, ends: Sequence[float], interval: Interval
) -> tuple[float, float]:
    """Give the least travel (m) to an interval of a piece, and the offset where it is met."""
    low, high = interval
    mark = ground.plug.spot
    length = float(ground.case.network.length[piece])
    ways = [(ends[0] + low, low), (ends[1] + length - high, high)]
    if mark.piece == piece:
        own = min(max(mark.offset, low), high)
        if abs(own - mark.offset) <= TOLERANCE:
            own = mark.offset  # exactly on a limit: rounding must not move the plug
        ways.append((abs(own - mark.offset), own))
    least = min(ways)[0]
    # Equally far by both ends, as on a loop: the lower station, whatever the last bit says.
    return min((w for w in ways if w[0] <= least + _TIE), key=lambda w: w[1])


def _propose(ground: Ground, best: tuple[float, Spot, Interval], on: date | None) -> Proposal:
    case, plug = ground.case, ground.plug
    travel, spot, _ = best
    pipe, station = case.network.station(spot)
    clear = _stretch_at(ground, spot)
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


def _stretch_at(ground: Ground, spot: Spot) -> ClearStretch:
    """Give the clear stretch that a spot lies in, over joints of its pipe; itself if in none."""
    network = ground.case.network
    pipe, station = network.station(spot)
    for stretch in _clear_list(ground.part(np.array(network.pieces_of[pipe]))):
        if stretch.start - TOLERANCE <= station <= stretch.end + TOLERANCE:
            return ClearStretch(pipe, min(stretch.start, station), max(stretch.end, station))
    return ClearStretch(pipe, station, station)


def clear_at(case: Case, plug: PlacedPlug) -> ClearStretch:
    """Give the stretch round a plug in which it passes every rule of place, the others standing."""
    pieces = np.array(case.network.pieces_of[plug.pipe])
    return _stretch_at(Ground(case, plug, pieces), plug.spot)


def _clear_list(ground: Ground) -> tuple[ClearStretch, ...]:
    """Give the clear stretches, over joints of their pipes."""
    found: list[ClearStretch] = []
    rows = []
    for place in range(len(ground.pieces)):
        intervals = ground.clear(place)
        if intervals:
            piece = ground.case.network.pieces[int(ground.pieces[place])]
            rows += [(piece.element, piece.start + a, piece.start + b) for a, b in intervals]
    for pipe, start, end in sorted(rows):
        last = found[-1] if found else None
        if last is not None and last.pipe == pipe and start - last.end <= TOLERANCE:
            found[-1] = ClearStretch(pipe, last.start, max(last.end, end))
        else:
            found.append(ClearStretch(pipe, start, end))
    return tuple(found)


def _shut_list(ground: Ground) -> tuple[ShutOut, ...]:
    """Say which rules shut out which stretch, on the pieces that would isolate the work."""
    names = sorted(ground.allowed)
    length = ground.case.network.length[ground.pieces]
    allowed = [ground.allowed[name] for name in names]
    shut = np.array([s.low > s.high + 2 * TOLERANCE for s in allowed])
    free = np.array([(s.low <= TOLERANCE) & (length - s.high <= TOLERANCE) for s in allowed])
    # Nearly all of a site is left alone by a rule or shut wholly; the rest is cut up one by one.
    wholly = (shut | free).all(axis=0) & (length > TOLERANCE)
    wholly[[place for s in allowed for place in s.split]] = False
    rows = list(_wholly_shut(ground, names, shut, np.flatnonzero(wholly & shut.any(axis=0))))
    for place in np.flatnonzero(~wholly).tolist():
        rows += _cut_up(ground, place)
    return _merged(sorted(rows, key=lambda r: (r.pipe, r.start, r.end)))


def _wholly_shut(
    ground: Ground, names: Sequence[str], shut: np.ndarray, places: np.ndarray
) -> Iterator[ShutOut]:
    """Give each of some pieces as one stretch, with the rules that shut it (rules, pieces)."""
    kinds, kind_of = np.unique(shut[:, places], axis=1, return_inverse=True)
    rules = [tuple(n for n, own in zip(names, k, strict=True) if own) for k in kinds.T.tolist()]
    pieces, chosen = ground.case.network.pieces, ground.pieces[places]
    starts, lengths = pieces.start[chosen], pieces.length[chosen]
    rows = zip(
        chosen.tolist(), starts.tolist(), (starts + lengths).tolist(), kind_of.tolist(), strict=True
    )
    for piece, start, end, kind in rows:
        yield ShutOut(pieces.elements[piece], start, end, rules[kind])


def _cut_up(ground: Ground, place: int) -> Iterator[ShutOut]:
    """Give the stretches of one piece that some rule shuts out."""
    piece = ground.case.network.pieces[int(ground.pieces[place])]
    gaps = {
        name: complement(stretches.of(place), piece.length)
        for name, stretches in ground.allowed.items()
    }
    marks = sorted({0.0, piece.length, *(m for g in gaps.values() for ab in g for m in ab)})
    for low, high in pairwise(marks) if len(marks) > 1 else [(0.0, 0.0)]:
        middle = (low + high) / 2
        rules = tuple(n for n, g in sorted(gaps.items()) if any(a <= middle <= b for a, b in g))
        if rules and (high - low > TOLERANCE or piece.length <= TOLERANCE):
            yield ShutOut(piece.element, piece.start + low, piece.start + high, rules)


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
