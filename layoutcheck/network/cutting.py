"""Cut pipes where something stands, and join them at junctions: the rows of a network.

Most pipes of a large site run straight from junction to junction with nothing on them. Only the
others are walked along, one by one.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple

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
)
from layoutcheck.document.paths import Positions
from layoutcheck.network.joints import BEND_DEGREES
from layoutcheck.network.model import (
    PieceKind,
)

# Two stations nearer than this (m) are one point: far below a tape's reading, far above the
# rounding of feet and inches in floating point.
SAME_STATION = 1e-7

# No id can start with it, and every id sorts after it.
_BEFORE_IDS = "\0"

SHUT = {FittingKind.CAP, FittingKind.BLIND}


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


class Row(NamedTuple):
    """A piece in the making: what it is, its nodes, its length and stations (m)."""

    kind: PieceKind
    element: str
    u: int
    v: int
    length: float
    start: float = 0.0
    end: float = 0.0


@dataclass
class Builder:
    """What a network is built of, gathered pipe by pipe."""

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
    between: list[Row] = field(default_factory=list)  # bodies at junctions
    walked: dict[int, list[Row]] = field(default_factory=dict)  # pipe number -> its pieces
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


def length_of(positions: Positions, pipe: Pipe) -> float:
    """Give a pipe's developed length (m), stated or measured on the drawing."""
    length = positions.measured_length(pipe) if pipe.length is None else pipe.length
    assert length is not None, "each reading has a length for each pipe"
    return length


def _z(value: float | None) -> float:
    return math.nan if value is None else value


def lay_junctions(builder: Builder) -> None:
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
    builder: Builder, junction: Junction, ends: list[tuple[str, int]], item: Valve | Pump
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
    builder.between.append(Row(kind, item.id, other, node, 2 * half))


def _raise_face(builder: Builder, end: tuple[str, int], face: int) -> None:
    """Give the face of a body at a junction the height that its pipe has there.

    Without this, the pipe's slope would be spread over its length less the half body.
    """
    number = builder.number[end[0]]
    (low, high), trim = builder.reach(number), builder.ends[end][1]
    profile = _Profile(builder.positions, builder.pipes[number], builder.lengths[number])
    height = profile.at(low + trim if end[1] == 0 else high - trim)
    if not math.isnan(height):
        builder.elevation[face] = height


def events_of(builder: Builder) -> dict[str, list[_Event]]:
    """Collect what stands on each pipe, in the order of stations."""
    events: dict[str, list[_Event]] = defaultdict(list)
    every = (*_points(builder), *_bodies(builder), *_bends(builder), *_solids(builder))
    for pipe, event in every:
        events[pipe].append(event)
    for found in events.values():
        found.sort(key=lambda e: e.order)
    return events


def _points(builder: Builder) -> Iterator[tuple[str, _Event]]:
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


def _bodies(builder: Builder) -> Iterator[tuple[str, _Event]]:
    """Give the valves and pumps that stand on pipes."""
    for valve in builder.layout.valves:
        if valve.pipe is not None and valve.station is not None:
            half = valve.body / 2
            span = (max(0.0, valve.station - half), valve.station + half)
            yield valve.pipe, _Event(*span, PieceKind.VALVE, valve.id)
    for pump in builder.layout.pumps:
        if pump.pipe is not None and pump.station is not None:
            yield pump.pipe, _Event(pump.station, pump.station, PieceKind.PUMP, pump.id)


def _solids(builder: Builder) -> Iterator[tuple[str, _Event]]:
    """Give the ends of the bodies of fittings and machines, on pipes and at their ends."""
    for solid in solids_of(builder.layout, builder.pipes, builder.lengths):
        builder.solid[solid.pipe].append(solid)
        for at in (solid.start, solid.end):
            yield solid.pipe, _Event(at, at, None, "", solid.what)


def _bends(builder: Builder) -> Iterator[tuple[str, _Event]]:
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


def walk_pipes(builder: Builder, events: Mapping[str, list[_Event]]) -> None:
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

    def __init__(self, builder: Builder, number: int, first_piece: int) -> None:
        self.builder, self.pipe = builder, builder.pipes[number]
        length = builder.lengths[number]
        self.profile = _Profile(builder.positions, self.pipe, length)
        self.first_piece = first_piece
        self.here, trim = self._end(0)
        self.last, last_trim = self._end(1)
        low, high = builder.reach(number)
        self.station, self.stop = low + trim, high - last_trim
        self.rows: list[Row] = []

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
            Row(PieceKind.PIPE, self.pipe.id, self.here, new, length, self.station, to)
        )
        self.here, self.station = new, to

    def cut(self, events: Sequence[_Event]) -> list[Row]:
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
            Row(PieceKind.PIPE, self.pipe.id, self.here, self.last, rest, self.station, end)
        )
        return self.rows

    def _body(self, event: _Event, kind: PieceKind) -> None:
        """Put the body of a valve or pump into the pipe."""
        end = max(event.end, self.station)
        new = self._node(end, event.element)
        index = self.first_piece + len(self.rows)
        self.builder.bodies[self.pipe.id].append((self.station, end, index))
        self.rows.append(Row(kind, event.element, self.here, new, end - self.station))
        self.here, self.station = new, end


def _note_gear(builder: Builder, node: int, gear: Equipment) -> None:
    target = builder.tanks if gear.kind is EquipmentKind.TANK else builder.heat
    target[node].append(gear.id)


def note_bodies(builder: Builder) -> None:
    """Note the faces of valves and pumps: a jacket may not lie across them."""
    for rows in (builder.between, *builder.walked.values()):
        for row in rows:
            if row.kind is not PieceKind.PIPE:
                for node in (row.u, row.v):
                    builder.interruptions[node].append(f"{row.kind.name.lower()} {row.element}")


def note_junctions(builder: Builder) -> None:
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
