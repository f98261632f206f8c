"""Free space round pipes: drawing geometry against obstructions, in plan and in section."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely

from layoutcheck.document.models import DrawingKind, Layout, Obstruction
from layoutcheck.document.paths import Drawn, DrawnPath, Positions
from layoutcheck.network.model import Network, Spot

_QUARTER = 32
# A distance that is halved down to is settled once it is known to this (m), or this share of it.
_SETTLED = 1e-12
# A slope below this is level: over a kilometre it rises less than a nanometre.
_LEVEL = 1e-12
# shapely draws a round corner as a polygon inside the circle. Growing the radius by this much
# puts the circle inside the polygon, so that no corner is missed.
_ROUND = 1.0 / math.cos(math.pi / (4 * _QUARTER))


@dataclass(frozen=True)
class Crowded:
    """A stretch of a piece (offsets in m) that is too near an obstruction."""

    piece: int
    start: float
    end: float
    obstruction: str


def is_drawn_plan(layout: Layout) -> bool:
    """Tell whether the drawing can be measured against obstructions: a plan with a scale."""
    return layout.drawing.kind is DrawingKind.PLAN and layout.drawing.scale is not None


def crowded_stretches(network: Network, free_space: float) -> list[Crowded]:
    """Find every stretch of pipe with less than some free space (m) to an obstruction.

    In plan the distance is from the pipe's outside to the outline. In section an obstruction
    counts where its height comes within the free space of the pipe's outside; a height that is
    not stated counts everywhere, which is the safe side.
    """
    layout, positions = network.layout, _positions(network)
    scale = layout.drawing.scale or 1.0
    found: list[Crowded] = []
    zones: dict[tuple[int, float], shapely.Geometry] = {}
    for name, numbers in _pipes_near(network, free_space):
        reach = network.dimensions[name].outside_diameter / 2 + free_space
        for piece in network.pieces_of[name]:
            for number in numbers:
                obstruction = layout.site.obstructions[number]
                whole = (0.0, float(network.length[piece]))
                if _at_height(network, piece, whole, obstruction, reach) is None:
                    continue
                path = positions.path(network.pipes[name])
                assert path is not None, "only drawn pipes are near anything"
                if (number, reach) not in zones:
                    zones[number, reach] = _zone(obstruction, scale, reach)
                for span in _inside(network, piece, path, zones[number, reach]):
                    clipped = _at_height(network, piece, span, obstruction, reach)
                    if clipped is not None:
                        found.append(Crowded(piece, *clipped, obstruction.id))
    return found


# Pipes are held against the obstructions this many at a time, to keep memory low.
_CHUNK = 50_000


def _pipes_near(network: Network, free_space: float) -> Iterator[tuple[str, list[int]]]:
    """Give each pipe that may be too near some obstructions, in order, with their numbers.

    A tree of the outlines leaves a few of the million pairs that a large site has. It may give a
    pair too many, which the exact look at the pair then drops, but never one too few.
    """
    layout, tree, drawn = network.layout, _outlines(network), drawn_pipes(network)
    widest = max((d.outside_diameter for d in network.dimensions.values()), default=0.0)
    reach = widest / 2 + free_space
    # A thousandth more than what any zone's round corners reach.
    far = 1.001 * reach * _ROUND / (layout.drawing.scale or 1.0)
    numbers = drawn.numbers[_near_in_height(network, 1.001 * reach)[drawn.numbers]]
    for first in range(0, len(numbers), _CHUNK):
        some = numbers[first : first + _CHUNK]
        near: dict[int, list[int]] = {}
        lines = _sound(drawn.lines(some))
        pairs = tree.query(lines, predicate="dwithin", distance=far).T.tolist()
        for place, obstruction in sorted(pairs):
            near.setdefault(place, []).append(obstruction)
        yield from ((drawn.pipes[some[place]].id, found) for place, found in near.items())


def _near_in_height(network: Network, reach: float) -> np.ndarray:
    """Tell which pipes come within reach (m) of the heights that obstructions have at all.

    (pipes,) booleans. Most of a site has its obstructions on other floors, and is not drawn here.
    """
    obstructions = network.layout.site.obstructions
    floor = min((-math.inf if o.bottom is None else o.bottom for o in obstructions), default=0.0)
    ceiling = max((math.inf if o.top is None else o.top for o in obstructions), default=0.0)
    piped = network.pipe_of >= 0
    heights, pipes = network.elevation[network.ends[piped]], network.pipe_of[piped]
    # What has no length is held against every obstruction, as is a height that is not known.
    anywhere = np.isnan(heights).any(axis=1) | (network.length[piped] == 0.0)
    lowest = np.full(len(network.pipes), math.inf)
    highest = np.full(len(network.pipes), -math.inf)
    np.minimum.at(lowest, pipes, np.where(anywhere, -math.inf, heights.min(axis=1)))
    np.maximum.at(highest, pipes, np.where(anywhere, math.inf, heights.max(axis=1)))
    return (lowest <= ceiling + reach) & (highest >= floor - reach)


def drawn_pipes(network: Network) -> Drawn:
    """Give where the pipes are drawn, in the order of ids; looked up once."""
    pipes = tuple(network.pipes.values())
    return network.geometry("drawn", lambda: Drawn(_positions(network), pipes))


def _sound(lines: np.ndarray) -> np.ndarray:
    """Turn lines of no length (a riser seen in plan) into points.

    A line of no length is no sound line; what GEOS says of it is nothing to rely on.
    """
    flat = shapely.length(lines) == 0.0
    lines[flat] = shapely.get_point(lines[flat], 0)
    return lines


def _positions(network: Network) -> Positions:
    return network.geometry("positions", lambda: Positions(network.layout))


def _outlines(network: Network) -> shapely.STRtree:
    """Give a tree of the outlines of all obstructions, made once."""

    def make() -> shapely.STRtree:
        outlines = [shapely.Polygon(o.outline) for o in network.layout.site.obstructions]
        return shapely.STRtree(outlines)

    return network.geometry("outlines", make)


def free_space_at(
    network: Network, piece: int, start: float, end: float
) -> tuple[float, str] | None:
    """Give the least free space (m) from a stretch's outside, and to what; None if nothing is near.

    An obstruction is a box: at each point of the pipe the free space to it is the larger of the
    distance in plan and the distance in height, as in crowded_stretches.
    """
    layout, item = network.layout, network.pieces[piece]
    path = _positions(network).path(network.pipes[item.element])
    if path is None or not layout.site.obstructions:
        return None
    radius = network.dimensions[item.element].outside_diameter / 2
    tree = _outlines(network)
    line = _sound(np.array([_line(network, piece, path, start, end)]))[0]

    def reaches(numbers: np.ndarray) -> list[tuple[float, str]]:
        some = [layout.site.obstructions[n] for n in numbers.tolist()]
        return [(_least_reach(network, piece, path, (start, end), o), o.id) for o in some]

    # The nearest in plan bounds how far the least can be: what lies farther in plan is farther.
    nearest = tree.query_nearest(line)
    found = reaches(nearest)
    # On a slope the reach is found with zones whose round corners lie a little outside.
    within = (min(found)[0] * _ROUND + 1e-6) / (layout.drawing.scale or 1.0)
    others = tree.query(line, predicate="dwithin", distance=within)
    least, name = min(found + reaches(np.setdiff1d(others, nearest)))
    return least - radius, name


def _least_reach(
    network: Network,
    piece: int,
    path: DrawnPath,
    span: tuple[float, float],
    obstruction: Obstruction,
) -> float:
    """Give the least distance (m) from the axis of a stretch to an obstruction's box."""
    scale = network.layout.drawing.scale or 1.0
    line = _line(network, piece, path, *span)
    aside = float(shapely.distance(line, shapely.Polygon(obstruction.outline))) * scale
    over = [_height_gap(network, piece, offset, obstruction) for offset in span]
    level = abs(over[0] - over[1]) < _LEVEL
    if level or line.length == 0.0:
        nearest = over[0] if level else _least_height_gap(network, piece, span, obstruction)
        return max(aside, nearest)

    def reaches(reach: float) -> bool:
        zone = _zone(obstruction, scale, reach)
        for low, high in _inside(network, piece, path, zone):
            part = max(low, span[0]), min(high, span[1])
            if part[0] <= part[1] and _at_height(network, piece, part, obstruction, reach):
                return True
        return False

    # On a slope the nearest point in plan is not the nearest in height: halve down to it.
    near, far = 0.0, aside + max(over) + scale * line.length
    while far - near > _SETTLED * max(1.0, far):
        middle = (near + far) / 2
        near, far = (near, middle) if reaches(middle) else (middle, far)
    return far


