"""Free space round pipes, the plain way: see plain.py. shapely does the geometry in plan."""

from __future__ import annotations

import math
from functools import cached_property
from typing import Any

import networkx as nx
import numpy as np
import shapely

from layoutcheck.document.models import DrawingKind, Obstruction
from tests.bench.plain_graph import PlainGraph, Span, Spot

FREE = 6 * 0.0254
EXACT = 1e-6
QUARTER = 32
# A round corner is drawn as a polygon; this much wider, the polygon holds the whole circle.
ROUND = 1.0 / math.cos(math.pi / (4 * QUARTER))


class Space:
    """Where there is room for a jacket."""

    def __init__(self, graph: PlainGraph) -> None:
        self.graph = graph
        layout = graph.layout
        self.scale = layout.drawing.scale
        plan = layout.drawing.kind is DrawingKind.PLAN and self.scale is not None
        self.solid = list(layout.site.obstructions) if plan else []
        self.tree = shapely.STRtree([shapely.Polygon(o.outline) for o in self.solid])

    def _stated(self, k: int) -> float | None:
        own = self.graph.pipes[self.graph.pieces[k].element].clear_space
        return own if own is not None else self.graph.layout.site.clear_space

    def _drawn(self, k: int) -> bool:
        return self.graph.drawn(self.graph.pipes[self.graph.pieces[k].element]) is not None

    def _line(self, k: int) -> shapely.LineString:
        """Give the drawn line of a piece."""
        piece = self.graph.pieces[k]
        corners, shares = self.graph.drawn(self.graph.pipes[piece.element]) or ([], [])
        length = self.graph.layout_length(piece.element)
        ends = [piece.start / length, piece.end / length] if length else [0.0, 0.0]
        xs, ys = [c[0] for c in corners], [c[1] for c in corners]
        inner = [c for c, s in zip(corners, shares, strict=True) if ends[0] < s < ends[1]]
        points = [(np.interp(e, shares, xs), np.interp(e, shares, ys)) for e in ends]
        return shapely.LineString([points[0], *inner, points[1]])

    def _crowds(self, k: int) -> list[Span]:
        """Give the stretches of a piece with too little measured space."""
        if not self.solid or not self._drawn(k):
            return []
        reach = self.graph.outside(k) / 2 + FREE
        line, piece = self._line(k), self.graph.pieces[k]
        found: list[Span] = []
        wide = reach * ROUND / (self.scale or 1.0)
        for index in self.tree.query(line, predicate="dwithin", distance=wide):
            solid = self.solid[index]
            zone = shapely.Polygon(solid.outline).buffer(wide, quad_segs=QUARTER)
            for part in shapely.get_parts(shapely.intersection(line, zone)):
                if part.is_empty:
                    continue
                marks = [line.project(shapely.Point(c)) for c in part.coords]
                share = piece.length / line.length if line.length else 0.0
                span = (min(marks) * share, max(marks) * share)
                at = span if line.length else (0.0, piece.length)
                found += self._at_height(k, at, solid, reach)
        return found

    def _at_height(self, k: int, span: Span, solid: Obstruction, reach: float) -> list[Span]:
        piece = self.graph.pieces[k]
        low, high = (self.graph.height[n] for n in piece.ends)
        bottom = -math.inf if solid.bottom is None else solid.bottom - reach
        top = math.inf if solid.top is None else solid.top + reach
        if math.isnan(low + high) or piece.length == 0.0:
            return [span]
        slope = (high - low) / piece.length
        if abs(slope) < 1e-12:
            return [span] if bottom <= low <= top else []
        marks = sorted(((bottom - low) / slope, (top - low) / slope))
        start, end = max(span[0], marks[0]), min(span[1], marks[1])
        return [(start, end)] if start <= end else []

    def _is_fit(self, k: int) -> bool:
        stated = self._stated(k)
        if stated is not None:
            return stated >= FREE - EXACT
        return bool(self.solid) and self._drawn(k)

    @cached_property
    def _silent(self) -> bool:
        """Tell whether nothing at all is said of free space."""
        pipes = [p.index for p in self.graph.pieces if p.kind == "pipe"]
        if self.solid and any(self._drawn(k) for k in pipes):
            return False
        return all(self._stated(k) is None for k in pipes)

    @cached_property
    def _crowded(self) -> dict[int, list[Span]]:
        """Give every stretch, by piece, with too little space."""
        found: dict[int, list[Span]] = {}
        for piece in self.graph.pieces:
            if piece.kind != "pipe":
                continue
            spans = [] if self._is_fit(piece.index) else [(0.0, piece.length)]
            spans += self._crowds(piece.index)
            if spans:
                found[piece.index] = spans
        return found

    @cached_property
    def _far(self) -> dict[Any, float]:
        """Give the distance (m) along the pipe from each node to the nearest crowded stretch."""
        graph = self.graph.water(None, "")
        for k, spans in self._crowded.items():
            piece = self.graph.pieces[k]
            for low, high in spans:
                graph.add_edge("crowd", piece.u, length=low)
                graph.add_edge("crowd", piece.v, length=piece.length - high)
        if "crowd" not in graph:
            return {}
        far = dict(nx.single_source_dijkstra_path_length(graph, "crowd", weight="length"))
        graph.remove_node("crowd")
        return far

    def clear(self, k: int, half: float) -> list[Span]:
        """Give where the centre of a jacket may lie on a piece."""
        piece = self.graph.pieces[k]
        if self._silent:
            return [(0.0, piece.length)]
        if not self._is_fit(k):
            return []
        low = max(0.0, half - self._far.get(piece.u, math.inf))
        high = min(piece.length, piece.length + self._far.get(piece.v, math.inf) - half)
        free: list[Span] = []
        for start, end in sorted(self._crowded.get(k, [])):
            if start - half - low > EXACT:
                free.append((low, min(high, start - half)))
            low = max(low, end + half)
        if high - low >= -2 * EXACT:
            free.append((low, high))
        return free

    def judge(self, spot: Spot, half: float) -> str:
        """Judge the free space along a jacket."""
        far = self.graph.spread(spot, None, "")
        tight = unknown = False
        for piece in self.graph.pieces:
            if piece.kind != "pipe":
                continue
            for start, end in self._under(piece.index, spot, half, far):
                stated = self._stated(piece.index)
                tight |= stated is not None and stated < FREE - EXACT
                measured = bool(self.solid) and self._drawn(piece.index)
                if measured:
                    spans = self._crowds(piece.index)
                    tight |= any(a < end - EXACT and b > start + EXACT for a, b in spans)
                unknown |= stated is None and not measured
        return "broken" if tight else "undecided" if unknown else "holds"

    def _under(self, k: int, spot: Spot, half: float, far: dict[int, float]) -> list[Span]:
        """Give the stretches of a piece that lie under a jacket."""
        piece = self.graph.pieces[k]
        if k == spot.piece:
            return [(max(0.0, spot.offset - half), min(piece.length, spot.offset + half))]
        found = []
        for node in piece.ends:
            covered = half - far.get(node, math.inf)
            if covered > EXACT:
                span = (0.0, min(piece.length, covered))
                if node == piece.v:
                    span = (max(0.0, piece.length - covered), piece.length)
                found.append(span)
        return found
