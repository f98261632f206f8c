"""Build the network of a layout: cut pipes where something stands, join them at junctions.

Most pipes of a large site run straight from junction to junction with nothing on them. Their pieces
are laid out as columns, all at once; only the others are walked along one by one.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import NamedTuple, cast

import numpy as np

from layoutcheck.document.bodies import Solid, reach_of, solids_of
from layoutcheck.document.models import (
    Equipment,
    EquipmentKind,
    FittingKind,
    Junction,
    Layout,
    Outlet,
    Pipe,
    Pump,
    Source,
    Valve,
    WorkItem,
)
from layoutcheck.document.named import Named
from layoutcheck.document.paths import Positions
from layoutcheck.document.unstated import shortest, unstated_of
from layoutcheck.network.joints import BEND_DEGREES, Interruptions, Joined, joint_flags
from layoutcheck.network.model import (
    ByName,
    Network,
    PieceKind,
    Pieces,
    Places,
    WorkPlace,
    incidence_of,
)
from layoutcheck.quantities import PipeDimensions, explicit_dimensions, pipe_dimensions

# Two stations nearer than this (m) are one point: far below a tape's reading, far above the
# rounding of feet and inches in floating point.
SAME_STATION = 1e-7

# No id can start with it, and every id sorts after it.
_BEFORE_IDS = "\0"

_SHUT = {FittingKind.CAP, FittingKind.BLIND}


class _Event(NamedTuple):
    """Something on a pipe: a point (start == end), or the body of a valve or pump."""

    start: float
    end: float
    kind: PieceKind | None
    element: str
    what: str = ""
    gear: Equipment | None = None

    @property
    def order(self) -> tuple[float, float, str, str]:
        """Sort by stations, then what has no id of its own, then equipment."""
        mark = _BEFORE_IDS if self.gear is not None else ""
        return self.start, self.end, f"{mark}{self.element}", self.what


class _Row(NamedTuple):
    """A piece in the making: what it is, its nodes, its length and stations (m)."""

    kind: PieceKind
    element: str
    u: int
    v: int
    length: float
    start: float = 0.0
    end: float = 0.0


@dataclass
class _Builder:
    layout: Layout
    positions: Positions
    pipes: list[Pipe]  # in the order of ids
    lengths: list[float]  # between the pipes' own ends
    junction_of: list[Junction] = field(default_factory=list)  # of each node at a junction
    elevation: list[float] = field(default_factory=list)
    faces: dict[int, str] = field(default_factory=dict)
    points: list[tuple[str, float, str | None]] = field(default_factory=list)
    first_node: dict[str, int] = field(default_factory=dict)
    # junction -> its second node, where a valve or pump stands between its pipes
    second_node: dict[str, int] = field(default_factory=dict)
    # pipe end -> (node, how much of the pipe the body of a valve at the junction takes)
    ends: dict[tuple[str, int], tuple[int, float]] = field(default_factory=dict)
    between: list[_Row] = field(default_factory=list)  # bodies at junctions
    walked: dict[int, list[_Row]] = field(default_factory=dict)  # pipe number -> its pieces
    interruptions: dict[int, list[str]] = field(default_factory=lambda: defaultdict(list))
    heat: dict[int, list[str]] = field(default_factory=lambda: defaultdict(list))
    tanks: dict[int, list[str]] = field(default_factory=lambda: defaultdict(list))
    # pipe -> the bodies of fittings and machines on it and at its ends
    solid: dict[str, list[Solid]] = field(default_factory=lambda: defaultdict(list))
    # pipe -> (start, end, piece) of each valve's or pump's body on it, in stations
    bodies: dict[str, list[tuple[float, float, int]]] = field(
        default_factory=lambda: defaultdict(list)
    )

    @cached_property
    def number(self) -> dict[str, int]:
        """Give the number of each pipe."""
        return {pipe.id: i for i, pipe in enumerate(self.pipes)}

    def reach(self, number: int) -> tuple[float, float]:
        """Give the stations (m) of the middles of what stands at a pipe's two ends."""
        return reach_of(self.pipes[number], self.lengths[number])


def build_network(layout: Layout) -> Network:
    """Build the network of a sound layout. Pure: the same layout gives the same network.

    A pipe whose length or size is not stated is as short and as wide as it can be.
    """
    layout = shortest(layout, unstated_of(layout))
    positions = Positions(layout)
    pipes = sorted(layout.pipes, key=lambda p: p.id)
    lengths = [_length(positions, pipe) for pipe in pipes]
    builder = _Builder(layout, positions, pipes, lengths)
    _junctions(builder)
    events = _events(builder)
    _walk_pipes(builder, events)
    _note_bodies(builder)
    _note_junctions(builder)
    return _finish(builder)


