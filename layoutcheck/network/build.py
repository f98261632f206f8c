"""Build the network of a layout: cut pipes where something stands, join them at junctions."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from layoutcheck.document.models import (
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
from layoutcheck.document.paths import DrawnPath, Positions, turn_between
from layoutcheck.network.model import Network, Piece, PieceKind, Place, WorkPlace
from layoutcheck.quantities import PipeDimensions, explicit_dimensions, pipe_dimensions

# Two stations nearer than this (m) are one point: far below a tape's reading, far above the
# rounding of feet and inches in floating point.
SAME_STATION = 1e-7

# A joint drawn with a turn of more than this (degrees) is a bend.
BEND_DEGREES = 5.0

# A pipe that rises by this share of its length is plumb; one that rises by less than the other is
# surely not, so that the two can not meet in line. What lies between is left to the drawing.
_PLUMB = 0.99
_LEANING = 0.70

# Marks an event as equipment; no id can start with it.
_GEAR = "\0"

_PLAIN = {None, FittingKind.WELD}
_SHUT = {FittingKind.CAP, FittingKind.BLIND}


@dataclass
class _Event:
    """Something on a pipe: a point (start == end), or the body of a valve or pump."""

    start: float
    end: float
    kind: PieceKind | None
    element: str
    what: str = ""


@dataclass
class _Builder:
    layout: Layout
    positions: Positions
    pipes: dict[str, Pipe]
    places: list[Place] = field(default_factory=list)
    elevation: list[float] = field(default_factory=list)
    pieces: list[Piece] = field(default_factory=list)
    interruptions: dict[int, list[str]] = field(default_factory=lambda: defaultdict(list))
    heat: dict[int, list[str]] = field(default_factory=lambda: defaultdict(list))
    tanks: dict[int, list[str]] = field(default_factory=lambda: defaultdict(list))
    junction_nodes: dict[str, list[int]] = field(default_factory=lambda: defaultdict(list))
    # pipe end -> (node, how much of the pipe the body of a valve at the junction takes)
    ends: dict[tuple[str, int], tuple[int, float]] = field(default_factory=dict)
    pieces_of: dict[str, list[int]] = field(default_factory=lambda: defaultdict(list))
    lengths: dict[str, float] = field(default_factory=dict)
    element_nodes: dict[tuple[str, str], list[int]] = field(
        default_factory=lambda: defaultdict(list)
    )
    work_ends: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    # pipe -> (start, end, piece) of each valve's or pump's body on it, in stations
    bodies: dict[str, list[tuple[float, float, int]]] = field(
        default_factory=lambda: defaultdict(list)
    )

    def node(self, place: Place, elevation: float) -> int:
        self.places.append(place)
        self.elevation.append(elevation)
        return len(self.places) - 1

    def piece(
        self,
        kind: PieceKind,
        element: str,
        u: int,
        v: int,
        *,
        length: float,
        start: float = 0.0,
        end: float = 0.0,
    ) -> None:
        index = len(self.pieces)
        self.pieces.append(Piece(index, kind, element, u, v, length, start, end))
        if kind is PieceKind.PIPE:
            self.pieces_of[element].append(index)
        else:
            self.element_nodes[kind.name, element] += [u, v]


def build_network(layout: Layout) -> Network:
    """Build the network of a sound layout. Pure: the same layout gives the same network."""
    builder = _Builder(layout, Positions(layout), {p.id: p for p in layout.pipes})
    pipes = sorted(layout.pipes, key=lambda p: p.id)
    for pipe in pipes:
        length = builder.positions.measured_length(pipe)
        assert length is not None, "a sound layout has a length for each pipe"
        builder.lengths[pipe.id] = length
    for item in layout.work.open if layout.work else ():
        if item.pipe is not None:
            builder.work_ends[item.pipe] += [item.start or 0.0, item.end or 0.0]
    _junctions(builder)
    events = _events(builder)
    for pipe in pipes:
        _cut(builder, pipe, events[pipe.id])
    _interrupt_joints(builder)
    return _finish(builder)


def _z(value: float | None) -> float:
    return float("nan") if value is None else value


def _junctions(builder: _Builder) -> None:
    """Make the nodes of junctions, with a valve or pump that stands at one between its pipes."""
    layout = builder.layout
    meets: dict[str, list[tuple[str, int]]] = defaultdict(list)
    for pipe in layout.pipes:
        meets[pipe.from_].append((pipe.id, 0))
        meets[pipe.to].append((pipe.id, 1))
    inline: dict[str, Valve | Pump] = {}
    machines: tuple[Valve | Pump, ...] = (*layout.valves, *layout.pumps)
    for item in machines:
        if item.junction is not None:
            inline[item.junction] = item
    for junction in sorted(layout.junctions, key=lambda j: j.id):
        ends = sorted(meets[junction.id])
        first = builder.node(Place(junction=junction.id), _z(junction.elevation))
        builder.junction_nodes[junction.id].append(first)
        if junction.id in inline and ends:
            _split_junction(builder, junction, ends, inline[junction.id])
            continue
        for end in ends:
            builder.ends[end] = (first, 0.0)


def _split_junction(
    builder: _Builder, junction: Junction, ends: list[tuple[str, int]], item: Valve | Pump
) -> None:
    """Put a valve or pump between the two sides of its junction, face to face.

    At a junction of one pipe the valve stands between the pipe and whatever the junction is.
    """
    node = builder.junction_nodes[junction.id][0]
    half = item.body / 2 if isinstance(item, Valve) else 0.0
    other = builder.node(Place(junction=junction.id, element=item.id), _z(junction.elevation))
    builder.junction_nodes[junction.id].append(other)
    for pipe_end, face in zip(ends, (other, node), strict=False):
        builder.ends[pipe_end] = (face, min(half, builder.lengths[pipe_end[0]]))
        _raise_face(builder, pipe_end, face)
    kind = PieceKind.VALVE if isinstance(item, Valve) else PieceKind.PUMP
    for pipe, end in ends:
        length = builder.lengths[pipe]
        span = (0.0, half) if end == 0 else (length - half, length)
        builder.bodies[pipe].append((*span, len(builder.pieces)))
    builder.piece(kind, item.id, other, node, length=2 * half)


def _raise_face(builder: _Builder, end: tuple[str, int], face: int) -> None:
    """Give the face of a body at a junction the height that its pipe has there.

    Without this, the pipe's slope would be spread over its length less the half body.
    """
    pipe = builder.pipes[end[0]]
    length, trim = builder.lengths[pipe.id], builder.ends[end][1]
    height = _Profile(builder.positions, pipe, length).at(trim if end[1] == 0 else length - trim)
    if not math.isnan(height):
        builder.elevation[face] = height


def _events(builder: _Builder) -> dict[str, list[_Event]]:
    """Collect what stands on each pipe, in the order of stations."""
    events: dict[str, list[_Event]] = defaultdict(list)
    for pipe, event in (*_points(builder), *_bodies(builder), *_bends(builder)):
        events[pipe].append(event)
    for found in events.values():
        found.sort(key=lambda e: (e.start, e.end, e.element, e.what))
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
            yield gear.pipe, _Event(at, at, None, f"{_GEAR}{gear.id}", what)
    for pipe, stations in builder.work_ends.items():
        for at in stations:
            yield pipe, _Event(at, at, None, "")


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


def _bends(builder: _Builder) -> Iterator[tuple[str, _Event]]:
    """Give the corners of drawn paths."""
    for pipe in builder.layout.pipes:
        path = builder.positions.path(pipe)
        for share in path.bends(BEND_DEGREES) if path is not None else ():
            at = share * builder.lengths[pipe.id]
            yield pipe.id, _Event(at, at, None, "", "bend")


class _Profile:
    """Height along a pipe, by station: linear between the heights that are stated."""

    def __init__(self, positions: Positions, pipe: Pipe, length: float) -> None:
        path, heights = positions.path(pipe), positions.heights(pipe)
        self.length = length
        if path is None or len(path.shares) != len(heights):
            known = [(0.0, heights[0]), (1.0, heights[-1])]
        else:
            known = list(zip(map(float, path.shares), heights, strict=True))
        self.sound = heights[0] is not None and heights[-1] is not None
        self.shares = [s for s, z in known if z is not None]
        self.heights = [z for _, z in known if z is not None]

    def at(self, station: float) -> float:
        if not self.sound:
            return float("nan")
        share = station / self.length if self.length else 0.0
        return float(np.interp(share, self.shares, self.heights))


def _cut(builder: _Builder, pipe: Pipe, events: list[_Event]) -> None:
    """Cut one pipe into pieces at its events."""
    length = builder.lengths[pipe.id]
    profile = _Profile(builder.positions, pipe, length)
    here, trim = builder.ends[pipe.id, 0]
    last, last_trim = builder.ends[pipe.id, 1]
    station, stop = trim, length - last_trim

    def advance(to: float, element: str | None = None) -> None:
        nonlocal here, station
        to = min(to, stop)
        if to - station <= SAME_STATION:
            return
        name = None if element is None else element.removeprefix(_GEAR)
        place = Place(pipe=pipe.id, station=to, element=name)
        new = builder.node(place, profile.at(to))
        span = {"length": to - station, "start": station, "end": to}
        builder.piece(PieceKind.PIPE, pipe.id, here, new, **span)
        here, station = new, to

    for event in events:
        advance(event.start, event.element or None)
        if event.kind is not None:
            end = max(event.end, station)
            place = Place(pipe=pipe.id, station=end, element=event.element)
            new = builder.node(place, profile.at(end))
            builder.bodies[pipe.id].append((station, end, len(builder.pieces)))
            builder.piece(event.kind, event.element, here, new, length=end - station)
            here, station = new, end
            continue
        if event.what:
            builder.interruptions[here].append(event.what)
        if event.element.startswith(_GEAR):
            _note_gear(builder, here, event.element[1:])
    rest = max(stop - station, 0.0)
    builder.piece(
        PieceKind.PIPE, pipe.id, here, last, length=rest, start=station, end=station + rest
    )


def _note_gear(builder: _Builder, node: int, gear_id: str) -> None:
    gear = next(g for g in builder.layout.equipment if g.id == gear_id)
    target = builder.tanks if gear.kind is EquipmentKind.TANK else builder.heat
    target[node].append(gear.id)


def _interrupt_joints(builder: _Builder) -> None:
    """Note at each node why a jacket may not lie across it."""
    degree: dict[int, int] = defaultdict(int)
    touching: dict[int, list[Piece]] = defaultdict(list)
    for piece in builder.pieces:
        for node in (piece.u, piece.v):
            degree[node] += 1
            touching[node].append(piece)
            if piece.kind is not PieceKind.PIPE:
                builder.interruptions[node].append(f"{piece.kind.name.lower()} {piece.element}")
    pipes = {p.id: p for p in builder.layout.pipes}
    for junction in builder.layout.junctions:
        for node in builder.junction_nodes[junction.id]:
            why = _joint(builder, junction, touching[node], pipes)
            builder.interruptions[node].extend(why)
    layout = builder.layout
    for gear in layout.equipment:
        if gear.junction is not None:
            node = builder.junction_nodes[gear.junction][0]
            builder.interruptions[node].append(f"{gear.kind} {gear.id}")
            _note_gear(builder, node, gear.id)
    terminals: tuple[Source | Outlet, ...] = (*layout.sources, *layout.outlets)
    for terminal in terminals:
        node = builder.junction_nodes[terminal.junction][0]
        builder.interruptions[node].append(terminal.id)


def _joint(
    builder: _Builder, junction: Junction, touching: list[Piece], pipes: dict[str, Pipe]
) -> list[str]:
    why = []
    if junction.fitting not in _PLAIN:
        why.append(f"{junction.fitting} {junction.id}")
    if junction.defective:
        why.append(f"defective joint {junction.id}")
    if len(touching) > 2:
        why.append(f"tee {junction.id}")
    elif len(touching) == 1:
        why.append(f"end of the pipe at {junction.id}")
    elif len(touching) == 2 and all(t.kind is PieceKind.PIPE for t in touching):
        first, second = (pipes[t.element] for t in touching)
        if why:
            return why
        if _bore(first) != _bore(second):
            why.append(f"change of pipe at {junction.id}")
        elif _turns(builder, junction, first, second):
            why.append(f"bend at {junction.id}")
    return why


def _bore(pipe: Pipe) -> tuple[object, ...]:
    return (
        pipe.size.inches,
        pipe.material,
        pipe.wall,
        pipe.outside_diameter,
        pipe.wall_thickness,
    )


def _turns(builder: _Builder, junction: Junction, first: Pipe, second: Pipe) -> bool:
    """Tell whether two pipes turn at their joint, by the heights or by the drawing."""
    if first is second:
        return True
    plumb = [_uprightness(builder, pipe) for pipe in (first, second)]
    upright = [share is not None and share >= _PLUMB for share in plumb]
    if any(upright) and any(share is not None and share < _LEANING for share in plumb):
        return True
    one, two = builder.positions.path(first), builder.positions.path(second)
    if one is None or two is None:
        return False
    arrive = _step(one, leaving=first.from_ == junction.id)
    leave = _step(two, leaving=second.from_ == junction.id)
    angle = turn_between(-arrive, leave)
    if angle is None:
        # Drawn as a point: a riser on a plan, or a pipe whose direction nothing shows.
        return not all(upright)
    return angle > BEND_DEGREES


def _uprightness(builder: _Builder, pipe: Pipe) -> float | None:
    """Give a pipe's rise as a share of its length; None where it is not known to be one run."""
    length, heights = builder.lengths[pipe.id], builder.positions.heights(pipe)
    if pipe.via or length <= 0.0 or heights[0] is None or heights[-1] is None:
        return None
    return abs(heights[-1] - heights[0]) / length


