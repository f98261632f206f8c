"""Put a drawing together: views, strips, findings, key, title block, page by page."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from layoutcheck.document.models import Layout
from layoutcheck.quantities import UnitSystem
from layoutcheck.report.drawing.drawn import View, drawn_length
from layoutcheck.report.drawing.facts import Facts, station_of
from layoutcheck.report.drawing.focus import CROWDED, focus_windows
from layoutcheck.report.drawing.key import key_height, key_panel, key_width
from layoutcheck.report.drawing.metrics import Box, fitted
from layoutcheck.report.drawing.network_view import ViewDone, look_for, network_view
from layoutcheck.report.drawing.scene import Panel, Point, Scene, Sheet
from layoutcheck.report.drawing.strip import strip_height, strip_panel
from layoutcheck.report.drawing.symbols import all_forms
from layoutcheck.report.drawing.title import (
    divided,
    footer_panel,
    header_height,
    header_panel,
    notes_height,
    notes_of,
    notes_panel,
    title_panel,
)
from layoutcheck.report.model import Report


class Page(StrEnum):
    """What a drawing is meant to be read on: paper is A4, or US Letter where a site is in feet."""

    PAPER = "paper"
    PHONE = "phone"


@dataclass(frozen=True)
class Paper:
    """A page's measures in points: sides, margin, size of its text."""

    width: float
    height: float
    margin: float
    text: float

    @property
    def inner(self) -> Box:
        """Give what lies within the margins."""
        off = self.margin
        return Box(off, off, self.width - off, self.height - off)


# Short and long side: A4 (ISO 216) and US Letter (ANSI Y14.1; from memory).
PAPER_SIDES = {UnitSystem.METRIC: (595.28, 841.89), UnitSystem.IMPERIAL: (612.0, 792.0)}
# Smaller print nobody reads on a wall. Common practice, no published source.
SMALLEST = 8.0
_MARGIN = 20.0
_PHONE = Paper(390.0, 0.0, 10.0, 10.5)
_TITLE, _FOOTER, _GAP = 88.0, 54.0, 6.0
_PICTURE = (600.0, 450.0)  # of one place
_AROUND = 0.12  # of the site's larger side: a picture of a place shows no less
_VISIBLE = 16.0  # a jacket drawn shorter than this is drawn again, larger


@dataclass(frozen=True)
class Block:
    """Something that takes a page's width and a height of its own."""

    height: float
    draw: Callable[[Box], Panel]


def build_scene(
    layout: Layout, report: Report, *, highlight: str | None = None, page: Page = Page.PAPER
) -> Scene:
    """Turn a layout and its report into a drawing, as data.

    highlight: the id of an element, plug or finding to draw attention to.
    page: sheets of paper (upright or lengthwise, as the site asks), or one tall strip for a phone.
    """
    facts = Facts.of(layout, report, highlight)
    return _scene(facts, *(_phone(facts) if page is Page.PHONE else _paper(facts)))


def view_scene(
    layout: Layout,
    report: Report,
    *,
    sides: tuple[float, float],
    highlight: str | None = None,
) -> Scene:
    """Draw the views alone, on one sheet with the key and the title. sides: width and height."""
    facts = Facts.of(layout, report, highlight)
    paper = Paper(*sides, 1.0, SMALLEST)
    views, panels = _first(facts, paper)
    title = title_panel(facts, _title(paper.inner), paper.text, _left_out(views), 1)
    sheet = Sheet(width=paper.width, height=paper.height, panels=(*panels, title))
    return _scene(facts, (sheet,), views)


