"""Where everything stands on paper: paths in drawing coordinates, stations mapped onto them."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from layoutcheck.document.models import DrawingKind, Layout
from layoutcheck.document.paths import DrawnPath, Positions
from layoutcheck.report.drawing.arrange import arrange
from layoutcheck.report.drawing.metrics import Box
from layoutcheck.report.drawing.scene import Point
from layoutcheck.report.drawing.seen_from import Outlook, outlook_on, spots_of


@dataclass(frozen=True)
class Drawn:
    """A layout's drawn geometry, y downwards, in units of its own.

    arranged: True where the program chose the places; by_height: height on the drawing then
    follows elevation. lengths: developed lengths, m.
    """

    paths: Mapping[str, DrawnPath]
    points: Mapping[str, Point]
    outlines: Mapping[str, tuple[Point, ...]]
    lengths: Mapping[str, float]
    arranged: bool
    by_height: bool = False

    @property
    def extent(self) -> Box:
        """Give the box round everything."""
        every = [*self.points.values()]
        every += [tuple(map(float, p)) for path in self.paths.values() for p in path.points]  # type: ignore[misc]
        every += [p for outline in self.outlines.values() for p in outline]
        xs, ys = [x for x, _ in every], [y for _, y in every]
        return Box(min(xs), min(ys), max(xs), max(ys))


def drawn_of(layout: Layout, lengths: Mapping[str, float]) -> Drawn:
    """Take the document's positions, or arrange the layout where any junction has none."""
    if any(j.at is None for j in layout.junctions):
        return _arranged(layout, lengths)
    outlook = outlook_on(layout)
    if outlook is not None:
        return _seen(layout, lengths, outlook)
    positions = Positions(layout)
    sign = -1.0 if _upwards(layout) else 1.0
    paths = {}
    for pipe in layout.pipes:
        path = positions.path(pipe)
        if path is not None:
            paths[pipe.id] = DrawnPath(path.points * np.array([1.0, sign]), path.shares)
    return Drawn(
        paths=paths,
        points={j.id: (j.at[0], j.at[1] * sign) for j in layout.junctions if j.at is not None},
        outlines={
            o.id: tuple((x, y * sign) for x, y in o.outline) for o in layout.site.obstructions
        },
        lengths=lengths,
        arranged=False,
    )


def _seen(layout: Layout, lengths: Mapping[str, float], outlook: Outlook) -> Drawn:
    """Show a building to scale from where its risers are seen."""
    positions, down = Positions(layout), np.array([1.0, -1.0])
    scale = layout.drawing.scale or 1.0
    paths = {}
    for pipe in layout.pipes:
        path = positions.path(pipe)
        assert path is not None, "asked only where every junction is drawn"
        points = outlook.seen(spots_of(positions, layout, pipe)) * down
        paths[pipe.id] = DrawnPath(points, path.shares)
    spots = np.array([(*(j.at or (0, 0)), (j.elevation or 0.0) / scale) for j in layout.junctions])
    seen = (outlook.seen(spots) * down).tolist()
    return Drawn(
        paths=paths,
        points={j.id: (x, y) for j, (x, y) in zip(layout.junctions, seen, strict=True)},
        outlines={},
        lengths=lengths,
        arranged=False,
        by_height=True,
    )


def _arranged(layout: Layout, lengths: Mapping[str, float]) -> Drawn:
    found = arrange(layout)
    paths = {}
    for pipe in layout.pipes:
        points = np.array(found.paths[pipe.id]) * np.array([1.0, -1.0])
        spans = np.hypot(*np.diff(points, axis=0).T)
        shares = np.concatenate(([0.0], np.cumsum(spans) / (spans.sum() or 1.0)))
        shares[-1] = 1.0
        paths[pipe.id] = DrawnPath(points, shares)
    points = {j: (x, -y) for j, (x, y) in found.points.items()}
    return Drawn(
        paths=paths,
        points=points,
        outlines={},
        lengths=lengths,
        arranged=True,
        by_height=found.by_height,
    )


def _upwards(layout: Layout) -> bool:
    """Tell whether the document's y grows upwards: as heights do, else as on most drawings."""
    if layout.drawing.kind is DrawingKind.PLAN:
        return True
    known = [(j.at[1], j.elevation) for j in layout.junctions if j.at and j.elevation is not None]
    if len(known) < 2:
        return True
    ys, zs = np.array(known).T
    together = float(((ys - ys.mean()) * (zs - zs.mean())).sum())
    return together >= 0.0


