"""Drawn paths: how long they are, where a station lies on them, which pipe a point means.

A riser diagram is not to scale: the developed length rules, and stations map to the drawn path
in proportion. Only where the drawing states a scale is a path itself measured. shapely drops the
third coordinate (a riser seen in plan has length zero), so lengths are summed here, with height.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import cast

import numpy as np
import shapely

from layoutcheck.document.faults import shown
from layoutcheck.document.models import DrawingKind, Junction, Layout, Pipe, Vertex

# Two candidates for a drawn point nearer to each other than this share of the drawing's extent
# can not be told apart by a hand that drew them.
_TIE = 1e-9


# The shares of a path that has no corners.
_STRAIGHT = np.array([0.0, 1.0])
_STRAIGHT.setflags(write=False)


@dataclass(frozen=True)
class DrawnPath:
    """A pipe's drawn path: vertices (n, 2) in drawing units and their share of its length.

    Shares run from 0 to 1 between the pipe's own ends, and beyond them through the bodies of what
    stands at its junctions, where the drawn path begins and ends.
    """

    points: np.ndarray
    shares: np.ndarray

    def at(self, share: float) -> tuple[float, float]:
        """Give the drawn position at a share (0 to 1) of the developed length."""
        x = float(np.interp(share, self.shares, self.points[:, 0]))
        y = float(np.interp(share, self.shares, self.points[:, 1]))
        return x, y

    def between(self, start: float, end: float) -> list[tuple[float, float]]:
        """Give the drawn polyline between two shares, with the corners that lie between."""
        inner = [i for i, s in enumerate(self.shares) if start < s < end]
        corners = [cast("tuple[float, float]", tuple(map(float, self.points[i]))) for i in inner]
        return [self.at(start), *corners, self.at(end)]

    def bends(self, degrees: float = 5.0) -> list[float]:
        """Give the shares at which the drawn path turns by more than some degrees."""
        turns = []
        steps = np.diff(self.points, axis=0).tolist()
        for index in range(len(steps) - 1):
            angle = turn_between(steps[index], steps[index + 1])
            if angle is None or angle > degrees:
                turns.append(float(self.shares[index + 1]))
        return turns


def turn_between(first: Sequence[float], second: Sequence[float]) -> float | None:
    """Give the angle in degrees by which one drawn step turns into the next; None if no length.

    first, second: two drawn steps, x and y. Asked once for each joint, so plain numbers do it.
    """
    (a, b), (c, d) = first, second
    scale = math.hypot(a, b) * math.hypot(c, d)
    if scale == 0.0:
        return None
    cosine = min(max((a * c + b * d) / scale, -1.0), 1.0)
    return math.degrees(math.acos(cosine))


class Positions:
    """Where junctions are drawn and how high they lie, looked up once for a layout."""

    def __init__(self, layout: Layout) -> None:
        """Index the layout's junctions."""
        self.layout = layout
        self.junctions = {j.id: j for j in layout.junctions}

    def ends_of(self, pipe: Pipe) -> tuple[Junction, Junction]:
        """Give the junctions that a pipe runs between."""
        return self.junctions[pipe.from_], self.junctions[pipe.to]

    def is_drawn(self, pipe: Pipe) -> bool:
        """Tell whether both ends of a pipe have a position."""
        start, end = self.ends_of(pipe)
        return start.at is not None and end.at is not None

    def corners(self, pipe: Pipe) -> list[tuple[float, float]]:
        """Give the corners of a drawn pipe's path, its ends among them."""
        start, end = self.ends_of(pipe)
        assert start.at is not None and end.at is not None, "the pipe is drawn"
        return [start.at, *(v.at if isinstance(v, Vertex) else v for v in pipe.via), end.at]

    def step_from(self, pipe: Pipe, junction: str) -> tuple[float, float] | None:
        """Give a pipe's first drawn step away from a junction; None where it is not drawn."""
        if not self.is_drawn(pipe):
            return None
        corners = self.corners(pipe)
        if pipe.from_ != junction:
            corners.reverse()
        (a, b), (c, d) = corners[:2]
        return c - a, d - b

    def path(self, pipe: Pipe) -> DrawnPath | None:
        """Give a pipe's drawn path; None where an end has no position."""
        if not self.is_drawn(pipe):
            return None
        points = np.array(self.corners(pipe), dtype=float)
        if not pipe.via:
            return DrawnPath(points, self._own_shares(pipe, _STRAIGHT))
        spans = self._spans(pipe, points)
        total = float(spans.sum())
        if total > 0.0:
            shares = np.concatenate(([0.0], np.cumsum(spans) / total))
        else:
            shares = np.linspace(0.0, 1.0, len(points))
        shares[-1] = 1.0
        return DrawnPath(points, self._own_shares(pipe, shares))

    def _own_shares(self, pipe: Pipe, shares: np.ndarray) -> np.ndarray:
        """Count shares of a path, from junction to junction, from the pipe's own ends instead."""
        length = self.measured_length(pipe) if pipe.from_body or pipe.to_body else None
        if not length:  # without one there are no stations
            return shares
        whole = pipe.from_body + length + pipe.to_body
        return np.asarray((shares * whole - pipe.from_body) / length)

    def heights(self, pipe: Pipe) -> list[float | None]:
        """Give the elevation (m) of each vertex of a pipe's path where it is stated."""
        inner = [v.elevation if isinstance(v, Vertex) else None for v in pipe.via]
        ends = self.junctions[pipe.from_].elevation, self.junctions[pipe.to].elevation
        return [ends[0], *inner, ends[1]]

    def _spans(self, pipe: Pipe, points: np.ndarray) -> np.ndarray:
        """Length of each drawn step: in metres with height on a scaled plan, else as drawn."""
        flat: np.ndarray = np.hypot(*np.diff(points, axis=0).T)
        scale = self.layout.drawing.scale
        heights = self.heights(pipe)
        if self.layout.drawing.kind is not DrawingKind.PLAN or scale is None or None in heights:
            return flat
        rises = np.array([b - a for a, b in pairwise(cast("list[float]", heights))])
        sloped: np.ndarray = np.hypot(flat * scale, rises)
        return sloped

    def measured_length(self, pipe: Pipe) -> float | None:
        """Give a pipe's developed length (m) between its own ends.

        As stated, else measured on a scaled drawing, from junction to junction without what is the
        body of something else.
        """
        if pipe.length is not None:
            return pipe.length
        whole = self.drawn_length(pipe)
        return None if whole is None else max(0.0, whole - pipe.from_body - pipe.to_body)

    def drawn_length(self, pipe: Pipe) -> float | None:
        """Measure a pipe (m) on a scaled drawing, from junction to junction."""
        scale = self.layout.drawing.scale
        if scale is None or not self.is_drawn(pipe):
            return None
        points = np.array(self.corners(pipe), dtype=float)
        flat = float(np.hypot(*np.diff(points, axis=0).T).sum()) * scale
        heights = self.heights(pipe)
        if heights[0] is None or heights[-1] is None:
            return flat
        rise = abs(heights[-1] - heights[0])
        if self.layout.drawing.kind is DrawingKind.RISER:
            return max(flat, rise)
        if None not in heights:
            return float(self._spans(pipe, points).sum())
        # Where the drop stands on the plan is not stated, so the shortest pipe that fits is
        # taken: short distances are the unsafe side.
        return math.hypot(flat, rise)


