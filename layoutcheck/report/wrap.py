"""Wrap sentences for a sheet of plain text, without parting a number from its unit."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence

WIDTH = 92

_GLUE = "\u00a0"
_UNITS = "ft|in|m|mm|s|h|min|psi|kPa|degF|degC|lb|kg|US|gal|L|ft3|m3|cfm|gpm|per hour|%"
# Spaces at which a line must not be broken: in "6 1/2 in", "2.4 m" and "licensed practice".
_FIRM = re.compile(
    rf"(?<=\d) (?=(?:{_UNITS})(?![\w])|\d+/\d)"
    r"|(?<=\d ft) (?=\d)|(?<=\bDN) (?=\d)|(?<=\bNPS) (?=\d)|(?<=licensed) (?=practice)"
)


def wrapped(text: str, *, indent: str = "", first: str | None = None) -> list[str]:
    """Break a text into lines of at most WIDTH characters, where its words allow that.

    indent: what every line begins with. first: what the first line begins with instead.
    """
    lines = textwrap.wrap(
        _FIRM.sub(_GLUE, text),
        WIDTH,
        initial_indent=indent if first is None else first,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [line.replace(_GLUE, " ") for line in lines]


def some_of(names: Sequence[str], most: int, *, between: str = ", ") -> str:
    """List names, and say how many more there are."""
    if len(names) <= most:
        return between.join(names)
    return f"{between.join(names[:most])} and {len(names) - most} more"


def counted(names: Sequence[str], most: int, what: str) -> str:
    """Name a few; of many say how many there are: "42 outlets". The JSON names them all."""
    return ", ".join(names) if len(names) <= most else f"{len(names)} {what}"


def with_and(names: Sequence[str]) -> str:
    """Write names as a list with 'and' before the last."""
    return " and ".join((", ".join(names[:-1]), names[-1])) if len(names) > 1 else "".join(names)


def bulleted(title: str, rows: Sequence[str]) -> list[str]:
    """Write rows under a title, each with a dash; nothing where there are none."""
    lines = [title] if rows else []
    for row in rows:
        lines += wrapped(row, indent="    ", first="  - ")
    return lines
