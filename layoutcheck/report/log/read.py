"""Read a filled log, CSV or JSON: every fault at once, each with its place."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from typing import Any

from pydantic import ValidationError

from layoutcheck.document import read_text
from layoutcheck.document.faults import Fault, LayoutFaults, pointer_to
from layoutcheck.document.read import faults_of
from layoutcheck.report.log.model import LOG_FORMAT, FreezeLog
from layoutcheck.report.log.template import COLUMNS

_EXAMPLE = ",".join(COLUMNS)


def read_log(text: bytes) -> FreezeLog:
    """Read a log. Raises LayoutFaults; places are those of the JSON form: /rows/0 is line 2."""
    begin = text.lstrip(b"\xef\xbb\xbf \t\r\n")[:1]
    data = read_text(text) if begin == b"{" else _from_csv(text)
    try:
        return FreezeLog.model_validate(data)
    except ValidationError as error:
        raise LayoutFaults(faults_of(error, data)) from None


def _from_csv(text: bytes) -> dict[str, Any]:
    try:
        plain = text.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise LayoutFaults([_fault("", "bytes", "is not UTF-8 text")]) from None
    first = plain.split("\n", 1)[0]
    reader = csv.DictReader(io.StringIO(plain, newline=""), delimiter=_between(first))
    try:
        names = [name.strip() for name in reader.fieldnames or ()]
        _refuse_columns(names)
        reader.fieldnames = names
        lines = [row for row in reader if any((v or "") for k, v in row.items() if k is not None)]
    except csv.Error as error:
        raise LayoutFaults([_fault("", "a CSV text", f"can not be read: {error}")]) from None
    sheets = {(line.get("sheet") or "").strip() for line in lines}
    if len(sheets) > 1:
        found = ", ".join(sorted(sheets))[:80]
        raise LayoutFaults([_fault("/sheet", found, "has lines of more than one sheet")])
    rows = [_row(line) for line in lines]
    return {"format": LOG_FORMAT, "sheet": next(iter(sheets), ""), "rows": rows}


def _between(first: str) -> str:
    """Tell what parts the cells: some spreadsheets write a semicolon or a tab."""
    return max(",;\t", key=first.count)


def _refuse_columns(names: list[str]) -> None:
    faults = [_fault("", name, "is a column missing") for name in COLUMNS if name not in names]
    faults += [_fault("", n[:80], "is a column not known") for n in names if n not in COLUMNS]
    if len(set(names)) < len(names):
        faults.append(_fault("", "the columns", "name one column twice"))
    if faults:
        raise LayoutFaults(faults)


def _row(line: Mapping[str | None, str | None]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name, value in line.items():
        if name is None:
            found["more cells than columns"] = value
        elif name != "sheet" and (text := (value or "").strip()):
            found[name] = _plain(text)
    number = found.get("number")
    if isinstance(number, str) and number.isascii() and number.isdigit() and len(number) < 9:
        found["number"] = int(number)
    return found


def _plain(text: str) -> str:
    """Take off the mark that keeps a spreadsheet from reading a text as a formula."""
    return text[1:] if text[:2] in {"'=", "'+", "'-", "'@"} else text


def _fault(pointer: str, found: str, problem: str) -> Fault:
    return Fault(pointer=pointer or pointer_to(), found=found, problem=problem, example=_EXAMPLE)