def _length(positions: Positions, pipe: Pipe) -> float:
    length = positions.measured_length(pipe) if pipe.length is None else pipe.length
    assert length is not None, "each reading has a length for each pipe"
    return length


def _z(value: float | None) -> float:
    return math.nan if value is None else value


def _junctions(builder: _Builder) -> None:
    """Make the nodes of junctions, with a valve or pump that stands at one between its pipes."""
    layout = builder.layout
    machines: tuple[Valve | Pump, ...] = (*layout.valves, *layout.pumps)
    inline = {m.junction: m for m in machines if m.junction is not None}
    meets: dict[str, list[tuple[str, int]]] = defaultdict(list)
    for pipe in layout.pipes if inline else ():
        for junction, end in ((pipe.from_, 0), (pipe.to, 1)):
            if junction in inline:
                meets[junction].append((pipe.id, end))
    for item in sorted(layout.junctions, key=lambda j: j.id):
        builder.first_node[item.id] = len(builder.junction_of)
        builder.junction_of.append(item)
        builder.elevation.append(_z(item.elevation))
        if item.id in meets:
            _split_junction(builder, item, sorted(meets[item.id]), inline[item.id])


def _split_junction(
    builder: _Builder, junction: Junction, ends: list[tuple[str, int]], item: Valve | Pump
) -> None:
    """Put a valve or pump between the two sides of its junction, face to face.

    At a junction of one pipe the valve stands between the pipe and whatever the junction is.
    """
    node, other = builder.first_node[junction.id], len(builder.junction_of)
    half = item.body / 2 if isinstance(item, Valve) else 0.0
    builder.junction_of.append(junction)
    builder.elevation.append(_z(junction.elevation))
    builder.faces[other] = item.id
    builder.second_node[junction.id] = other
    for pipe_end, face in zip(ends, (other, node), strict=False):
        low, high = builder.reach(builder.number[pipe_end[0]])
        builder.ends[pipe_end] = (face, min(half, high - low))
        _raise_face(builder, pipe_end, face)
    kind = PieceKind.VALVE if isinstance(item, Valve) else PieceKind.PUMP
    for pipe, end in ends:
        low, high = builder.reach(builder.number[pipe])
        span = (low, low + half) if end == 0 else (high - half, high)
        builder.bodies[pipe].append((*span, len(builder.between)))
    builder.between.append(_Row(kind, item.id, other, node, 2 * half))


def _raise_face(builder: _Builder, end: tuple[str, int], face: int) -> None:
    """Give the face of a body at a junction the height that its pipe has there.

    Without this, the pipe's slope would be spread over its length less the half body.
    """
    number = builder.number[end[0]]
    (low, high), trim = builder.reach(number), builder.ends[end][1]
    profile = _Profile(builder.positions, builder.pipes[number], builder.lengths[number])
    height = profile.at(low + trim if end[1] == 0 else high - trim)
    if not math.isnan(height):
        builder.elevation[face] = height


def _events(builder: _Builder) -> dict[str, list[_Event]]:
    """Collect what stands on each pipe, in the order of stations."""
    events: dict[str, list[_Event]] = defaultdict(list)
    every = (*_points(builder), *_bodies(builder), *_bends(builder), *_solids(builder))
    for pipe, event in every:
        events[pipe].append(event)
    for found in events.values():
        found.sort(key=lambda e: e.order)
    return events


def _points(builder: _Builder) -> Iterator[tuple[str, _Event]]:
    """Give fittings, equipment and the ends of opened lengths."""
    for fitting in builder.layout.fittings:
        what = f"{fitting.kind} {fitting.id}"
        if fitting.kind is FittingKind.WELD:
            what = f"defective {what}" if fitting.defective else ""
        if what:
            at = fitting.station
            yield fitting.pipe, _Event(at, at, None, fitting.id, what)
    for gear in builder.layout.equipment:
        if gear.pipe is not None and gear.station is not None:
            what, at = f"{gear.kind} {gear.id}", gear.station
            yield gear.pipe, _Event(at, at, None, gear.id, what, gear)
    for item in builder.layout.work.open if builder.layout.work else ():
        if item.pipe is not None:
            for at in (item.start or 0.0, item.end or 0.0):
                yield item.pipe, _Event(at, at, None, "")


