"""Write rows as a workbook (.xlsx): the same bytes for the same rows."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterable, Sequence
from datetime import datetime

# Files made on any day hold the same bytes: the first day that an archive can name.
_DAY = (1980, 1, 1, 0, 0, 0)
_WIDEST = 60


def workbook(
    title: str,
    columns: Sequence[str],
    rows: Iterable[Sequence[str | float]],
    notes: Iterable[str],
) -> bytes:
    """Write one sheet: a head, the rows, and notes below them."""
    from openpyxl import Workbook  # noqa: PLC0415 - an optional extra
    from openpyxl.styles import Font  # noqa: PLC0415
    from openpyxl.utils import get_column_letter  # noqa: PLC0415

    book = Workbook()
    book.properties.creator = "layoutcheck"
    book.properties.created = book.properties.modified = datetime(*_DAY)
    sheet = book.active
    sheet.title = title
    sheet.append(columns)
    widths = [len(c) for c in columns]
    for row in rows:
        sheet.append(row)
        widths = [max(w, len(str(x))) for w, x in zip(widths, row, strict=True)]
    for cell in sheet[1]:
        cell.font = Font(bold=True)
    for number, width in enumerate(widths, 1):
        sheet.column_dimensions[get_column_letter(number)].width = min(width + 2, _WIDEST)
    sheet.freeze_panes = "A2"
    sheet.append([])
    for note in notes:
        sheet.append([note])
    out = io.BytesIO()
    book.save(out)
    return _dated(out.getvalue())


def _dated(data: bytes) -> bytes:
    """Give an archive whose parts all bear the same day; openpyxl writes the clock into them."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as made, zipfile.ZipFile(out, "w") as again:
        for part in made.infolist():
            info = zipfile.ZipInfo(part.filename, _DAY)
            info.compress_type = zipfile.ZIP_DEFLATED
            text = made.read(part.filename)
            if part.filename == "docProps/core.xml":
                text = _without_clock(text)
            again.writestr(info, text)
    return out.getvalue()


def _without_clock(text: bytes) -> bytes:
    """Take out when the workbook was saved, which openpyxl writes whatever it is told."""
    start, mark, rest = text.partition(b"<dcterms:modified")
    return start + rest.partition(b"</dcterms:modified>")[2] if mark else text