class View:
    """A window onto the drawn geometry: part of it, scaled into a frame on a sheet."""

    def __init__(
        self,
        drawn: Drawn,
        window: Box,
        frame: Box,
        *,
        stretch: float = 1.0,
        pad: tuple[float, float] = (0.0, 0.0),
    ) -> None:
        """Fit a window into a frame.

        stretch: how unlike the two axes' scales may be. pad: room kept at the sides, and at top
        and bottom, in points.
        """
        self.drawn, self.frame = drawn, frame
        scale_x = max(frame.width - 2 * pad[0], 1.0) / max(window.width, 1e-9)
        scale_y = max(frame.height - 2 * pad[1], 1.0) / max(window.height, 1e-9)
        least = min(scale_x, scale_y)
        self.scale_x, self.scale_y = min(scale_x, least * stretch), min(scale_y, least * stretch)
        cx, cy = window.centre
        fx, fy = frame.centre
        self.offset = fx - cx * self.scale_x, fy - cy * self.scale_y
        scales = np.array([self.scale_x, self.scale_y])
        self.paths = {
            i: DrawnPath(p.points * scales + np.array(self.offset), p.shares)
            for i, p in drawn.paths.items()
        }

    def place(self, point: Point) -> Point:
        """Map a drawn point onto the sheet."""
        return (
            point[0] * self.scale_x + self.offset[0],
            point[1] * self.scale_y + self.offset[1],
        )

    def at(self, pipe: str, station: float) -> Point:
        """Give the place of a station (m) on the sheet."""
        return self.paths[pipe].at(self._share(pipe, station))

    def between(self, pipe: str, start: float, end: float) -> tuple[Point, ...]:
        """Give the line of a stretch of pipe (stations in m) on the sheet."""
        return tuple(self.paths[pipe].between(self._share(pipe, start), self._share(pipe, end)))

    def whole(self, pipe: str) -> tuple[Point, ...]:
        """Give the line of a pipe from junction to junction on the sheet."""
        return tuple((float(x), float(y)) for x, y in self.paths[pipe].points)

    def angle(self, pipe: str, station: float) -> float:
        """Give the direction of a pipe at a station, degrees clockwise from rightwards."""
        path, share = self.paths[pipe], self._share(pipe, station)
        steps = np.diff(path.points, axis=0)
        index = int(np.searchsorted(path.shares, share, side="right")) - 1
        order = sorted(range(len(steps)), key=lambda i: abs(i - min(max(index, 0), len(steps) - 1)))
        for i in order:
            if math.hypot(*steps[i]) > 0:
                return math.degrees(math.atan2(steps[i][1], steps[i][0]))
        return 0.0

    def shows(self, point: Point) -> bool:
        """Tell whether a point of the sheet lies in the frame."""
        f = self.frame
        return f.left <= point[0] <= f.right and f.top <= point[1] <= f.bottom

    def _share(self, pipe: str, station: float) -> float:
        length, shares = self.drawn.lengths[pipe], self.paths[pipe].shares
        low, high = float(shares[0]), float(shares[-1])
        if not length:  # what stands on a joint without length is drawn apart from what it joins
            return (low + high) / 2
        # Beyond its own ends a pipe's line goes on through the bodies of what stands there.
        return min(max(station / length, low), high)


def beside(points: tuple[Point, ...], offset: float) -> tuple[Point, ...]:
    """Give the line that runs beside another at a distance, with mitred corners.

    A positive offset lies to the right of the line's direction (y grows downwards).
    """
    kept = [points[0]]
    for point in points[1:]:
        if math.dist(point, kept[-1]) > 1e-6:
            kept.append(point)
    if len(kept) < 2:
        return points
    normals = []
    for (x, y), (p, q) in itertools.pairwise(kept):
        length = math.dist((x, y), (p, q))
        normals.append((-(q - y) / length, (p - x) / length))
    moved = []
    for index, (x, y) in enumerate(kept):
        one = normals[max(index - 1, 0)]
        two = normals[min(index, len(normals) - 1)]
        nx, ny = one[0] + two[0], one[1] + two[1]
        size = (nx * nx + ny * ny) / 2
        factor = offset / size if size > 0.3 else offset
        moved.append((x + nx * factor, y + ny * factor))
    return tuple(moved)


def drawn_length(points: tuple[Point, ...]) -> float:
    """Give the length of a line on the sheet."""
    return sum(math.dist(a, b) for a, b in itertools.pairwise(points))


def along(points: tuple[Point, ...], share: float) -> Point:
    """Give the point at a share of a line's length."""
    rest = drawn_length(points) * share
    for a, b in itertools.pairwise(points):
        step = math.dist(a, b)
        if rest <= step and step > 0:
            return a[0] + (b[0] - a[0]) * rest / step, a[1] + (b[1] - a[1]) * rest / step
        rest -= step
    return points[-1]
