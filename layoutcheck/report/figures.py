"""Figures for a first screen: one unit system, and no more digits than an estimate has."""

from __future__ import annotations

from layoutcheck.quantities import UnitSystem, units
from layoutcheck.quantities import rough as two
from layoutcheck.report.model import Measure, Span
from layoutcheck.rules.amounts import typed_amount
from layoutcheck.rules.outcome import Amount, Dimension

_KIND = {
    Dimension.PRESSURE: two.PRESSURE,
    Dimension.VOLUME: two.VOLUME,
    Dimension.MASS: two.MASS,
}
_ESTIMATED = {Dimension.DURATION, *_KIND}
_SEEN = {UnitSystem.IMPERIAL: 0.25 * float(units.INCH), UnitSystem.METRIC: 0.005}


def plain(measure: Measure, system: UnitSystem) -> str:
    """Write what was stated or taped in one unit system: "2 ft 6 in", "200 psi"."""
    return typed_amount(Amount(measure.value, Dimension(measure.unit)), system)


def rough(measure: Measure, system: UnitSystem) -> str:
    """Write an estimate as it is good for: "about 4,100 psi"; a length as taped."""
    text = coarse(measure, system)
    exact = Dimension(measure.unit) not in _ESTIMATED or text == measure.shown
    return text if exact else f"about {text}"


def coarse(measure: Measure, system: UnitSystem, toward: two.Toward = "nearest") -> str:
    """Write an estimate as `rough` does, where 'about' is said already: "4,100 psi"."""
    dimension = Dimension(measure.unit)
    if dimension is Dimension.DURATION:
        return _to_five_minutes(measure, toward)
    kind = _KIND.get(dimension)
    if kind is None:
        return plain(measure, system)
    return two.rough_short(measure.value, kind, system, toward)


def in_both(measure: Measure, system: UnitSystem, toward: two.Toward = "nearest") -> str:
    """Write an estimate where a person needs both systems: "9.3 US gal (35 L)"."""
    kind = _KIND.get(Dimension(measure.unit))
    if kind is None:
        return coarse(measure, system, toward)
    return two.rough(measure.value, kind, system, toward)


def span(of: Span, system: UnitSystem) -> str:
    """Write an estimate with its ends: "about 30 min (25 min to 45 min)"."""
    low, high = seen(of.low, system, "down"), seen(of.high, system, "up")
    likely = seen(of.likely, system)
    return f"about {likely}" if low == high else f"about {likely} ({low} to {high})"


def seen(measure: Measure, system: UnitSystem, toward: two.Toward = "nearest") -> str:
    """Write an estimate that an eye holds up to the thing: lengths to a quarter inch or 5 mm."""
    if Dimension(measure.unit) is not Dimension.LENGTH:
        return coarse(measure, system, toward)
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
    kind = _KIND.get(Dimension(measured.unit))
    if kind is None or measured.value == required.value:
        return (
            plain(measured, system) != plain(required, system) or measured.value == required.value
        )
    scale, _ = kind.unit(system)
    coarse = float(f"{measured.value / scale:.2g}") * scale
    apart = abs(coarse - required.value) > 1e-3 * abs(required.value)
    return apart and (coarse > required.value) == (measured.value > required.value)


def _to_five_minutes(measure: Measure, toward: two.Toward) -> str:
    short = measure.value < two.TO_FIVE_MINUTES
    return measure.shown if short else two.rough_duration(measure.value, toward)
