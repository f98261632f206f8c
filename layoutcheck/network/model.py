"""The network's values: places, pieces of pipe between them, and the graph they make.

A piece is a stretch of one pipe, the body of one valve, or one pump. Pipes are cut into pieces
wherever something stands on them, so that every rule can speak of nodes and lengths alone.
Pieces and nodes are numbered in the order of the elements' ids, never in the order in which the
document lists them: the same site gives the same numbers however it is written down.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import IntEnum
from functools import cached_property

import networkx as nx
import numpy as np

from layoutcheck.document.models import Layout, Pipe, Pump, Valve
from layoutcheck.network.once import Once
from layoutcheck.quantities import PipeDimensions


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

    For pipes, start and end are the stations (m) of u and v on the pipe.
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
    """One opened thing: its label, its nodes, and the pieces that are opened with it."""

    label: str
    nodes: tuple[int, ...]
    pieces: frozenset[int]


@dataclass(frozen=True)
class Network:
    """The piping of one layout. Arrays are indexed by node or by piece.

    elevation: (nodes,) m, nan where unknown. length: (pieces,) m. ends: (pieces, 2) nodes.
    kind: (pieces,) PieceKind. inches: (pieces,) nominal size in inches (0 for valves and pumps).
    geometry: keeps what follows from where things are; networks that differ in states share it.
    own: keeps what follows from this network's states too.
    """

    layout: Layout
    places: tuple[Place, ...]
    pieces: tuple[Piece, ...]
    elevation: np.ndarray
    length: np.ndarray
    ends: np.ndarray
    kind: np.ndarray
    inches: np.ndarray
    interruptions: Mapping[int, tuple[str, ...]]
    sources: Mapping[int, tuple[str, ...]]
    tanks: Mapping[int, tuple[str, ...]]
    outlets: Mapping[int, tuple[str, ...]]
    heat: Mapping[int, tuple[str, ...]]
    dead_ends: Mapping[int, str]
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
        starts, touching = self.geometry("incidence", self._incidence)
        found: np.ndarray = touching[starts[node] : starts[node + 1]]
        return found

    def at_nodes(self, nodes: np.ndarray) -> np.ndarray:
        """Give the pieces that begin or end at any of some nodes, in order."""
        lists = [self.at_node(int(n)) for n in nodes]
        return np.unique(np.concatenate(lists)) if lists else np.empty(0, dtype=np.int64)

    def _incidence(self) -> tuple[np.ndarray, np.ndarray]:
        """Sort the ends of all pieces by node: where each node's list starts, and the lists."""
        nodes = np.concatenate([self.ends[:, 0], self.ends[:, 1]])
        pieces = np.tile(np.arange(len(self.pieces)), 2)
        once = np.ones(len(nodes), dtype=bool)
        once[len(self.pieces) :] = self.ends[:, 0] != self.ends[:, 1]
        nodes, pieces = nodes[once], pieces[once]
        order = np.lexsort((pieces, nodes))
        starts = np.zeros(self.node_count + 1, dtype=np.int64)
        np.cumsum(np.bincount(nodes, minlength=self.node_count), out=starts[1:])
        return starts, pieces[order]

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

        A station inside a valve's body is taken at the nearer face.
        """
        best, best_gap, best_offset = -1, np.inf, 0.0
        for index in self.pieces_of[pipe]:
            piece = self.pieces[index]
            offset = min(max(station - piece.start, 0.0), piece.length)
            gap = abs(piece.start + offset - station)
            if gap < best_gap:
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
