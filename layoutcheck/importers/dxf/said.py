"""What a text on a drawing says: a size, a length, a height, or a name.

Sizes are written in many ways beside a pipe: 3"Ø, 1-1/2, DN 40, 80 mm. A number of millimetres
that is a nominal size (80 mm is DN 80) is taken as that; from a metre up it is a length.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from layoutcheck.importers.draft import metres
from layoutcheck.quantities import (
    QuantityError,
    UnitSystem,
    parse_elevation,
    parse_length,
    parse_size,
)
from layoutcheck.quantities.sizes import NPS_TO_DN

_NUMBER = r"(\d+[ -]\d+/\d+|\d+/\d+|\d+(?:\.\d+)?)"
_ROUND = r"(?:[Ø⌀øφ]|%%c|\bdia\b\.?)"
_INCH = r"(?:\"|″|''|\bin\b\.?|\binch(?:es)?\b|in\b)"
_SIZES = tuple(
    re.compile(pattern, re.IGNORECASE)
    for pattern in (
        rf"\bNPS ?{_NUMBER}(?P<inch>)",
        r"\bDN ?(\d+)(?P<dn>)",
        rf"{_ROUND} ?{_NUMBER} ?(?:(?P<inch>{_INCH})|(?P<mm>mm\b))?",
        rf"{_NUMBER} ?(?:(?P<inch>{_INCH})|(?P<mm>mm\b)) ?{_ROUND}?",
        rf"{_NUMBER} ?{_ROUND}",
        r"^(\d+[ -]\d+/\d+|\d+/\d+)(?P<inch>)$",
    )
)
_LENGTH = re.compile(r"\bL(?:ENGTH|ÄNGE)? ?= ?(?P<length>.+)$", re.IGNORECASE)
_LEVEL = re.compile(
    r"(?:\b(?:EL|ELEV|FFL|LVL|OKFFB?|OKF|RFB)\b\.?|[▽▼∇]) ?[:=]? ?(?P<height>[+\-±]? ?\d.*)$",
    re.IGNORECASE,
)
_BARE_LEVEL = re.compile(r"^[+\-±] ?\d+[.,]\d{2,3}$")
# Feet before inches make a length of what would else be a size: 6'-4".
_FEET = re.compile(r"\d ?(?:'(?!')|′|ft\b|feet\b|foot\b)", re.IGNORECASE)
_BARE_NUMBER = re.compile(r"[\d.,/ -]+(?:mm|cm)?", re.IGNORECASE)
_DN = frozenset(NPS_TO_DN.values())
_LONG = 1000  # mm


@dataclass(frozen=True)
class Said:
    """What a text says, each as the document writes it; None where it says nothing of it.

    All of them are None for a number of which nobody can say what it means.
    """

    size: str | None = None
    length: str | None = None
    height: str | None = None
    name: str | None = None


def said_by(text: str, units: UnitSystem) -> Said:
    """Read one text of a drawing. units: those of the drawing, for heights without a unit."""
    words = " ".join(text.split())
    height = _height(words, units)
    if height is not None:
        return Said(height=height)
    told = _LENGTH.search(words)
    if told:
        length = _length(told["length"])
        rest = words[: told.start()].strip(" ,;")
        return Said(size=size_said(rest), length=length) if length else Said(name=words)
    size = size_said(words)
    if size is not None:
        return Said(size=size)
    length = _length(words)
    if length is not None:
        return Said(length=length)
    return Said() if _BARE_NUMBER.fullmatch(words) else Said(name=words)


def size_said(text: str) -> str | None:
    """Give the nominal size that a text names, as the document writes it."""
    if _FEET.search(text):
        return None
    for pattern in _SIZES:
        found = pattern.search(text)
        if found is not None:
            return _size(found[1], found.groupdict())
    return None


def _size(number: str, marks: dict[str, str | None]) -> str | None:
    plain = number.replace("-", " ")
    metric = marks.get("mm") is not None or marks.get("dn") is not None
    # Nothing but Ø: a whole number that only metric sizes have is one of them, as Ø80.
    if not metric and marks.get("inch") is None:
        metric = plain.isdigit() and int(plain) in _DN and int(plain) >= min(_DN - _INCHES)
    if metric and not (plain.isdigit() and int(plain) in _DN):
        return None
    try:
        return parse_size(f"DN {plain}" if metric else f"NPS {plain}").text
    except QuantityError:
        return None


# Whole numbers of inches that are sizes too: Ø8 may be 8 in or DN 8, and is taken as inches.
_INCHES = frozenset(int(inches) for inches in NPS_TO_DN if inches.denominator == 1)


def _length(text: str) -> str | None:
    bare = re.sub(r"(?<=\d),(?=\d{1,2}\b)", ".", text)
    try:
        value = parse_length(bare)
    except QuantityError:
        return None
    # A few millimetres that are no nominal size are a wall or a bore, and no length of pipe.
    return None if bare.endswith("mm") and value * 1000 < _LONG else metres(value)


def _height(text: str, units: UnitSystem) -> str | None:
    found = _LEVEL.search(text)
    given = found["height"] if found else text if _BARE_LEVEL.match(text) else None
    if given is None:
        return None
    bare = given.replace("±", "").replace("+", "").replace(",", ".").strip()
    if re.fullmatch(r"-? ?\d+(\.\d+)?", bare):
        if units is not UnitSystem.METRIC:
            return None
        bare += " m"
    try:
        return metres(parse_elevation(bare.replace("- ", "-")))
    except QuantityError:
        return None
