"""From where a building drawn to scale is shown, so that risers are seen as risers.

A plan shows a riser as a point, and all floors on one another. Where pipes rise, the drawing is an
elevation (if they run in one upright plane), else an axonometric view; in either, height is up.
The view is taken in which no two junctions fall on one spot of paper, if there is one.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from layoutcheck.document.models import DrawingKind, Layout, Pipe
from layoutcheck.document.paths import Positions

# What runs in a direction less than this share of all pipe is not shown for its own sake.
_FEW = 0.05
# Two junctions are on one spot of paper if they are nearer than this share of the drawing's width.
_ONE_SPOT = 1e-3
_ANGLES = (30.0, 20.0, 40.0, 25.0, 35.0, 15.0)


@dataclass(frozen=True)
class Outlook:
    """across, up: what of x, y (drawing units) and height (in the same) goes right and up."""

    across: tuple[float, float, float]
    up: tuple[float, float, float]

    def seen(self, spots: np.ndarray) -> np.ndarray:
        """Put spots (n, 3) on paper (n, 2)."""
        return np.asarray(spots @ np.array([self.across, self.up]).T)


def outlook_on(layout: Layout) -> Outlook | None:
    """Choose from where a layout is shown; None where it is shown as it is drawn.

    That is so for diagrams, for plans of what does not rise, for plans with obstructions or drawn
    points (which are places on the plan), and where a height is not known.
    """
    scale = layout.drawing.scale
    if layout.drawing.kind is not DrawingKind.PLAN or not scale or layout.site.obstructions:
        return None
    if any(p.point is not None for p in layout.plugs):
        return None
    if any(j.at is None or j.elevation is None for j in layout.junctions):
        return None
    spots = np.array([(*(j.at or (0, 0)), (j.elevation or 0.0) / scale) for j in layout.junctions])
    runs = _runs(layout, scale)
    total = float(runs.sum())
    if total == 0.0 or runs[2] < _FEW * total:
        return None
    return min(_choices(runs / total), key=lambda one: _hidden(one.seen(spots)))


def spots_of(positions: Positions, layout: Layout, pipe: Pipe) -> np.ndarray:
    """Give the corners of a pipe's path with their heights, in drawing units: (n, 3)."""
    corners, heights = positions.corners(pipe), positions.heights(pipe)
    shares = positions.path(pipe)
    assert shares is not None, "asked only of pipes that are drawn"
    known = [(float(s), h) for s, h in zip(shares.shares, heights, strict=True) if h is not None]
    at, z = zip(*known, strict=True)
    rises = np.interp(shares.shares, at, z) / (layout.drawing.scale or 1.0)
    return np.column_stack([np.array(corners, dtype=float), rises])


def _runs(layout: Layout, scale: float) -> np.ndarray:
    """Give how much pipe runs along x, along y and upwards, in drawing units."""
    at = {j.id: (*(j.at or (0.0, 0.0)), (j.elevation or 0.0) / scale) for j in layout.junctions}
    steps = [np.subtract(at[p.to], at[p.from_]) for p in layout.pipes]
    return np.asarray(np.abs(np.array(steps)).sum(axis=0))


def _choices(shares: np.ndarray) -> Iterator[Outlook]:
    """Give the views that show what there is, the plainest first."""
    if shares[1] < _FEW:
        yield Outlook((1.0, 0.0, 0.0), (0.0, 0.0, 1.0))
    if shares[0] < _FEW:
        yield Outlook((0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    for angle in _ANGLES:
        cosine, sine = math.cos(math.radians(angle)), math.sin(math.radians(angle))
        yield Outlook((cosine, cosine, 0.0), (-sine, sine, 1.0))
        yield Outlook((cosine, -cosine, 0.0), (sine, sine, 1.0))


def _hidden(paper: np.ndarray) -> int:
    """Count the junctions that fall on a spot of paper with another."""
    near = _ONE_SPOT * float(np.ptp(paper, axis=0).max() or 1.0)
    cells, counts = np.unique(np.round(paper / near), axis=0, return_counts=True)
    del cells
    return int(counts[counts > 1].sum())
