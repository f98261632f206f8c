"""Nominal pipe sizes: "NPS 2", "DN 50", "2 in", and the tube size "2 in copper tube".

The pairs of NPS and DN are those of the correspondence table in ASME B36.10M (which takes the DN
numbers from ISO 6708).
"""

import re
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from functools import lru_cache
from types import MappingProxyType

from layoutcheck.quantities.errors import QuantityError, shown
from layoutcheck.quantities.text import MAX_TEXT, UnreadableError, fail, plain_text, read_number

NOUN = "a pipe size"
EXAMPLE = "NPS 2"

NPS_TO_DN = MappingProxyType(
    {
        Fraction(inches): dn
        for inches, dn in (
            ("1/8", 6),
            ("1/4", 8),
            ("3/8", 10),
            ("1/2", 15),
            ("3/4", 20),
            ("1", 25),
            ("5/4", 32),
            ("3/2", 40),
            ("2", 50),
            ("5/2", 65),
            ("3", 80),
            ("7/2", 90),
            ("4", 100),
            ("5", 125),
            ("6", 150),
            ("8", 200),
            ("10", 250),
            ("12", 300),
            ("14", 350),
            ("16", 400),
            ("18", 450),
            ("20", 500),
            ("22", 550),
            ("24", 600),
        )
    }
)
_DN_TO_NPS = {dn: inches for inches, dn in NPS_TO_DN.items()}
_INCHES = re.compile(r'(?:"|in\.?|inch)', re.IGNORECASE)
_TUBE = re.compile(r'(?:"|in\.?|inch) ?(?:copper tube|copper|tube)', re.IGNORECASE)
_NPS = re.compile(r"NPS ?", re.IGNORECASE)
_DN = re.compile(r"DN ?([0-9]{1,4})", re.IGNORECASE)


class SizeSeries(StrEnum):
    """How a nominal size was named. A plain "2 in" counts as NPS until the material settles it."""

    NPS = "NPS"
    DN = "DN"
    TUBE = "copper tube"


@dataclass(frozen=True)
class NominalSize:
    """A nominal size. It is a name, not a measured diameter.

    Attributes:
        text: The size as written, in one spelling: "NPS 2", "DN 50", "2 in", "2 in copper tube".
        inches: The nominal size in inches.
        dn: The matching DN number.
        series: How it was named.
    """

    text: str
    inches: float
    dn: int
    series: SizeSeries


def mixed(inches: Fraction) -> str:
    """Return inches as trade text: "1 1/4", "1/2", "3"."""
    whole, rest = divmod(inches, 1)
    parts = [str(whole)] if whole or not rest else []
    return " ".join(parts + ([str(rest)] if rest else []))


def parse_size(text: object) -> NominalSize:
    """Read a nominal pipe size.

    Args:
        text: "NPS 2", "NPS 1/2", "1 1/4 in", '2"', "DN50", "DN 50" or "2 in copper tube".

    Returns:
        The size. A plain "2 in" has the series NPS, which a copper pipe then reads as a tube size.

    Raises:
        QuantityError: If it is not such a text, or no such size is made; the nearest are named.
    """
    if type(text) is str and len(text) <= MAX_TEXT:
        return _parse(text)
    return _read(text)


@lru_cache(512)
def _parse(text: str) -> NominalSize:
    return _read(text)


def _read(given: object) -> NominalSize:
    try:
        return _size(plain_text(given, NOUN))
    except UnreadableError as fault:
        raise QuantityError(shown(given), str(fault), EXAMPLE) from None


def _size(text: str) -> NominalSize:
    metric = _DN.fullmatch(text)
    if metric:
        read_number(metric[1], 0)  # refuses a leading zero
        return _from_dn(int(metric[1]))
    prefix = _NPS.match(text)
    start = prefix.end() if prefix else 0
    inches, end = read_number(text, start)
    rest = text[end:].strip()
    if prefix and (not rest or _INCHES.fullmatch(rest)):
        return _from_inches(inches, f"NPS {mixed(inches)}", SizeSeries.NPS)
    if not prefix and _TUBE.fullmatch(rest):
        return _from_inches(inches, f"{mixed(inches)} in copper tube", SizeSeries.TUBE)
    if not prefix and _INCHES.fullmatch(rest):
        return _from_inches(inches, f"{mixed(inches)} in", SizeSeries.NPS)
    if not rest:
        fail("a pipe size needs NPS, DN or in with its number")
    if rest.lower() == "mm":
        fail("a nominal size in mm is not clear, write it with DN")
    fail("a pipe size is written with NPS, DN or in")


def _from_inches(inches: Fraction, text: str, series: SizeSeries) -> NominalSize:
    dn = NPS_TO_DN.get(inches)
    if dn is None:
        near = sorted(sorted(NPS_TO_DN, key=lambda size: abs(size - inches))[:3])
        fail(f"no such size is made, the nearest are {_join([f'NPS {mixed(n)}' for n in near])}")
    return NominalSize(text, float(inches), dn, series)


def _from_dn(dn: int) -> NominalSize:
    inches = _DN_TO_NPS.get(dn)
    if inches is None:
        near = sorted(sorted(_DN_TO_NPS, key=lambda size: abs(size - dn))[:3])
        fail(f"no such size is made, the nearest are {_join([f'DN {n}' for n in near])}")
    return NominalSize(f"DN {dn}", float(inches), dn, SizeSeries.DN)


def _join(names: list[str]) -> str:
    return f"{', '.join(names[:-1])} and {names[-1]}"
