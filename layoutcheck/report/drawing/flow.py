"""Which way the water can go in each pipe that can flow."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from enum import Enum
from typing import cast

import networkx as nx
import numpy as np

from layoutcheck.document.models import Moment
from layoutcheck.network import Network, PieceKind, Trust, World


class Direction(Enum):
    """The way of the water in a piece, seen along its pipe from 'from' to 'to'."""

    FORWARD = "forward"
    BACKWARD = "backward"
    EITHER = "either way"


@dataclass(frozen=True)
class FlowSpan:
    """A stretch of pipe (stations in m) that can flow; certain is False where it only may."""

    pipe: str
    start: float
    end: float
    direction: Direction
    certain: bool


def flow_spans(network: Network) -> tuple[FlowSpan, ...]:
    """List the stretches that can flow while freezing, joined along each pipe.

    A direction is given only where it is certain: where a piece is the one link between a side
    that holds all the sources and a side that only lets water out. All else may flow either way.
    """
    sure = World(network, Moment.FREEZING, Trust.BEST)
    worst = World(network, Moment.FREEZING, Trust.PROVEN)
    ways = _one_way(worst)
    rows = []
    for piece in network.pieces:
        if piece.kind is not PieceKind.PIPE or not worst.flowing[piece.index]:
            continue
        way = ways.get(piece.index, Direction.EITHER)
        certain = bool(sure.flowing[piece.index])
        rows.append(FlowSpan(piece.element, piece.start, piece.end, way, certain))
    return _joined(sorted(rows, key=lambda s: (s.pipe, s.start, s.end)))


def _joined(rows: list[FlowSpan]) -> tuple[FlowSpan, ...]:
    found: list[FlowSpan] = []
    for row in rows:
        last = found[-1] if found else None
        if last is not None and (last.pipe, last.end, last.direction, last.certain) == (
            row.pipe,
            row.start,
            row.direction,
            row.certain,
        ):
            found[-1] = FlowSpan(row.pipe, last.start, row.end, row.direction, row.certain)
        else:
            found.append(row)
    return tuple(found)


def _one_way(world: World) -> dict[int, Direction]:
    """Find the pieces through which water can go one way only."""
    network = world.network
    graph: nx.Graph[object] = nx.Graph()
    pieces: dict[frozenset[int], list[int]] = defaultdict(list)
    for index in np.flatnonzero(world.connects):
        u, v = map(int, network.ends[index])
        graph.add_edge(u, v)
        pieces[frozenset((u, v))].append(int(index))
    inlets = {
        n
        for n, names in world.terminals.items()
        if any(x.startswith(("source ", "tank ")) for x in names)
    }
    found: dict[int, Direction] = {}
    pump_loops = {int(world.loops[p]) for p in world.running_pumps}
    bridges = cast("list[tuple[int, int]]", list(nx.bridges(graph)))
    for u, v in sorted((min(b), max(b)) for b in bridges):
        links = pieces[frozenset((u, v))]
        if len(links) != 1 or int(world.loops[links[0]]) in pump_loops - {-1}:
            continue
        graph.remove_edge(u, v)
        here = inlets & nx.node_connected_component(graph, u)
        there = inlets & nx.node_connected_component(graph, v)
        graph.add_edge(u, v)
        if bool(here) != bool(there):
            piece = network.pieces[links[0]]
            from_u = bool(here)
            forward = from_u == (piece.u == u)
            found[links[0]] = Direction.FORWARD if forward else Direction.BACKWARD
    return found
