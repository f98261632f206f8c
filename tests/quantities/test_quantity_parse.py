"""Reading quantities: spellings, exactness and refusals."""

import math
import pickle
from collections.abc import Callable
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layoutcheck.quantities import (
    QuantityError,
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

PARSERS: list[Callable[[object], float]] = [
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
]
INCH = 0.0254  # exact by definition: international yard and pound agreement, 1959

SPELLINGS_OF_294_5_INCHES = [
    "24'-6 1/2\"",
    "24' 6 1/2\"",
    "24'6 1/2\"",
    "24' 6-1/2\"",
    "24'-6-1/2\"",
    "24' - 6 1/2\"",
    "24’-6 1/2”",
    "24′ 6½″",
    "24′ 6 ½ ″",
    "24′ 6-½″",
    "24'-6.5\"",
    "24'6 1/2''",
    "24 ft 6 1/2 in",
    "24 ft. 6 1/2 in.",
    "24 FT 6 1/2 IN",
    "24ft 6.5in",
    "24 feet 6 1/2 inches",
    "  24\u00a0ft  6 1⁄2 in ",
    "+24 ft 6 1/2 in",
    "294.5 in",
    "294 1/2 in",
    "294½ in",
    "2.945e2 in",
    "748.03 cm",
    "7480.3 mm",
    "7.4803 m",
]


@pytest.mark.parametrize("text", SPELLINGS_OF_294_5_INCHES)
def test_every_spelling_of_one_length_gives_the_same_float(text: str) -> None:
    # Derived by hand: 24 x 12 + 6.5 = 294.5 in. To the last bit, as the arithmetic is exact.
    assert parse_length(text) == 294.5 * INCH
    assert parse_elevation(text) == 294.5 * INCH


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("24'", 288),
        ("24 foot", 288),
        ("0 ft", 0),
        ("0'-6\"", 6),
        ('6 1/2"', 6.5),
        ("6-1/2 in", 6.5),
        ('1/2"', 0.5),
        ("½ in", 0.5),
        ('⅞"', 0.875),
        (".5 in", 0.5),
        ("11/16 in", 0.6875),
    ],
)
def test_lengths_in_inches(text: str, inches: float) -> None:
    assert parse_length(text) == float(Fraction(inches) * Fraction(254, 10_000))  # by hand


@given(
    feet=st.integers(0, 5000),
    sixteenths=st.integers(0, 12 * 16 - 1),
    mark=st.sampled_from(
        [("'-", '"'), ("' ", '"'), (" ft ", " in"), ("’ ", "”"), ("ft", "inches")]
    ),
)
def test_feet_and_inches_are_exact(feet: int, sixteenths: int, mark: tuple[str, str]) -> None:
    whole, part = divmod(sixteenths, 16)
    inches = f"{whole} {part}/16" if part else str(whole)
    exact = (Fraction(feet) * 12 + Fraction(sixteenths, 16)) * Fraction(254, 10_000)
    assert parse_length(f"{feet}{mark[0]}{inches}{mark[1]}") == float(exact)


@given(st.floats(0, 1e5, allow_subnormal=False))
def test_a_float_written_with_its_unit_comes_back_unchanged(value: float) -> None:
    assert parse_length(f"{value!r} m") == value
    assert parse_mass(f"{value!r} kg") == value
    assert parse_pressure(f"{value!r} Pa") == value
    assert parse_elevation(f"{-value!r} m") == -value


REFUSED_LENGTHS = {
    "24": "needs its unit",
    "": "the text is empty",
    "   ": "the text is empty",
    "ft": "does not begin with a number",
    "-3 ft": "can not be negative",
    "−3 ft": "can not be negative",
    "-0 ft": "can not be negative",
    "1,000 ft": "comma",
    "7,3 m": "comma",
    "1 000 mm": "not a unit",
    "24 parsec": "not a unit",
    "24 s": "not a unit",
    "24' 6": "need their mark",
    "24 ft 6 1/2": "need their mark",
    "24'-13\"": "12 or more inches",
    "24'-12\"": "12 or more inches",
    "24.5 ft 6 in": "feet must be whole",
    "24 ft 6 m": "only inches",
    "24 ft 6 ft": "only inches",
    "6 in 2 ft": "not a unit",
    "61/2 in": "not less than one",
    "6 3/2 in": "not less than one",
    "1/0 in": "zero below the line",
    "½6 in": "not a unit",
    "6² in": "not a unit",
    "24-6 in": "not a unit",
    "1.5 1/2 in": "not a unit",
    "--3 m": "negative",
    "+-3 m": "does not begin with a number",
    "nan m": "does not begin with a number",
    "inf m": "does not begin with a number",
    "1e999 m": "outside what a length can be",
    "1e99999 m": "not a unit",
    "0x10 m": "not a unit",
    "1_000 m": "not a unit",
    "٣ m": "does not begin with a number",
    "3\x00 m": "can not be seen",
    "3\n m": "can not be seen",
    "3\u200b m": "can not be seen",
    "\ud800 m": "can not be seen",
    "9" * 101 + " m": "longer than 100",
    "2 m + 3 m": "not a unit",
    "__import__('os') m": "does not begin with a number",
}


@pytest.mark.parametrize(("text", "problem"), REFUSED_LENGTHS.items())
def test_refused_lengths_say_why(text: str, problem: str) -> None:
    with pytest.raises(QuantityError, match=problem) as caught:
        parse_length(text)
    assert caught.value.example == "24 ft 6 in"
    assert len(str(caught.value)) < 400
    str(caught.value).encode("utf-8")


