"""The rules of a layout as one would write them in an afternoon: networkx, shapely, plain loops.

Two uses. It is the yardstick of the benchmark, and it is a second opinion: it shares no code with
layoutcheck beyond the parsed document and the pipe dimensions, and must come to the same outcomes
and the same nearest places (see test_same_outcomes.py). It takes the obvious road everywhere: one
graph for each reading of the valves, one search for each question, dicts and loops.

The graph is in plain_graph.py. Written down here are the rules of design.md, section 4, that need
no physics; the figures are the built-in ones.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise
from typing import Any

import networkx as nx

from layoutcheck.document.models import (
    Covering,
    Layout,
    Moment,
    Outlet,
    OutletState,
    ValveState,
)
from tests.bench.plain_graph import FREEZING, PlainGraph, Span, Spot
from tests.bench.plain_space import Space

INCH = 0.0254
PER_INCH = 12 * INCH  # of pipe for each inch of nominal size
MARGIN = 6 * INCH  # of straight pipe beyond the jacket
WARMEST = 293.15 + 1e-3
EXACT = 1e-6  # still on the limit, m
TIE = 1e-9

Outcome = list[Any]  # the outcome's word, and the length measured where there is one
Intervals = dict[int, list[Span]]


@dataclass
class Marked:
    """A plug: where it stands, its size in inches, half its jacket in m."""

    id: str
    spot: Spot
    inches: float
    half: float


@dataclass
class PlainCheck:
    """One layout, checked the plain way."""

    layout: Layout
    graph: PlainGraph = field(init=False)

    def __post_init__(self) -> None:
        self.graph = PlainGraph(self.layout)
        self.space = Space(self.graph)
        self.spreads: dict[tuple[str, str], dict[int, float]] = {}
        self.plugs = [self._mark(i) for i in range(len(self.layout.plugs))]
        self.plugs.sort(key=lambda p: p.id)
        self.features = {
            "flowing-line-setback": self._flowing_nodes,
            "closed-valve-setback": self._shut_valves,
            "closed-end-setback": self._closed_ends,
            "straight-run": self._interruptions,
        }
        self.far = {
            (rule, trust): self.graph.distances(find(trust), FREEZING, trust)
            for rule, find in self.features.items()
            for trust in ("best", "proven")
        }

    def _mark(self, index: int) -> Marked:
        plug = self.layout.plugs[index]
        pipe, station = plug.pipe or "", plug.station or 0.0
        if plug.point is not None:
            pipe, station = self.graph.snap(plug.point)
        inches = self.graph.pipes[pipe].size.inches
        return Marked(plug.id, self.graph.spot(pipe, station), inches, plug.jacket / 2)

    # --- features --------------------------------------------------------------------------------

    def _flowing_nodes(self, trust: str) -> set[int]:
        flowing = self.graph.flowing(trust)
        return {n for k in flowing for n in self.graph.pieces[k].ends}

    def _shut_valves(self, trust: str) -> set[int]:
        found: set[int] = set()
        for piece in self.graph.pieces:
            if piece.kind != "valve":
                continue
            valve = self.graph.valves[piece.element]
            state = valve.at(Moment.FREEZING)
            shut = trust != "best" if state is None else state is not ValveState.OPEN
            if shut:
                found |= set(piece.ends)
        return found

    def _closed_ends(self, trust: str) -> set[int]:
        found = set(self.graph.dead_ends())
        outlets: dict[int, list[Outlet]] = {}
        for outlet in self.layout.outlets:
            outlets.setdefault(self.graph.first[outlet.junction], []).append(outlet)
        shut = {OutletState.LOCKED_OFF, OutletState.BLEED}
        for node, here in outlets.items():
            states = {o.at(Moment.FREEZING) or OutletState.MAY_DRAW for o in here}
            if states <= shut or (trust == "proven" and OutletState.KEPT_OPEN not in states):
                found.add(node)
        for node, tanks in self.graph.tanks.items():
            if all(t.is_locked(Moment.FREEZING) for t in tanks):
                found.add(node)
        return found

    def _interruptions(self, trust: str) -> set[int]:
        del trust
        barred = {n for k in self.barred for n in self.graph.pieces[k].ends}
        return self.graph.interrupted() | barred

    @cached_property
    def barred(self) -> set[int]:
        """Give the pieces on which no jacket may lie."""
        found = {p.index for p in self.graph.pieces if p.kind != "pipe"} | self.graph.opened[1]
        for piece in self.graph.pieces:
            fixed = (
                piece.kind == "pipe" and self.graph.pipes[piece.element].covering is Covering.FIXED
            )
            if fixed:
                found.add(piece.index)
        return found

    # --- each plug where it stands ---------------------------------------------------------------

    def _required(self, rule: str, inches: float) -> float:
        return MARGIN if rule == "straight-run" else inches * PER_INCH

    def _inside(self, rule: str, trust: str) -> set[int]:
        if rule == "flowing-line-setback":
            return self.graph.flowing(trust)
        return self.barred if rule == "straight-run" else set()

    def _measure(self, rule: str, plug: Marked, trust: str) -> float:
        if plug.spot.piece in self._inside(rule, trust):
            return 0.0
        piece, far = self.graph.pieces[plug.spot.piece], self.far[rule, trust]
        by_u = far.get(piece.u, math.inf) + plug.spot.offset
        by_v = far.get(piece.v, math.inf) + piece.length - plug.spot.offset
        return max(0.0, min(by_u, by_v) - plug.half)

    def judge_plug(self, plug: Marked) -> dict[str, Outcome]:
        """Judge one plug by every rule of place."""
        found: dict[str, Outcome] = {}
        for rule in self.features:
            required = self._required(rule, plug.inches)
            sure, worst = (self._measure(rule, plug, t) for t in ("best", "proven"))
            if rule == "flowing-line-setback" and sure >= required - EXACT:
                found[rule] = self._judge_flow(plug, required, worst)
            elif sure < required - EXACT:
                found[rule] = ["broken", sure]
            elif worst < required - EXACT:
                found[rule] = ["undecided", worst]
            else:
                found[rule] = ["holds", worst]
        under = self._under(plug)
        ice = {p.spot.piece for p in self.plugs}
        flows = [bool(under & self._flowing_ever(t, ice)) for t in ("best", "proven")]
        word = "broken" if flows[0] else "undecided" if flows[1] else "holds"
        found["no-flow-at-plug"] = [word, None]
        found["jacket-clearance"] = [self.space.judge(plug.spot, plug.half), None]
        pieces = [self.graph.pieces[k] for k in under]
        pipes = [self.graph.pipes[p.element] for p in pieces if p.kind == "pipe"]
        water = [p.water_temperature or self.layout.site.water_temperature for p in pipes]
        warm = "undecided" if None in water else "holds"
        if warm == "holds" and any(t is not None and t > WARMEST for t in water):
            warm = "broken"
        found["start-temperature"] = [warm, None]
        return found

    def _judge_flow(self, plug: Marked, required: float, worst: float) -> Outcome:
        """Judge the distance to what flows, in the hold too; `worst`: while freezing."""
        ice = {p.spot.piece for p in self.plugs}
        held = [math.inf, math.inf]
        if self.graph.flows_more("proven"):
            held = [self._held(plug, t, ice) for t in ("best", "proven")]
        if held[0] < required - EXACT:
            return ["broken", held[0]]
        if worst < required - EXACT:
            return ["undecided", worst]
        return ["undecided", held[1]] if held[1] < required - EXACT else ["holds", worst]

    def _held(self, plug: Marked, trust: str, ice: set[int]) -> float:
        """Give the length (m) to what flows at work, with ice in every plug's pipe."""
        flowing = self.graph.flowing_in_hold(trust, ice)
        nodes = {n for k in flowing for n in self.graph.pieces[k].ends}
        far = spread_of(self.graph.water_beside(trust, ice), nodes)
        piece = self.graph.pieces[plug.spot.piece]
        by_u = far.get(piece.u, math.inf) + plug.spot.offset
        by_v = far.get(piece.v, math.inf) + piece.length - plug.spot.offset
        return max(0.0, min(by_u, by_v) - plug.half)

    def _flowing_ever(self, trust: str, ice: set[int]) -> set[int]:
        """Give what can flow while freezing, or at work beside the ice."""
        found = self.graph.flowing(trust)
        if self.graph.flows_more(trust):
            found = found | self.graph.flowing_in_hold(trust, ice)
        return found

    def _in_hold(self, plug: Marked, k: int, spans: list[Span]) -> list[Span]:
        """Keep of stretches of a piece what lies still in the hold, with the plug's ice there."""
        graph = self.graph
        if not graph.flows_more("proven"):
            return spans
        ice = {p.spot.piece for p in self.plugs if p.id != plug.id} | {k}
        flowing = graph.flowing_in_hold("proven", ice)
        if k in flowing:
            return []
        piece = graph.pieces[k]
        nodes = {n for i in flowing for n in graph.pieces[i].ends}
        beside = spread_of(graph.water_beside("proven", ice), nodes)
        reach = self._required("flowing-line-setback", graph.inches(k)) + plug.half
        spans = meet(spans, [keep(piece.length, beside, piece.ends, reach)])
        along = graph.distances(nodes, None, "")
        return meet(spans, [keep(piece.length, along, piece.ends, plug.half)])

    def _under(self, plug: Marked) -> set[int]:
        """Give the pieces that lie under a jacket, along all pipe."""
        far = self.graph.spread(plug.spot, None, "")
        nearest = {p.index: min(far.get(n, math.inf) for n in p.ends) for p in self.graph.pieces}
        return {plug.spot.piece} | {k for k, at in nearest.items() if at < plug.half - EXACT}

    @cached_property
    def _to_flow(self) -> dict[int, float]:
        """Give the distance (m) along all pipe from each node to what may flow."""
        nodes = self._flowing_nodes("proven")
        return self.graph.distances(nodes, None, "")

    def _from(self, plug: Marked, trust: str) -> dict[int, float]:
        """Give the distance (m) from each node to a plug, worked out once."""
        if (plug.id, trust) not in self.spreads:
            self.spreads[plug.id, trust] = self.graph.spread(plug.spot, FREEZING, trust)
        return self.spreads[plug.id, trust]

    def pairs(self) -> dict[str, Outcome]:
        """Judge every pair of plugs; those that hold, or that no water connects, are left out."""
        found: dict[str, Outcome] = {}
        for index, one in enumerate(self.plugs):
            spread = [self._from(one, t) for t in ("best", "proven")]
            for two in self.plugs[index + 1 :]:
                required = max(one.inches, two.inches) * PER_INCH
                sure, worst = (
                    max(0.0, self.graph.between(one.spot, two.spot, s) - one.half - two.half)
                    for s in spread
                )
                if sure < required - EXACT:
                    found[f"{one.id} + {two.id}"] = ["broken", sure]
                elif worst < required - EXACT:
                    found[f"{one.id} + {two.id}"] = ["undecided", worst]
        return found

    # --- the work --------------------------------------------------------------------------------

    def works(self) -> dict[str, list[str]]:
        """Judge whether each opened thing is cut off, and by what."""
        plugged = {p.spot.piece for p in self.plugs}
        found = {}
        for label, nodes in self.graph.work.items():
            ways = {
                t: bool(self.graph.ways_in(t, plugged, nodes))
                for t in ("best", "stated", "denied", "proven")
            }
            cut = "broken" if ways["best"] else "undecided" if ways["stated"] else "holds"
            if ways["stated"]:
                barrier = "does not apply"
            else:
                barrier = "broken" if ways["denied"] else "undecided" if ways["proven"] else "holds"
            found[label] = [cut, barrier]
        return found

    def deciding(self, plug: Marked) -> tuple[set[int], bool]:
        """Find the pieces on which a plug, with the others, cuts the work off."""
        graph, work = self.graph, self.graph.opened[0]
        pipes = {p.index for p in graph.pieces if p.kind == "pipe"}
        if not work:
            return pipes, True
        others = {p.spot.piece for p in self.plugs if p.id != plug.id}
        proven = not graph.ways_in("proven", others | {plug.spot.piece}, work)
        trust = "proven" if proven else "stated"
        pipes -= graph.opened[1]
        if not graph.ways_in(trust, others, work):
            return pipes, True
        found = self._cutting(trust, others, set()) & pipes
        if found:
            return found, True
        now = graph.ways_in(trust, others | {plug.spot.piece}, work)
        if not graph.ways_in(trust, others, work) - now:
            return pipes, False
        return self._cutting(trust, others, now) & pipes, False

    def _cutting(self, trust: str, others: set[int], besides: set[str]) -> set[int]:
        """Find the pieces each of which is a bridge between the work and all that threatens."""
        graph, work = self.graph, self.graph.opened[0]
        inside = graph.reached(trust, others, work)
        threats = graph.threats()
        live = {n for n, name in threats.items() if n in inside and name not in besides}
        if live & work:
            return set()
        joined: nx.MultiGraph[Any] = nx.MultiGraph()
        for k in graph.kept(trust, others):
            u, v = (
                "work" if n in work else "live" if n in live else n for n in graph.pieces[k].ends
            )
            if u != v:
                joined.add_edge(u, v, key=k)
        simple: nx.Graph[Any] = nx.Graph(joined)
        way = nx.shortest_path(simple, "work", "live")
        bridges = {frozenset(b) for b in nx.bridges(simple)}
        found: set[int] = set()
        for u, v in pairwise(way):
            if frozenset((u, v)) in bridges and joined.number_of_edges(u, v) == 1:
                edges: Any = joined.get_edge_data(u, v)
                found |= set(edges)
        return found

    # --- the nearest place -----------------------------------------------------------------------

    def allowed(self, plug: Marked, pieces: Iterable[int]) -> Intervals:
        """Give the stretches of some pieces on which a plug passes every rule of place."""
        clear: Intervals = {}
        flowing = self.graph.flowing("proven")
        spread = [(o, self._from(o, "proven")) for o in self.plugs if o.id != plug.id]
        for k in pieces:
            if k in flowing or k in self.barred:
                continue
            piece = self.graph.pieces[k]
            spans = [(0.0, piece.length)]
            for rule in self.features:
                far = self.far[rule, "proven"]
                reach = self._required(rule, self.graph.inches(k)) + plug.half
                spans = meet(spans, [keep(piece.length, far, piece.ends, reach)])
            # No part of the jacket may lie on what flows, even behind a valve that holds.
            spans = meet(spans, [keep(piece.length, self._to_flow, piece.ends, plug.half)])
            for other, far in spread if spans else ():
                reach = max(self.graph.inches(k), other.inches) * PER_INCH + plug.half + other.half
                low, high = keep(piece.length, far, piece.ends, reach)
                if other.spot.piece == k:
                    at = other.spot.offset
                    spans = meet(
                        spans, [(low, min(high, at - reach)), (max(low, at + reach), high)]
                    )
                elif (low, high) != (0.0, piece.length):
                    spans = meet(spans, [(low, high)])
            spans = meet(spans, self.space.clear(k, plug.half))
            spans = self._in_hold(plug, k, spans) if spans else spans
            if spans:
                clear[k] = spans
        return clear

    def nearest(self, plug: Marked) -> list[Any]:
        """Find the nearest place: [isolates, pipe, station, travel]."""
        pieces, isolates = self.deciding(plug)
        along = self.graph.spread(plug.spot, None, "")
        best: tuple[float, str, float] | None = None
        for k, spans in sorted(self.allowed(plug, sorted(pieces)).items()):
            piece = self.graph.pieces[k]
            for low, high in spans:
                travel, offset = self._closest(plug, along, k, (low, high))
                if not math.isfinite(travel):
                    continue
                here = (travel, piece.element, piece.start + offset)
                tied = best is not None and abs(travel - best[0]) <= TIE
                if best is None or (here[1:] < best[1:] if tied else travel < best[0]):
                    best = here
        return [isolates, None, None, None] if best is None else [isolates, *best[1:], best[0]]

    def _closest(
        self, plug: Marked, along: dict[int, float], k: int, span: Span
    ) -> tuple[float, float]:
        piece, (low, high) = self.graph.pieces[k], span
        ways = [
            (along.get(piece.u, math.inf) + low, low),
            (along.get(piece.v, math.inf) + piece.length - high, high),
        ]
        if plug.spot.piece == k:
            own = min(max(plug.spot.offset, low), high)
            own = plug.spot.offset if abs(own - plug.spot.offset) <= EXACT else own
            ways.append((abs(own - plug.spot.offset), own))
        least = min(ways)[0]
        return min((w for w in ways if w[0] <= least + TIE), key=lambda w: w[1])

    def everything(self) -> dict[str, Any]:
        """Check the whole layout."""
        return {
            "plugs": {p.id: self.judge_plug(p) for p in self.plugs},
            "pairs": self.pairs(),
            "work": self.works(),
            "nearest": {p.id: self.nearest(p) for p in self.plugs},
        }


def spread_of(water: nx.MultiGraph[Any], nodes: set[int]) -> dict[int, float]:
    """Give the distance (m) from each node to the nearest of some, where water connects."""
    if not nodes:
        return {}
    return dict(nx.multi_source_dijkstra_path_length(water, nodes, weight="length"))


def keep(length: float, far: dict[int, float], ends: tuple[int, int], reach: float) -> Span:
    """Give what lies at least some length away from a set of nodes on a piece."""
    low = max(0.0, reach - far.get(ends[0], math.inf))
    return low, min(length, length + far.get(ends[1], math.inf) - reach)


def meet(first: Iterable[Span], second: Iterable[Span]) -> list[Span]:
    """Give what lies in both; what is empty by rounding alone is a point."""
    found: set[Span] = set()
    for a, b in first:
        for c, d in second:
            low, high = max(a, c), min(b, d)
            if low <= high:
                found.add((low, high))
            elif low <= high + 2 * EXACT:
                found.add(((low + high) / 2, (low + high) / 2))
    return sorted(found)
