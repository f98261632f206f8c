"""Find room for labels: none covers another, and none covers a symbol.

Each label tries places round its anchor, near ones first, and takes the cheapest: far from the
anchor costs, covering a line costs. A label that must stay tries the whole frame; if even that is
full it is handed back, to be written beside the drawing. Other labels are left out and counted.
"""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

from layoutcheck.report.drawing.metrics import ASCENT, LINE, Box, fitted, text_width
from layoutcheck.report.drawing.scene import Mark, Point, Role, Stroke, Words

_CELL = 40.0
_WIDEST = 0.6  # of the frame; a longer label is shortened
_LEAD = 9.0  # a label farther than this from its anchor's edge gets a leader

# Directions tried, in the order preferred: right, left, above, below, then the corners.
_AROUND = ((1, 0), (-1, 0), (0, -1), (0, 1), (1, -1), (1, 1), (-1, -1), (-1, 1))
_NEAR = (0.0, 5.0)
_FAR = (0.0, 5.0, 12.0, 20.0, 30.0, 42.0, 56.0, 74.0, 96.0, 130.0, 170.0)


@dataclass(frozen=True)
class Wanted:
    """A label that wants room. must: it may not be left out. clear: room kept round the anchor.

    tier: labels of a low tier are placed first. far: it may stand off with a leader.
    """

    lines: tuple[str, ...]
    anchor: Point
    size: float
    role: Role = Role.TEXT
    tier: int = 3
    clear: float = 3.0
    bold: bool = False
    must: bool = False
    far: bool = False
    subject: str | None = None
    frame: bool = False


@dataclass
class Room:
    """What is taken already in a frame."""

    frame: Box
    boxes: dict[tuple[int, int], list[Box]] = field(default_factory=lambda: defaultdict(list))
    lines: dict[tuple[int, int], list[tuple[Point, Point]]] = field(
        default_factory=lambda: defaultdict(list)
    )

    def take(self, box: Box) -> None:
        """Take up a box: nothing may cover it."""
        for key in _cells(box):
            self.boxes[key].append(box)

    def draw(self, points: Iterable[Point]) -> None:
        """Note a line, which labels avoid where they can."""
        kept = list(points)
        for a, b in itertools.pairwise(kept):
            for key in _cells(_span(a, b)):
                if _cuts(a, b, _cell_box(key)):
                    self.lines[key].append((a, b))

    def is_free(self, box: Box) -> bool:
        """Tell whether a box lies in the frame and covers no other."""
        if not self.frame.holds(box):
            return False
        return not any(box.meets(o) for key in _cells(box) for o in self.boxes.get(key, ()))

    def covered(self, box: Box) -> int:
        """Count the lines under a box."""
        near = {s for key in _cells(box) for s in self.lines.get(key, ())}
        return sum(_cuts(a, b, box) for a, b in near)

    def is_open(self, a: Point, b: Point) -> bool:
        """Tell whether a leader runs over no label."""
        near = {o for key in _cells(_span(a, b)) for o in self.boxes.get(key, ())}
        here = Box(a[0], a[1], a[0], a[1])
        return not any(_cuts(a, b, o.grown(-0.5)) for o in near if not o.holds(here))


@dataclass(frozen=True)
class Placed:
    """What became of the labels: their marks, those to be written beside, and how many left out."""

    marks: tuple[Mark, ...]
    beside: tuple[Wanted, ...]
    left_out: int


def place_labels(room: Room, wanted: Iterable[Wanted]) -> Placed:
    """Place labels in the order of tier, then text. Changes the room."""
    marks: list[Mark] = []
    beside: list[Wanted] = []
    left_out = 0
    order = sorted(
        (_shortened(w, room.frame) for w in wanted),
        key=lambda w: (not w.must, w.tier, w.lines, w.anchor),
    )
    for label in order:
        box = _best(room, label, over_labels=False)
        if box is None and label.must:
            box = _best(room, label, over_labels=True)
        if box is not None:
            marks += _settled(room, label, box)
        elif label.must:
            beside.append(label)
        else:
            left_out += 1
    return Placed(tuple(marks), tuple(beside), left_out)


def _shortened(label: Wanted, frame: Box) -> Wanted:
    """Shorten a label whose name would fill the frame."""
    most = _WIDEST * frame.width
    lines = tuple(fitted(t, most, label.size, bold=label.bold) for t in label.lines)
    return label if lines == label.lines else replace(label, lines=lines)


def label_size(label: Wanted) -> tuple[float, float]:
    """Give the width and height of a label with its margin."""
    width = max(text_width(t, label.size, bold=label.bold) for t in label.lines)
    height = label.size * (LINE * (len(label.lines) - 1) + 1.04)
    margin = 2.0 if label.frame else 0.6
    return width + 2 * margin, height + 2 * margin