@pytest.mark.parametrize("parse", PARSERS)
@pytest.mark.parametrize(
    "value",
    [
        24,
        24.0,
        0,
        True,
        False,
        None,
        [],
        ["24 ft"],
        {},
        (),
        b"24 ft",
        math.nan,
        math.inf,
        10**400,
        "24",
    ],
)
def test_a_value_without_a_unit_is_refused(parse: Callable[[object], float], value: object) -> None:
    with pytest.raises(QuantityError) as caught:
        parse(value)
    # The example the message gives is itself readable.
    parse(caught.value.example)


NEAR_MISSES = st.text(alphabet="0123456789 /-.'\"ftinmhse½+°", max_size=20)


@given(st.text(max_size=120) | NEAR_MISSES)
def test_any_text_is_read_as_a_finite_number_or_refused(text: str) -> None:
    for parse in PARSERS:
        try:
            value = parse(text)
        except QuantityError as error:
            str(error).encode("utf-8")
        else:
            assert math.isfinite(value)


def test_the_error_is_one_plain_sentence_and_survives_pickling() -> None:
    with pytest.raises(QuantityError) as caught:
        parse_length("24")
    error = pickle.loads(pickle.dumps(caught.value))
    assert str(error) == "'24': a length needs its unit; a right example is 24 ft 6 in."
    assert (error.found, error.problem) == ("'24'", "a length needs its unit")


@pytest.mark.parametrize(
    ("text", "metres"),
    [("-3 ft 6 in", -1.0668), ("+2 m", 2.0), ("- 1/2 in", -0.0127), ("-0 m", 0.0)],
)
def test_elevations_take_a_sign(text: str, metres: float) -> None:
    assert parse_elevation(text) == metres  # derived by hand; the sign holds for feet and inches


@pytest.mark.parametrize(
    ("text", "pascals"),
    [
        # NIST SP 811 (2008), appendix B.8, seven digits: psi 6.894757e3, ftH2O 2.989067e3.
        ("1 psi", 6894.757),
        ("1 PSIG", 6894.757),
        ("1 ft of water", 2989.067),
        ("1 in of water", 249.0889),
        ("1 m of water", 9806.65),
        ("4 bar", 4e5),
        ("4 bar g", 4e5),
        ("4 barg", 4e5),
        ("4 bar gauge", 4e5),
        ("350 kPa", 3.5e5),
        ("1.2 MPa", 1.2e6),
    ],
)
def test_pressures(text: str, pascals: float) -> None:
    assert parse_pressure(text) == pytest.approx(pascals, rel=2e-7)  # the source's last digit


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("60 psia", "absolute"),
        ("4 bar abs", "absolute"),
        ("4 BAR A", "absolute"),
        ("1 mpa", "not a unit"),  # milli or mega: never guessed
        ("3 inHg", "not a unit"),
        ("60 ft", "not a unit"),
        ("-1 psi", "negative"),
    ],
)
def test_pressures_that_are_not_clear_are_refused(text: str, problem: str) -> None:
    with pytest.raises(QuantityError, match=problem):
        parse_pressure(text)


@pytest.mark.parametrize(
    ("text", "kelvins"),
    [
        # Fixed points by definition of the scales: 32 degF = 0 degC = 273.15 K; -40 is common.
        ("32 degF", 273.15),
        ("0 degC", 273.15),
        ("212 °F", 373.15),
        ("-40 °C", 233.15),
        ("-40 degF", 233.15),
        ("−40F", 233.15),
        ("68 degF", 293.15),
        ("20 C", 293.15),
        ("293 K", 293.0),
        ("0 K", 0.0),
        ("-459.67 degF", 0.0),
    ],
)
def test_temperatures(text: str, kelvins: float) -> None:
    assert parse_temperature(text) == kelvins


@pytest.mark.parametrize("text", ["-500 degC", "-460 degF", "-1 K", "68", "68 deg", "68°"])
def test_impossible_or_unclear_temperatures_are_refused(text: str) -> None:
    with pytest.raises(QuantityError):
        parse_temperature(text)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("3 h", 10800),
        ("45 min", 2700),
        ("1 h 30 min", 5400),
        ("1h30min", 5400),
        ("1 hr 30 min.", 5400),
        ("1 1/2 h", 5400),
        ("90 s", 90),
        ("2 days", 172800),
        ("1 day 2 h 3 min 4 s", 93784),
    ],
)
def test_durations(text: str, seconds: float) -> None:
    assert parse_duration(text) == seconds  # derived by hand


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("30 min 1 h", "larger to smaller"),
        ("1 h 1 h", "larger to smaller"),
        ("1 h 90 min", "one or more of the larger"),
        ("1.5 h 30 min", "only the last"),
        ("1 h 30", "needs its unit"),
        ("5 m", "not a unit"),
        ("1:30", "not a unit"),
        ("-3 h", "negative"),
        ("400 days", "outside"),
    ],
)
def test_unclear_durations_are_refused(text: str, problem: str) -> None:
    with pytest.raises(QuantityError, match=problem):
        parse_duration(text)


@pytest.mark.parametrize(
    ("parse", "text", "problem"),
    [
        (parse_mass, "1 ton", "short, long or metric"),
        (parse_volume, "1 imp gal", "not a unit"),
        (parse_power, "1 mw", "not a unit"),
        (parse_air_change_rate, "6 per day", "not a unit"),
    ],
)
def test_other_unclear_units_are_refused(
    parse: Callable[[object], float], text: str, problem: str
) -> None:
    with pytest.raises(QuantityError, match=problem):
        parse(text)
