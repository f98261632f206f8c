"""Read quantities written as people write them: "24 ft 6 in", "60 psi", "68 degF".

Every function takes one value as it came from a document and returns an SI float. A value without a
unit, or one that could be read in two ways, is refused with a QuantityError that shows a right
example. The arithmetic is exact up to the one conversion to float at the end.
"""

import re
from collections.abc import Callable
from fractions import Fraction
from functools import lru_cache

from layoutcheck.quantities import units
from layoutcheck.quantities.errors import QuantityError, shown
from layoutcheck.quantities.text import MAX_TEXT, UnreadableError, fail, plain_text, read_number

MAX_INCHES = 12
CACHE_SIZE = 4096

_UNIT_MARKS = str.maketrans({"²": "2", "³": "3", "^": "", "·": " ", "⋅": " ", "*": " "})

_FEET = re.compile(r" ?(?:ft\.?|feet|foot|') ?-? ?(?=[0-9.])", re.IGNORECASE)
_TIME_UNIT = re.compile(r" ?([a-zA-Z]+)\.? ?")


def _unit(name: str, kind: units.Kind) -> units.Unit:
    """Return the unit spelled ``name``, or say why not."""
    plain = " ".join(name.translate(_UNIT_MARKS).split())
    unit = kind.find(plain) or kind.find(plain.removesuffix("."))
    if unit is not None:
        return unit
    if not plain:
        fail(f"{kind.noun} needs its unit")
    reason = kind.refused.get(plain.lower())
    if reason:
        fail(reason)
    fail(f"'{plain}' is not a unit that {kind.noun} can have here, use {kind.known}")


def _one_term(text: str, kind: units.Kind, sign: int) -> Fraction:
    """Read "number unit"."""
    number, end = read_number(text, 0)
    unit = _unit(text[end:], kind)
    return (sign * number + unit.offset) * unit.scale


def _feet_and_inches(text: str, kind: units.Kind, sign: int) -> Fraction:
    """Read a length: feet and inches, or a number with one unit. The sign holds for the whole."""
    number, end = read_number(text, 0)
    match = _FEET.match(text, end)
    if match is None:
        return sign * number * _unit(text[end:], kind).scale
    if number.denominator != 1:
        fail("the feet must be whole when inches follow")
    inches, end = read_number(text, match.end())
    name = text[end:].strip()
    if not name:
        fail("the inches after the feet need their mark")
    if _unit(name, kind).scale != units.INCH:
        fail("only inches can follow feet")
    if inches >= MAX_INCHES:
        fail("there are 12 or more inches after the feet")
    return sign * (number * units.FOOT + inches * units.INCH)


def _times(text: str, kind: units.Kind, sign: int) -> Fraction:
    """Read a duration of one or more terms, the larger unit first: "1 h 30 min"."""
    total, end, above, before = Fraction(0), 0, Fraction(0), Fraction(0)
    while end < len(text) or end == 0:
        number, end = read_number(text, end)
        match = _TIME_UNIT.match(text, end)
        scale = _unit(match[1] if match else text[end:], kind).scale
        if before.denominator != 1:
            fail("only the last number of a duration can have a fraction")
        if above and scale >= above:
            fail("the units must run from larger to smaller, each once")
        if above and number * scale >= above:
            fail("the smaller unit adds up to one or more of the larger")
        total, above, before = total + number * scale, scale, number
        end = match.end() if match else len(text)
    return sign * total


def _sign(text: str) -> tuple[int, str]:
    """Split a leading sign from the rest."""
    if text.startswith(("+", "-")):
        return (-1 if text[0] == "-" else 1), text[1:].lstrip()
    return 1, text


_Reader = Callable[[str, units.Kind, int], Fraction]


def _read(given: object, kind: units.Kind, reader: _Reader) -> float:
    """Read one value and return it in SI, or raise QuantityError."""
    try:
        text = plain_text(given, kind.noun)
        if not text:
            fail("the text is empty")
        sign, rest = _sign(text)
        if sign < 0 and not kind.signed:
            fail(f"{kind.noun} can not be negative here")
        value = reader(rest, kind, sign)
        if not kind.floor <= value <= kind.ceiling:
            fail(f"the value is outside what {kind.noun} can be")
        return float(value)
    except UnreadableError as fault:
        raise QuantityError(shown(given), str(fault), kind.example) from None


