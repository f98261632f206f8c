"""The spreadsheet way in and out: CSV sheets of pipes, valves, plugs and whatever else there is.

What stands in no sheet (the work, the site, the waivers) is not carried; the import says so.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from layoutcheck.document.faults import (
    MOST_FAULTS,
    Fault,
    LayoutFaults,
    at_most,
    pointer_to,
    shown,
)
from layoutcheck.document.models import Layout
from layoutcheck.document.read import parse_layout
from layoutcheck.document.tables import TextFault, guarded, rows_of, unguarded
from layoutcheck.importers.draft import Document, Draft, Imported, Source, plain
from layoutcheck.importers.own_names import in_known_names
from layoutcheck.importers.sheet_tables import (
    DRAWING_COLUMNS,
    HEAD,
    HEAD_COLUMNS,
    SHEETS,
    Cell,
    Column,
)
from layoutcheck.quantities.names import NO_NAMES, Names

_COLUMNS = {**SHEETS, HEAD: (*HEAD_COLUMNS, *DRAWING_COLUMNS)}
MOMENTS = ("freezing", "working")
_YES = {"yes": True, "true": True, "no": False, "false": False}
_MOST_ROWS = 200_000
_MOST_HEADS = 200
_CORNER_PARTS = 2


class Places:
    """How a place on a sheet is told: a CSV file, its line and its column."""

    def of(self, sheet: str, *parts: str | int) -> str:
        """Tell a place. parts: the row (from 1) and the column, as far as they are known."""
        return pointer_to(f"{sheet}.csv", *parts)


def read_sheets(
    sheets: Mapping[str, bytes],
    *,
    name: str,
    names: Names = NO_NAMES,
    places: Places | None = None,
) -> Imported:
    """Read CSV sheets.

    sheets: name of the sheet ("pipes") -> the bytes of its CSV file, in UTF-8.
    name: what to call the layout. names: a user's own, of materials, sizes and walls.
    places: how a place is told, as in files of CSV if None.
    Raises LayoutFaults with every fault of all sheets.
    """
    told = places or Places()
    reader = _Reader(told, [])
    if "pipes" not in sheets:
        reader.fault(
            told.of("pipes"), "nothing", "is required and is not there", "a sheet named pipes"
        )
    rows = {name: reader.rows(name, data) for name, data in sheets.items() if name in _COLUMNS}
    draft = Draft(name=name, note="Read from sheets.", drawing={"kind": "riser"}, names=names)
    reader.head(draft, rows.get(HEAD, []))
    for sheet in SHEETS:
        draft.lists[sheet] = [reader.element(sheet, *row) for row in rows.get(sheet, ())]
        if sheet in rows:
            draft.read[sheet] = draft.taken[sheet] = len(draft.lists[sheet])
    if reader.faults:
        raise LayoutFaults(at_most(reader.faults))
    for pipe in draft.lists["pipes"]:
        in_known_names(pipe, names)
    _junctions_of_pipes(draft)
    _rooms_of_pipes(draft)
    _refuse_unsound(draft, told, {sheet: [n for n, _ in found] for sheet, found in rows.items()})
    draft.leave_out("Sheets hold no work, no site and no waivers: add them to the layout")
    strange = sorted(set(sheets) - set(_COLUMNS))
    if strange:
        draft.leave_out("No sheet of this name is read", *strange)
    return draft.finished(Source(name=name, kind="sheets", detail="CSV with unit columns"))


def _junctions_of_pipes(draft: Draft) -> None:
    """Add the junctions that pipes name and no sheet lists."""
    known = {j.get("id") for j in draft.lists["junctions"]}
    for pipe in draft.lists["pipes"]:
        for end in ("from", "to"):
            named = pipe.get(end)
            if named and named not in known:
                known.add(named)
                draft.lists["junctions"].append({"id": named})
                draft.gap("Named by a pipe, but in no sheet of junctions: its height", named)


def _rooms_of_pipes(draft: Draft) -> None:
    """Add the rooms that pipes name, with nothing known of them."""
    named = dict.fromkeys(p["room"] for p in draft.lists["pipes"] if "room" in p)
    if named:
        draft.site["rooms"] = [{"id": room} for room in named]
        draft.gap("Named by a pipe, but in no sheet: the size and ventilation of the room", *named)


def _refuse_unsound(draft: Draft, places: Places, numbers: Mapping[str, list[int]]) -> None:
    """Raise the faults of the document, with their places on the sheets."""
    try:
        parse_layout(draft.document())
    except LayoutFaults as error:
        faults = [
            f.model_copy(update={"pointer": _on_sheet(f.pointer, places, numbers)})
            for f in error.faults
        ]
        raise LayoutFaults(faults) from None


def _on_sheet(pointer: str, places: Places, numbers: Mapping[str, list[int]]) -> str:
    """Turn a place in the document into a place on a sheet: its row and column."""
    parts = pointer.split("/")[1:]
    if len(parts) < 2 or parts[0] not in numbers or not parts[1].isdigit():
        return pointer
    rows = numbers[parts[0]]
    if int(parts[1]) >= len(rows):
        return pointer
    column = [part.replace("_", " ") for part in parts[2:]]
    return places.of(parts[0], rows[int(parts[1])], *column)


@dataclass
class _Reader:
    """Reads rows of sheets, and gathers the faults of all of them."""

    places: Places
    faults: list[Fault]

    def fault(self, pointer: str, found: object, problem: str, example: str) -> None:
        """Note a fault, so long as there is room for more of them."""
        if len(self.faults) <= MOST_FAULTS:
            fault = Fault(pointer=pointer, found=shown(found), problem=problem, example=example)
            self.faults.append(fault)

    def head(self, draft: Draft, rows: list[tuple[int, dict[str, str]]]) -> None:
        """Read the one row that tells of the layout and its drawing."""
        if len(rows) > 1:
            told = f"{len(rows)} rows"
            self.fault(self.places.of(HEAD), told, "has more than one row", "one row")
        for number, row in rows[:1]:
            head = self.element(HEAD, number, row)
            draft.name = head.pop("name", draft.name)
            draft.units = head.pop("units", draft.units)
            draft.drawing |= head

    def rows(self, sheet: str, data: bytes) -> list[tuple[int, dict[str, str]]]:
        """Give the rows of a sheet with their line numbers; unknown headings are faults."""
        where = self.places.of(sheet)
        try:
            lines = list(rows_of(data.decode("utf-8-sig"), most=_MOST_ROWS))
        except UnicodeDecodeError as error:
            self.fault(where, "bytes", f"is not UTF-8 text (byte {error.start})", "UTF-8")
            return []
        except TextFault as error:
            self.fault(where, "the sheet", str(error), 'id,"a, b"')
            return []
        heads = [" ".join(h.split()).lower() for h in lines[0]] if lines else []
        known = [h for c in _COLUMNS[sheet] for h in c.headings]
        if len(heads) > _MOST_HEADS:
            self.fault(where, f"{len(heads)} columns", "has too many columns", ", ".join(known))
            return []
        for number, head in enumerate(heads):
            place = self.places.of(sheet, 1, number + 1)
            if head and head not in known:
                self.fault(place, head, "is no column of this sheet", ", ".join(known))
            elif head and head in heads[:number]:
                self.fault(place, head, "is the heading of two columns", "one of each")
        return list(self._filled(sheet, heads, lines))

    def _filled(
        self, sheet: str, heads: list[str], lines: list[list[str]]
    ) -> Iterator[tuple[int, dict[str, str]]]:
        for number, line in enumerate(lines[1:], start=2):
            if not any(cell.strip() for cell in line):
                continue
            if any(cell.strip() for cell in line[len(heads) :]):
                place = self.places.of(sheet, number)
                self.fault(place, line, "has more cells than the sheet has headings", "…")
            yield number, {h: c.strip() for h, c in zip(heads, line, strict=False) if c.strip()}

    def element(self, sheet: str, number: int, row: Mapping[str, str]) -> Document:
        """Make one element of a row."""
        element: Document = {}
        for column in _COLUMNS[sheet]:
            try:
                value = _value(column, row)
            except ValueError as error:
                place = self.places.of(sheet, number, column.name)
                given = " ".join(row.get(h, "") for h in column.headings)
                self.fault(place, given, str(error), _EXAMPLES[column.cell])
                continue
            if value is not None:
                element[column.field] = value
        return element


def _value(column: Column, row: Mapping[str, str]) -> object:
    """Read a column's value; None where its cells are empty. Raises ValueError."""
    cells = [row.get(h, "") for h in column.headings]
    if not any(cells):
        return None
    return _READERS[column.cell](cells)


