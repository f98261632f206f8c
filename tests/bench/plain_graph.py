"""A layout as a networkx multigraph, written the plain way: see plain.py.

Pipes are cut into pieces wherever something stands on them; a valve or a pump is a piece of its
own. Everything else is a search by networkx over the pieces that a reading of the valves leaves.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from functools import cache, cached_property
from itertools import pairwise
from typing import Any

import networkx as nx
import numpy as np
import shapely

from layoutcheck.document.models import (
    Equipment,
    EquipmentKind,
    FittingKind,
    Junction,
    Layout,
    Moment,
    OutletState,
    Pipe,
    PipeFlow,
    Tightness,
    Valve,
    ValveKind,
    ValveState,
    Vertex,
)
from layoutcheck.quantities import explicit_dimensions, pipe_dimensions

FREEZING, WORKING = Moment.FREEZING, Moment.WORKING
SAME = 1e-7  # two stations nearer than this are one, m
BEND = 5.0  # degrees

Span = tuple[float, float]


@dataclass
class Part:
    """A piece of pipe, a valve or a pump, between nodes u and v."""

    index: int
    kind: str
    element: str
    u: int
    v: int
    length: float
    start: float = 0.0
    end: float = 0.0

    @property
    def ends(self) -> tuple[int, int]:
        return self.u, self.v


@dataclass
class Spot:
    """A point on a piece."""

    piece: int
    offset: float


@dataclass
class Thing:
    """Something that stands on a pipe: a point, or the body of a valve or pump."""

    start: float
    end: float
    kind: str = ""
    element: str = ""
    what: str = ""
    gear: Equipment | None = None


class PlainGraph:
    """The pieces of a layout, and the questions asked of them."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.pipes = {p.id: p for p in layout.pipes}
        self.junctions = {j.id: j for j in layout.junctions}
        self.valves = {v.id: v for v in layout.valves}
        self.pumps = {p.id: p for p in layout.pumps}
        self.pieces: list[Part] = []
        self.height: list[float] = []
        self.notes: set[int] = set()  # nodes where something on a pipe interrupts it
        self.nodes_of: dict[str, list[int]] = {}
        self.on_pipe: dict[str, list[int]] = defaultdict(list)
        self.bodies: dict[str, list[tuple[float, float, int]]] = defaultdict(list)
        self.tanks: dict[int, list[Equipment]] = defaultdict(list)
        self._end: dict[tuple[str, int], tuple[int, float]] = {}
        self._length = {p.id: self._measured(p) for p in layout.pipes}
        self._place_junctions()
        things = self._things()
        for pipe in sorted(layout.pipes, key=lambda p: p.id):
            self._cut(pipe, sorted(things[pipe.id], key=lambda t: (t.start, t.end, t.element)))
        for gear in layout.equipment:
            if gear.junction is not None and gear.kind is EquipmentKind.TANK:
                self.tanks[self.first[gear.junction]].append(gear)
        self.work, self.opened = self._opened()

    # --- drawing ---------------------------------------------------------------------------------

    def drawn(self, pipe: Pipe) -> tuple[list[tuple[float, float]], list[float]] | None:
        """Give the corners of a drawn pipe, and their shares of its length."""
        ends = self.junctions[pipe.from_].at, self.junctions[pipe.to].at
        if ends[0] is None or ends[1] is None:
            return None
        inner = [v.at if isinstance(v, Vertex) else v for v in pipe.via]
        points = [ends[0], *inner, ends[1]]
        flat = [math.dist(a, b) for a, b in pairwise(points)]
        scale, heights = self.layout.drawing.scale, self._heights(pipe)
        if self.layout.drawing.kind == "plan" and scale is not None and None not in heights:
            rises = [b - a for a, b in pairwise(heights)]  # type: ignore[operator]
            flat = [math.hypot(f * scale, r) for f, r in zip(flat, rises, strict=True)]
        total = sum(flat)
        shares = [sum(flat[:i]) / total if total else i / len(flat) for i in range(len(points))]
        shares[-1] = 1.0
        return points, shares

    def _heights(self, pipe: Pipe) -> list[float | None]:
        inner = [v.elevation if isinstance(v, Vertex) else None for v in pipe.via]
        ends = self.junctions[pipe.from_].elevation, self.junctions[pipe.to].elevation
        return [ends[0], *inner, ends[1]]

    def _measured(self, pipe: Pipe) -> float:
        if pipe.length is None:
            raise NotImplementedError("the plain version wants every length stated")
        return pipe.length

    def _height_at(self, pipe: Pipe, station: float) -> float:
        drawn, heights = self.drawn(pipe), self._heights(pipe)
        if heights[0] is None or heights[-1] is None:
            return math.nan
        shares = [0.0, 1.0] if drawn is None or len(drawn[1]) != len(heights) else drawn[1]
        if len(shares) != len(heights):
            heights = [heights[0], heights[-1]]
        known = [(s, z) for s, z in zip(shares, heights, strict=True) if z is not None]
        share = station / self._length[pipe.id] if self._length[pipe.id] else 0.0
        return float(np.interp(share, [s for s, _ in known], [z for _, z in known]))

    def snap(self, point: tuple[float, float]) -> tuple[str, float]:
        """Give the pipe and station that a drawn point means."""
        spot = shapely.Point(point)
        near: list[tuple[float, str]] = []
        for pipe in self.layout.pipes:
            drawn = self.drawn(pipe)
            if drawn is not None:
                near.append((float(spot.distance(shapely.LineString(drawn[0]))), pipe.id))
        _, chosen = min(near)
        corners, shares = self.drawn(self.pipes[chosen]) or ([], [])
        along = shapely.LineString(corners).project(spot)
        steps = [math.dist(a, b) for a, b in pairwise(corners)]
        marks = [sum(steps[:i]) for i in range(len(corners))]
        return chosen, float(np.interp(along, marks, shares)) * self._length[chosen]

    # --- building --------------------------------------------------------------------------------

    @property
    def first(self) -> dict[str, int]:
        """Give the node at which a junction's terminals stand."""
        return self._first

    def _node(self, height: float) -> int:
        self.height.append(height)
        return len(self.height) - 1

    def _piece(
        self, kind: str, element: str, ends: tuple[int, int], spans: Span, length: float
    ) -> int:
        part = Part(len(self.pieces), kind, element, *ends, length, *spans)
        self.pieces.append(part)
        if kind == "pipe":
            self.on_pipe[element].append(part.index)
        return part.index

    def _place_junctions(self) -> None:
        ends_at: dict[str, list[tuple[str, int]]] = defaultdict(list)
        for pipe in self.layout.pipes:
            ends_at[pipe.from_].append((pipe.id, 0))
            ends_at[pipe.to].append((pipe.id, 1))
        inline: dict[str, tuple[str, str, float]] = {}
        for valve in self.layout.valves:
            if valve.junction is not None:
                inline[valve.junction] = ("valve", valve.id, valve.body / 2)
        for pump in self.layout.pumps:
            if pump.junction is not None:
                inline[pump.junction] = ("pump", pump.id, 0.0)
        self._first: dict[str, int] = {}
        for junction in sorted(self.layout.junctions, key=lambda j: j.id):
            node = self._node(_z(junction.elevation))
            self._first[junction.id] = node
            self.nodes_of[junction.id] = [node]
            ends = sorted(ends_at[junction.id])
            if junction.id in inline and ends:
                self._split(junction, ends, inline[junction.id])
            else:
                self._end.update(dict.fromkeys(ends, (node, 0.0)))

    def _split(
        self, junction: Junction, ends: list[tuple[str, int]], item: tuple[str, str, float]
    ) -> None:
        """Put a valve or pump between the two sides of its junction."""
        kind, element, half = item
        node = self._first[junction.id]
        other = self._node(_z(junction.elevation))
        self.nodes_of[junction.id].append(other)
        body = self._piece(kind, element, (other, node), (0.0, 0.0), 2 * half)
        for (pipe, end), face in zip(ends, (other, node), strict=False):
            length = self._length[pipe]
            trim = min(half, length)
            self._end[pipe, end] = (face, trim)
            height = self._height_at(self.pipes[pipe], trim if end == 0 else length - trim)
            if not math.isnan(height):
                self.height[face] = height
        for pipe, end in ends:
            length = self._length[pipe]
            self.bodies[pipe].append(
                (*((0.0, half) if end == 0 else (length - half, length)), body)
            )

    def _things(self) -> dict[str, list[Thing]]:
        """Give all that stands on each pipe."""
        found: dict[str, list[Thing]] = defaultdict(list)
        for pipe, thing in (*self._points(), *self._inline()):
            found[pipe].append(thing)
        return found

    def _points(self) -> Iterator[tuple[str, Thing]]:
        for fitting in self.layout.fittings:
            if fitting.kind is not FittingKind.WELD or fitting.defective:
                at = fitting.station
                yield fitting.pipe, Thing(at, at, element=fitting.id, what="fitting")
        for gear in self.layout.equipment:
            if gear.pipe is not None and gear.station is not None:
                at, name = gear.station, f"\0{gear.id}"
                yield gear.pipe, Thing(at, at, element=name, what="gear", gear=gear)
        for item in self.layout.work.open if self.layout.work else ():
            for cut in (item.start or 0.0, item.end or 0.0):
                if item.pipe is not None:
                    yield item.pipe, Thing(cut, cut)
        for pipe in self.layout.pipes:
            for share in self._bends(pipe):
                at = share * self._length[pipe.id]
                yield pipe.id, Thing(at, at, what="bend")

    def _inline(self) -> Iterator[tuple[str, Thing]]:
        for valve in self.layout.valves:
            if valve.pipe is not None and valve.station is not None:
                half = valve.body / 2
                span = max(0.0, valve.station - half), valve.station + half
                yield valve.pipe, Thing(*span, "valve", valve.id)
        for pump in self.layout.pumps:
            if pump.pipe is not None and pump.station is not None:
                yield pump.pipe, Thing(pump.station, pump.station, "pump", pump.id)

    def _bends(self, pipe: Pipe) -> Iterator[float]:
        corners, shares = self.drawn(pipe) or ([], [])
        for i in range(1, len(corners) - 1):
            turn = _turn(_step(corners[i - 1], corners[i]), _step(corners[i], corners[i + 1]))
            if turn is None or turn > BEND:
                yield shares[i]

    def _cut(self, pipe: Pipe, things: list[Thing]) -> None:
        (here, at), (last, trim) = self._end[pipe.id, 0], self._end[pipe.id, 1]
        stop = self._length[pipe.id] - trim
        for thing in things:
            to = min(thing.start, stop)
            if to - at > SAME:
                new = self._node(self._height_at(pipe, to))
                self._piece("pipe", pipe.id, (here, new), (at, to), to - at)
                here, at = new, to
            if thing.kind:
                end = max(thing.end, at)
                new = self._node(self._height_at(pipe, end))
                body = self._piece(thing.kind, thing.element, (here, new), (0.0, 0.0), end - at)
                self.bodies[pipe.id].append((at, end, body))
                here, at = new, end
            elif thing.what:
                self.notes.add(here)
                if thing.gear is not None and thing.gear.kind is EquipmentKind.TANK:
                    self.tanks[here].append(thing.gear)
        rest = max(stop - at, 0.0)
        self._piece("pipe", pipe.id, (here, last), (at, at + rest), rest)

    def _opened(self) -> tuple[dict[str, set[int]], tuple[set[int], set[int]]]:
        """Give the opened nodes by label, and all opened nodes and pieces."""
        work: dict[str, set[int]] = {}
        pieces: set[int] = set()
        for item in self.layout.work.open if self.layout.work else ():
            if item.junction is not None:
                work[item.label] = set(self.nodes_of[item.junction])
                continue
            if item.pipe is not None:
                inside = self._stretch(item.pipe, item.start or 0.0, item.end or 0.0)
            else:
                element = item.valve or item.pump
                kind = "valve" if item.valve else "pump"
                inside = {p.index for p in self.pieces if (p.kind, p.element) == (kind, element)}
            pieces |= inside
            nodes = {n for k in inside for n in self.pieces[k].ends}
            work[item.label] = nodes or self._nodes_at(item.pipe or "", item.start or 0.0)
        return work, ({n for nodes in work.values() for n in nodes}, pieces)

    def _stretch(self, pipe: str, start: float, end: float) -> set[int]:
        inside = {
            k
            for k in self.on_pipe[pipe]
            if self.pieces[k].start >= start - SAME and self.pieces[k].end <= end + SAME
        }
        for low, high, body in self.bodies[pipe]:
            cut_into = start < high - SAME and low < end - SAME
            if cut_into or max(high, end) - min(low, start) <= SAME:
                inside.add(body)
        return inside

    def _nodes_at(self, pipe: str, station: float) -> set[int]:
        ends = [
            (abs(at - station), node)
            for k in self.on_pipe[pipe]
            for at, node in (
                (self.pieces[k].start, self.pieces[k].u),
                (self.pieces[k].end, self.pieces[k].v),
            )
        ]
        return {node for gap, node in ends if gap <= min(ends)[0] + SAME}

    # --- places ----------------------------------------------------------------------------------

    def spot(self, pipe: str, station: float) -> Spot:
        """Give the point of a piece nearest to a station; of equals the first."""
        best, gap = Spot(-1, 0.0), math.inf
        for k in self.on_pipe[pipe]:
            piece = self.pieces[k]
            offset = min(max(station - piece.start, 0.0), piece.length)
            if abs(piece.start + offset - station) < gap:
                best, gap = Spot(k, offset), abs(piece.start + offset - station)
        return best

    def layout_length(self, pipe: str) -> float:
        """Give the developed length (m) of a pipe."""
        return self._length[pipe]

    def inches(self, k: int) -> float:
        """Give the nominal size of a piece of pipe."""
        return self.pipes[self.pieces[k].element].size.inches

    def outside(self, k: int) -> float:
        """Give the outside diameter (m) of a piece of pipe."""
        return _dimensions(self.pipes[self.pieces[k].element]).outside_diameter

    # --- interruptions ---------------------------------------------------------------------------

    def interrupted(self) -> set[int]:
        """Give the nodes over which no jacket may lie."""
        touching: dict[int, list[Part]] = defaultdict(list)
        found = set(self.notes) | self.opened[0]
        for piece in self.pieces:
            for node in piece.ends:
                touching[node].append(piece)
            if piece.kind != "pipe":
                found |= set(piece.ends)
        for junction in self.layout.junctions:
            found |= {n for n in self.nodes_of[junction.id] if self._breaks(junction, touching[n])}
        names = [s.junction for s in self.layout.sources]
        names += [o.junction for o in self.layout.outlets]
        names += [g.junction for g in self.layout.equipment if g.junction is not None]
        return found | {self.first[name] for name in names}

    def _breaks(self, junction: Junction, touching: list[Part]) -> bool:
        if junction.fitting not in {None, FittingKind.WELD} or junction.defective:
            return True
        if len(touching) > 2 or len(touching) == 1:
            return True
        if len(touching) < 2 or any(p.kind != "pipe" for p in touching):
            return False
        one, two = (self.pipes[p.element] for p in touching)
        return _bore(one) != _bore(two) or self._turns(junction.id, one, two)

    def _turns(self, junction: str, one: Pipe, two: Pipe) -> bool:
        if one is two:
            return True
        rises = [self._rise(p) for p in (one, two)]
        plumb = [r is not None and r >= 0.99 for r in rises]
        if any(plumb) and any(r is not None and r < 0.70 for r in rises):
            return True
        steps = [self._leaving(p, junction) for p in (one, two)]
        if steps[0] is None or steps[1] is None:
            return False
        turn = _turn((-steps[0][0], -steps[0][1]), steps[1])
        return not all(plumb) if turn is None else turn > BEND

    def _rise(self, pipe: Pipe) -> float | None:
        heights, length = self._heights(pipe), self._length[pipe.id]
        if pipe.via or length <= 0.0 or heights[0] is None or heights[-1] is None:
            return None
        return abs(heights[-1] - heights[0]) / length

    def _leaving(self, pipe: Pipe, junction: str) -> tuple[float, float] | None:
        drawn = self.drawn(pipe)
        if drawn is None:
            return None
        corners = drawn[0] if pipe.from_ == junction else drawn[0][::-1]
        return _step(corners[0], corners[1])

    def dead_ends(self) -> set[int]:
        """Give the nodes at which a pipe just ends."""
        degree = Counter(n for p in self.pieces for n in p.ends)
        busy = {s.junction for s in self.layout.sources} | {o.junction for o in self.layout.outlets}
        tanks = [g for g in self.layout.equipment if g.kind is EquipmentKind.TANK]
        busy |= {g.junction or "" for g in tanks}
        return {n for j, n in self.first.items() if degree[n] == 1 and j not in busy}

    # --- water -----------------------------------------------------------------------------------

    def _holds(self, valve: Valve, moment: Moment, trust: str) -> bool:
        state = valve.at(moment)
        if valve.kind is ValveKind.CHECK:
            return False
        if state is not ValveState.CLOSED:
            return state is None and trust == "best"
        if trust == "denied":
            return valve.tightness is not Tightness.NOT_PROVEN
        return trust != "proven" or valve.tightness is Tightness.PROVEN

    def connecting(self, moment: Moment | None, trust: str) -> set[int]:
        """Give the pieces through which water passes; all of them if no moment is asked for."""
        return {
            p.index
            for p in self.pieces
            if moment is None
            or p.kind != "valve"
            or not self._holds(self.valves[p.element], moment, trust)
        }

    def water(self, moment: Moment | None, trust: str) -> nx.MultiGraph[Any]:
        """Give the graph of what connects, made once for each reading."""
        key = moment, trust
        if key not in self._waters:
            graph: nx.MultiGraph[Any] = nx.MultiGraph()
            graph.add_nodes_from(range(len(self.height)))
            for k in self.connecting(moment, trust):
                graph.add_edge(*self.pieces[k].ends, key=k, length=self.pieces[k].length)
            self._waters[key] = graph
        return self._waters[key]

    @cached_property
    def _waters(self) -> dict[tuple[Moment | None, str], nx.MultiGraph[Any]]:
        return {}

    def distances(self, nodes: set[int], moment: Moment | None, trust: str) -> dict[int, float]:
        """Give the distance (m) from each node to the nearest of some."""
        if not nodes:
            return {}
        return dict(
            nx.multi_source_dijkstra_path_length(self.water(moment, trust), nodes, weight="length")
        )

    def spread(self, spot: Spot, moment: Moment | None, trust: str) -> dict[int, float]:
        """Give the distance (m) from each node to a point on a piece."""
        graph, piece = self.water(moment, trust), self.pieces[spot.piece]
        graph.add_edge("spot", piece.u, length=spot.offset)
        graph.add_edge("spot", piece.v, length=piece.length - spot.offset)
        far = dict(nx.single_source_dijkstra_path_length(graph, "spot", weight="length"))
        graph.remove_node("spot")
        return far

    def between(self, one: Spot, two: Spot, far: dict[int, float]) -> float:
        """Give the distance (m) between two points, from what spreads from the first."""
        piece = self.pieces[two.piece]
        ways = [
            far.get(piece.u, math.inf) + two.offset,
            far.get(piece.v, math.inf) + piece.length - two.offset,
        ]
        if one.piece == two.piece:
            ways.append(abs(one.offset - two.offset))
        return min(ways)

    def _terminals(self, moment: Moment) -> set[int]:
        found = {self.first[s.junction] for s in self.layout.sources}
        for outlet in self.layout.outlets:
            if outlet.at(moment) not in {OutletState.LOCKED_OFF, OutletState.BLEED}:
                found.add(self.first[outlet.junction])
        for node, tanks in self.tanks.items():
            if any(not t.is_locked(moment) for t in tanks):
                found.add(node)
        return found

    def flowing(self, trust: str) -> set[int]:
        """Give the pieces that can flow while freezing, worked out once for each reading."""
        if trust not in self._flows:
            water = self.water(FREEZING, trust)
            self._flows[trust] = self._find_flowing(water, FREEZING)
        return self._flows[trust]

    def flowing_in_hold(self, trust: str, ice: Collection[int]) -> set[int]:
        """Give the pieces that can flow at work, while no water passes where ice stands."""
        return self._find_flowing(self.water_beside(trust, ice), WORKING)

    def water_beside(self, trust: str, ice: Collection[int]) -> nx.MultiGraph[Any]:
        """Give the graph of what connects at work, without the pieces where ice stands."""
        graph = self.water(WORKING, trust).copy()
        for k in ice:
            if graph.has_edge(*self.pieces[k].ends, k):
                graph.remove_edge(*self.pieces[k].ends, key=k)
        return graph

    def flows_more(self, trust: str) -> set[int]:
        """Give the pieces that can flow at work, were there no ice, and not while freezing."""
        if trust not in self._more:
            self._more[trust] = self.flowing_in_hold(trust, ()) - self.flowing(trust)
        return self._more[trust]

    @cached_property
    def _more(self) -> dict[str, set[int]]:
        return {}

    @cached_property
    def _flows(self) -> dict[str, set[int]]:
        return {}

    def _find_flowing(self, water: nx.MultiGraph[Any], moment: Moment) -> set[int]:
        terminals = self._terminals(moment)
        simple: nx.Graph[Any] = nx.Graph(water)
        # networkx would put a pipe from a junction to itself into a neighbour's block.
        simple.remove_edges_from(list(nx.selfloop_edges(simple)))
        pumps = {
            p.index
            for p in self.pieces
            if p.kind == "pump" and not self.pumps[p.element].is_locked(moment)
        }
        found = {p.index for p in self.pieces if p.kind == "pipe" and self._said(p)}
        loops: Any = water
        for k in pumps:
            if self.pieces[k].u == self.pieces[k].v:
                found.add(k)
        for block in nx.biconnected_component_edges(simple):
            inside = {k for u, v in block for k in loops[u][v]}
            if len(inside) > 1 and inside & pumps:
                found |= inside
        simple.add_edges_from(("outside", n) for n in terminals)
        for block in nx.biconnected_component_edges(simple):
            ways_out = [e for e in block if "outside" in e]
            if len(ways_out) > 1:
                found |= {k for u, v in block if "outside" not in (u, v) for k in loops[u][v]}
        return found

    def _said(self, piece: Part) -> bool:
        return self.pipes[piece.element].flow is PipeFlow.FLOWING

    # --- the work --------------------------------------------------------------------------------

    def threats(self) -> dict[int, str]:
        """Name what water may come from while working."""
        found: dict[int, str] = {}
        for node, tanks in self.tanks.items():
            live = sorted(t.id for t in tanks if not t.is_locked(WORKING))
            if live:
                found[node] = f"tank {live[0]}"
        for piece in self.pieces:
            runs = piece.kind == "pump" and not self.pumps[piece.element].is_locked(WORKING)
            if runs:
                found[piece.u] = found[piece.v] = f"pump {piece.element}"
        for source in sorted(self.layout.sources, key=lambda s: s.id, reverse=True):
            found[self.first[source.junction]] = f"source {source.id}"
        return found

    def kept(self, trust: str, plugged: Collection[int]) -> set[int]:
        """Give the pieces that still connect; what is opened connects in any case."""
        if trust not in self._live:
            self._live[trust] = self.connecting(WORKING, trust)
        return (self._live[trust] - set(plugged)) | self.opened[1]

    @cached_property
    def _live(self) -> dict[str, set[int]]:
        return {}

    def reached(self, trust: str, plugged: Collection[int], nodes: Collection[int]) -> set[int]:
        """Give the nodes that stay connected with some."""
        keep = self.kept(trust, plugged)
        seen, rest = set(nodes), list(nodes)
        while rest:
            for k in self._touching[rest.pop()]:
                if k in keep:
                    rest += [n for n in self.pieces[k].ends if n not in seen]
                    seen |= set(self.pieces[k].ends)
        return seen

    @cached_property
    def _touching(self) -> dict[int, list[int]]:
        found: dict[int, list[int]] = defaultdict(list)
        for piece in self.pieces:
            for node in set(piece.ends):
                found[node].append(piece.index)
        return found

    def ways_in(self, trust: str, plugged: Collection[int], nodes: Collection[int]) -> set[str]:
        """Name the threats that still reach some nodes."""
        inside = self.reached(trust, plugged, nodes)
        return {name for node, name in self.threats().items() if node in inside}


def _dimensions(pipe: Pipe) -> Any:
    if pipe.outside_diameter is not None and pipe.wall_thickness is not None:
        return explicit_dimensions(pipe.outside_diameter, pipe.wall_thickness)
    return _table(pipe.size, pipe.material, pipe.wall)


@cache
def _table(*size: Any) -> Any:
    return pipe_dimensions(*size)


def _z(height: float | None) -> float:
    return math.nan if height is None else height


def _bore(pipe: Pipe) -> tuple[object, ...]:
    return (
        pipe.size.inches,
        pipe.material,
        pipe.wall,
        pipe.outside_diameter,
        pipe.wall_thickness,
    )


def _step(a: tuple[float, float], b: tuple[float, float]) -> tuple[float, float]:
    return b[0] - a[0], b[1] - a[1]


def _turn(first: tuple[float, float], second: tuple[float, float]) -> float | None:
    size = math.hypot(*first) * math.hypot(*second)
    if size == 0.0:
        return None
    cosine = (first[0] * second[0] + first[1] * second[1]) / size
    return math.degrees(math.acos(min(1.0, max(-1.0, cosine))))