class SnapFailure(ValueError):
    """A drawn point that means no pipe, or more than one."""

    def __init__(self, problem: str, example: str) -> None:
        """Keep the problem and a right example."""
        super().__init__(problem)
        self.problem = problem
        self.example = example


def snap(layout: Layout, point: tuple[float, float]) -> tuple[str, float]:
    """Snap one drawn point: see Snapper, which is for many."""
    return Snapper(layout).snap(point)


class Drawn:
    """Where the pipes of a layout are drawn, by columns, in the order in which they are given.

    ends: (pipes, 2, 2) x and y of both ends, nan where one has no position. bent: the corners of
    those that do not run straight.
    """

    def __init__(self, positions: Positions, pipes: Sequence[Pipe]) -> None:
        """Look up every pipe once."""
        self.positions = positions
        self.pipes = pipes
        number = {name: i for i, name in enumerate(positions.junctions)}
        at = np.array([j.at or _NOWHERE for j in positions.junctions.values()], dtype=float)
        first = np.fromiter((number[p.from_] for p in pipes), dtype=np.int64)
        last = np.fromiter((number[p.to] for p in pipes), dtype=np.int64)
        self.ends = np.stack([at[first], at[last]], axis=1) if len(at) else np.zeros((0, 2, 2))
        self.bent = {
            i: positions.corners(p) for i, p in enumerate(pipes) if p.via and positions.is_drawn(p)
        }

    @cached_property
    def boxes(self) -> np.ndarray:
        """Give the box round each pipe: (pipes, 4) low x and y, high x and y; nan if not drawn."""
        boxes = np.hstack([self.ends.min(axis=1), self.ends.max(axis=1)])
        for i, corners in self.bent.items():
            xs, ys = zip(*corners, strict=True)
            boxes[i] = min(xs), min(ys), max(xs), max(ys)
        return boxes

    @cached_property
    def numbers(self) -> np.ndarray:
        """Give the pipes that are drawn."""
        return np.flatnonzero(~np.isnan(self.ends).any(axis=(1, 2)))

    def lines(self, numbers: np.ndarray) -> np.ndarray:
        """Draw some pipes (an array of lines)."""
        lines: np.ndarray = np.atleast_1d(shapely.linestrings(self.ends[numbers]))
        for place, number in enumerate(numbers.tolist()) if self.bent else ():
            if number in self.bent:
                lines[place] = shapely.LineString(self.bent[number])
        return lines


