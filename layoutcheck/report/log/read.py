"""Read a filled log, CSV or JSON: every fault at once, each with its place."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from pydantic import ValidationError

from layoutcheck.document import read_text
from layoutcheck.document.faults import Fault, LayoutFaults, at_most, pointer_to, shown
from layoutcheck.document.read import faults_of, refuse_excess
from layoutcheck.document.tables import LONGEST_ROW, TextFault, rows_of, unguarded
from layoutcheck.report.log.model import LOG_FORMAT, FreezeLog
from layoutcheck.report.log.template import COLUMNS

_EXAMPLE = ",".join(COLUMNS)
# Lines of a CSV log, empty ones included; rows that say something are bounded by the log itself.
_MOST_ROWS = 100_000
# Logs printed before these columns were there are read all the same.
_MAY_LACK = ("frost", "surface")
# A sheet of another kind has any number of columns; a few of them tell what it is.
_MOST_STRANGE = 20


def read_log(text: bytes) -> FreezeLog:
    """Read a log. Raises LayoutFaults; places are those of the JSON form: /rows/0 is line 2."""
    begin = text.lstrip(b"\xef\xbb\xbf \t\r\n")[:1]
    data = read_text(text) if begin == b"{" else _from_csv(text)
    refuse_excess(data)
    try:
        log = FreezeLog.model_validate(data)
    except ValidationError as error:
        raise LayoutFaults(at_most(faults_of(error, data))) from None
    if doubled := list(_doubled(log)):
        raise LayoutFaults(at_most(doubled))
    return log


def _doubled(log: FreezeLog) -> Iterator[Fault]:
    """Name each line that says again what another has said."""
    seen: dict[object, int] = {}
    for index, row in enumerate(log.rows):
        first = seen.setdefault(row.place, index)
        if first != index:
            yield Fault(
                pointer=pointer_to("rows", index),
                found=shown(f"{row.plug or 'the job'}, {row.what.value} {row.number}"),
                problem=f"is written twice; line {first + 1} of the rows is of the same",
                example="one line for each; a feeding more has the next number",
            )


def _from_csv(text: bytes) -> dict[str, Any]:
    try:
        plain = text.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise LayoutFaults([_fault("", "bytes", "is not UTF-8 text")]) from None
    first = plain[:LONGEST_ROW].split("\n", 1)[0]
    try:
        rows = list(rows_of(plain, delimiter=_between(first), most=_MOST_ROWS))
    except TextFault as error:
        raise LayoutFaults([_fault("", "a CSV text", str(error))]) from None
    names = [name.strip() for name in rows[0]] if rows else []
    _refuse_columns(names)
    lines = [dict(zip(names, row, strict=False)) | _beyond(names, row) for row in rows[1:]]
    lines = [line for line in lines if any(line.values())]
    sheets = {line.get("sheet", "").strip() for line in lines}
    if len(sheets) > 1:
        found = shown(", ".join(sorted(sheets)))
        raise LayoutFaults([_fault("/sheet", found, "has lines of more than one sheet")])
    return {"format": LOG_FORMAT, "sheet": next(iter(sheets), ""), "rows": [*map(_row, lines)]}


def _beyond(names: list[str], row: list[str]) -> dict[str, str]:
    """Give what stands in a row beyond the last column; a field that no log has."""
    told = shown(" ".join(cell for cell in row[len(names) :] if cell.strip()))
    return {"more cells than columns": told} if told else {}


def _between(first: str) -> str:
    """Tell what parts the cells: some spreadsheets write a semicolon or a tab."""
    return max(",;\t", key=first.count)


def _refuse_columns(names: list[str]) -> None:
    asked = [name for name in COLUMNS if name not in _MAY_LACK]
    faults = [_fault("", name, "is a column missing") for name in asked if name not in names]
    strange = [n for n in names if n not in COLUMNS][:_MOST_STRANGE]
    faults += [_fault("", shown(name), "is a column not known") for name in strange]
    if len(set(names)) < len(names):
        faults.append(_fault("", "the columns", "name one column twice"))
    if faults:
        raise LayoutFaults(faults)


def _row(line: Mapping[str, str]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name, value in line.items():
        if name != "sheet" and (text := value.strip()):
            found[name] = unguarded(text)
    number = found.get("number")
    if isinstance(number, str) and number.isascii() and number.isdigit() and len(number) < 9:
        found["number"] = int(number)
    return found


def _fault(pointer: str, found: str, problem: str) -> Fault:
    return Fault(pointer=pointer or pointer_to(), found=found, problem=problem, example=_EXAMPLE)