def _bodies(builder: _Builder) -> Iterator[tuple[str, _Event]]:
    """Give the valves and pumps that stand on pipes."""
    for valve in builder.layout.valves:
        if valve.pipe is not None and valve.station is not None:
            half = valve.body / 2
            span = (max(0.0, valve.station - half), valve.station + half)
            yield valve.pipe, _Event(*span, PieceKind.VALVE, valve.id)
    for pump in builder.layout.pumps:
        if pump.pipe is not None and pump.station is not None:
            yield pump.pipe, _Event(pump.station, pump.station, PieceKind.PUMP, pump.id)


def _solids(builder: _Builder) -> Iterator[tuple[str, _Event]]:
    """Give the ends of the bodies of fittings and machines, on pipes and at their ends."""
    for solid in solids_of(builder.layout, builder.pipes, builder.lengths):
        builder.solid[solid.pipe].append(solid)
        for at in (solid.start, solid.end):
            yield solid.pipe, _Event(at, at, None, "", solid.what)


def _bends(builder: _Builder) -> Iterator[tuple[str, _Event]]:
    """Give the corners of drawn paths."""
    for pipe, length in zip(builder.pipes, builder.lengths, strict=True):
        path = builder.positions.path(pipe) if pipe.via else None
        for share in path.bends(BEND_DEGREES) if path is not None else ():
            at = share * length
            yield pipe.id, _Event(at, at, None, "", "bend")


class _Profile:
    """Height along a pipe, by station: linear between the heights that are stated."""

    def __init__(self, positions: Positions, pipe: Pipe, length: float) -> None:
        self.length = length
        self.before, self.whole = pipe.from_body, pipe.from_body + length + pipe.to_body
        path = positions.path(pipe) if pipe.via else None
        # A straight pipe needs no library call, which would cost more than all the rest of it.
        if path is None:
            first, last = positions.ends_of(pipe)
            self.ends = first.elevation, last.elevation
            known: list[tuple[float, float]] = []
        else:
            heights = positions.heights(pipe)
            self.ends = heights[0], heights[-1]
            shares = map(float, path.shares)
            known = [(s, z) for s, z in zip(shares, heights, strict=True) if z is not None]
        self.shares = [s for s, _ in known]
        self.heights = [z for _, z in known]

    def at(self, station: float) -> float:
        low, high = self.ends
        if low is None or high is None:
            return math.nan
        if len(self.heights) > 2:
            share = station / self.length if self.length else 0.0
            return float(np.interp(share, self.shares, self.heights))
        share = (station + self.before) / self.whole if self.whole else 0.0
        return high if share >= 1.0 else low + max(share, 0.0) * (high - low)


def _walk_pipes(builder: _Builder, events: Mapping[str, list[_Event]]) -> None:
    """Walk along each pipe that has something on it."""
    trimmed = {pipe for pipe, _ in builder.ends}
    more = 0  # pieces of the pipes walked so far, beyond one for each
    for number in sorted(builder.number[name] for name in {*events, *trimmed}):
        pipe = builder.pipes[number]
        start = len(builder.between) + number + more
        rows = _Walk(builder, number, start).cut(events.get(pipe.id, ()))
        builder.walked[number] = rows
        more += len(rows) - 1


class _Walk:
    """A walk along one pipe, cutting it into pieces at its events."""

    def __init__(self, builder: _Builder, number: int, first_piece: int) -> None:
        self.builder, self.pipe = builder, builder.pipes[number]
        length = builder.lengths[number]
        self.profile = _Profile(builder.positions, self.pipe, length)
        self.first_piece = first_piece
        self.here, trim = self._end(0)
        self.last, last_trim = self._end(1)
        low, high = builder.reach(number)
        self.station, self.stop = low + trim, high - last_trim
        self.rows: list[_Row] = []

    def _end(self, end: int) -> tuple[int, float]:
        junction = self.pipe.to if end else self.pipe.from_
        return self.builder.ends.get((self.pipe.id, end), (self.builder.first_node[junction], 0.0))

    def _node(self, station: float, element: str | None) -> int:
        builder = self.builder
        builder.points.append((self.pipe.id, station, element))
        builder.elevation.append(self.profile.at(station))
        return len(builder.elevation) - 1

    def _advance(self, to: float, element: str | None) -> None:
        to = min(to, self.stop)
        if to - self.station <= SAME_STATION:
            return
        new = self._node(to, element)
        length = to - self.station
        self.rows.append(
            _Row(PieceKind.PIPE, self.pipe.id, self.here, new, length, self.station, to)
        )
        self.here, self.station = new, to

    def cut(self, events: Sequence[_Event]) -> list[_Row]:
        """Give the pieces of the pipe."""
        builder = self.builder
        for event in events:
            self._advance(event.start, event.element or None)
            if event.kind is not None:
                self._body(event, event.kind)
                continue
            if event.what:
                builder.interruptions[self.here].append(event.what)
            if event.gear is not None:
                _note_gear(builder, self.here, event.gear)
        rest = max(self.stop - self.station, 0.0)
        end = self.station + rest
        self.rows.append(
            _Row(PieceKind.PIPE, self.pipe.id, self.here, self.last, rest, self.station, end)
        )
        return self.rows

    def _body(self, event: _Event, kind: PieceKind) -> None:
        """Put the body of a valve or pump into the pipe."""
        end = max(event.end, self.station)
        new = self._node(end, event.element)
        index = self.first_piece + len(self.rows)
        self.builder.bodies[self.pipe.id].append((self.station, end, index))
        self.rows.append(_Row(kind, event.element, self.here, new, end - self.station))
        self.here, self.station = new, end


