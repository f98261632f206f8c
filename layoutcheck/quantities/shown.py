"""Write SI values for people, in both unit systems, the preferred one first.

A value and the limit it is held against must be written with the ``..._pair`` functions: these add
digits, or say "just under", until two different values no longer look alike. Every short form can
be read back by the matching parse function.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from math import gcd, isclose, isfinite

from layoutcheck.quantities import units

SIXTEENTH = 16
FINEST_FRACTION = 64
LENGTH_TOLERANCE = 1e-6
RELATIVE_TOLERANCE = 1e-9
MOST_EXTRA_DIGITS = 8
SHOWN_TO_THE_MINUTE = 600
SIGNIFICANT = 3


class UnitSystem(StrEnum):
    """The units a document prefers in reports."""

    IMPERIAL = "imperial"
    METRIC = "metric"


Form = Callable[[float], str]


# --- lengths --------------------------------------------------------------------------------------


def feet_and_inches(metres: float) -> str:
    """Write a length in feet and inches to the nearest sixteenth of an inch.

    Args:
        metres: The length, m. It may be negative, for an elevation.

    Returns:
        For example "24 ft 6 1/2 in", "24 ft", "6 1/2 in", "0 in" or "-3 ft 2 in".

    Raises:
        ValueError: If the length is not finite.
    """
    return _feet(metres, SIXTEENTH)


def _feet(metres: float, parts: int) -> str:
    """Write a length to the nearest 1/``parts`` inch. The division is exact, so ties are true."""
    _require_finite(metres)
    count = _nearest(metres, _INCH_PARTS[parts])
    feet, rest = divmod(abs(count), 12 * parts)
    whole, fraction = divmod(rest, parts)
    inches = [str(whole)] if whole or not (fraction or feet) else []
    if fraction:
        common = gcd(fraction, parts)
        inches.append(f"{fraction // common}/{parts // common}")
    words = ([f"{feet} ft"] if feet else []) + ([f"{' '.join(inches)} in"] if inches else [])
    return ("-" if count < 0 else "") + " ".join(words)


def _nearest(value: float, step: Fraction) -> int:
    """Count the steps nearest to a value, as `round` does: exact, an even count where it is a tie.

    In whole numbers, since a report writes thousands of lengths and fractions are slow.
    """
    above, below = value.as_integer_ratio()
    count, rest = divmod(above * step.denominator, below * step.numerator)
    twice = 2 * rest - below * step.numerator
    return count + (twice > 0 or (twice == 0 and count % 2))


def _metres(metres: float, decimals: int) -> str:
    _require_finite(metres)
    return f"{_fixed(metres, decimals)} m"


_INCH_PARTS = {parts: units.INCH / parts for parts in (SIXTEENTH, 32, FINEST_FRACTION)}
_FEET_FORMS: tuple[Form, ...] = (
    feet_and_inches,
    lambda metres: _feet(metres, 32),
    lambda metres: _feet(metres, FINEST_FRACTION),
)
_METRE_FORMS: tuple[Form, ...] = (
    lambda metres: _metres(metres, 3),
    lambda metres: _metres(metres, 4),
    lambda metres: _metres(metres, 5),
    lambda metres: _metres(metres, 6),
)


@dataclass(frozen=True)
class LengthForm:
    """One way to write a length. step: m, between two lengths that it tells apart."""

    step: Fraction
    text: Form


def _decimal_inches(metres: float) -> str:
    return f"{_fixed(metres / float(units.INCH), 7)} in"


# From the readings of a usual tape to ones that only read back right, to a few nanometres.
LENGTH_FORMS = {
    UnitSystem.IMPERIAL: (
        *(LengthForm(_INCH_PARTS[p], f) for p, f in zip(_INCH_PARTS, _FEET_FORMS, strict=True)),
        LengthForm(units.INCH / 10**7, _decimal_inches),
    ),
    UnitSystem.METRIC: (
        *(LengthForm(Fraction(1, 10 ** (3 + n)), f) for n, f in enumerate(_METRE_FORMS)),
        LengthForm(Fraction(1, 10**9), lambda metres: _metres(metres, 9)),
    ),
}


def short_length(metres: float, system: UnitSystem) -> str:
    """Write a length in one unit system only, for drawings: "24 ft 6 1/2 in" or "7.480 m"."""
    return feet_and_inches(metres) if system is UnitSystem.IMPERIAL else _metres(metres, 3)


def show_length(metres: float, system: UnitSystem) -> str:
    """Write a length in both systems: "24 ft 6 1/2 in (7.480 m)" or the other way round."""
    return _both(feet_and_inches(metres), _metres(metres, 3), system)


def show_length_pair(measured: float, required: float, system: UnitSystem) -> tuple[str, str]:
    """Write a measured length and the length it is held against, so that they look as they compare.

    Args:
        measured: The measured length, m.
        required: The required length, m.
        system: The unit system written first.

    Returns:
        The two texts, measured first. They are the same if the lengths differ by 1e-6 m or less.
    """
    same = abs(measured - required) <= LENGTH_TOLERANCE
    feet = _told_apart(measured, required, _FEET_FORMS, same=same)
    metric = _told_apart(measured, required, _METRE_FORMS, same=same)
    return _both(feet[0], metric[0], system), _both(feet[1], metric[1], system)


def _told_apart(
    measured: float, required: float, forms: Sequence[Form], *, same: bool
) -> tuple[str, str]:
    """Write both values in the first form that tells them apart.

    Rounding keeps order, so two different texts are also in the right order.
    """
    if same:
        return forms[0](required), forms[0](required)
    for form in forms:
        texts = form(measured), form(required)
        if texts[0] != texts[1]:
            return texts
    side = "just under" if measured < required else "just over"
    limit = forms[0](required)
    return f"{side} {limit}", limit


# --- everything else ------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Side:
    """One unit: shown number = SI value / scale - offset."""

    name: str
    scale: float
    offset: float = 0.0
    decimals: int | None = None

    def text(self, value: float, extra: int = 0) -> str:
        """Write the value with ``extra`` digits more than usual."""
        _require_finite(value)
        number = value / self.scale - self.offset
        if self.decimals is None:
            return f"{_significant(number, SIGNIFICANT + extra)} {self.name}"
        return f"{_fixed(number, self.decimals + extra)} {self.name}"


@dataclass(frozen=True)
class _Scale:
    """The two units one kind of quantity is shown in."""

    imperial: _Side
    metric: _Side

    def short(self, value: float, system: UnitSystem) -> str:
        side = self.imperial if system is UnitSystem.IMPERIAL else self.metric
        return side.text(value)

    def show(self, value: float, system: UnitSystem) -> str:
        return _both(self.imperial.text(value), self.metric.text(value), system)

    def pair(self, measured: float, required: float, system: UnitSystem) -> tuple[str, str]:
        same = isclose(measured, required, rel_tol=RELATIVE_TOLERANCE, abs_tol=0.0)
        imperial, metric = (
            _told_apart(measured, required, _forms(side), same=same)
            for side in (self.imperial, self.metric)
        )
        return _both(imperial[0], metric[0], system), _both(imperial[1], metric[1], system)


def _forms(side: _Side) -> list[Form]:
    """Return ever finer ways to write a value in one unit."""

    def finer(extra: int) -> Form:
        return lambda value: side.text(value, extra)

    return [finer(extra) for extra in range(MOST_EXTRA_DIGITS + 1)]


_PRESSURE = _Scale(_Side("psi", float(units.PSI)), _Side("kPa", 1000.0))
_TEMPERATURE = _Scale(
    _Side("degF", 5 / 9, 459.67, decimals=0), _Side("degC", 1.0, 273.15, decimals=1)
)
_MASS = _Scale(_Side("lb", float(units.POUND)), _Side("kg", 1.0))
_VOLUME = _Scale(_Side("US gal", float(units.US_GALLON)), _Side("L", 1e-3))
_ROOM_VOLUME = _Scale(_Side("ft3", float(units.FOOT**3)), _Side("m3", 1.0))
_AREA = _Scale(_Side("ft2", float(units.FOOT**2)), _Side("m2", 1.0))
_FLOW = _Scale(_Side("cfm", float(units.FOOT**3 / units.MINUTE)), _Side("L/s", 1e-3))
_WATER_FLOW = _Scale(_Side("gpm", float(units.US_GALLON / units.MINUTE)), _Side("L/s", 1e-3))
_POWER = _Scale(_Side("Btu/h", float(units.BTU / units.HOUR)), _Side("W", 1.0))


def show_pressure(pascals: float, system: UnitSystem) -> str:
    """Write a gauge pressure (Pa): "60.0 psi (414 kPa)"."""
    return _PRESSURE.show(pascals, system)


def short_pressure(pascals: float, system: UnitSystem) -> str:
    """Write a gauge pressure (Pa) in one unit: "60.0 psi" or "414 kPa"."""
    return _PRESSURE.short(pascals, system)


def show_pressure_pair(measured: float, required: float, system: UnitSystem) -> tuple[str, str]:
    """Write two pressures (Pa) so that they look as they compare."""
    return _PRESSURE.pair(measured, required, system)


def show_temperature(kelvins: float, system: UnitSystem) -> str:
    """Write a temperature (K): "68 degF (20.0 degC)"."""
    return _TEMPERATURE.show(kelvins, system)


def short_temperature(kelvins: float, system: UnitSystem) -> str:
    """Write a temperature (K) in one unit: "68 degF" or "20.0 degC"."""
    return _TEMPERATURE.short(kelvins, system)


def show_temperature_pair(measured: float, required: float, system: UnitSystem) -> tuple[str, str]:
    """Write two temperatures (K) so that they look as they compare."""
    return _TEMPERATURE.pair(measured, required, system)


def show_mass(kilograms: float, system: UnitSystem) -> str:
    """Write a mass (kg): "18.0 lb (8.16 kg)"."""
    return _MASS.show(kilograms, system)


def short_mass(kilograms: float, system: UnitSystem) -> str:
    """Write a mass (kg) in one unit: "18.0 lb" or "8.16 kg"."""
    return _MASS.short(kilograms, system)


def show_mass_pair(measured: float, required: float, system: UnitSystem) -> tuple[str, str]:
    """Write two masses (kg) so that they look as they compare."""
    return _MASS.pair(measured, required, system)


def show_volume(cubic_metres: float, system: UnitSystem) -> str:
    """Write a volume of liquid (m3): "12.3 US gal (46.6 L)"."""
    return _VOLUME.show(cubic_metres, system)


def short_volume(cubic_metres: float, system: UnitSystem) -> str:
    """Write a volume of liquid (m3) in one unit: "12.3 US gal" or "46.6 L"."""
    return _VOLUME.short(cubic_metres, system)


def show_room_volume(cubic_metres: float, system: UnitSystem) -> str:
    """Write a volume of air (m3): "2119 ft3 (60.0 m3)"."""
    return _ROOM_VOLUME.show(cubic_metres, system)


def show_area(square_metres: float, system: UnitSystem) -> str:
    """Write an area (m2): "200 ft2 (18.6 m2)"."""
    return _AREA.show(square_metres, system)


def show_flow(cubic_metres_per_second: float, system: UnitSystem) -> str:
    """Write a flow of air (m3/s): "400 cfm (189 L/s)"."""
    return _FLOW.show(cubic_metres_per_second, system)


def show_water_flow(cubic_metres_per_second: float, system: UnitSystem) -> str:
    """Write a flow of water (m3/s): "10.0 gpm (0.631 L/s)"."""
    return _WATER_FLOW.show(cubic_metres_per_second, system)


def show_power(watts: float, system: UnitSystem) -> str:
    """Write a power (W): "3412 Btu/h (1000 W)"."""
    return _POWER.show(watts, system)


def show_air_change_rate(per_second: float) -> str:
    """Write an air change rate (1/s): "6.00 per hour"."""
    return _Side("per hour", float(1 / units.HOUR)).text(per_second)


def show_fraction(fraction: float) -> str:
    """Write a fraction as a percentage: 0.035 is "3.50 %"."""
    return _Side("%", 0.01).text(fraction)


def show_duration(seconds: float) -> str:
    """Write a duration: "1 h 30 min"; below ten minutes, "5 min 20 s".

    Args:
        seconds: The duration, s.

    Returns:
        To the nearest minute at ten minutes or more, to the nearest second below.
    """
    _require_finite(seconds)
    count = round(abs(seconds))
    if count >= SHOWN_TO_THE_MINUTE:
        count = round(abs(seconds) / 60) * 60
    return ("-" if seconds < 0 and count else "") + _clock(count)


def show_duration_pair(measured: float, required: float) -> tuple[str, str]:
    """Write two durations (s) so that they look as they compare."""
    same = isclose(measured, required, rel_tol=RELATIVE_TOLERANCE, abs_tol=0.0)
    forms: tuple[Form, ...] = (show_duration, lambda seconds: _clock(round(seconds)))
    return _told_apart(measured, required, forms, same=same)


def _clock(seconds: int) -> str:
    """Write whole seconds, leaving out what is zero."""
    minutes, rest = divmod(seconds, 60)
    hours, minutes = divmod(minutes, 60)
    parts = [(hours, "h"), (minutes, "min"), (rest, "s")]
    return " ".join(f"{count} {unit}" for count, unit in parts if count) or "0 s"


# --- digits ---------------------------------------------------------------------------------------


def _both(imperial: str, metric: str, system: UnitSystem) -> str:
    first, second = (imperial, metric) if system is UnitSystem.IMPERIAL else (metric, imperial)
    return f"{first} ({second})"


def _fixed(number: float, decimals: int) -> str:
    """Write with fixed decimals, and never "-0"."""
    text = f"{number:.{decimals}f}"
    return text.removeprefix("-") if float(text) == 0 else text


def _significant(number: float, digits: int) -> str:
    """Write with at least so many significant digits, without an exponent.

    Whole digits are never rounded away: 1958 stays 1958.
    """
    if number == 0:
        return "0"
    # The exponent is read after rounding, so 99.96 is "100" and not "100.0".
    exponent = int(f"{number:.{digits - 1}e}".partition("e")[2])
    return _fixed(number, min(max(0, digits - 1 - exponent), 12))


def _require_finite(value: float) -> None:
    if not isfinite(value):
        raise ValueError("only a finite value can be written")
