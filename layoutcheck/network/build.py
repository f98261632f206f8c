"""Build the network of a layout.

The pieces of pipes with nothing on them are laid out as columns, all at once; what was cut up one
by one (`cutting.py`) is laid over them.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import cast

import numpy as np

from layoutcheck.document.bodies import reach_of
from layoutcheck.document.models import (
    EquipmentKind,
    Layout,
    Outlet,
    Pipe,
    Source,
    WorkItem,
)
from layoutcheck.document.named import Named
from layoutcheck.document.paths import Positions
from layoutcheck.document.unstated import shortest, unstated_of
from layoutcheck.network.cutting import (
    SAME_STATION,
    SHUT,
    Builder,
    Row,
    events_of,
    lay_junctions,
    length_of,
    note_bodies,
    note_junctions,
    walk_pipes,
)
from layoutcheck.network.joints import Interruptions, Joined, joint_flags
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


def build_network(layout: Layout) -> Network:
    """Build the network of a sound layout. Pure: the same layout gives the same network.

    A pipe whose length or size is not stated is as short and as wide as it can be.
    """
    layout = shortest(layout, unstated_of(layout))
    positions = Positions(layout)
    pipes = sorted(layout.pipes, key=lambda p: p.id)
    lengths = [length_of(positions, pipe) for pipe in pipes]
    builder = Builder(layout, positions, pipes, lengths)
    lay_junctions(builder)
    events = events_of(builder)
    walk_pipes(builder, events)
    note_bodies(builder)
    note_junctions(builder)
    return _finish(builder)


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


def _columns(builder: Builder) -> _Columns:
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


def _overwrite(pieces: Pieces, at: np.ndarray, rows: Sequence[Row]) -> None:
    """Write rows into the columns of pieces in the making."""
    kinds, elements, us, vs, lengths, starts, stops = zip(*rows, strict=True)
    pieces.kind[at] = kinds
    pieces.elements[at] = elements  # type: ignore[index]
    pieces.ends[at, 0] = us
    pieces.ends[at, 1] = vs
    pieces.length[at] = lengths
    pieces.start[at] = starts
    pieces.end[at] = stops


def _finish(builder: Builder) -> Network:
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


def _solid_pieces(builder: Builder, columns: _Columns) -> dict[int, str]:
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
    builder: Builder, columns: _Columns, incidence: tuple[np.ndarray, np.ndarray]
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
    builder: Builder, items: Sequence[Source] | Sequence[Outlet]
) -> dict[int, tuple[str, ...]]:
    found: dict[int, list[str]] = defaultdict(list)
    for item in items:
        # Where a valve stands at the junction of one pipe, the terminal is beyond the valve.
        found[builder.first_node[item.junction]].append(item.id)
    return _settled(found)


def _dead_ends(builder: Builder, ends: np.ndarray) -> dict[int, Named]:
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
        kind = str(junction.fitting) if junction.fitting in SHUT else "closed end"
        if junction.goes_on is not None:
            kind = "dead pipe beyond"
        found[node] = Named("junction", junction.id, said=f"{kind} {junction.id}")
    return found


def _work_place(builder: Builder, columns: _Columns, item: WorkItem) -> WorkPlace:
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


def _opened_stretch(builder: Builder, columns: _Columns, item: WorkItem, label: Named) -> WorkPlace:
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
