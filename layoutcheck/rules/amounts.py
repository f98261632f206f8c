"""Amounts to text and back: what a finding prints is what may be typed in again."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

from layoutcheck.quantities import (
    QuantityError,
    UnitSystem,
    parse_duration,
    parse_length,
    parse_mass,
    parse_pressure,
    parse_temperature,
    parse_volume,
    short_length,
    short_mass,
    short_pressure,
    short_temperature,
    short_volume,
    show_flow,
    show_fraction,
    show_length,
    show_mass,
    show_pressure,
    show_temperature,
    show_volume,
)
from layoutcheck.quantities.shown import show_duration
from layoutcheck.rules.outcome import Amount, Dimension

_SHOW: Mapping[Dimension, Callable[[float, UnitSystem], str]] = {
    Dimension.LENGTH: show_length,
    Dimension.PRESSURE: show_pressure,
    Dimension.TEMPERATURE: show_temperature,
    Dimension.MASS: show_mass,
    Dimension.VOLUME: show_volume,
    Dimension.FLOW: show_flow,
    Dimension.DURATION: lambda x, _: show_duration(x),
    Dimension.FRACTION: lambda x, _: show_fraction(x),
    Dimension.COUNT: lambda x, _: f"{x:g}",
}

_SHORT: Mapping[Dimension, Callable[[float, UnitSystem], str]] = {
    Dimension.LENGTH: short_length,
    Dimension.PRESSURE: short_pressure,
    Dimension.TEMPERATURE: short_temperature,
    Dimension.MASS: short_mass,
    Dimension.VOLUME: short_volume,
}

# How a written figure or amount is read, by what it measures.
PARSERS: Mapping[Dimension, Callable[[object], float]] = MappingProxyType(
    {
        Dimension.LENGTH: parse_length,
        Dimension.PRESSURE: parse_pressure,
        Dimension.TEMPERATURE: parse_temperature,
        Dimension.DURATION: parse_duration,
        Dimension.MASS: parse_mass,
        Dimension.VOLUME: parse_volume,
    }
)


def show_amount(amount: Amount, units: UnitSystem) -> str:
    """Write an amount for people, in some units first."""
    return _SHOW[amount.dimension](amount.value, units)


def typed_amount(amount: Amount, units: UnitSystem) -> str:
    """Write an amount as it is typed into a document, in one unit."""
    short = _SHORT.get(amount.dimension)
    return show_amount(amount, units) if short is None else short(amount.value, units)


def read_amount(text: str, dimension: Dimension) -> Amount | None:
    """Read an amount as a document states it; None where the text is not one of that dimension."""
    parse = PARSERS.get(dimension)
    try:
        return None if parse is None else Amount(parse(text), dimension)
    except QuantityError:
        return None
