"""The drawing for a screen: one view of everything, with the pipes' paths to reckon along.

A sheet is laid out once; a screen is panned and zoomed, and its plugs are dragged. So there is one
view, as large as its pipes need to be read close up, and beside the marks stands where each station
of each pipe lies, so that whoever draws it can move a plug along its pipe without asking again.
"""

from __future__ import annotations

import math
from statistics import median

import numpy as np
from pydantic import BaseModel, ConfigDict
from scipy.spatial import KDTree

from layoutcheck.document.models import Layout, Pipe
from layoutcheck.document.unstated import unstated_of
from layoutcheck.report.drawing.drawn import Drawn, View, drawn_length
from layoutcheck.report.drawing.facts import Facts
from layoutcheck.report.drawing.key import key_entries
from layoutcheck.report.drawing.metrics import Box
from layoutcheck.report.drawing.network_view import look_for, network_view
from layoutcheck.report.drawing.scene import Point, Scene, Sheet
from layoutcheck.report.drawing.symbols import all_forms
from layoutcheck.report.model import Report

SCREEN_FORMAT = "layoutcheck screen 1"

_TEXT = 9.0  # points
_STEP = 120.0  # what half the pipes are drawn longer than, in points
_APART = 48.0  # what half the joints are further apart than, in points
_LEAST_SIDE, _MOST_SIDE = 640.0, 5200.0
_PAD = (64.0, 48.0)
_ARRANGED_STRETCH = 2.6  # how unlike the axes' scales may be where the program chose the places


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class ScreenPath(_Part):
    """A pipe's drawn path: points in drawing coordinates, and the station (m) of each.

    length_known: whether the length is stated or can be measured. Where it is not, length is the
    least that it can be, and no place on the path tells a station.
    """

    from_junction: str
    length: float
    length_known: bool
    points: tuple[Point, ...]
    stations: tuple[float, ...]


class KeyEntry(_Part):
    """One line of the key: a role to show a line of, or the form of a symbol, and its words."""

    role: str
    form: str | None
    words: str


class ScreenDrawing(_Part):
    """A drawing to pan, zoom and drag plugs on.

    scene: one sheet with one panel. paths: by pipe. junctions: where each is drawn. sleeve: half
    the width at which jackets are drawn; lane: the step between the bands of stretches. key: what
    the drawing uses, as the key of the print explains it.
    """

    format: str = SCREEN_FORMAT
    scene: Scene
    paths: dict[str, ScreenPath]
    junctions: dict[str, Point]
    sleeve: float
    lane: float
    arranged: bool
    key: tuple[KeyEntry, ...]

    def to_json(self) -> str:
        """Write the drawing as JSON: the same bytes for the same drawing."""
        return self.model_dump_json() + "\n"


def build_screen(layout: Layout, report: Report) -> ScreenDrawing:
    """Draw a layout and its report for a screen. Pure; distances in points, stations in m."""
    facts = Facts.of(layout, report)
    stretch = _ARRANGED_STRETCH if facts.drawn.arranged else 1.0
    frame = _frame(facts.drawn)
    view = View(facts.drawn, facts.drawn.extent, frame, stretch=stretch, pad=_PAD)
    look = look_for(view, _TEXT)
    done = network_view(facts, view, look, layout.name)
    unknown = {u.pipe for us in unstated_of(layout).values() for u in us if u.field == "length"}
    used = {m.form for m in done.panel.marks if m.kind == "glyph"}
    scene = Scene(
        name=f"{layout.name}: {report.verdict.value}",
        sheets=(Sheet(width=frame.width, height=frame.height, panels=(done.panel,)),),
        glyphs={name: shapes for name, shapes in sorted(all_forms().items()) if name in used},
        left_out=len(done.wanted - done.shown),
    )
    return ScreenDrawing(
        scene=scene,
        paths={p.id: _path(view, p, known=p.id not in unknown) for p in layout.pipes},
        junctions={j: view.place(at) for j, at in sorted(facts.drawn.points.items())},
        sleeve=look.jacket,
        lane=look.lane,
        arranged=facts.drawn.arranged,
        key=tuple(KeyEntry(role=r, form=f, words=w) for r, f, w in key_entries(facts)),
    )


def _path(view: View, pipe: Pipe, *, known: bool) -> ScreenPath:
    path, length = view.paths[pipe.id], view.drawn.lengths[pipe.id]
    return ScreenPath(
        from_junction=pipe.from_,
        length=length,
        length_known=known,
        points=tuple((float(x), float(y)) for x, y in path.points),
        stations=tuple(float(s) * length for s in path.shares),
    )


def _frame(drawn: Drawn) -> Box:
    """Choose a frame in which pipes are long enough, and joints far enough apart, to read."""
    extent = drawn.extent
    side = max(extent.width, extent.height, 1e-9)
    wanted = [_STEP / span for span in _spans(drawn)] + [_APART / gap for gap in _gaps(drawn)]
    least, most = _LEAST_SIDE / side, _MOST_SIDE / side
    scale = min(max([*wanted, least]), most)
    wide = math.ceil(extent.width * scale + 2 * _PAD[0])
    tall = math.ceil(extent.height * scale + 2 * _PAD[1])
    return Box(0.0, 0.0, float(wide), float(tall))


def _spans(drawn: Drawn) -> list[float]:
    """Give the drawn length that half the pipes exceed; nothing where none is drawn long."""
    lines = [tuple((float(x), float(y)) for x, y in p.points) for p in drawn.paths.values()]
    long = [span for line in lines if (span := drawn_length(line)) > 0]
    return [median(long)] if long else []


def _gaps(drawn: Drawn) -> list[float]:
    """Give the distance to the next joint that half the joints exceed."""
    points = sorted(set(drawn.points.values()))
    if len(points) < 2:
        return []
    distances, _ = KDTree(np.array(points)).query(np.array(points), k=2)
    return [float(np.median(np.asarray(distances)[:, 1]))]
