"""Quantities: text with a unit in, SI floats inside, text with a unit out."""

from layoutcheck.quantities.errors import QuantityError
from layoutcheck.quantities.parse import (
    parse_air_change_rate,
    parse_area,
    parse_conductance,
    parse_duration,
    parse_elevation,
    parse_flow,
    parse_length,
    parse_mass,
    parse_power,
    parse_pressure,
    parse_temperature,
    parse_volume,
)

__all__ = [
    "QuantityError",
    "parse_air_change_rate",
    "parse_area",
    "parse_conductance",
    "parse_duration",
    "parse_elevation",
    "parse_flow",
    "parse_length",
    "parse_mass",
    "parse_power",
    "parse_pressure",
    "parse_temperature",
    "parse_volume",
]
