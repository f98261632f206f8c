"""Small languages that people write by hand, read within bounds: CSV rows, and TOML."""

from __future__ import annotations

import csv
import io
import tomllib
from collections.abc import Iterator
from typing import Any

from layoutcheck.document.faults import shown

# One row of a sheet, its line breaks included (characters). The longest note takes 2000.
LONGEST_ROW = 200_000
# A rule pack or a drawing's map. The built-in pack takes 5000 characters; a key of thousands of
# parts takes the reader of TOML minutes, so lines are bounded too.
LARGEST_TOML = 200_000
LONGEST_TOML_LINE = 2000

# A spreadsheet reads a cell that begins so as a formula; the last four are the wide forms.
_FORMULA = tuple("=+-@＝＋－＠")
_MARK = "'"


class TextFault(ValueError):
    """A text that can not be read. Its words say why, for people."""


def rows_of(text: str, *, delimiter: str = ",", most: int) -> Iterator[list[str]]:
    """Give the rows of a CSV text (RFC 4180) one by one, empty lines as empty rows.

    most: how many rows there may be. Raises TextFault.
    """
    lines = _Lines(text)
    rows = csv.reader(lines, delimiter=delimiter, strict=True)
    try:
        for number, row in enumerate(rows):
            if number >= most:
                raise TextFault(f"has more than {most} rows")
            lines.taken = 0
            yield row
    except csv.Error as error:
        raise TextFault(f"is not CSV: {shown(str(error))}") from None


class _Lines:
    """The lines of a text, with a bound on what one row may take of them."""

    def __init__(self, text: str) -> None:
        self._lines = io.StringIO(text, newline="")
        self.taken = 0

    def __iter__(self) -> Iterator[str]:
        return self

    def __next__(self) -> str:
        line = next(self._lines)
        self.taken += len(line)
        if self.taken > LONGEST_ROW:
            raise TextFault(f"has a row of more than {LONGEST_ROW} characters")
        return line


def read_toml(text: str) -> dict[str, Any]:
    """Read TOML. Raises TextFault."""
    if len(text) > LARGEST_TOML:
        raise TextFault(f"is longer than {LARGEST_TOML} characters")
    if any(len(line) > LONGEST_TOML_LINE for line in text.split("\n")):
        raise TextFault(f"has a line of more than {LONGEST_TOML_LINE} characters")
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise TextFault("is nested too deeply") from None
    except ValueError as error:  # also what Python says of endless numbers
        raise TextFault(f"is not TOML: {shown(str(error), 120)}") from None


def guarded(text: str) -> str:
    """Keep a spreadsheet from reading a text as a formula: mark it as a text."""
    return _MARK + text if _is_formula(text) else text


def unguarded(text: str) -> str:
    """Take off the mark again."""
    marked = text.startswith(_MARK) and _is_formula(text[1:])
    return text[1:] if marked else text


def _is_formula(text: str) -> bool:
    """Tell whether a text begins as a formula, also behind marks of its own."""
    return text.lstrip(_MARK).startswith(_FORMULA)
