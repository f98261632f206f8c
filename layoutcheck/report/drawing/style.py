"""The look of each role: one palette, told apart by shape and pattern as well as by colour.

The colours keep apart in lightness too, so that the drawing reads on a black-and-white printer
and for eyes that mix up red and green: blues for water, a dark green-blue for what is clear, a
burnt orange for what is shut out or falls short, violet for the work.
"""

from __future__ import annotations

from dataclasses import dataclass

from layoutcheck.report.drawing.scene import Role

INK = "#1c2733"
QUIET = "#55626f"
PAPER = "#ffffff"
WATER = "#155a9c"
CLEAR = "#0c6b5e"
SHORT = "#a8430f"
WORK = "#6d2470"
ICE = "#d6ebf7"


@dataclass(frozen=True)
class Style:
    """How a mark is drawn: colour of its line, width (points), dashes, fill.

    core: width of a white line along the middle, which makes two lines of one.
    """

    line: str = INK
    width: float = 0.8
    dash: str = ""
    fill: str = "none"
    round: bool = False
    core: float = 0.0


STYLES: dict[Role, Style] = {
    Role.FRAME: Style(QUIET, 0.5, fill=PAPER),
    Role.STILL: Style("#6b7681", 1.1),
    Role.FLOWING: Style(WATER, 1.9),
    Role.MAY_FLOW: Style(WATER, 1.5, "5 2.2"),
    Role.OPENED: Style(WORK, 3.4),
    Role.CLEAR: Style(CLEAR, 3.0, core=1.2),
    Role.SHUT_OUT: Style(SHORT, 2.2, "0.7 2.1"),
    Role.JACKET: Style(INK, 1.0, fill=ICE),
    Role.JACKET_BROKEN: Style(SHORT, 1.3, fill="#fbe3d2"),
    Role.GHOST: Style(CLEAR, 1.1, "2.4 1.6", fill="#e2f3ee"),
    Role.MOVE: Style(CLEAR, 1.0, "4 1.6"),
    Role.DIMENSION: Style(INK, 0.6),
    Role.DIMENSION_SHORT: Style(SHORT, 0.9),
    Role.WITNESS: Style(QUIET, 0.45),
    Role.LEADER: Style(QUIET, 0.45, round=True),
    Role.WALL: Style(INK, 0.8),
    Role.OBSTRUCTION: Style(QUIET, 0.8, "1.2 1.6"),
    Role.ELEMENT: Style(INK, 0.8),
    Role.WORK: Style(WORK, 1.5),
    Role.FLOW_ARROW: Style(WATER, 0.6),
    Role.MAY_FLOW_ARROW: Style(WATER, 0.7),
    Role.FINDING: Style(SHORT, 1.4, "6 2 1.5 2"),
    Role.HIGHLIGHT: Style("#b06f00", 4.2),
    Role.FOCUS: Style(INK, 0.8, "7 2.5"),
    Role.VERDICT: Style(INK, 1.2),
    Role.TEXT: Style(INK),
    Role.QUIET: Style(QUIET),
    Role.HEADING: Style(INK),
    Role.BACKING: Style("none", 0.0, fill=PAPER),
}

# Dark ink for texts of a role; roles not named write in plain ink.
TEXT_COLOURS: dict[Role, str] = {
    Role.FINDING: "#8a350a",
    Role.SHUT_OUT: "#8a350a",
    Role.CLEAR: "#0a5a4f",
    Role.MOVE: "#0a5a4f",
    Role.WORK: "#5a1c5d",
    Role.QUIET: QUIET,
}