def _note_gear(builder: _Builder, node: int, gear: Equipment) -> None:
    target = builder.tanks if gear.kind is EquipmentKind.TANK else builder.heat
    target[node].append(gear.id)


def _note_bodies(builder: _Builder) -> None:
    """Note the faces of valves and pumps: a jacket may not lie across them."""
    for rows in (builder.between, *builder.walked.values()):
        for row in rows:
            if row.kind is not PieceKind.PIPE:
                for node in (row.u, row.v):
                    builder.interruptions[node].append(f"{row.kind.name.lower()} {row.element}")


def _note_junctions(builder: _Builder) -> None:
    """Note what stands at junctions."""
    layout = builder.layout
    for gear in layout.equipment:
        if gear.junction is not None:
            node = builder.first_node[gear.junction]
            builder.interruptions[node].append(f"{gear.kind} {gear.id}")
            _note_gear(builder, node, gear)
    terminals: tuple[Source | Outlet, ...] = (*layout.ways_in, *layout.outlets)
    for terminal in terminals:
        builder.interruptions[builder.first_node[terminal.junction]].append(terminal.id)


@dataclass(frozen=True)
class _Columns:
    """The pieces by columns, and for each pipe the first of its pieces (pipes + 1,)."""

    pieces: Pieces
    pipe_of: np.ndarray
    first: np.ndarray

    def of_pipe(self, number: int) -> tuple[int, ...]:
        """Give the pieces of pipe that a pipe was cut into."""
        span = range(self.first[number], self.first[number + 1])
        return tuple(i for i in span if self.pipe_of[i] >= 0)

    @cached_property
    def body_of(self) -> dict[tuple[PieceKind, str], list[int]]:
        """Give the pieces that are the body of each valve and pump."""
        found: dict[tuple[PieceKind, str], list[int]] = defaultdict(list)
        for index in np.flatnonzero(self.pipe_of < 0).tolist():
            found[PieceKind(self.pieces.kind[index]), self.pieces.elements[index]].append(index)
        return found


def _columns(builder: _Builder) -> _Columns:
    """Lay all pieces out: those between junctions first, then pipe by pipe."""
    pipes, walked, nodes = builder.pipes, builder.walked, builder.first_node
    counts = np.ones(len(pipes), dtype=np.int64)
    numbers = np.fromiter(walked, dtype=np.int64)
    counts[numbers] = np.fromiter(map(len, walked.values()), dtype=np.int64)
    first = np.full(len(pipes) + 1, len(builder.between), dtype=np.int64)
    first[1:] += np.cumsum(counts)
    total = int(first[-1])
    # As if every pipe were one piece from junction to junction; what was walked goes over it.
    at = first[:-1]
    ends, length = np.zeros((total, 2), dtype=np.int64), np.zeros(total)
    ends[at, 0] = np.fromiter((nodes[p.from_] for p in pipes), dtype=np.int64)
    ends[at, 1] = np.fromiter((nodes[p.to] for p in pipes), dtype=np.int64)
    length[at] = builder.lengths
    elements = np.empty(total, dtype=object)
    elements[at] = [p.id for p in pipes]
    pipe_of = np.full(total, -1, dtype=np.int64)
    pipe_of[len(builder.between) :] = np.repeat(np.arange(len(pipes)), counts)
    kind = np.full(total, PieceKind.PIPE, dtype=np.int8)
    pieces = Pieces(
        cast("Sequence[str]", elements), kind, ends, length, np.zeros(total), length.copy()
    )
    spans = [np.arange(first[n], first[n + 1]) for n in walked]
    rows = [*builder.between, *(row for n in walked for row in walked[n])]
    if rows:
        _overwrite(pieces, np.concatenate([np.arange(len(builder.between)), *spans]), rows)
    pipe_of[kind != PieceKind.PIPE] = -1
    return _Columns(replace(pieces, elements=elements.tolist()), pipe_of, first)