def _step(path: DrawnPath, *, leaving: bool) -> np.ndarray:
    """Give the drawn step away from the end of a path that lies at the joint."""
    points: np.ndarray = path.points if leaving else path.points[::-1]
    step: np.ndarray = points[1] - points[0]
    return step


def _finish(builder: _Builder) -> Network:
    layout = builder.layout
    pipes = {p.id: p for p in layout.pipes}
    ends = np.array([(p.u, p.v) for p in builder.pieces], dtype=np.int64).reshape(-1, 2)
    inches = np.array(
        [pipes[p.element].size.inches if p.kind is PieceKind.PIPE else 0.0 for p in builder.pieces]
    )
    work = tuple(_work_place(builder, i) for i in (layout.work.open if layout.work else ()))
    for place in work:
        for node in place.nodes:
            builder.interruptions[node].append(f"the work at {place.label}")
    return Network(
        layout=layout,
        places=tuple(builder.places),
        pieces=tuple(builder.pieces),
        elevation=np.array(builder.elevation, dtype=float),
        length=np.array([p.length for p in builder.pieces], dtype=float),
        ends=ends,
        kind=np.array([p.kind for p in builder.pieces], dtype=np.int8),
        inches=inches,
        interruptions=_settled(builder.interruptions),
        sources=_terminals(builder, "sources"),
        tanks=_settled(builder.tanks),
        outlets=_terminals(builder, "outlets"),
        heat=_settled(builder.heat),
        dead_ends=_dead_ends(builder),
        work=tuple(sorted(work, key=lambda w: w.label)),
        pipes=pipes,
        valves={v.id: v for v in layout.valves},
        pumps={p.id: p for p in layout.pumps},
        pipe_length=dict(builder.lengths),
        dimensions=_dimensions(layout),
        pieces_of={k: tuple(v) for k, v in builder.pieces_of.items()},
        junction_nodes={k: tuple(v) for k, v in builder.junction_nodes.items()},
    )


