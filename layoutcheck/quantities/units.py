"""The unit names layoutcheck reads, each with its exact factor to SI.

The factors are exact fractions, so that ``24'-6 1/2"`` and ``294.5 in`` give the same float to the
last bit. A general unit library converts in floats, which leaves noise in the last digits; it is
used in the tests instead, as an independent check of every factor in this table.

Definitions: inch 0.0254 m and pound 0.45359237 kg (international yard and pound agreement, 1959);
standard gravity 9.80665 m/s2 (CGPM 1901); US gallon 231 in3 (NIST Handbook 44, appendix C);
British thermal unit 1055.05585262 J, the International Table one, and the conventional water column
of 1000 kg/m3 (both NIST SP 811, appendix B).
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import product

INCH = Fraction(254, 10_000)
FOOT = 12 * INCH
POUND = Fraction(45_359_237, 100_000_000)
GRAVITY = Fraction(980_665, 100_000)
US_GALLON = 231 * INCH**3
BTU = Fraction("1055.05585262")
PSI = POUND * GRAVITY / INCH**2
WATER_COLUMN = 1000 * GRAVITY
MINUTE = Fraction(60)
HOUR = Fraction(3600)
DAY = Fraction(86_400)

# In these names the case of the first letter is a prefix (mega or milli): never guess it.
CASE_MATTERS = ("MPa", "MW")


@dataclass(frozen=True)
class Unit:
    """One unit: SI value = (number + offset) * scale."""

    scale: Fraction
    offset: Fraction = Fraction(0)


@dataclass(frozen=True)
class Kind:
    """What may be written for one kind of quantity.

    Attributes:
        noun: The kind, with its article, for messages: "a length".
        example: A right example.
        known: The units to name in a message when the given one is not known.
        units: Every accepted spelling.
        refused: Spellings refused for a reason of their own, with the reason.
        signed: Whether the number may have a minus sign.
        floor: Least accepted SI value.
        ceiling: Greatest accepted SI value. It is far above anything in a building, and keeps later
            arithmetic away from overflow.
        folded: The spellings again in lower case, where case carries no meaning.
    """

    noun: str
    example: str
    known: str
    units: Mapping[str, Unit]
    ceiling: float
    floor: float = 0.0
    signed: bool = False
    refused: Mapping[str, str] = field(default_factory=dict)
    folded: Mapping[str, Unit] = field(init=False)

    def __post_init__(self) -> None:
        """Build the lower-case table once."""
        folded = {
            name.lower(): unit
            for name, unit in self.units.items()
            if not name.startswith(CASE_MATTERS)
        }
        object.__setattr__(self, "folded", folded)

    def find(self, name: str) -> Unit | None:
        """Return the unit spelled ``name``, or None."""
        return self.units.get(name) or self.folded.get(name.lower())


def _units(*rows: tuple[str, Fraction | int]) -> dict[str, Unit]:
    """Build a table from rows of ("name|other name", factor)."""
    return {name: Unit(Fraction(factor)) for names, factor in rows for name in names.split("|")}


def _with_suffixes(names: Iterable[str], suffixes: Iterable[str]) -> list[str]:
    """Return every name followed by every suffix."""
    return [name + suffix for name, suffix in product(names, suffixes)]


FEET_NAMES = "ft|'|foot|feet"
INCH_NAMES = 'in|"|inch|inches'
_LENGTH_UNITS = _units(
    (INCH_NAMES, INCH),
    (FEET_NAMES, FOOT),
    ("m|metre|metres|meter|meters", 1),
    ("mm|millimetre|millimetres|millimeter|millimeters", Fraction(1, 1000)),
    ("cm|centimetre|centimetres|centimeter|centimeters", Fraction(1, 100)),
)
LENGTH = Kind("a length", "24 ft 6 in", "ft, in, m, cm or mm", _LENGTH_UNITS, 1e5)
ELEVATION = Kind(
    "an elevation", "-3 ft 6 in", "ft, in, m, cm or mm", _LENGTH_UNITS, 1e5, floor=-1e5, signed=True
)

_PRESSURE_BASES = {
    "psi": PSI,
    "lb/in2": PSI,
    "lbf/in2": PSI,
    "bar": Fraction(100_000),
    "mbar": Fraction(100),
    "Pa": Fraction(1),
    "kPa": Fraction(1000),
    "MPa": Fraction(1_000_000),
}
_GAUGE = ("", "g", " g", "(g)", " (g)", " gauge")
_ABSOLUTE = ("a", " a", "(a)", " (a)", " abs", " absolute")
_WATER_FORMS = ("{} of water", "{} water", "{} H2O", "{}H2O", "{} head", "{} of head")


def _water_columns() -> dict[str, Unit]:
    """Return the spellings of a height of water, such as "ft of water"."""
    heights = ((FEET_NAMES, FOOT), (INCH_NAMES, INCH), ("m|metre|metres|meter|meters", Fraction(1)))
    return {
        form.format(name): Unit(height * WATER_COLUMN)
        for names, height in heights
        for name in names.split("|")
        for form in _WATER_FORMS
    }


PRESSURE = Kind(
    "a pressure",
    "60 psi",
    "psi, bar, kPa, MPa, ft of water or m of water, above atmospheric pressure",
    {
        **{
            name: Unit(factor)
            for base, factor in _PRESSURE_BASES.items()
            for name in _with_suffixes([base], _GAUGE)
        },
        **_water_columns(),
    },
    1e9,
    refused=dict.fromkeys(
        _with_suffixes((base.lower() for base in _PRESSURE_BASES), _ABSOLUTE),
        "an absolute pressure is not read here, give the gauge pressure",
    ),
)

_FAHRENHEIT = Unit(Fraction(5, 9), Fraction("459.67"))
_CELSIUS = Unit(Fraction(1), Fraction("273.15"))
TEMPERATURE = Kind(
    "a temperature",
    "68 degF",
    "degF, degC or K",
    {
        **dict.fromkeys(("degF", "deg F", "°F", "° F", "F", "Fahrenheit"), _FAHRENHEIT),
        **dict.fromkeys(("degC", "deg C", "°C", "° C", "C", "Celsius"), _CELSIUS),
        **dict.fromkeys(("K", "kelvin"), Unit(Fraction(1))),
    },
    2000.0,
    signed=True,
)

DURATION = Kind(
    "a duration",
    "1 h 30 min",
    "days, h, min or s",
    _units(
        ("s|sec|secs|second|seconds", 1),
        ("min|mins|minute|minutes", MINUTE),
        ("h|hr|hrs|hour|hours", HOUR),
        ("d|day|days", DAY),
    ),
    366.0 * 86_400,
)
MASS = Kind(
    "a mass",
    "50 lb",
    "lb, oz, kg, g or tonne",
    _units(
        ("lb|lbs|lbm|pound|pounds", POUND),
        ("oz|ounce|ounces", POUND / 16),
        ("kg|kilogram|kilograms", 1),
        ("g|gram|grams", Fraction(1, 1000)),
        ("tonne|tonnes", 1000),
    ),
    1e7,
    refused=dict.fromkeys(
        ("ton", "tons", "t"), "a ton may be short, long or metric, give lb or kg"
    ),
)
VOLUME = Kind(
    "a volume",
    "120 gal",
    "gal (US), L, m3 or ft3",
    _units(
        ("gal|gals|gallon|gallons|US gal|US gallon|US gallons", US_GALLON),
        ("L|litre|litres|liter|liters", Fraction(1, 1000)),
        ("mL|millilitre|millilitres|milliliter|milliliters", Fraction(1, 1_000_000)),
        ("m3|cu m|cubic metre|cubic metres|cubic meter|cubic meters", 1),
        ("ft3|cu ft|cubic foot|cubic feet", FOOT**3),
        ("in3|cu in|cubic inch|cubic inches", INCH**3),
    ),
    1e6,
)
AREA = Kind(
    "an area",
    "120 ft2",
    "ft2, in2, m2, cm2 or mm2",
    _units(
        ("ft2|sq ft|square foot|square feet", FOOT**2),
        ("in2|sq in|square inch|square inches", INCH**2),
        ("m2|sq m|square metre|square metres|square meter|square meters", 1),
        ("cm2", Fraction(1, 10_000)),
        ("mm2", Fraction(1, 1_000_000)),
    ),
    1e7,
)
FLOW = Kind(
    "a flow",
    "400 cfm",
    "cfm, gpm (US), L/s, L/min, m3/s or m3/h",
    _units(
        ("cfm|ft3/min|cu ft/min", FOOT**3 / MINUTE),
        ("gpm|US gpm|gal/min|US gal/min", US_GALLON / MINUTE),
        ("L/s", Fraction(1, 1000)),
        ("L/min", Fraction(1, 1000) / MINUTE),
        ("L/h", Fraction(1, 1000) / HOUR),
        ("m3/s", 1),
        ("m3/min", 1 / MINUTE),
        ("m3/h|m3/hr", 1 / HOUR),
    ),
    1e4,
)
AIR_CHANGE_RATE = Kind(
    "an air change rate",
    "6 per hour",
    "per hour or ACH",
    _units(
        (
            "per hour|per h|/h|/ h|/hour|1/h|ACH|air changes per hour|air changes/h"
            "|air change per hour|changes per hour|air changes|an hour|air changes an hour",
            1 / HOUR,
        ),
        ("per minute|per min|/min|1/min|air changes per minute", 1 / MINUTE),
    ),
    1.0,
)
CONDUCTANCE = Kind(
    "a heat transfer coefficient",
    "500 W/(m2 K)",
    "W/(m2 K) or Btu/(h ft2 degF)",
    _units(
        ("W/(m2 K)|W/(m2K)|W/m2 K|W/m2K|W/(m2.K)|W/m2.K|W/m2/K", 1),
        (
            "Btu/(h ft2 degF)|Btu/(hr ft2 degF)|Btu/(h ft2 °F)|Btu/(hr ft2 °F)|Btu/(h ft2 F)"
            "|Btu/h/ft2/F|Btu/h ft2 F",
            BTU / HOUR / FOOT**2 * Fraction(9, 5),
        ),
    ),
    1e6,
)
POWER = Kind(
    "a power",
    "12 kW",
    "W, kW, MW, Btu/h or hp",
    _units(
        ("W|watt|watts", 1),
        ("kW|kilowatt|kilowatts", 1000),
        ("MW", 1_000_000),
        ("Btu/h|Btu/hr|Btuh", BTU / HOUR),
        ("hp|horsepower", 550 * FOOT * POUND * GRAVITY),
    ),
    1e9,
)
