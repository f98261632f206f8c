"""The key: every kind of line, and every symbol that this drawing uses."""

from __future__ import annotations

import math
from collections.abc import Callable

from layoutcheck.report.drawing.facts import Facts
from layoutcheck.report.drawing.items import items_of
from layoutcheck.report.drawing.metrics import Box, text_width
from layoutcheck.report.drawing.network_view import corners
from layoutcheck.report.drawing.scene import Glyph, Mark, Panel, Point, Role, Stroke
from layoutcheck.report.drawing.title import words_at

_SAMPLE = 26.0  # width of a sample
_PITCH, _TIGHT = 1.62, 1.3  # from line to line, in sizes of the text: at ease, and at least

_LINES: tuple[tuple[Role, str], ...] = (
    (Role.STILL, "pipe, still while freezing"),
    (Role.FLOWING, "can flow while freezing"),
    (Role.MAY_FLOW, "may flow, if in doubt"),
    (Role.CLEAR, "plug's centre may stand here"),
    (Role.SHUT_OUT, "plug may not stand here"),
    (Role.JACKET, "jacket, to length"),
    (Role.JACKET_BROKEN, "jacket, not well placed"),
    (Role.GHOST, "nearest place, others staying"),
    (Role.MOVE, "move to it"),
    (Role.DIMENSION, "measured length, enough"),
    (Role.DIMENSION_SHORT, "measured length, too short"),
    (Role.FINDING, "way of water to the work"),
    (Role.OPENED, "pipe that is opened"),
    (Role.OBSTRUCTION, "obstruction"),
)

_SIGNS: tuple[tuple[Role, str, str], ...] = (
    (Role.WORK, "ring", "work: will be opened"),
    (Role.FLOW_ARROW, "flow", "flow, one way"),
    (Role.FLOW_ARROW, "flow either way", "flow, either way"),
    (Role.MAY_FLOW_ARROW, "flow in doubt", "flow in doubt"),
)


def key_entries(facts: Facts) -> list[tuple[Role, str | None, str]]:
    """List what the key explains: role, form of symbol (None for a line), words."""
    report = facts.report
    used = {Role.STILL}
    used |= {Role.FLOWING if f.certain else Role.MAY_FLOW for f in facts.flows}
    used |= {Role.JACKET if p.well_placed else Role.JACKET_BROKEN for p in report.plugs}
    used |= {Role.CLEAR for p in report.plugs if p.clear}
    used |= {Role.SHUT_OUT for p in report.plugs if p.shut_out}
    used |= {r for p in report.plugs if p.nearest for r in (Role.GHOST, Role.MOVE)}
    for plug in report.plugs:
        for finding in facts.governing(plug)[:1]:
            used.add(Role.DIMENSION_SHORT if finding in facts.pointed else Role.DIMENSION)
    used |= {Role.FINDING for f in facts.pointed if f.subject.kind == "work" and f.way}
    work = facts.layout.work
    used |= {Role.OPENED for i in (work.open if work else ()) if i.pipe is not None}
    used |= {Role.OBSTRUCTION for _ in facts.drawn.outlines}
    rows: list[tuple[Role, str | None, str]] = [(r, None, t) for r, t in _LINES if r in used]
    doubt = {f.certain for f in facts.flows}
    either = {f.direction.value for f in facts.flows}
    keep = {
        "ring": work is not None,
        "flow": True in doubt and len(either - {"either way"}) > 0,
        "flow either way": "either way" in either,
        "flow in doubt": False in doubt,
    }
    rows += [(role, form, text) for role, form, text in _SIGNS if keep[form]]
    forms = sorted({i.form for i in items_of(facts) if i.form}, key=_rank)
    return [*rows, *((Role.ELEMENT, f, _plain(f)) for f in forms)]


def _rank(form: str) -> tuple[int, str]:
    order = ("source", "pump", "heater", "cooler", "tank", "valve", "outlet")
    first = form.partition(" ")[0]
    return (order.index(first) if first in order else len(order), form)


