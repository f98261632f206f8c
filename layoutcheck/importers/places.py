"""Where a plug and its jacket lie on the drawing and in the building, for writing them back."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from layoutcheck.document import Layout
from layoutcheck.document.models import DrawingKind, Pipe, Plug
from layoutcheck.document.paths import DrawnPath, Positions, snap
from layoutcheck.quantities import PipeDimensions, explicit_dimensions, pipe_dimensions

# Nearer than this (m) along a pipe, two places are one.
_SAME = 1e-3


@dataclass(frozen=True)
class PlugPlace:
    """One plug: its pipe, its station (m), and the drawn line of its jacket.

    line: corners of the jacket in drawing units; empty where the pipe is not drawn. heights: of
    the same corners (m); empty where the heights of the pipe's ends are not known. shares: where
    the jacket begins and ends, as shares of the pipe's length.
    """

    plug: Plug
    pipe: Pipe
    station: float
    shares: tuple[float, float]
    line: tuple[tuple[float, float], ...]
    heights: tuple[float, ...]


def plug_places(layout: Layout) -> list[PlugPlace]:
    """Find the place of every plug of a sound layout."""
    positions = Positions(layout)
    pipes = {p.id: p for p in layout.pipes}
    found = []
    for plug in layout.plugs:
        if plug.point is not None:
            own, share = snap(layout, plug.point)
            length = positions.measured_length(pipes[own]) or 0.0
            station = share * length
        else:
            own, station = plug.pipe or "", plug.station or 0.0
            length = positions.measured_length(pipes[own]) or 0.0
        found.append(_place(positions, plug, pipes[own], station, length))
    return found


def _place(
    positions: Positions, plug: Plug, pipe: Pipe, station: float, length: float
) -> PlugPlace:
    half = plug.jacket / 2
    start, end = max(0.0, station - half), min(length, station + half)
    shares = (start / length, end / length) if length > 0.0 else (0.0, 1.0)
    path = positions.path(pipe)
    line: tuple[tuple[float, float], ...] = ()
    heights: tuple[float, ...] = ()
    if path is not None:
        # A corner at the jacket's very end is none of the jacket's: it would bend it by rounding.
        slack = _SAME / length if length > 0.0 else 0.0
        inner = [float(s) for s in path.shares if shares[0] + slack < s < shares[1] - slack]
        marks = (shares[0], *inner, shares[1])
        line = tuple(path.at(s) for s in marks)
        heights = _heights(positions, pipe, path, marks)
    return PlugPlace(plug, pipe, station, shares, line, heights)


def _heights(
    positions: Positions, pipe: Pipe, path: DrawnPath, marks: tuple[float, ...]
) -> tuple[float, ...]:
    """Give the height (m) at some shares of a pipe; empty where an end's height is not known."""
    stated = positions.heights(pipe)
    if stated[0] is None or stated[-1] is None:
        return ()
    rows = zip(path.shares, stated, strict=True)
    known = [(float(s), h) for s, h in rows if h is not None]
    made = np.interp(marks, [s for s, _ in known], [h for _, h in known])
    return tuple(float(h) for h in made)


def to_scale(layout: Layout) -> float | None:
    """Give the metres of one drawing unit where the drawing is a plan to scale, else None."""
    plan = layout.drawing.kind is DrawingKind.PLAN
    return layout.drawing.scale if plan else None


def dimensions_of(pipe: Pipe) -> PipeDimensions:
    """Give a pipe's diameters."""
    if pipe.outside_diameter is not None and pipe.wall_thickness is not None:
        return explicit_dimensions(pipe.outside_diameter, pipe.wall_thickness)
    return pipe_dimensions(pipe.size, pipe.material, pipe.wall)