def _door(given: object, read: Callable[[str], float], kind: units.Kind) -> float:
    """Send text of a fair length through the cache, and everything else straight to its refusal.

    The type is checked first: the cache would take True for 1, and fail on a list.
    """
    if type(given) is str and len(given) <= MAX_TEXT:
        return read(given)
    return _read(given, kind, _one_term)


@lru_cache(CACHE_SIZE)
def _length(text: str) -> float:
    return _read(text, units.LENGTH, _feet_and_inches)


@lru_cache(CACHE_SIZE)
def _elevation(text: str) -> float:
    return _read(text, units.ELEVATION, _feet_and_inches)


@lru_cache(CACHE_SIZE)
def _temperature(text: str) -> float:
    return _read(text, units.TEMPERATURE, _one_term)


def parse_length(text: object) -> float:
    """Read a length, in feet and inches or in one unit.

    Args:
        text: For example 24'-6 1/2", "24 ft 6 in", "7.3 m", "730 cm" or "7300 mm".

    Returns:
        The length in m, zero or more.

    Raises:
        QuantityError: If it is not such a text, or is negative.
    """
    return _door(text, _length, units.LENGTH)


def parse_elevation(text: object) -> float:
    """Read a height above or below the document's datum, with an optional sign.

    Args:
        text: As for a length, with a leading + or - allowed: "-3 ft 6 in", "+12.5 m".

    Returns:
        The elevation in m.

    Raises:
        QuantityError: If it is not such a text.
    """
    return _door(text, _elevation, units.ELEVATION)


def parse_pressure(text: object) -> float:
    """Read a pressure above atmospheric (gauge).

    Args:
        text: For example "60 psi", "4 bar g", "350 kPa", "1.2 MPa" or "40 ft of water".

    Returns:
        The gauge pressure in Pa, zero or more.

    Raises:
        QuantityError: If it is not such a text, is stated as absolute, or is negative.
    """
    return _read(text, units.PRESSURE, _one_term)


def parse_head(text: object) -> float:
    """Read the head of a pump, as a pressure: "40 ft" is 40 ft of water. Raises QuantityError."""
    try:
        return parse_pressure(text)
    except QuantityError:
        if not isinstance(text, str):
            raise
        try:
            return parse_pressure(f"{text} of water")
        except QuantityError:
            return parse_pressure(text)


def parse_temperature(text: object) -> float:
    """Read a temperature.

    Args:
        text: For example "68 degF", "20 degC" or "293 K".

    Returns:
        The temperature in K.

    Raises:
        QuantityError: If it is not such a text, or lies below absolute zero.
    """
    return _door(text, _temperature, units.TEMPERATURE)


def parse_duration(text: object) -> float:
    """Read a length of time.

    Args:
        text: For example "3 h", "45 min", "1 h 30 min", "90 s" or "2 days".

    Returns:
        The duration in s, zero or more.

    Raises:
        QuantityError: If it is not such a text.
    """
    return _read(text, units.DURATION, _times)


def parse_mass(text: object) -> float:
    """Read a mass such as "50 lb" or "22.5 kg"; return kg. Raises QuantityError."""
    return _read(text, units.MASS, _one_term)


def parse_volume(text: object) -> float:
    """Read a volume such as "120 gal" (US gallons) or "450 L"; return m3. Raises QuantityError."""
    return _read(text, units.VOLUME, _one_term)


def parse_area(text: object) -> float:
    """Read an area such as "120 ft2" or "11 m2"; return m2. Raises QuantityError."""
    return _read(text, units.AREA, _one_term)


def parse_flow(text: object) -> float:
    """Read a volume flow such as "400 cfm" or "0.2 m3/s"; return m3/s. Raises QuantityError."""
    return _read(text, units.FLOW, _one_term)


def parse_air_change_rate(text: object) -> float:
    """Read room air changes such as "6 per hour" or "6 ACH"; return 1/s. Raises QuantityError."""
    return _read(text, units.AIR_CHANGE_RATE, _one_term)


def parse_conductance(text: object) -> float:
    """Read a heat transfer coefficient such as "500 W/(m2 K)"; return W/(m2 K).

    Raises QuantityError.
    """
    return _read(text, units.CONDUCTANCE, _one_term)


def parse_power(text: object) -> float:
    """Read a power such as "12 kW" or "40000 Btu/h"; return W. Raises QuantityError."""
    return _read(text, units.POWER, _one_term)
