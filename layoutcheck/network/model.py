"""The network's values: places, pieces of pipe between them, and the graph they make.

A piece is a stretch of one pipe, the body of one valve, or one pump. Pipes are cut into pieces
wherever something stands on them, so that every rule can speak of nodes and lengths alone.
Pieces and nodes are numbered in the order of the elements' ids, never in the order in which the
document lists them: the same site gives the same numbers however it is written down.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from enum import IntEnum
from functools import cached_property
from typing import Generic, TypeVar, overload

import networkx as nx
import numpy as np

from layoutcheck.document.models import Layout, Pipe, Pump, Valve
from layoutcheck.document.named import Named
from layoutcheck.network.joints import Interruptions
from layoutcheck.network.once import Once
from layoutcheck.quantities import PipeDimensions

T = TypeVar("T")

# Two places nearer to each other than this (m) are one: rounding must not choose between them.
_AS_NEAR = 1e-9


class PieceKind(IntEnum):
    """What a piece is."""

    PIPE = 0
    VALVE = 1
    PUMP = 2


@dataclass(frozen=True)
class Place:
    """Where a node is: at a junction, or at a station (m) on a pipe."""

    junction: str | None = None
    pipe: str | None = None
    station: float | None = None
    element: str | None = None


@dataclass(frozen=True)
class Piece:
    """One piece: nodes u and v, length (m), and what it is a piece of.

    For pipes, start and end are the stations (m) of u and v on the pipe. Stations count from the
    pipe's own end: what runs on through a body at its junctions lies before 0 and past its length.
    """

    index: int
    kind: PieceKind
    element: str
    u: int
    v: int
    length: float
    start: float = 0.0
    end: float = 0.0


@dataclass(frozen=True)
class Spot:
    """A point on a piece, at a distance (m) from its node u."""

    piece: int
    offset: float


@dataclass(frozen=True)
class WorkPlace:
    """One opened thing: its name, its nodes, and the pieces that are opened with it."""

    label: Named
    nodes: tuple[int, ...]
    pieces: frozenset[int]


class _Rows(Sequence[T]):
    """Rows that are made when they are asked for: a million objects are never all there at once."""

    def _row(self, index: int) -> T:
        raise NotImplementedError

    @overload
    def __getitem__(self, index: int) -> T: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[T]: ...
    def __getitem__(self, index: int | slice) -> T | Sequence[T]:
        """Give one row, or several."""
        if isinstance(index, slice):
            return tuple(self._row(i) for i in range(*index.indices(len(self))))
        count = len(self)
        if not -count <= index < count:
            raise IndexError(index)
        return self._row(int(index) % count)

    def __iter__(self) -> Iterator[T]:
        """Give every row in order."""
        return map(self._row, range(len(self)))


@dataclass(frozen=True, eq=False)
class Pieces(_Rows[Piece]):
    """The pieces of a network by columns: elements, and arrays over the pieces.

    kind: PieceKind. ends: (pieces, 2) nodes. length, start, end: m.
    """

    elements: Sequence[str]
    kind: np.ndarray
    ends: np.ndarray
    length: np.ndarray
    start: np.ndarray
    end: np.ndarray

    def __len__(self) -> int:
        """Give how many pieces there are."""
        return len(self.elements)

    def _row(self, index: int) -> Piece:
        u, v = self.ends[index].tolist()
        return Piece(
            index=index,
            kind=_KINDS[self.kind[index]],
            element=self.elements[index],
            u=u,
            v=v,
            length=float(self.length[index]),
            start=float(self.start[index]),
            end=float(self.end[index]),
        )


_KINDS = tuple(PieceKind)


@dataclass(frozen=True, eq=False)
class Places(_Rows[Place]):
    """The places of a network: first those at junctions, then those on pipes.

    junctions: the junction of each of the former. faces: what stands there between two of them.
    points: pipe, station (m) and element of each of the latter.
    """

    junctions: Sequence[str]
    faces: Mapping[int, str]
    points: Sequence[tuple[str, float, str | None]]

    def __len__(self) -> int:
        """Give how many places there are."""
        return len(self.junctions) + len(self.points)

    def _row(self, index: int) -> Place:
        if index < len(self.junctions):
            return Place(junction=self.junctions[index], element=self.faces.get(index))
        pipe, station, element = self.points[index - len(self.junctions)]
        return Place(pipe=pipe, station=station, element=element)


@dataclass(frozen=True, eq=False)
class ByName(Mapping[str, T], Generic[T]):
    """What each pipe or junction has, by its id: looked up by its number when asked for."""

    number: Mapping[str, int]
    of: Callable[[int], T]

    def __getitem__(self, name: str) -> T:
        """Give what one has."""
        return self.of(self.number[name])

    def __iter__(self) -> Iterator[str]:
        """Give every id."""
        return iter(self.number)

    def __len__(self) -> int:
        """Give how many there are."""
        return len(self.number)


def incidence_of(ends: np.ndarray, node_count: int) -> tuple[np.ndarray, np.ndarray]:
    """Sort the ends of all pieces by node: where each node's list starts, and the lists.

    ends: (pieces, 2) nodes. A piece from a node to itself is listed once.
    """
    nodes = np.concatenate([ends[:, 0], ends[:, 1]])
    pieces = np.tile(np.arange(len(ends)), 2)
    once = np.ones(len(nodes), dtype=bool)
    once[len(ends) :] = ends[:, 0] != ends[:, 1]
    nodes, pieces = nodes[once], pieces[once]
    order = np.lexsort((pieces, nodes))
    starts = np.zeros(node_count + 1, dtype=np.int64)
    np.cumsum(np.bincount(nodes, minlength=node_count), out=starts[1:])
    return starts, pieces[order]


@dataclass(frozen=True)
class Network:
    """The piping of one layout. Arrays are indexed by node or by piece.

    elevation: (nodes,) m, nan where unknown. length: (pieces,) m. ends: (pieces, 2) nodes.
    pipes: in the order of ids.
    kind: (pieces,) PieceKind. inches: (pieces,) nominal size in inches (0 for valves and pumps).
    pipe_of: (pieces,) the number of each piece's pipe in the order of ids, -1 for valves and pumps.
    solid: pieces of pipe that run through the body of a fitting or a machine, each with its name.
    geometry: keeps what follows from where things are; networks that differ in states share it.
    own: keeps what follows from this network's states too.
    """

    layout: Layout
    places: Places
    pieces: Pieces
    elevation: np.ndarray
    length: np.ndarray
    ends: np.ndarray
    kind: np.ndarray
    inches: np.ndarray
    pipe_of: np.ndarray
    solid: Mapping[int, str]
    interruptions: Interruptions
    sources: Mapping[int, tuple[str, ...]]
    tanks: Mapping[int, tuple[str, ...]]
    outlets: Mapping[int, tuple[str, ...]]
    heat: Mapping[int, tuple[str, ...]]
    dead_ends: Mapping[int, Named]
    work: tuple[WorkPlace, ...]
    pipes: Mapping[str, Pipe]
    valves: Mapping[str, Valve]
    pumps: Mapping[str, Pump]
    pipe_length: Mapping[str, float]
    dimensions: Mapping[str, PipeDimensions]
    pieces_of: Mapping[str, tuple[int, ...]]
    junction_nodes: Mapping[str, tuple[int, ...]]
    geometry: Once = field(default_factory=Once, repr=False, compare=False)
    own: Once = field(default_factory=Once, init=False, repr=False, compare=False)

    @property
    def node_count(self) -> int:
        """Give the number of nodes."""
        return len(self.places)

    @cached_property
    def work_nodes(self) -> tuple[int, ...]:
        """Give the nodes of all that is opened, each once, in order."""
        return tuple(sorted({n for place in self.work for n in place.nodes}))

    @property
    def valve_pieces(self) -> np.ndarray:
        """Give the pieces that are bodies of valves, in order."""
        return self.geometry("valves", lambda: np.flatnonzero(self.kind == PieceKind.VALVE))

    @property
    def pump_pieces(self) -> np.ndarray:
        """Give the pieces that are pumps, in order."""
        return self.geometry("pumps", lambda: np.flatnonzero(self.kind == PieceKind.PUMP))

    def at_node(self, node: int) -> np.ndarray:
        """Give the pieces that begin or end at a node, in order."""
        starts, touching = self.incidence
        found: np.ndarray = touching[starts[node] : starts[node + 1]]
        return found

    def at_nodes(self, nodes: np.ndarray) -> np.ndarray:
        """Give the pieces that begin or end at any of some nodes, in order."""
        starts, touching = self.incidence
        counts = starts[nodes + 1] - starts[nodes]
        # Each node's list is a stretch of `touching`: all of them, end to end.
        behind = np.repeat(np.cumsum(counts) - counts, counts)
        at = np.repeat(starts[nodes], counts) + np.arange(len(behind)) - behind
        return np.unique(touching[at])

    @property
    def incidence(self) -> tuple[np.ndarray, np.ndarray]:
        """Give where each node's list of pieces starts (nodes + 1,), and the lists, end to end."""
        return self.geometry("incidence", self._incidence)

    @property
    def other_ends(self) -> np.ndarray:
        """Give for each entry of the lists of `incidence` the node at the piece's other end."""
        return self.geometry("other ends", self._other_ends)

    def _other_ends(self) -> np.ndarray:
        starts, touching = self.incidence
        here = np.repeat(np.arange(self.node_count), np.diff(starts))
        ends = self.ends[touching]
        return np.asarray(np.where(ends[:, 0] == here, ends[:, 1], ends[:, 0]))

    def _incidence(self) -> tuple[np.ndarray, np.ndarray]:
        return incidence_of(self.ends, self.node_count)

    def nodes_of(self, pieces: np.ndarray) -> np.ndarray:
        """Give the nodes at which any of some pieces (a boolean array) begin or end, in order."""
        met = np.zeros(self.node_count, dtype=bool)
        met[self.ends[pieces]] = True
        return np.flatnonzero(met)

    def of_pipes(self, values: Sequence[float] | np.ndarray, elsewhere: float) -> np.ndarray:
        """Spread a value for each pipe, in the order of ids, over the pieces of pipe."""
        column = np.append(np.asarray(values), elsewhere)
        return np.asarray(column[self.pipe_of])

    @cached_property
    def graph(self) -> nx.MultiGraph[int]:
        """Give the network as a networkx multigraph; edge keys are piece numbers."""
        graph: nx.MultiGraph[int] = nx.MultiGraph()
        for node, place in enumerate(self.places):
            graph.add_node(node, place=place, elevation=float(self.elevation[node]))
        for piece in self.pieces:
            graph.add_edge(
                piece.u,
                piece.v,
                key=piece.index,
                length=piece.length,
                kind=piece.kind.name.lower(),
                element=piece.element,
            )
        return graph

    def spot(self, pipe: str, station: float) -> Spot:
        """Find the piece and offset of a station (m) on a pipe.

        A station inside a valve's body is taken at the nearer face; where two pieces are as near,
        on the first of them.
        """
        best, best_gap, best_offset = -1, np.inf, 0.0
        for index in self.pieces_of[pipe]:
            piece = self.pieces[index]
            offset = min(max(station - piece.start, 0.0), piece.length)
            gap = abs(piece.start + offset - station)
            if gap < best_gap - _AS_NEAR:
                best, best_gap, best_offset = index, gap, offset
        return Spot(best, best_offset)

    def station(self, spot: Spot) -> tuple[str, float]:
        """Give the pipe and station (m) of a spot on a piece of pipe."""
        piece = self.pieces[spot.piece]
        return piece.element, piece.start + spot.offset

    def elevation_at(self, spot: Spot) -> float:
        """Give the height (m) of a spot; nan where an end's height is unknown."""
        piece = self.pieces[spot.piece]
        low, high = float(self.elevation[piece.u]), float(self.elevation[piece.v])
        if piece.length == 0.0:
            return low
        return low + (high - low) * spot.offset / piece.length
