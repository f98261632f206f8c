"""Every factor of the unit table against pint, a general unit library."""

import pint
import pytest

from layoutcheck.quantities import units

# Our spelling: pint's expression. Flow and rate units are spelled out for pint.
ORACLE = {
    "length": (
        units.LENGTH,
        "meter",
        {"in": "inch", "ft": "foot", "m": "meter", "mm": "millimeter", "cm": "centimeter"},
    ),
    "pressure": (
        units.PRESSURE,
        "pascal",
        {
            "psi": "psi",
            "bar": "bar",
            "mbar": "millibar",
            "Pa": "pascal",
            "kPa": "kilopascal",
            "MPa": "megapascal",
            "ft of water": "foot * 1000 kg/m**3 * standard_gravity",
            "in of water": "inch * 1000 kg/m**3 * standard_gravity",
            "m of water": "meter * 1000 kg/m**3 * standard_gravity",
        },
    ),
    "duration": (
        units.DURATION,
        "second",
        {"s": "second", "min": "minute", "h": "hour", "day": "day"},
    ),
    "mass": (
        units.MASS,
        "kilogram",
        {"lb": "pound", "oz": "ounce", "kg": "kilogram", "g": "gram", "tonne": "metric_ton"},
    ),
    "volume": (
        units.VOLUME,
        "meter**3",
        {
            "gal": "US_liquid_gallon",
            "L": "liter",
            "mL": "milliliter",
            "m3": "meter**3",
            "ft3": "foot**3",
            "in3": "inch**3",
        },
    ),
    "area": (
        units.AREA,
        "meter**2",
        {"ft2": "foot**2", "in2": "inch**2", "m2": "m**2", "cm2": "cm**2", "mm2": "mm**2"},
    ),
    "flow": (
        units.FLOW,
        "meter**3/second",
        {
            "cfm": "foot**3/minute",
            "gpm": "US_liquid_gallon/minute",
            "L/s": "liter/second",
            "L/min": "liter/minute",
            "L/h": "liter/hour",
            "m3/s": "meter**3/second",
            "m3/min": "meter**3/minute",
            "m3/h": "meter**3/hour",
        },
    ),
    "air change rate": (
        units.AIR_CHANGE_RATE,
        "1/second",
        {"per hour": "1/hour", "per minute": "1/minute"},
    ),
    "conductance": (
        units.CONDUCTANCE,
        "W/m**2/kelvin",
        {"W/(m2 K)": "W/m**2/kelvin", "Btu/(h ft2 degF)": "Btu_it/hour/foot**2/delta_degF"},
    ),
    "power": (
        units.POWER,
        "watt",
        {
            "W": "watt",
            "kW": "kilowatt",
            "MW": "megawatt",
            "Btu/h": "Btu_it/hour",
            "hp": "550 * foot * force_pound / second",
        },
    ),
}
REGISTRY: pint.UnitRegistry = pint.UnitRegistry()


@pytest.mark.parametrize("name", ORACLE)
def test_each_factor_agrees_with_pint(name: str) -> None:
    kind, si, spellings = ORACLE[name]
    for ours, theirs in spellings.items():
        unit = kind.find(ours)
        assert unit is not None, ours
        expected = REGISTRY.parse_expression(theirs).to(si).magnitude
        # Both are exact by definition; pint rounds a few times in floats.
        assert float(unit.scale) == pytest.approx(expected, rel=1e-12), ours


@pytest.mark.parametrize("name", ORACLE)
def test_no_factor_is_left_unchecked(name: str) -> None:
    kind, _, spellings = ORACLE[name]
    checked = {kind.units[ours] for ours in spellings}
    assert set(kind.units.values()) == checked


def test_temperatures_agree_with_pint() -> None:
    for number in (-40.0, 0.0, 31.9, 68.0, 212.0):
        for ours, theirs in (("degF", "degF"), ("degC", "degC")):
            unit = units.TEMPERATURE.units[ours]
            expected = REGISTRY.Quantity(number, theirs).to("kelvin").magnitude
            assert (number + float(unit.offset)) * float(unit.scale) == pytest.approx(
                expected, rel=1e-12
            )


@pytest.mark.parametrize(
    "kind", [item for item in vars(units).values() if isinstance(item, units.Kind)]
)
def test_folding_the_case_never_joins_two_units(kind: units.Kind) -> None:
    for name, unit in kind.units.items():
        assert kind.folded.get(name.lower(), unit) == unit
