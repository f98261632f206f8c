"""Figures for a first screen: one unit system, and no more digits than an estimate has."""

from __future__ import annotations

from layoutcheck.quantities import UnitSystem, units
from layoutcheck.report.model import Measure, Span
from layoutcheck.rules.amounts import typed_amount
from layoutcheck.rules.outcome import Amount, Dimension

_FIVE_MINUTES = 300.0
# In the unit shown, so that "about 4,100 psi" has two digits of psi and not of Pa.
_UNIT = {
    (Dimension.PRESSURE, UnitSystem.IMPERIAL): (float(units.PSI), "psi"),
    (Dimension.PRESSURE, UnitSystem.METRIC): (1000.0, "kPa"),
    (Dimension.VOLUME, UnitSystem.IMPERIAL): (float(units.US_GALLON), "US gal"),
    (Dimension.VOLUME, UnitSystem.METRIC): (1e-3, "L"),
    (Dimension.MASS, UnitSystem.IMPERIAL): (float(units.POUND), "lb"),
    (Dimension.MASS, UnitSystem.METRIC): (1.0, "kg"),
}
_ESTIMATED = {Dimension.DURATION, *(dimension for dimension, _ in _UNIT)}
_SEEN = {UnitSystem.IMPERIAL: 0.25 * float(units.INCH), UnitSystem.METRIC: 0.005}


def plain(measure: Measure, system: UnitSystem) -> str:
    """Write what was stated or taped in one unit system: "2 ft 6 in", "200 psi"."""
    return typed_amount(Amount(measure.value, Dimension(measure.unit)), system)


def rough(measure: Measure, system: UnitSystem) -> str:
    """Write an estimate as it is good for: "about 4,100 psi"; a length as taped."""
    text = coarse(measure, system)
    exact = Dimension(measure.unit) not in _ESTIMATED or text == measure.shown
    return text if exact else f"about {text}"


def coarse(measure: Measure, system: UnitSystem) -> str:
    """Write an estimate as `rough` does, where 'about' is said already: "4,100 psi"."""
    dimension = Dimension(measure.unit)
    if dimension is Dimension.DURATION:
        return _to_five_minutes(measure)
    scale = _UNIT.get((dimension, system))
    if scale is None:
        return plain(measure, system)
    return f"{_two_digits(measure.value / scale[0])} {scale[1]}"


def span(of: Span, system: UnitSystem) -> str:
    """Write an estimate with its ends: "about 30 min (25 min to 45 min)"."""
    low, high = (_seen(m, system) for m in (of.low, of.high))
    likely = _seen(of.likely, system)
    return f"about {likely}" if low == high else f"about {likely} ({low} to {high})"


def _seen(measure: Measure, system: UnitSystem) -> str:
    """Write an estimate that an eye holds up to the thing: lengths to a quarter inch or 5 mm."""
    if Dimension(measure.unit) is not Dimension.LENGTH:
        return coarse(measure, system)
    step = _SEEN[system]
    return plain(measure.model_copy(update={"value": round(measure.value / step) * step}), system)


def against(measured: Measure, required: Measure, system: UnitSystem) -> tuple[str, str]:
    """Write what was measured and its limit; never so coarse that they look alike."""
    texts = rough(measured, system), plain(required, system)
    if _told_apart(measured, required, system):
        return texts
    return measured.shown, required.shown


def _told_apart(measured: Measure, required: Measure, system: UnitSystem) -> bool:
    """Tell whether two values still compare as they do when they are written as coarsely."""
    scale = _UNIT.get((Dimension(measured.unit), system))
    if scale is None or measured.value == required.value:
        return (
            plain(measured, system) != plain(required, system) or measured.value == required.value
        )
    coarse = float(f"{measured.value / scale[0]:.2g}") * scale[0]
    apart = abs(coarse - required.value) > 1e-3 * abs(required.value)
    return apart and (coarse > required.value) == (measured.value > required.value)


def _two_digits(number: float) -> str:
    if number == 0.0:
        return "0"
    digits = max(0, 1 - int(f"{number:.1e}".partition("e")[2]))
    return f"{float(f'{number:.2g}'):,.{digits}f}"


def _to_five_minutes(measure: Measure) -> str:
    if measure.value < 2 * _FIVE_MINUTES:
        return measure.shown
    minutes = 5 * round(measure.value / _FIVE_MINUTES)
    parts = [(minutes // 60, "h"), (minutes % 60, "min")]
    return " ".join(f"{n} {unit}" for n, unit in parts if n)