def _height_gap(network: Network, piece: int, offset: float, obstruction: Obstruction) -> float:
    """Give the height (m) between a point on a piece's axis and an obstruction; 0 if unknown."""
    height = network.elevation_at(Spot(piece, offset))
    if math.isnan(height):
        return 0.0
    under = -math.inf if obstruction.bottom is None else obstruction.bottom - height
    over = -math.inf if obstruction.top is None else height - obstruction.top
    return max(under, over, 0.0)


def _least_height_gap(
    network: Network, piece: int, span: tuple[float, float], obstruction: Obstruction
) -> float:
    if _at_height(network, piece, span, obstruction, 0.0) is not None:
        return 0.0
    return min(_height_gap(network, piece, offset, obstruction) for offset in span)


def _zone(obstruction: Obstruction, scale: float, reach: float) -> shapely.Geometry:
    outline = shapely.Polygon(obstruction.outline)
    return shapely.buffer(outline, reach * _ROUND / scale, quad_segs=_QUARTER)


def _line(
    network: Network, piece: int, path: DrawnPath, start: float, end: float
) -> shapely.LineString:
    item = network.pieces[piece]
    total = network.pipe_length[item.element] or 1.0
    shares = (item.start + start) / total, (item.start + end) / total
    return shapely.LineString(path.between(*shares))


