"""Quantities: text with a unit in, SI floats inside, text with a unit out."""

from layoutcheck.quantities.errors import QuantityError
from layoutcheck.quantities.materials import Material, parse_material
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
from layoutcheck.quantities.pipes import PipeDimensions, explicit_dimensions, pipe_dimensions
from layoutcheck.quantities.sizes import NominalSize, SizeSeries, parse_size

__all__ = [
    "Material",
    "NominalSize",
    "PipeDimensions",
    "QuantityError",
    "SizeSeries",
    "explicit_dimensions",
    "parse_air_change_rate",
    "parse_area",
    "parse_conductance",
    "parse_duration",
    "parse_elevation",
    "parse_flow",
    "parse_length",
    "parse_mass",
    "parse_material",
    "parse_power",
    "parse_pressure",
    "parse_size",
    "parse_temperature",
    "parse_volume",
    "pipe_dimensions",
]