def _settled(notes: dict[int, list[str]]) -> dict[int, tuple[str, ...]]:
    return {node: tuple(sorted(set(notes[node]))) for node in sorted(notes) if notes[node]}


def _terminals(builder: _Builder, name: str) -> dict[int, tuple[str, ...]]:
    found: dict[int, list[str]] = defaultdict(list)
    for item in getattr(builder.layout, name):
        # Where a valve stands at the junction of one pipe, the terminal is beyond the valve.
        found[builder.junction_nodes[item.junction][0]].append(item.id)
    return _settled(found)


def _dead_ends(builder: _Builder) -> dict[int, str]:
    """Find the nodes where water stops: at a cap, a blind, or a pipe's end with nothing stated.

    So it does at a pipe's end in a heater or cooler: no water leaves it.
    """
    degree: dict[int, int] = defaultdict(int)
    for piece in builder.pieces:
        degree[piece.u] += 1
        degree[piece.v] += 1
    layout = builder.layout
    terminals: tuple[Source | Outlet, ...] = (*layout.sources, *layout.outlets)
    busy: set[str | None] = {t.junction for t in terminals}
    busy |= {g.junction for g in layout.equipment if g.kind is EquipmentKind.TANK}
    found = {}
    for junction in layout.junctions:
        node = builder.junction_nodes[junction.id][0]
        if degree[node] != 1 or junction.id in busy:
            continue
        kind = junction.fitting
        found[node] = f"{kind if kind in _SHUT else 'closed end'} {junction.id}"
    return found