def _plain(form: str) -> str:
    """Say a symbol's name for people."""
    if form.startswith("fitting "):
        return form.removeprefix("fitting ")
    if form == "dead end":
        return "closed end"
    if form.startswith("valve "):
        kinds = form.removeprefix("valve ")
        for state in ("closed and proven", "not stated", "open", "closed", "passing"):
            if kinds.endswith(f" {state}"):
                kind = kinds.removesuffix(f" {state}")
                name = "valve" if kind == "other" else f"{kind} valve"
                said = "proven tight" if state == "closed and proven" else state
                return f"{name}, {said}"
    return form.replace("outlet ", "outlet, ").replace("source ", "source: ")


def _columns(facts: Facts, width: float, text: float) -> tuple[int, int]:
    """Give the number of columns, and of rows in each."""
    columns = max(int((width - 8.0) // _column(facts, text)), 1)
    return columns, math.ceil(len(key_entries(facts)) / columns)


def key_height(facts: Facts, width: float, text: float) -> float:
    """Give the height that the key takes at a width."""
    _, rows = _columns(facts, width, text)
    return text * (2.6 + _PITCH * rows) + 4.0


def key_width(facts: Facts, height: float, text: float) -> float:
    """Give the width at which the key stays within a height."""
    most = max(int((height - 2.6 * text - 4.0) / (_TIGHT * text)), 1)
    return math.ceil(len(key_entries(facts)) / most) * _column(facts, text) + 8.0


def _column(facts: Facts, text: float) -> float:
    return max(text_width(t, text) for *_, t in key_entries(facts)) + _SAMPLE + 14.0


def key_panel(facts: Facts, frame: Box, text: float) -> Panel:
    """Draw the key. What does not fit a short frame is set tighter, never left out."""
    entries = key_entries(facts)
    columns, rows = _columns(facts, frame.width, text)
    pitch = min(_PITCH * text, (frame.height - 2.6 * text - 4.0) / max(rows, 1))
    marks: list[Mark] = [Stroke(role=Role.FRAME, points=corners(frame.grown(-0.3)), closed=True)]
    write = _writer(marks)
    write("Key", (frame.left + 6, frame.top + 1.5 * text), text * 1.05, Role.HEADING)
    wide = (frame.width - 8.0) / columns
    for index, (role, form, words) in enumerate(entries):
        column, row = divmod(index, rows)
        x = frame.left + 6.0 + column * wide
        y = frame.top + 2.6 * text + pitch * (row + 0.4)
        marks += _sample(role, form, (x, y), text)
        write(words, (x + _SAMPLE + 6.0, y + 0.35 * text), text, Role.TEXT)
    box = (frame.left, frame.top, frame.right, frame.bottom)
    return Panel(name="key", frame=box, clip=False, marks=tuple(marks))


def _writer(marks: list[Mark]) -> Callable[[str, Point, float, Role], None]:
    def write(text: str, at: Point, size: float, role: Role) -> None:
        marks.append(words_at(text, at, size, role=role, bold=role is Role.HEADING))

    return write


def _sample(role: Role, form: str | None, at: Point, size: float) -> list[Mark]:
    """Draw a sample of a line or symbol, its left edge at a point."""
    x, y = at
    if form is not None:
        symbol = 0.62 * size if form not in {"ring"} else 0.7 * size
        return [
            *(
                [Stroke(role=Role.STILL, points=((x + 2, y), (x + _SAMPLE - 2, y)))]
                if role is Role.ELEMENT and not form.startswith(("outlet", "source"))
                else []
            ),
            Glyph(role=role, form=form, at=(x + _SAMPLE / 2, y), size=symbol),
        ]
    line = ((x, y), (x + _SAMPLE, y))
    if role in {Role.JACKET, Role.JACKET_BROKEN, Role.GHOST}:
        half = 0.42 * size
        box = corners(Box(x + 6, y - half, x + _SAMPLE - 6, y + half))
        return [Stroke(role=Role.STILL, points=line), Stroke(role=role, points=box, closed=True)]
    marks: list[Mark] = [Stroke(role=role, points=line)]
    if role in {Role.DIMENSION, Role.DIMENSION_SHORT, Role.MOVE}:
        marks.append(Glyph(role=role, form="arrowhead", at=line[1], angle=0.0, size=2.6))
    if role in {Role.DIMENSION, Role.DIMENSION_SHORT}:
        marks.append(Glyph(role=role, form="arrowhead", at=line[0], angle=180.0, size=2.6))
    return marks
