"""Which parts of a large site are drawn again, larger: round the work, the plugs, their moves."""

from __future__ import annotations

from itertools import combinations

from layoutcheck.report.drawing.facts import Facts, Reach, station_of
from layoutcheck.report.drawing.metrics import Box
from layoutcheck.report.drawing.scene import Point
from layoutcheck.report.model import PlugPart

# Sites of more pipes than this always get details.
CROWDED = 26

_MOST = 3
_LEAST_SHARE = 0.06  # of the site's larger side
_WORTH_IT = 0.6  # a detail of a larger share of the site shows nothing better


def focus_windows(facts: Facts) -> tuple[Box, ...]:
    """Choose at most three windows (in the drawing's own units) that show more than the whole."""
    extent = facts.drawn.extent
    if not (facts.report.plugs or facts.layout.work):
        return ()
    least = _LEAST_SHARE * max(extent.width, extent.height)
    boxes = [_box(_plug_points(facts, p), least) for p in facts.report.plugs]
    work = facts.layout.work
    for item in work.open if work else ():
        junction, pipe, station = facts.work_place(item)
        boxes.append(_box([_point(facts, junction, pipe, station)], least))
    boxes = _gathered(boxes)
    worth = [
        b
        for b in boxes
        if b.width < _WORTH_IT * extent.width or b.height < _WORTH_IT * extent.height
    ]
    return tuple(sorted(worth, key=lambda b: (b.top, b.left)))


def _plug_points(facts: Facts, plug: PlugPart) -> list[Point]:
    """Give the drawn points that a plug's detail must show."""
    pipe, station, half = plug.at.pipe or "", station_of(plug.at), plug.jacket.value / 2
    spots = [Reach(pipe, station - 3 * half, station + 3 * half)]
    judged = [f for f in facts.governing(plug) if f.subject.kind == "plug"][:1]
    for finding in judged:
        spots += facts.walk(plug, facts.way(finding))
    if plug.nearest is not None:
        tape = plug.nearest.tape.value
        spots.append(Reach(plug.nearest.pipe, tape - 3 * half, tape + 3 * half))
    return [
        _point(facts, None, s.pipe, station)
        for s in spots
        if s.pipe
        for station in (s.start, s.end)
    ]


def _point(facts: Facts, junction: str | None, pipe: str | None, station: float | None) -> Point:
    if junction is not None:
        return facts.drawn.points[junction]
    length = facts.drawn.lengths[pipe or ""]
    share = (station or 0.0) / length if length else 0.0
    return facts.drawn.paths[pipe or ""].at(min(max(share, 0.0), 1.0))


def _box(points: list[Point], least: float) -> Box:
    xs, ys = [x for x, _ in points], [y for _, y in points]
    box = Box(min(xs), min(ys), max(xs), max(ys))
    cx, cy = box.centre
    width, height = (max(side * 1.3, least) for side in (box.width, box.height))
    return Box(cx - width / 2, cy - height / 2, cx + width / 2, cy + height / 2)


def _gathered(boxes: list[Box]) -> list[Box]:
    """Join boxes that lie close, and the closest ones until few enough are left."""
    left = list(boxes)
    while len(left) > 1:
        one, two = min(combinations(left, 2), key=lambda pair: _area(pair[0].around(pair[1])))
        joined = one.around(two)
        if _area(joined) > 1.8 * (_area(one) + _area(two)) and len(left) <= _MOST:
            break
        left.remove(one)
        left.remove(two)
        left.append(joined)
    return left


def _area(box: Box) -> float:
    return box.width * box.height