def _work_place(builder: _Builder, item: WorkItem) -> WorkPlace:
    if item.junction is not None:
        return WorkPlace(item.label, tuple(builder.junction_nodes[item.junction]), frozenset())
    if item.pipe is not None:
        return _opened_stretch(builder, item.label, item.pipe, item.start or 0.0, item.end or 0.0)
    kind = PieceKind.VALVE if item.valve is not None else PieceKind.PUMP
    element = item.valve or item.pump or ""
    nodes = set(builder.element_nodes[kind.name, element])
    body = frozenset(p.index for p in builder.pieces if p.kind is kind and p.element == element)
    return WorkPlace(item.label, tuple(sorted(nodes)), body)


def _opened_stretch(
    builder: _Builder, label: str, pipe: str, start: float, end: float
) -> WorkPlace:
    """Open a stretch of a pipe, with every valve or pump whose body it reaches into.

    A body that is cut into is no barrier any more. One that the stretch only comes up to is.
    """
    inside = [
        builder.pieces[i]
        for i in builder.pieces_of[pipe]
        if builder.pieces[i].start >= start - SAME_STATION
        and builder.pieces[i].end <= end + SAME_STATION
    ]
    for low, high, index in builder.bodies[pipe]:
        cut_into = start < high - SAME_STATION and low < end - SAME_STATION
        at_point = max(high, end) - min(low, start) <= SAME_STATION
        if cut_into or at_point:
            inside.append(builder.pieces[index])
    nodes = {n for p in inside for n in (p.u, p.v)} or _nodes_at(builder, pipe, start)
    return WorkPlace(label, tuple(sorted(nodes)), frozenset(p.index for p in inside))


def _nodes_at(builder: _Builder, pipe: str, station: float) -> set[int]:
    """Give the nodes nearest to a station: a cut of no length has nodes and no piece."""
    ends = [
        (abs(at - station), node)
        for i in builder.pieces_of[pipe]
        for at, node in (
            (builder.pieces[i].start, builder.pieces[i].u),
            (builder.pieces[i].end, builder.pieces[i].v),
        )
    ]
    nearest = min(ends)[0]
    return {node for gap, node in ends if gap <= nearest + SAME_STATION}


def _dimensions(layout: Layout) -> dict[str, PipeDimensions]:
    found = {}
    for pipe in layout.pipes:
        if pipe.outside_diameter is not None and pipe.wall_thickness is not None:
            found[pipe.id] = explicit_dimensions(pipe.outside_diameter, pipe.wall_thickness)
        else:
            found[pipe.id] = pipe_dimensions(pipe.size, pipe.material, pipe.wall)
    return found