def _either(cells: list[str]) -> object:
    """Read one yes or no for both moments, or one for each."""
    read = _moments(cells)
    if isinstance(read, str):
        return _flag(read)
    return {moment: _flag(value) for moment, value in read.items()}


def _corners(cells: list[str]) -> list[object]:
    return [_corner(c) for c in cells[0].split(";") if c.strip()]


def _moments(cells: list[str]) -> str | dict[str, str]:
    if cells[0] and any(cells[1:]):
        raise ValueError("is stated for both moments and for each")
    if cells[0]:
        return cells[0]
    return {m: value for m, value in zip(MOMENTS, cells[1:], strict=True) if value}


def _flag(text: str) -> bool:
    if text.lower() not in _YES:
        raise ValueError("must be yes or no")
    return _YES[text.lower()]


def _numbers(cells: list[str]) -> list[float]:
    try:
        return [float(cell) + 0.0 for cell in cells]  # and never minus zero
    except ValueError:
        raise ValueError("must be numbers in drawing units") from None


def _corner(text: str) -> object:
    """Read "10 40", or "10 40 3.2 m" where the height of the corner is known."""
    parts = text.split(maxsplit=_CORNER_PARTS)
    if len(parts) < _CORNER_PARTS:
        raise ValueError("a corner is two numbers, and its height where it is known")
    at = _numbers(parts[:_CORNER_PARTS])
    return at if len(parts) == _CORNER_PARTS else {"at": at, "elevation": parts[_CORNER_PARTS]}