_NOWHERE = (math.nan, math.nan)


class Snapper:
    """Snaps drawn points to the drawn pipes of one layout."""

    def __init__(self, layout: Layout, drawn: Drawn | None = None) -> None:
        """Look up where every drawn pipe lies, once; or take where they are drawn as given."""
        self._drawn = Drawn(Positions(layout), layout.pipes) if drawn is None else drawn
        self._positions = self._drawn.positions
        self._layout = layout

    def snap(self, point: tuple[float, float]) -> tuple[str, float]:
        """Snap a drawn point to the nearest drawn pipe.

        Returns the pipe's id and the share (0 to 1) of its developed length. Raises SnapFailure,
        naming the three nearest pipes, where no pipe lies within the stated tolerance or where two
        pipes that do not meet there lie equally near.
        """
        example = '"pipe": "P2", "station": "12 ft"'
        if not len(self._drawn.numbers):
            raise SnapFailure("no pipe has a drawn position to snap to", example)
        tolerance = self._layout.drawing.snap_within
        if tolerance is None:
            problem = "the drawing states no snap_within; the nearest pipes are "
            raise SnapFailure(problem + self._nearest(point), '"drawing": {"snap_within": 2.0}')
        tie = _TIE * self._extent
        near = self._by_distance(point, self._box_within(point, tolerance + tie))
        if not near or near[0][0] > tolerance:
            problem = f"no pipe within {tolerance:g} drawing units; the nearest are "
            raise SnapFailure(problem + self._nearest(point), example)
        ties = [p for d, _, p in near if d - near[0][0] <= tie]
        shares = {p.id: _share_on(self._path(p), point) for p in ties}
        if len(ties) > 1 and not _meet(self._layout, shares):
            problem = "lies equally near to pipes that do not meet there: "
            raise SnapFailure(problem + self._nearest(point), example)
        chosen = min(shares)
        share = shares[chosen]
        if share is None:
            raise SnapFailure(f"pipe {shown(chosen)} is drawn as a point; give a station", example)
        return chosen, share

    @cached_property
    def _extent(self) -> float:
        boxes = self._drawn.boxes[self._drawn.numbers]
        return max(float(boxes.max() - boxes.min()), 1e-12)

    def _box_within(self, point: tuple[float, float], away: float) -> np.ndarray:
        """Give the pipes (their numbers) whose box lies near enough: what lies nearer is in it."""
        x, y = point
        low_x, low_y, high_x, high_y = self._drawn.boxes.T
        near_x = np.maximum(low_x - x, x - high_x) <= away
        near_y = np.maximum(low_y - y, y - high_y) <= away
        return np.flatnonzero(near_x & near_y)

    def _path(self, pipe: Pipe) -> DrawnPath:
        path = self._positions.path(pipe)
        assert path is not None, "a drawn pipe has a path"
        return path

    def _by_distance(
        self, point: tuple[float, float], numbers: np.ndarray
    ) -> list[tuple[float, str, Pipe]]:
        pipes = [self._drawn.pipes[i] for i in numbers.tolist()]
        away = shapely.distance(self._drawn.lines(numbers), shapely.Point(point))
        found = [(float(d), p.id, p) for d, p in zip(away, pipes, strict=True)]
        return sorted(found, key=lambda f: f[:2])

    def _nearest(self, point: tuple[float, float]) -> str:
        """Name the three nearest pipes."""
        near = self._by_distance(point, self._drawn.numbers)[:3]
        return ", ".join(f"{shown(i, 40)} ({d:.4g} away)" for d, i, _ in near)


def _share_on(path: DrawnPath, point: tuple[float, float]) -> float | None:
    """Map the nearest point of a drawn path to a share of the developed length."""
    line = shapely.LineString(path.points)
    if line.length == 0.0:
        return None
    along = float(line.project(shapely.Point(point)))
    flat = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(path.points, axis=0).T))))
    return float(np.interp(along, flat, path.shares))


def _meet(layout: Layout, shares: dict[str, float | None]) -> bool:
    """Tell whether the tied places are all one and the same junction."""
    ends: set[str] = set()
    for pipe in layout.pipes:
        if pipe.id not in shares:
            continue
        share = shares[pipe.id]
        if share is None or 0.0 < share < 1.0:
            return False
        ends.add(pipe.from_ if share == 0.0 else pipe.to)
    return len(ends) == 1