def _overwrite(pieces: Pieces, at: np.ndarray, rows: Sequence[_Row]) -> None:
    """Write rows into the columns of pieces in the making."""
    kinds, elements, us, vs, lengths, starts, stops = zip(*rows, strict=True)
    pieces.kind[at] = kinds
    pieces.elements[at] = elements  # type: ignore[index]
    pieces.ends[at, 0] = us
    pieces.ends[at, 1] = vs
    pieces.length[at] = lengths
    pieces.start[at] = starts
    pieces.end[at] = stops


def _finish(builder: _Builder) -> Network:
    layout, columns = builder.layout, _columns(builder)
    pieces, first, second = columns.pieces, builder.first_node, builder.second_node
    work = tuple(
        _work_place(builder, columns, i) for i in (layout.work.open if layout.work else ())
    )
    for place in work:
        for node in place.nodes:
            builder.interruptions[node].append(f"the work at {place.label}")
    names = [j.id for j in builder.junction_of]
    kinds, dimensions = _dimensions(builder.pipes)
    inches = np.array([p.size.inches for p in builder.pipes] + [0.0])
    incidence = incidence_of(pieces.ends, len(builder.elevation))
    network = Network(
        layout=layout,
        places=Places(names, builder.faces, builder.points),
        pieces=pieces,
        elevation=np.array(builder.elevation, dtype=float),
        length=pieces.length,
        ends=pieces.ends,
        kind=pieces.kind,
        inches=inches[columns.pipe_of],
        pipe_of=columns.pipe_of,
        solid=_solid_pieces(builder, columns),
        interruptions=_interruptions(builder, columns, incidence),
        sources=_terminals(builder, layout.ways_in),
        tanks=_settled(builder.tanks),
        outlets=_terminals(builder, layout.outlets),
        heat=_settled(builder.heat),
        dead_ends=_dead_ends(builder, pieces.ends),
        work=tuple(sorted(work, key=lambda w: w.label)),
        pipes={p.id: p for p in builder.pipes},
        valves={v.id: v for v in layout.valves},
        pumps={p.id: p for p in layout.pumps},
        pipe_length=ByName(builder.number, builder.lengths.__getitem__),
        dimensions=ByName(builder.number, lambda n: dimensions[kinds[n]]),
        pieces_of=ByName(builder.number, columns.of_pipe),
        junction_nodes=ByName(
            first, lambda n: (n, second[names[n]]) if names[n] in second else (n,)
        ),
    )
    network.geometry("incidence", lambda: incidence)
    network.geometry("positions", lambda: builder.positions)
    return network


def _solid_pieces(builder: _Builder, columns: _Columns) -> dict[int, str]:
    """Give the pieces of pipe that run through a body, each with what it is the body of."""
    found = {}
    pieces = columns.pieces
    for pipe, solids in builder.solid.items():
        for index in columns.of_pipe(builder.number[pipe]):
            middle = (pieces.start[index] + pieces.end[index]) / 2
            what = next((s.what for s in solids if s.start <= middle <= s.end), None)
            if what is not None:
                found[index] = what
    return found


def _interruptions(
    builder: _Builder, columns: _Columns, incidence: tuple[np.ndarray, np.ndarray]
) -> Interruptions:
    joined = Joined(
        junctions=builder.junction_of,
        pipes=builder.pipes,
        lengths=[high - low for low, high in map(reach_of, builder.pipes, builder.lengths)],
        pipe_of=columns.pipe_of,
        positions=builder.positions,
    )
    joints = joint_flags(joined, columns.pieces.ends, incidence)
    return Interruptions.of(dict(builder.interruptions), builder.junction_of, joints)


def _settled(notes: Mapping[int, list[str]]) -> dict[int, tuple[str, ...]]:
    return {node: tuple(sorted(set(notes[node]))) for node in sorted(notes) if notes[node]}