def place_scene(facts: Facts, points: Sequence[Point], heading: str) -> Scene:
    """Draw the piping round some drawn points under a heading; the whole where there are none."""
    extent = facts.drawn.extent
    least = _AROUND * max(extent.width, extent.height)
    window = extent
    if points:
        xs, ys = [x for x, _ in points], [y for _, y in points]
        x, y = (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2
        wide, tall = (max(1.4 * (max(v) - min(v)), least) / 2 for v in (xs, ys))
        window = Box(x - wide, y - tall, x + wide, y + tall)
    frame = Box(1.0, 1.0, *(side - 1.0 for side in _PICTURE))
    view = View(facts.drawn, window, frame, stretch=_stretch(facts), pad=(28.0, 26.0))
    heading = fitted(heading, frame.width - 12.0, SMALLEST * 1.1, bold=True)
    done = network_view(facts, view, look_for(view, SMALLEST), heading)
    return _scene(
        facts, (Sheet(width=_PICTURE[0], height=_PICTURE[1], panels=(done.panel,)),), [done]
    )


def _scene(facts: Facts, sheets: tuple[Sheet, ...], views: Sequence[ViewDone]) -> Scene:
    used = {m.form for s in sheets for p in s.panels for m in p.marks if m.kind == "glyph"}
    return Scene(
        name=f"{facts.layout.name}: {facts.report.verdict.value}",
        sheets=sheets,
        glyphs={name: shapes for name, shapes in sorted(all_forms().items()) if name in used},
        left_out=_left_out(views),
    )


# --- paper ---------------------------------------------------------------------------------


def _paper(facts: Facts) -> tuple[tuple[Sheet, ...], list[ViewDone]]:
    extent = facts.drawn.extent
    upright = extent.height > 1.15 * extent.width and not facts.drawn.arranged
    upright = upright or extent.height > 2.0 * extent.width
    sides = PAPER_SIDES[facts.units]
    paper = Paper(*(sides if upright else sides[::-1]), _MARGIN, SMALLEST)
    inner = paper.inner
    views, panels = _first(facts, paper)
    rest = _pages(
        paper, _blocks(facts, inner.width, paper.text, views, inner.height - _FOOTER - _GAP)
    )
    total = 1 + len(rest)
    title = title_panel(facts, _title(inner), paper.text, _left_out(views), total)
    first = Sheet(width=paper.width, height=paper.height, panels=(*panels, title))
    others = tuple(
        Sheet(
            width=paper.width,
            height=paper.height,
            panels=(*page, footer_panel(facts, _foot(inner), paper.text, number, total)),
        )
        for number, page in enumerate(rest, start=2)
    )
    return (first, *others), views


def _first(facts: Facts, paper: Paper) -> tuple[list[ViewDone], list[Panel]]:
    """Draw the views and the key of a first sheet; its title goes below them."""
    inner = paper.inner
    bottom = _title(inner).top - _GAP
    if paper.height > paper.width:
        tall = key_height(facts, inner.width, paper.text)
        key = Box(inner.left, bottom - tall, inner.right, bottom)
        main = Box(inner.left, inner.top, inner.right, key.top - _GAP)
    else:
        wide = key_width(facts, bottom - inner.top, paper.text)
        key = Box(inner.right - wide, inner.top, inner.right, bottom)
        main = Box(inner.left, inner.top, key.left - _GAP, bottom)
    views = _views(facts, main, paper.text)
    return views, [*(v.panel for v in views), key_panel(facts, key, paper.text)]


def _title(inner: Box) -> Box:
    return Box(inner.left, inner.bottom - _TITLE, inner.right, inner.bottom)


def _foot(inner: Box) -> Box:
    return Box(inner.left, inner.bottom - _FOOTER, inner.right, inner.bottom)


def _left_out(views: Iterable[ViewDone]) -> int:
    listed = list(views)
    wanted = frozenset[str]().union(*(v.wanted for v in listed))
    return len(wanted - frozenset[str]().union(*(v.shown for v in listed)))


def _views(facts: Facts, main: Box, text: float) -> list[ViewDone]:
    """Draw the whole and, where that shows too little, the details beside or below it."""
    windows = focus_windows(facts)
    if not windows or not _needs_detail(facts, main):
        return [_whole(facts, main, text, ())]
    options = [(0.34, True), (0.42, True), (0.5, True), (0.36, False), (0.44, False), (0.52, False)]
    cuts = [_cut(main, share, len(windows), beside=beside) for share, beside in options]
    whole, frames = max(cuts, key=lambda cut: _worth(facts, windows, *cut))
    letters = _letters(windows)
    done = [_whole(facts, whole, text, list(zip(letters, windows, strict=True)))]
    for letter, window, frame in zip(letters, windows, frames, strict=True):
        done.append(_detail(facts, window, frame, text, letter))
    return done


def _needs_detail(facts: Facts, main: Box) -> bool:
    """Tell whether the whole, drawn alone, would show a plug's jacket too small to see."""
    view = View(facts.drawn, facts.drawn.extent, main, stretch=_stretch(facts), pad=(40.0, 30.0))
    if len(facts.layout.pipes) > CROWDED:
        return True
    for plug in facts.report.plugs:
        station, half = station_of(plug.at), plug.jacket.value / 2
        line = view.between(plug.at.pipe or "", station - half, station + half)
        if drawn_length(line) < _VISIBLE:
            return True
    return False


def _cut(main: Box, share: float, count: int, *, beside: bool) -> tuple[Box, list[Box]]:
    """Divide the main area into a whole and its details, beside it or below it."""
    if beside:
        middle = main.left + share * main.width
        whole = Box(main.left, main.top, middle - _GAP / 2, main.bottom)
        rest = Box(middle + _GAP / 2, main.top, main.right, main.bottom)
    else:
        middle = main.top + share * main.height
        whole = Box(main.left, main.top, main.right, middle - _GAP / 2)
        rest = Box(main.left, middle + _GAP / 2, main.right, main.bottom)
    return whole, _split(rest, count, upright=rest.height > rest.width)


def _worth(facts: Facts, windows: Sequence[Box], whole: Box, frames: Sequence[Box]) -> float:
    """Weigh a division by the scales it gives: the details' first, then the whole's."""
    extent = facts.drawn.extent
    details = [_fit(w, f) for w, f in zip(windows, frames, strict=True)]
    return math.pow(min(details), 0.75) * _fit(extent, whole)


def _fit(window: Box, frame: Box) -> float:
    wide = max(frame.width - 60.0, 1.0) / max(window.width, 1e-9)
    tall = max(frame.height - 50.0, 1.0) / max(window.height, 1e-9)
    return min(wide, tall)


def _letters(windows: Sequence[Box]) -> list[str]:
    return [chr(ord("A") + i) for i in range(len(windows))]


def _split(box: Box, count: int, *, upright: bool) -> list[Box]:
    """Divide a box into equal parts, one under another or side by side."""
    side = box.height if upright else box.width
    step = (side + _GAP) / count
    parts = []
    for i in range(count):
        low, high = i * step, (i + 1) * step - _GAP
        if upright:
            parts.append(Box(box.left, box.top + low, box.right, box.top + high))
        else:
            parts.append(Box(box.left + low, box.top, box.left + high, box.bottom))
    return parts


def _detail(facts: Facts, window: Box, frame: Box, text: float, letter: str) -> ViewDone:
    view = View(facts.drawn, window, frame, stretch=_stretch(facts), pad=(28.0, 26.0))
    return network_view(facts, view, look_for(view, text), f"Detail {letter}")


def _whole(facts: Facts, frame: Box, text: float, focuses: Sequence[tuple[str, Box]]) -> ViewDone:
    pad = (min(46.0, frame.width * 0.12), min(34.0, frame.height * 0.1))
    view = View(facts.drawn, facts.drawn.extent, frame, stretch=_stretch(facts), pad=pad)
    look = look_for(view, text, brief=bool(focuses))
    boxes = []
    for letter, window in focuses:
        left, top = view.place((window.left, window.top))
        right, bottom = view.place((window.right, window.bottom))
        boxes.append((letter, Box(left, top, right, bottom)))
    heading = "The whole, not to scale" if not facts.layout.drawing.scale else "The whole"
    return network_view(facts, view, look, heading, boxes)


def _stretch(facts: Facts) -> float:
    return 2.6 if facts.drawn.arranged else 1.0


# --- blocks that flow from page to page ---------------------------------------------------------


def _blocks(
    facts: Facts, width: float, text: float, views: Iterable[ViewDone], tallest: float
) -> list[Block]:
    """List what follows the views: a strip for each plug, then notes no taller than a page."""
    blocks = [
        Block(
            strip_height(facts, plug, width, text),
            lambda frame, plug=plug: strip_panel(facts, plug, frame, text),  # type: ignore[misc]
        )
        for plug in facts.report.plugs
    ]
    beside = tuple(" ".join(w.lines) for v in views for w in v.placed.beside)
    notes = notes_of(facts, beside)
    for part in (p for n in notes for p in divided(n, width, text, tallest)):
        blocks.append(
            Block(
                notes_height(part, width, text),
                lambda frame, part=part: notes_panel(part, frame, text),  # type: ignore[misc]
            )
        )
    return blocks


def _pages(paper: Paper, blocks: Sequence[Block]) -> list[tuple[Panel, ...]]:
    """Lay blocks down a page, and go on to the next where one is full."""
    pages: list[list[Panel]] = []
    top = float("inf")
    bottom = paper.height - paper.margin - _FOOTER - _GAP
    for block in blocks:
        if top + block.height > bottom:
            pages.append([])
            top = paper.margin
        frame = Box(paper.margin, top, paper.width - paper.margin, top + block.height)
        pages[-1].append(block.draw(frame))
        top += block.height + _GAP
    return [tuple(p) for p in pages]


# --- phone -----------------------------------------------------------------------------------


def _phone(facts: Facts) -> tuple[tuple[Sheet, ...], list[ViewDone]]:
    """Lay everything in one column, as wide as a phone."""
    paper = _PHONE
    left, right = paper.margin, paper.width - paper.margin
    width = right - left
    text = paper.text
    panels: list[Panel] = []
    top = paper.margin

    def add(height: float, draw: Callable[[Box], Panel]) -> None:
        nonlocal top
        panels.append(draw(Box(left, top, right, top + height)))
        top += height + _GAP

    add(header_height(facts, width, text), lambda frame: header_panel(facts, frame, text))
    windows = focus_windows(facts)
    letters = _letters(windows)
    views = []
    for letter, window in zip(letters, windows, strict=True):
        frame = Box(left, top, right, top + 330.0)
        views.append(_detail(facts, window, frame, text, letter))
        top = frame.bottom + _GAP
    extent = facts.drawn.extent
    tall = width * min(max(extent.height / max(extent.width, 1e-9), 0.6), 1.5) + 60.0
    frame = Box(left, top, right, top + tall)
    views.append(_whole(facts, frame, text, list(zip(letters, windows, strict=True))))
    top = frame.bottom + _GAP
    panels += [v.panel for v in views]
    for block in _blocks(facts, width, text, views, math.inf):
        add(block.height, block.draw)
    add(key_height(facts, width, text), lambda frame: key_panel(facts, frame, text))
    sheet = Sheet(width=paper.width, height=top, panels=tuple(panels))
    return (sheet,), views