_READERS: dict[Cell, Callable[[list[str]], object]] = {
    Cell.TEXT: lambda cells: unguarded(cells[0]),
    Cell.QUANTITY: lambda cells: " ".join(filter(None, cells)),
    Cell.FLAG: lambda cells: _flag(cells[0]),
    Cell.NUMBER: lambda cells: _numbers(cells)[0],
    Cell.XY: _numbers,
    Cell.CORNERS: _corners,
    Cell.MOMENTS: _moments,
    Cell.FLAG_MOMENTS: _either,
}
_EXAMPLES = {
    Cell.TEXT: "text",
    Cell.QUANTITY: "24.5 in one column, ft in the next",
    Cell.FLAG: "yes",
    Cell.NUMBER: "2.5",
    Cell.XY: "120 and 40",
    Cell.CORNERS: "10 0; 10 40",
    Cell.MOMENTS: "closed",
    Cell.FLAG_MOMENTS: "yes",
}


def write_sheets(layout: Layout) -> dict[str, bytes]:
    """Write a layout's network as CSV sheets: name of the sheet -> bytes. Empty ones are left out.

    Numbers are SI, each with its unit beside it, and read back as the very same values.
    """
    head = layout.drawing.model_dump(mode="json")
    head |= {"name": layout.name, "units": layout.units.value}
    made = {HEAD: _written(_COLUMNS[HEAD], [head])}
    for sheet, columns in SHEETS.items():
        elements = getattr(layout, sheet)
        if elements:
            rows = [e.model_dump(by_alias=True, mode="json") for e in elements]
            made[sheet] = _written(columns, rows)
    return made


def _written(columns: tuple[Column, ...], elements: list[dict[str, Any]]) -> bytes:
    rows = [_cells(columns, element) for element in elements]
    used = [h for c in columns for h in c.headings if any(row.get(h) for row in rows)]
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")  # RFC 4180
    writer.writerow(used)
    writer.writerows([row.get(h, "") for h in used] for row in rows)
    return out.getvalue().encode("utf-8")


def _cells(columns: tuple[Column, ...], element: Mapping[str, Any]) -> dict[str, str]:
    made: dict[str, str] = {}
    for column in columns:
        value = element.get(column.field)
        if value is not None:
            made |= zip(column.headings, _written_value(column, value), strict=False)
    return made


def _written_value(column: Column, value: Any) -> list[str]:  # noqa: ANN401 - any JSON value
    match column.cell:
        case Cell.QUANTITY:
            number, unit = str(value).split(" ", 1)
            return [number, unit]
        case Cell.FLAG:
            return ["yes"] if value else []
        case Cell.XY:
            return [repr(float(number)) for number in value]
        case Cell.CORNERS:
            return ["; ".join(_written_corner(corner) for corner in value)]
        case Cell.MOMENTS | Cell.FLAG_MOMENTS:
            stated = value if isinstance(value, Mapping) else {"": value}
            return [_word(stated.get(key)) for key in ("", *MOMENTS)]
        case _:
            return [guarded(str(value))]


def _written_corner(corner: Any) -> str:  # noqa: ANN401 - a point or a vertex, as JSON
    if isinstance(corner, Mapping):
        height = corner.get("elevation")
        at = " ".join(repr(float(x)) for x in corner["at"])
        return at if height is None else f"{at} {height}"
    return " ".join(repr(float(x)) for x in corner)


def _word(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return plain(value)