def _terminals(
    builder: _Builder, items: Sequence[Source] | Sequence[Outlet]
) -> dict[int, tuple[str, ...]]:
    found: dict[int, list[str]] = defaultdict(list)
    for item in items:
        # Where a valve stands at the junction of one pipe, the terminal is beyond the valve.
        found[builder.first_node[item.junction]].append(item.id)
    return _settled(found)


def _dead_ends(builder: _Builder, ends: np.ndarray) -> dict[int, Named]:
    """Find the nodes where water stops: at a cap, a blind, or a pipe's end with nothing stated.

    So it does at a pipe's end in a heater or cooler: no water leaves it.
    """
    layout, junction_of = builder.layout, builder.junction_of
    terminals: tuple[Source | Outlet, ...] = (*layout.ways_in, *layout.outlets)
    busy: set[str | None] = {t.junction for t in terminals}
    busy |= {g.junction for g in layout.equipment if g.kind is EquipmentKind.TANK}
    degree = np.bincount(ends.ravel(), minlength=len(junction_of))[: len(junction_of)]
    found = {}
    for node in np.flatnonzero(degree == 1).tolist():
        junction = junction_of[node]
        if junction.id in busy or builder.first_node[junction.id] != node:
            continue
        kind = str(junction.fitting) if junction.fitting in _SHUT else "closed end"
        if junction.goes_on is not None:
            kind = "dead pipe beyond"
        found[node] = Named("junction", junction.id, said=f"{kind} {junction.id}")
    return found


def _work_place(builder: _Builder, columns: _Columns, item: WorkItem) -> WorkPlace:
    label = Named(item.kind, item.on)
    if item.junction is not None:
        first = builder.first_node[item.junction]
        second = builder.second_node.get(item.junction)
        nodes = (first,) if second is None else (first, second)
        return WorkPlace(label, nodes, frozenset())
    if item.pipe is not None:
        return _opened_stretch(builder, columns, item, label)
    kind = PieceKind.VALVE if item.valve is not None else PieceKind.PUMP
    body = columns.body_of[kind, item.valve or item.pump or ""]
    return WorkPlace(label, _ends_of(columns, body), frozenset(body))


def _ends_of(columns: _Columns, pieces: Sequence[int]) -> tuple[int, ...]:
    return tuple(np.unique(columns.pieces.ends[list(pieces)]).tolist())


def _opened_stretch(
    builder: _Builder, columns: _Columns, item: WorkItem, label: Named
) -> WorkPlace:
    """Open a stretch of a pipe, with every valve or pump whose body it reaches into.

    A body that is cut into is no barrier any more. One that the stretch only comes up to is.
    """
    pipe, start, end = item.pipe or "", item.start or 0.0, item.end or 0.0
    own = [columns.pieces[i] for i in columns.of_pipe(builder.number[pipe])]
    inside = [
        p.index for p in own if p.start >= start - SAME_STATION and p.end <= end + SAME_STATION
    ]
    for low, high, index in builder.bodies[pipe]:
        cut_into = start < high - SAME_STATION and low < end - SAME_STATION
        at_point = max(high, end) - min(low, start) <= SAME_STATION
        if cut_into or at_point:
            inside.append(index)
    if inside:
        return WorkPlace(label, _ends_of(columns, inside), frozenset(inside))
    # A cut of no length has nodes and no piece: those nearest to its station.
    ends = [(abs(at - start), n) for p in own for at, n in ((p.start, p.u), (p.end, p.v))]
    nearest = min(ends)[0]
    nodes = {node for gap, node in ends if gap <= nearest + SAME_STATION}
    return WorkPlace(label, tuple(sorted(nodes)), frozenset())


def _dimensions(pipes: Sequence[Pipe]) -> tuple[np.ndarray, list[PipeDimensions]]:
    """Number the kinds of pipe there are (an array over the pipes), and give their dimensions."""
    kinds: dict[tuple[object, ...], int] = {}
    found: list[PipeDimensions] = []
    numbers = np.empty(len(pipes), dtype=np.int64)
    for place, pipe in enumerate(pipes):
        outside, wall = pipe.outside_diameter, pipe.wall_thickness
        made = (pipe.size.text, pipe.material, pipe.wall, outside, wall)
        number = kinds.get(made)
        if number is None:
            number = kinds[made] = len(found)
            if outside is not None and wall is not None:
                found.append(explicit_dimensions(outside, wall))
            else:
                found.append(pipe_dimensions(pipe.size, pipe.material, pipe.wall))
        numbers[place] = number
    return numbers, found
