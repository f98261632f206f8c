"""How far a written number may be rounded: half of the last place that somebody wrote."""

import re

from layoutcheck.quantities.text import plain_text

_INCH = 0.0254
# A whole number of more digits than this that ends in zeros is taken as rounded to so many.
_DIGITS = 3
_NUMBER = re.compile(r"(?:(?:[0-9]+(?: ?- ?| ))?[0-9]+ ?/ ?(?P<below>[0-9]+))|(?P<plain>[0-9.]+)")
_WITH_FEET = re.compile(r"[0-9](?: ?(?:ft\.?|feet|foot|')) ?-? ?[0-9]", re.IGNORECASE)


def rounding(text: object, value: float) -> float:
    """Give half of the last place of a quantity's text, in the SI unit of its value.

    '24.5 ft' is taken as within 0.05 ft, '6 1/2 in' as within a quarter of an inch, '28600 ft3' as
    within 50 ft3. A text that is no quantity has none (0.0); value: what it was read as, in SI.
    """
    if not isinstance(text, str):
        return 0.0
    plain = plain_text(text, "a quantity")
    numbers = list(_NUMBER.finditer(plain))
    if not numbers:
        return 0.0
    last = numbers[-1]
    half = _last_place(last) / 2
    if _WITH_FEET.search(plain):
        return half * _INCH
    number = _number(last)
    return half * abs(value) / number if number else 0.0


def _last_place(number: re.Match[str]) -> float:
    if number["below"] is not None:
        return 1.0 / float(number["below"] or 1)
    whole, point, part = number["plain"].partition(".")
    if point:
        return 10.0 ** -len(part)
    zeros = len(whole) - len(whole.rstrip("0"))
    return 10.0 ** max(0, min(zeros, len(whole) - _DIGITS))


def _number(number: re.Match[str]) -> float:
    if number["below"] is None:
        return float(number["plain"]) if number["plain"].strip(".") else 0.0
    *whole, top = re.findall(r"[0-9]+", number[0])[:-1]
    return float(whole[0] if whole else 0) + float(top) / float(number["below"])
