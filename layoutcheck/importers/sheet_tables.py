"""The sheets of the spreadsheet way in: which columns each has, and what a column holds.

A quantity takes two columns, its number and its unit: "length" and "length unit". Where the unit's
cell is empty, the number's cell may hold both, as in the document: "24 ft 6 in".
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Cell(Enum):
    """What a column holds."""

    TEXT = "text"
    QUANTITY = "quantity"
    FLAG = "yes or no"
    NUMBER = "a number in drawing units"
    XY = "two numbers"
    CORNERS = "corners"
    MOMENTS = "one value, or one for each moment"
    FLAG_MOMENTS = "yes or no, or one for each moment"


@dataclass(frozen=True)
class Column:
    """One field of an element and its column. unit: what the field is written out in."""

    field: str
    cell: Cell = Cell.TEXT
    unit: str = ""

    @property
    def name(self) -> str:
        """Name the column as people write it."""
        return self.field.replace("_", " ")

    @property
    def headings(self) -> tuple[str, ...]:
        """List every heading this column may take on the sheet."""
        if self.cell is Cell.QUANTITY:
            return self.name, f"{self.name} unit"
        if self.cell is Cell.XY:
            return "x", "y"
        if self.cell in {Cell.MOMENTS, Cell.FLAG_MOMENTS}:
            return self.name, f"{self.name} freezing", f"{self.name} working"
        return (self.name,)


def _quantity(field: str, unit: str) -> Column:
    return Column(field, Cell.QUANTITY, unit)


def _texts(*fields: str) -> tuple[Column, ...]:
    return tuple(Column(field) for field in fields)


_PLACE = (*_texts("junction", "pipe"), _quantity("station", "m"))
_LOCKED = Column("locked_off", Cell.FLAG_MOMENTS)

# The sheet of one row that tells what the drawing is: columns of the document, and of its drawing.
HEAD = "layout"
HEAD_COLUMNS = _texts("name", "units")
DRAWING_COLUMNS = (Column("kind"), _quantity("scale", "m"), Column("snap_within", Cell.NUMBER))

# Sheet -> its columns. Only the first is needed; pipes name their junctions.
SHEETS: dict[str, tuple[Column, ...]] = {
    "pipes": (
        *_texts("id", "name", "from", "to", "size", "material", "wall"),
        _quantity("outside_diameter", "m"),
        _quantity("wall_thickness", "m"),
        _quantity("length", "m"),
        Column("via", Cell.CORNERS),
        *_texts("flow", "covering"),
        _quantity("clear_space", "m"),
        _quantity("water_temperature", "K"),
        _quantity("pressure_rating", "Pa"),
        *_texts("room", "low_temperature_accepted_by", "meant", "ref"),
    ),
    "valves": (
        *_texts("id", "name", "kind"),
        *_PLACE,
        Column("state", Cell.MOMENTS),
        Column("tightness"),
        _quantity("body", "m"),
        *_texts("meant", "ref"),
    ),
    "plugs": (
        *_texts("id", "name", "pipe"),
        _quantity("station", "m"),
        Column("point", Cell.XY),
        _quantity("jacket", "m"),
        *_texts("coolant", "meant"),
    ),
    "junctions": (
        *_texts("id", "name"),
        _quantity("elevation", "m"),
        Column("at", Cell.XY),
        *_texts("fitting", "goes_on"),
        Column("defective", Cell.FLAG),
        *_texts("meant", "ref"),
    ),
    "fittings": (
        *_texts("id", "kind", "pipe"),
        _quantity("station", "m"),
        Column("defective", Cell.FLAG),
        Column("ref"),
    ),
    "pumps": (
        *_texts("id", "name"),
        *_PLACE,
        _LOCKED,
        _quantity("shutoff_head", "Pa"),
        *_texts("meant", "ref"),
    ),
    "equipment": (
        *_texts("id", "name", "kind"),
        *_PLACE,
        _LOCKED,
        _quantity("volume", "m3"),
        _quantity("level", "m"),
        *_texts("meant", "ref"),
    ),
    "sources": (
        *_texts("id", "name", "junction", "kind"),
        _quantity("pressure", "Pa"),
        _quantity("level", "m"),
        _quantity("volume", "m3"),
        *_texts("meant", "ref"),
    ),
    "outlets": (
        *_texts("id", "name", "junction"),
        Column("state", Cell.MOMENTS),
        *_texts("meant", "ref"),
    ),
}
