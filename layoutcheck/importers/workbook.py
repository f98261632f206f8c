"""A workbook (XLSX) with the same sheets as the CSV form: one worksheet for each sheet."""

from __future__ import annotations

import csv
import io
import zipfile
from pathlib import Path
from typing import Any

from layoutcheck.document.faults import LayoutFaults, pointer_to
from layoutcheck.importers.draft import Imported, one_fault, reason_of
from layoutcheck.importers.sheets import Places, read_sheets
from layoutcheck.quantities.names import Names

_EXAMPLE = "a workbook (.xlsx) with a worksheet named pipes"


class _OfWorkbook(Places):
    """A place is a worksheet, its row and its column."""

    def of(self, sheet: str, *parts: str | int) -> str:
        """Tell a place."""
        row = [f"row {part}" for part in parts[:1]]
        return pointer_to(f"sheet {sheet}", *row, *parts[1:])


def read_workbook(path: Path, *, name: str, names: Names, largest: int) -> Imported:
    """Read a workbook as sheets. A formula counts as what it was last worked out to.

    largest: what its parts may come to when unpacked (bytes). Raises LayoutFaults with every
    fault of all sheets.
    """
    try:
        from openpyxl import load_workbook  # noqa: PLC0415 - an optional extra
    except ImportError:
        raise one_fault(
            found="a workbook (.xlsx)",
            problem="needs the optional part that reads workbooks",
            example="pip install 'layoutcheck[xlsx]'",
        ) from None
    try:
        with zipfile.ZipFile(path) as archive:
            if sum(m.file_size for m in archive.infolist()) > largest:
                raise one_fault(
                    found=name, problem=f"comes to more than {largest} bytes", example=_EXAMPLE
                )
        book = load_workbook(path, read_only=True, data_only=True)
        sheets = {ws.title.strip().lower(): _as_csv(ws) for ws in book.worksheets}
    except LayoutFaults:
        raise
    except Exception as error:  # the reader raises many kinds
        problem = f"can not be read as a workbook: {reason_of(error, path)}"
        raise one_fault(found=name, problem=problem, example=_EXAMPLE) from None
    return read_sheets(sheets, name=name, names=names, places=_OfWorkbook())


def _as_csv(sheet: Any) -> bytes:  # noqa: ANN401 - openpyxl's worksheet, an optional extra
    """Write a worksheet as CSV, each cell as a person reads it."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    # A worksheet's stated extent may be far larger than what it holds; empty rows end as nothing.
    for row in sheet.iter_rows(values_only=True):
        writer.writerow([_shown(cell) for cell in row])
    return out.getvalue().encode("utf-8")


def _shown(cell: object) -> str:
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return repr(cell) if isinstance(cell, float) else str(cell)