def _best(room: Room, label: Wanted, *, over_labels: bool) -> Box | None:
    """Find the cheapest free place. over_labels: its leader may run over other labels."""
    best: tuple[float, Box] | None = None
    for rank, (distance, box) in enumerate(_candidates(room, label)):
        cost = distance + 0.01 * rank
        if best is not None and cost >= best[0]:
            if distance > best[0]:
                break
            continue
        if not room.is_free(box):
            continue
        led = distance > _LEAD and not over_labels
        if led and not room.is_open(label.anchor, _edge(box, label.anchor)):
            continue
        over = room.covered(box)
        if over and not (label.must or label.far):
            cost += 6.0 * over
        cost += 9.0 * over
        if best is None or cost < best[0]:
            best = (cost, box)
    limit = (
        math.inf if label.must or (label.far and label.tier <= 1) else 60.0 if label.far else 14.0
    )
    return best[1] if best is not None and best[0] < limit else None


def _candidates(room: Room, label: Wanted) -> Iterator[tuple[float, Box]]:
    """Give places with their distance from the anchor, near ones first."""
    width, height = label_size(label)
    x, y = label.anchor
    for gap in _FAR if label.must or label.far else _NEAR:
        reach = label.clear + gap
        for dx, dy in _AROUND:
            side = reach * (0.75 if dx and dy else 1.0)
            left = x - width / 2 + dx * (side + width / 2)
            top = y - height / 2 + dy * (side + height / 2)
            yield gap + (0.6 if dx and dy else 0.0), Box(left, top, left + width, top + height)
    if label.must:
        yield from _whole(room.frame, label.anchor, width, height)


def _whole(frame: Box, anchor: Point, width: float, height: float) -> Iterator[tuple[float, Box]]:
    """Give places all over the frame, near ones first."""
    places = []
    steps_x = max(int((frame.width - width) / 10), 0)
    steps_y = max(int((frame.height - height) / 6), 0)
    for i in range(steps_x + 1):
        for k in range(steps_y + 1):
            left, top = frame.left + 10 * i, frame.top + 6 * k
            box = Box(left, top, left + width, top + height)
            places.append((max(_LEAD + 1, math.dist(anchor, _edge(box, anchor))), left, top, box))
    yield from ((d, box) for d, _, _, box in sorted(places, key=lambda p: p[:3]))


def _settled(room: Room, label: Wanted, box: Box) -> list[Mark]:
    """Write a label into its box, with a leader where it stands off."""
    room.take(box)
    marks: list[Mark] = []
    end = _edge(box, label.anchor)
    if math.dist(end, label.anchor) > label.clear + _LEAD:
        room.draw((label.anchor, end))
        marks.append(Stroke(role=Role.LEADER, points=(label.anchor, end), subject=label.subject))
    corners = ((box.left, box.top), (box.right, box.top), (box.right, box.bottom))
    marks.append(
        Stroke(
            role=Role.FRAME if label.frame else Role.BACKING,
            points=(*corners, (box.left, box.bottom)),
            closed=True,
        )
    )
    margin = 2.0 if label.frame else 0.6
    for index, text in enumerate(label.lines):
        top = box.top + margin + index * label.size * LINE
        line_box = (box.left, top, box.right, top + label.size * 1.04)
        marks.append(
            Words(
                role=label.role,
                text=text,
                at=(box.left + margin, top + ASCENT * label.size),
                size=label.size,
                bold=label.bold,
                box=line_box,
                subject=label.subject,
            )
        )
    return marks


def _edge(box: Box, point: Point) -> Point:
    """Give the point of a box's edge nearest to a point outside it."""
    return (
        min(max(point[0], box.left), box.right),
        min(max(point[1], box.top), box.bottom),
    )


def _span(a: Point, b: Point) -> Box:
    return Box(min(a[0], b[0]), min(a[1], b[1]), max(a[0], b[0]), max(a[1], b[1]))


def _cells(box: Box) -> list[tuple[int, int]]:
    return [
        (i, k)
        for i in range(int(box.left // _CELL), int(box.right // _CELL) + 1)
        for k in range(int(box.top // _CELL), int(box.bottom // _CELL) + 1)
    ]


def _cell_box(key: tuple[int, int]) -> Box:
    x, y = key[0] * _CELL, key[1] * _CELL
    return Box(x, y, x + _CELL, y + _CELL)


def _cuts(a: Point, b: Point, box: Box) -> bool:
    """Tell whether a segment runs through a box (clipping by parameters)."""
    low, high = 0.0, 1.0
    for start, step, least, most in (
        (a[0], b[0] - a[0], box.left, box.right),
        (a[1], b[1] - a[1], box.top, box.bottom),
    ):
        if abs(step) < 1e-12:
            if not least <= start <= most:
                return False
            continue
        one, two = sorted(((least - start) / step, (most - start) / step))
        low, high = max(low, one), min(high, two)
        if low > high:
            return False
    return True
