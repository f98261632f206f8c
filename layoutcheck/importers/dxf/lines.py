"""Lines of a drawing made into a network: what meets, what crosses, what nearly meets.

Lines meet where their ends lie within the snap of each other, or where an end lies on another
line. Two lines that cross without an end there do not meet: that is how drawings show a pipe that
passes another.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import shapely
from scipy.spatial import cKDTree

from layoutcheck.document.faults import LayoutFaults
from layoutcheck.importers.draft import one_fault

Spot = tuple[float, float, float]

# Ends further apart than the snap, but within so many times of it, are told as gaps.
_GAP = 5.0
# Things that lie on or beside each other, for each line: past this, a drawing is a heap and no
# network, and looking at all the pairs would take time with their square.
_MOST_BESIDE = 50
_HEAP = "too many ends that lie on each other, or on other lines"


@dataclass(frozen=True)
class Line:
    """One drawn line: its layer and its corners in drawing units (the third may be 0)."""

    layer: str
    points: tuple[Spot, ...]


@dataclass
class Edge:
    """A line between two nodes, with what is told of it."""

    layer: str
    start: int
    end: int
    points: tuple[Spot, ...]


@dataclass
class Drawn:
    """Nodes and edges, and what was noticed on the way (places in drawing units)."""

    nodes: list[Spot] = field(default_factory=list)
    edges: list[Edge] = field(default_factory=list)
    crossings: list[tuple[float, float]] = field(default_factory=list)
    gaps: list[tuple[float, float]] = field(default_factory=list)
    doubled: int = 0
    dots: int = 0

    def degree(self) -> list[int]:
        """Give how many lines end at each node."""
        found = [0] * len(self.nodes)
        for edge in self.edges:
            found[edge.start] += 1
            found[edge.end] += 1
        return found


def most_pairs(number: int) -> int:
    """Give how many pairs of things beside each other are looked at in a drawing of some lines."""
    return 10_000 + _MOST_BESIDE * number


def too_many(what: str) -> LayoutFaults:
    """Make the fault of a drawing with more in it than is read."""
    example = "a drawing of the pipes alone, with a snap far smaller than the pipes are long"
    return one_fault(found="the drawing", problem=f"holds {what}", example=example)


def network_of(lines: list[Line], forced: list[Spot], snap: float) -> Drawn:
    """Make a network of lines.

    forced: places at which a line is cut although none ends there. snap: how near is joined, in
    drawing units.
    """
    drawn = Drawn()
    kept = _without_dots(lines, drawn)
    flat = [shapely.LineString([p[:2] for p in line.points]) for line in kept]
    tree = shapely.STRtree(flat)
    ends = [p for line in kept for p in (line.points[0], line.points[-1])]
    pieces: list[Line] = []
    spots = [shapely.Point(p[:2]) for p in (*ends, *forced)]
    spot_tree = shapely.STRtree(spots)
    looked_at = 0
    for line, shape in zip(kept, flat, strict=True):
        near = spot_tree.query(shape, predicate="dwithin", distance=snap)
        looked_at += len(near)
        if looked_at > most_pairs(len(kept)):
            raise too_many(_HEAP)
        pieces += _split(line, shape, _cuts(shape, [spots[int(i)] for i in near], snap), snap)
    _join(pieces, drawn, snap)
    _look_for_crossings(flat, tree, drawn, snap)
    _look_for_gaps(drawn, snap)
    return drawn


def _without_dots(lines: list[Line], drawn: Drawn) -> list[Line]:
    kept = []
    for line in sorted(lines, key=lambda x: (x.points, x.layer)):
        points = [line.points[0]]
        points += [p for q, p in pairwise(line.points) if p != q]
        if len(points) < 2:
            drawn.dots += 1
            continue
        kept.append(Line(line.layer, tuple(points)))
    return kept


def _cuts(line: shapely.LineString, near: list[shapely.Point], snap: float) -> list[float]:
    """Give the distances along a line at which another line ends on it, or a place is forced."""
    along = [float(line.project(spot)) for spot in near]
    return sorted(a for a in along if snap < a < line.length - snap)


def _split(line: Line, flat: shapely.LineString, cuts: list[float], snap: float) -> list[Line]:
    apart: list[float] = []
    for cut in cuts:
        if not apart or cut - apart[-1] > max(snap, 1e-12):
            apart.append(cut)
    bounds = [0.0, *apart, float(flat.length)]
    points = np.array(line.points)
    steps = np.hypot(*np.diff(points[:, :2], axis=0).T)
    along = np.concatenate(([0.0], np.cumsum(steps)))
    made = []
    for start, end in pairwise(bounds):
        first, last = np.searchsorted(along, (start, end), side="right")
        inner = [float(a) for a in along[first:last] if start < a < end]
        spots = [_at(points, along, a) for a in (start, *inner, end)]
        made.append(Line(line.layer, tuple(spots)))
    return made


def _at(points: np.ndarray, along: np.ndarray, where: float) -> Spot:
    x, y, z = (float(np.interp(where, along, points[:, k])) for k in range(3))
    return (x, y, z)


def _join(pieces: list[Line], drawn: Drawn, snap: float) -> None:
    """Number the nodes: ends within the snap of each other are one."""
    if not pieces:
        return
    ends = [p for piece in pieces for p in (piece.points[0], piece.points[-1])]
    parent = list(range(len(ends)))

    def root(end: int) -> int:
        while parent[end] != end:
            parent[end] = parent[parent[end]]
            end = parent[end]
        return end

    # Ends at the very same spot are one; what is left is looked at in pairs.
    spots = np.array([p[:2] for p in ends])
    apart, first, same = np.unique(spots, axis=0, return_index=True, return_inverse=True)
    for end, spot in enumerate(same.ravel()):
        parent[end] = int(first[spot])
    tree = cKDTree(apart)
    reach = max(snap, 1e-9)
    if tree.count_neighbors(tree, reach) > most_pairs(len(apart)):
        raise too_many(_HEAP)
    for a, b in sorted(tree.query_pairs(reach)):
        one, two = root(int(first[a])), root(int(first[b]))
        parent[max(one, two)] = min(one, two)
    number: dict[int, int] = {}
    for index in range(len(ends)):
        top = root(index)
        if top not in number:
            number[top] = len(drawn.nodes)
            drawn.nodes.append(ends[top])
    tops = [number[root(index)] for index in range(len(ends))]
    _keep_one_of_each(pieces, tops, drawn, snap)


def _keep_one_of_each(pieces: list[Line], tops: list[int], drawn: Drawn, snap: float) -> None:
    """Make edges of pieces, without dots and without lines drawn over each other."""
    seen: dict[tuple[int, int], list[tuple[Spot, ...]]] = defaultdict(list)
    for index, piece in enumerate(pieces):
        start, end = tops[2 * index], tops[2 * index + 1]
        if start == end and _short(piece, snap):
            drawn.dots += 1
            continue
        shape = piece.points if start <= end else piece.points[::-1]
        key = (min(start, end), max(start, end))
        if any(_alike(shape, other, snap) for other in seen[key]):
            drawn.doubled += 1
            continue
        seen[key].append(shape)
        drawn.edges.append(Edge(piece.layer, start, end, piece.points))


def _short(piece: Line, snap: float) -> bool:
    return shapely.LineString([p[:2] for p in piece.points]).length <= 2 * snap + 1e-9


def _alike(one: tuple[Spot, ...], two: tuple[Spot, ...], snap: float) -> bool:
    """Tell whether two lines between the same nodes lie on each other."""
    a, b = (shapely.LineString([p[:2] for p in points]) for points in (one, two))
    return float(shapely.hausdorff_distance(a, b)) <= snap + 1e-9


def _look_for_crossings(
    flat: list[shapely.LineString], tree: shapely.STRtree, drawn: Drawn, snap: float
) -> None:
    """Note where lines cross with no end there: they are not joined."""
    looked_at = 0
    for one, line in enumerate(flat):
        across = [int(two) for two in tree.query(line, predicate="crosses") if two > one]
        looked_at += len(across)
        if looked_at > most_pairs(len(flat)):
            raise too_many("too many crossings")
        for two in sorted(across):
            _note_crossing(line, flat[two], drawn, snap)


def _note_crossing(
    one: shapely.LineString, two: shapely.LineString, drawn: Drawn, snap: float
) -> None:
    ends = [shapely.Point(line.coords[k]) for line in (one, two) for k in (0, -1)]
    for point in shapely.get_parts(shapely.intersection(one, two)):
        if point.geom_type == "Point" and all(point.distance(e) > snap for e in ends):
            drawn.crossings.append((float(point.x), float(point.y)))


def _look_for_gaps(drawn: Drawn, snap: float) -> None:
    """Note ends that nearly meet another end or line, and were not joined."""
    free = [n for n, d in enumerate(drawn.degree()) if d == 1]
    if not free or not snap:
        return
    shapes = [shapely.LineString([p[:2] for p in e.points]) for e in drawn.edges]
    tree = shapely.STRtree(shapes)
    at: dict[int, set[int]] = defaultdict(set)
    for index, edge in enumerate(drawn.edges):
        at[edge.start].add(index)
        at[edge.end].add(index)
    looked_at = 0
    for node in free:
        point = shapely.Point(drawn.nodes[node][:2])
        near = tree.query(point, predicate="dwithin", distance=_GAP * snap)
        looked_at += len(near)
        if looked_at > most_pairs(len(shapes)):
            raise too_many("too many ends that nearly meet")
        own = at[node]
        beside = {n for i in own for n in (drawn.edges[i].start, drawn.edges[i].end)}
        others = [
            int(i)
            for i in near
            if int(i) not in own
            and not {drawn.edges[int(i)].start, drawn.edges[int(i)].end} & beside
        ]
        if others:
            drawn.gaps.append(drawn.nodes[node][:2])
