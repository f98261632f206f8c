"""The text under every quantity: its marks made plain, and the numbers in it."""

import re
import unicodedata
from fractions import Fraction
from typing import NoReturn

MAX_TEXT = 100

# Vulgar fractions become "1/2" with a space on both sides: "6½" must not turn into "61/2", and
# "½6" must not turn into "1/26".
_VULGAR = "¼½¾⅐⅑⅒⅓⅔⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞"
_LOOKALIKES = {
    **dict.fromkeys("′’‘´`", "'"),
    **dict.fromkeys("″”“„", '"'),
    **dict.fromkeys("−–—‐‑‒", "-"),
    "⁄": "/",
    "º": "°",
}
_PLAIN = str.maketrans(
    {
        **_LOOKALIKES,
        **{
            mark: f" {unicodedata.normalize('NFKC', mark).replace(chr(0x2044), '/')} "
            for mark in _VULGAR
        },
    }
)
# No part of this pattern can match the same characters in two ways, and nothing follows it that
# could force a retry, so its cost is linear in the text.
_NUMBER = re.compile(
    r"(?P<whole>[0-9]+)(?: ?- ?| )(?P<top>[0-9]+) ?/ ?(?P<bottom>[0-9]+)"
    r"|(?P<lone_top>[0-9]+) ?/ ?(?P<lone_bottom>[0-9]+)"
    r"|(?P<decimal>(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?)"
)
# A zero before another digit, where a number begins.
_LEADING_ZERO = re.compile(r"(?<![0-9.eE+-])0[0-9]")


class UnreadableError(Exception):
    """A problem found inside the text; turned into a QuantityError at the door."""


def fail(problem: str) -> NoReturn:
    """Stop reading: ``problem`` says why, in plain words."""
    raise UnreadableError(problem)


def read_number(text: str, start: int) -> tuple[Fraction, int]:
    """Read the number at ``start``; return it and where it ends. Raises UnreadableError."""
    match = _NUMBER.match(text, start)
    if match is None:
        fail("it does not begin with a number" if start == 0 else "a number is missing")
    if _LEADING_ZERO.search(match[0]):
        # "040 psi" is more often 400 or 0.40 with a slip in it than forty: ask.
        fail("a number begins with a zero, write it without")
    if match["decimal"] is not None:
        return Fraction(match["decimal"]), match.end()
    top = int(match["top"] or match["lone_top"])
    bottom = int(match["bottom"] or match["lone_bottom"])
    if bottom == 0:
        fail("the fraction has a zero below the line")
    if top >= bottom:
        # "11/2" is more often a badly typed 1 1/2 than eleven halves: ask.
        fail("the fraction is not less than one, write it like 1 1/2")
    return int(match["whole"] or 0) + Fraction(top, bottom), match.end()


def plain_text(given: object, noun: str) -> str:
    """Return the text to read, with look-alike marks made plain and spaces made single."""
    if isinstance(given, bool) or not isinstance(given, str | int | float):
        fail(f"{noun} must be text with a number and a unit")
    if not isinstance(given, str):
        fail(f"{noun} needs its unit")
    if len(given) > MAX_TEXT:
        fail(f"the text is longer than {MAX_TEXT} characters")
    if any(unicodedata.category(mark) in ("Cc", "Cf", "Cs", "Co", "Cn") for mark in given):
        fail("the text holds a character that can not be seen")
    if "," in given:
        fail("a comma could mean thousands or decimals, write the number without it")
    # Two single marks are a common way to type the inch mark.
    return " ".join(given.translate(_PLAIN).replace("''", '"').split())