def _inside(
    network: Network, piece: int, path: DrawnPath, zone: shapely.Geometry
) -> list[tuple[float, float]]:
    """Give the stretches of a piece (offsets in m) whose drawn line lies in a zone."""
    item = network.pieces[piece]
    line = _line(network, piece, path, 0.0, item.length)
    if line.length == 0.0:
        return (
            [(0.0, item.length)] if shapely.intersects(zone, shapely.Point(line.coords[0])) else []
        )
    parts = shapely.get_parts(shapely.intersection(line, zone))
    spans = []
    for part in parts:
        if part.is_empty:
            continue
        marks = [line.project(shapely.Point(c)) for c in shapely.get_coordinates(part)]
        factor = item.length / line.length
        spans.append((min(marks) * factor, max(marks) * factor))
    return sorted(spans)


def _at_height(
    network: Network,
    piece: int,
    span: tuple[float, float],
    obstruction: Obstruction,
    reach: float,
) -> tuple[float, float] | None:
    """Clip a stretch to where an obstruction's height comes within reach of the pipe's axis."""
    low, high = network.elevation[network.ends[piece]].tolist()
    length = float(network.length[piece])
    bottom = -np.inf if obstruction.bottom is None else obstruction.bottom - reach
    top = np.inf if obstruction.top is None else obstruction.top + reach
    if math.isnan(low) or math.isnan(high) or length == 0.0:
        return span
    slope = (high - low) / length
    if abs(slope) < _LEVEL:
        return span if bottom <= low <= top else None
    marks = sorted(((bottom - low) / slope, (top - low) / slope))
    start, end = max(span[0], marks[0]), min(span[1], marks[1])
    return (start, end) if start <= end else None
