"""How wide a text is: advance widths of DejaVu Sans, which the drawings name first.

The usual stand-ins (Arial, Helvetica, Liberation, Roboto) are narrower, so a box measured here
holds the text in them as well.
"""

from __future__ import annotations

import bisect
import unicodedata
from dataclasses import dataclass
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path

from fontTools.ttLib import TTFont

FAMILY = "DejaVu Sans, Verdana, Arial, sans-serif"
ASCENT = 0.80  # of the size, above the baseline: capitals, figures and brackets
DESCENT = 0.24
LINE = 1.25  # distance between baselines

# A character the font does not have is taken as a full em: no script of one column is wider.
_UNKNOWN = 1.0


@dataclass(frozen=True)
class Box:
    """An upright rectangle in drawing units; y grows downwards."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: Box) -> bool:
        """Tell whether two boxes share more than an edge."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )

    def holds(self, other: Box) -> bool:
        """Tell whether another box lies inside this one."""
        return (
            self.left <= other.left
            and self.top <= other.top
            and other.right <= self.right
            and other.bottom <= self.bottom
        )

    def grown(self, by: float) -> Box:
        """Give the box with a margin all round."""
        return Box(self.left - by, self.top - by, self.right + by, self.bottom + by)

    def moved(self, dx: float, dy: float) -> Box:
        """Give the box shifted."""
        return Box(self.left + dx, self.top + dy, self.right + dx, self.bottom + dy)

    def around(self, other: Box) -> Box:
        """Give the least box that holds both."""
        return Box(
            min(self.left, other.left),
            min(self.top, other.top),
            max(self.right, other.right),
            max(self.bottom, other.bottom),
        )

    @property
    def width(self) -> float:
        """Give the width."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """Give the height."""
        return self.bottom - self.top

    @property
    def centre(self) -> tuple[float, float]:
        """Give the middle."""
        return (self.left + self.right) / 2, (self.top + self.bottom) / 2


def font_file(*, bold: bool) -> Path:
    """Give the font file that comes with matplotlib, so that no machine needs one installed."""
    spec = find_spec("matplotlib")
    if spec is None:
        raise ModuleNotFoundError("matplotlib brings the font", name="matplotlib")
    folders = list(spec.submodule_search_locations or [])
    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    return Path(folders[0]) / "mpl-data" / "fonts" / "ttf" / name


@lru_cache(maxsize=2)
def _advances(bold: bool) -> tuple[dict[int, str], dict[str, tuple[int, int]], int]:  # noqa: FBT001 - a cache key
    font = TTFont(font_file(bold=bold), lazy=True)
    return font.getBestCmap(), font["hmtx"].metrics, font["head"].unitsPerEm


@lru_cache(maxsize=2)
def _widenings(bold: bool) -> dict[tuple[str, str], int]:  # noqa: FBT001 - a cache key
    """Give the pairs of glyphs that the font sets farther apart; those it draws together are left.

    A viewer may or may not heed them, so a text is taken as the wider of the two.
    """
    pairs = TTFont(font_file(bold=bold), lazy=True)["kern"].kernTables[0].kernTable
    return {pair: units for pair, units in pairs.items() if units > 0}


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Give the width of a text in drawing units, at a font size in the same units."""
    return _ems(text, bold) * size


# Breaking a text into lines asks for the same beginnings over and over, and so does each sheet.
@lru_cache(maxsize=100_000)
def _ems(text: str, bold: bool) -> float:  # noqa: FBT001 - a cache key
    """Give the width of a text in ems."""
    names, widths, em = _advances(bold)
    apart = _widenings(bold)
    total, before = 0.0, ""
    for mark in text:
        name = names.get(ord(mark))
        if name is not None:
            total += (widths[name][0] + apart.get((before, name), 0)) / em
        elif not unicodedata.combining(mark):
            total += _UNKNOWN
        before = name or ""
    return total


def text_box(
    text: str, x: float, y: float, size: float, *, anchor: str = "start", bold: bool = False
) -> Box:
    """Give the box of a text whose baseline starts, centres or ends at (x, y)."""
    width = text_width(text, size, bold=bold)
    left = x - {"start": 0.0, "middle": width / 2, "end": width}[anchor]
    return Box(left, y - ASCENT * size, left + width, y + DESCENT * size)


def wrapped(text: str, width: float, size: float, *, bold: bool = False) -> list[str]:
    """Break a text into lines no wider than a width; a word too long is cut."""
    lines: list[str] = []
    line = ""
    for word in text.split():
        trial = f"{line} {word}".strip()
        if text_width(trial, size, bold=bold) <= width:
            line = trial
            continue
        if line:
            lines.append(line)
        line = word
        while text_width(line, size, bold=bold) > width and len(line) > 1:
            head = fitted(line, width, size, bold=bold, mark="")
            lines.append(head)
            line = line[len(head) :]
    return [*lines, line] if line or not lines else lines


def fitted(text: str, width: float, size: float, *, bold: bool = False, mark: str = "…") -> str:
    """Shorten a text to a width, with a mark where something was left out."""
    if text_width(text, size, bold=bold) <= width:
        return text
    keep = bisect.bisect_right(
        range(1, len(text)), width, key=lambda n: text_width(text[:n] + mark, size, bold=bold)
    )
    return text[: max(keep, 1)] + mark
