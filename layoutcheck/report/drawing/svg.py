"""Write a scene as SVG: deterministic, self-contained, with real text."""

from __future__ import annotations

import math
from collections.abc import Iterable
from xml.sax.saxutils import escape, quoteattr

from layoutcheck.document.faults import shown
from layoutcheck.report.drawing.metrics import FAMILY
from layoutcheck.report.drawing.scene import (
    Glyph,
    Mark,
    Panel,
    Point,
    Role,
    Scene,
    Shape,
    Sheet,
    Stroke,
    Words,
)
from layoutcheck.report.drawing.style import INK, PAPER, STYLES, TEXT_COLOURS, Style
from layoutcheck.seen import set_apart

# Space between the sheets of a drawing that has more than one, in points.
SHEET_GAP = 14.0


def safe(text: str) -> str:
    """Make a text safe to show: what can not be seen is spelled out."""
    return shown(text, 4000)


def scene_svg(scene: Scene) -> str:
    """Write a whole drawing, its sheets one under another."""
    width = max(s.width for s in scene.sheets)
    height = sum(s.height for s in scene.sheets) + SHEET_GAP * (len(scene.sheets) - 1)
    parts = []
    top = 0.0
    for index, sheet in enumerate(scene.sheets):
        parts.append(_group(sheet, scene, index, (width - sheet.width) / 2, top))
        top += sheet.height + SHEET_GAP
    return _document(scene, width, height, parts)


def sheet_svgs(scene: Scene) -> tuple[str, ...]:
    """Write each sheet of a drawing as an SVG of its own."""
    return tuple(
        _document(scene, s.width, s.height, [_group(s, scene, i, 0.0, 0.0)])
        for i, s in enumerate(scene.sheets)
    )


def _document(scene: Scene, width: float, height: float, parts: Iterable[str]) -> str:
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_n(width)}pt" height="{_n(height)}pt" '
        f'viewBox="0 0 {_n(width)} {_n(height)}" role="img" font-family={quoteattr(FAMILY)}>'
    )
    title = f"<title>{escape(set_apart(safe(scene.name)))}</title>"
    return "\n".join((head, title, *parts, "</svg>", ""))


def _group(sheet: Sheet, scene: Scene, index: int, left: float, top: float) -> str:
    rows = [f'<g data-sheet="{index + 1}" transform="translate({_n(left)} {_n(top)})">']
    rows.append(f'<rect width="{_n(sheet.width)}" height="{_n(sheet.height)}" fill="{PAPER}"/>')
    for number, panel in enumerate(sheet.panels):
        rows += _panel(panel, scene, f"clip-{index + 1}-{number + 1}")
    rows.append("</g>")
    return "\n".join(rows)


def _panel(panel: Panel, scene: Scene, clip_id: str) -> list[str]:
    left, top, right, bottom = panel.frame
    rows = []
    clip = ""
    if panel.clip:
        rows.append(
            f'<clipPath id="{clip_id}"><rect x="{_n(left)}" y="{_n(top)}" '
            f'width="{_n(right - left)}" height="{_n(bottom - top)}"/></clipPath>'
        )
        clip = f' clip-path="url(#{clip_id})"'
    rows.append(f"<g data-panel={_attr(panel.name)}{clip}>")
    rows += [_mark(mark, scene) for mark in panel.marks]
    rows.append("</g>")
    return rows


def _mark(mark: Mark, scene: Scene) -> str:
    if isinstance(mark, Stroke):
        return _stroke(mark)
    if isinstance(mark, Glyph):
        return _glyph(mark, scene.glyphs[mark.form])
    return _words(mark)


def _stroke(mark: Stroke) -> str:
    style = STYLES[mark.role]
    data = _data(mark.role, mark.subject)
    if mark.pipe is not None:
        data += f" data-pipe={_attr(mark.pipe)}"
        data += f' data-start="{mark.start!r}" data-end="{mark.end!r}"'
    name = "polygon" if mark.closed else "polyline"
    fill = style.fill if mark.closed else "none"
    points = " ".join(f"{_n(x)},{_n(y)}" for x, y in mark.points)
    look = _look(style, fill)
    note = f"<title>{escape(set_apart(safe(mark.note)))}</title>" if mark.note else ""
    drawn = f'<{name} points="{points}"{look}{data}>{note}</{name}>'
    if style.core:
        core = Style(PAPER, style.core)
        drawn += f'<{name} points="{points}"{_look(core, "none")}/>'
    return drawn


def _look(style: Style, fill: str) -> str:
    look = f' fill="{fill}" stroke="{style.line}" stroke-width="{_n(style.width)}"'
    look += ' stroke-linejoin="round"'
    if style.dash:
        look += f' stroke-dasharray="{style.dash}"'
    if style.round:
        look += ' stroke-linecap="round"'
    return look


def _glyph(mark: Glyph, shapes: tuple[Shape, ...]) -> str:
    """Write a symbol with its shapes turned and sized: no transform, so lines keep their width."""
    style = STYLES[mark.role]
    colour = style.line
    note = f"<title>{escape(set_apart(safe(mark.note)))}</title>" if mark.note else ""
    rows = [f"<g data-form={_attr(mark.form)}{_data(mark.role, mark.subject)}>{note}"]
    for shape in shapes:
        fill = {"ink": colour, "paper": PAPER, "none": "none"}[shape.fill]
        if mark.role in {Role.HIGHLIGHT, Role.WORK} and mark.form == "ring":
            fill = "none"
        points = [_turned(mark, p) for p in shape.points]
        look = f'fill="{fill}" stroke="{colour}" stroke-width="{_n(style.width)}"'
        if shape.radius is not None:
            x, y = points[0]
            rows.append(
                f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(shape.radius * mark.size)}" {look}/>'
            )
            continue
        name = "polygon" if shape.closed else "polyline"
        listed = " ".join(f"{_n(x)},{_n(y)}" for x, y in points)
        rows.append(f'<{name} points="{listed}" {look} stroke-linejoin="round"/>')
    return "".join(rows) + "</g>"


def _turned(mark: Glyph, point: Point) -> Point:
    """Turn and size a symbol's point; a symbol turned upside down is mirrored upright again."""
    angle = (mark.angle + 180.0) % 360.0 - 180.0
    x, y = point
    if angle > 90.5 or angle < -90.5:
        y = -y
    turn = math.radians(angle)
    cos, sin = math.cos(turn), math.sin(turn)
    return (
        mark.at[0] + mark.size * (x * cos - y * sin),
        mark.at[1] + mark.size * (x * sin + y * cos),
    )


def _words(mark: Words) -> str:
    colour = TEXT_COLOURS.get(mark.role, INK)
    weight = ' font-weight="bold"' if mark.bold else ""
    anchor = f' text-anchor="{mark.anchor}"' if mark.anchor != "start" else ""
    return (
        f'<text x="{_n(mark.at[0])}" y="{_n(mark.at[1])}" font-size="{_n(mark.size)}" '
        f'fill="{colour}"{weight}{anchor}{_data(mark.role, mark.subject)}>'
        f"{escape(set_apart(safe(mark.text)))}</text>"
    )


def _data(role: Role, subject: str | None) -> str:
    text = f" data-role={_attr(role.value)}"
    return text if subject is None else f"{text} data-subject={_attr(subject)}"


def _attr(text: str) -> str:
    return quoteattr(safe(text))


def _n(value: float) -> str:
    """Write a coordinate: to a hundredth of a point, never '-0'."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
