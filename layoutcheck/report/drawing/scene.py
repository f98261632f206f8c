"""The drawing as data: typed marks in drawing coordinates, before they become SVG.

Coordinates are points (1/72 in) from the top left corner of a sheet; y grows downwards. Whoever
draws a scene needs only these marks: a role says what a mark is, and the look of each role is
decided in one place (style.py for the SVG, a style sheet for a web page).
"""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

SCENE_FORMAT = "layoutcheck scene 1"

Point = tuple[float, float]


class Role(StrEnum):
    """What a mark is."""

    FRAME = "frame"
    STILL = "still pipe"
    FLOWING = "flowing pipe"
    MAY_FLOW = "pipe that may flow"
    OPENED = "opened pipe"
    CLEAR = "clear stretch"
    SHUT_OUT = "shut-out stretch"
    JACKET = "jacket"
    JACKET_BROKEN = "jacket not well placed"
    GHOST = "suggested jacket"
    MOVE = "move"
    DIMENSION = "dimension"
    DIMENSION_SHORT = "dimension too short"
    WITNESS = "witness line"
    LEADER = "leader"
    WALL = "pipe wall"
    OBSTRUCTION = "obstruction"
    ELEMENT = "element"
    WORK = "work"
    FLOW_ARROW = "flow arrow"
    MAY_FLOW_ARROW = "arrow of flow in doubt"
    FINDING = "finding"
    HIGHLIGHT = "highlight"
    FOCUS = "focus"
    VERDICT = "verdict"
    TEXT = "text"
    QUIET = "quiet text"
    HEADING = "heading"
    BACKING = "backing"


class _Mark(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Stroke(_Mark):
    """A line or, if closed, an outline.

    pipe, start, end: the stretch of pipe that the line stands for, with its stations in m.
    """

    kind: Literal["stroke"] = "stroke"
    role: Role
    points: tuple[Point, ...]
    closed: bool = False
    subject: str | None = None
    pipe: str | None = None
    start: float | None = None
    end: float | None = None
    note: str = ""


class Glyph(_Mark):
    """A symbol at a point: its form is looked up in the scene's glyphs.

    angle: degrees, clockwise, by which the form is turned; size: half its length along the pipe.
    """

    kind: Literal["glyph"] = "glyph"
    role: Role
    form: str
    at: Point
    angle: float = 0.0
    size: float
    subject: str | None = None
    note: str = ""


class Words(_Mark):
    """One line of text. at is the baseline's start, middle or end; box is what it may cover.

    box: left, top, right, bottom.
    """

    kind: Literal["words"] = "words"
    role: Role
    text: str
    at: Point
    size: float
    anchor: Literal["start", "middle", "end"] = "start"
    bold: bool = False
    box: tuple[float, float, float, float]
    subject: str | None = None


Mark = Annotated[Stroke | Glyph | Words, Field(discriminator="kind")]


class Panel(_Mark):
    """A part of a sheet. frame: left, top, right, bottom; marks are clipped to it if clip."""

    name: str
    frame: tuple[float, float, float, float]
    clip: bool
    marks: tuple[Mark, ...]


class Sheet(_Mark):
    """One page."""

    width: float
    height: float
    panels: tuple[Panel, ...]


class Shape(_Mark):
    """A part of a symbol in its own coordinates: the pipe runs along x, from -1 to 1.

    A line through points, closed to an outline or not; or a circle of a radius about one point.
    fill: 'ink', 'paper' or 'none'.
    """

    points: tuple[Point, ...]
    closed: bool = False
    radius: float | None = None
    fill: Literal["ink", "paper", "none"] = "none"


class Scene(_Mark):
    """A whole drawing. left_out counts the labels that found no room."""

    format: str = SCENE_FORMAT
    name: str
    sheets: tuple[Sheet, ...]
    glyphs: dict[str, tuple[Shape, ...]]
    left_out: int

    def to_json(self) -> str:
        """Write the scene as JSON: the same bytes for the same scene."""
        return self.model_dump_json() + "\n"
