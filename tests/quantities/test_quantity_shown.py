"""Writing quantities: rounding, reading back, and limits that stay visible."""

from fractions import Fraction

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from layoutcheck import quantities as q
from layoutcheck.quantities import UnitSystem

IMPERIAL, METRIC = UnitSystem.IMPERIAL, UnitSystem.METRIC
INCH = 0.0254
SYSTEMS = st.sampled_from(UnitSystem)


@pytest.mark.parametrize(
    ("inches", "text"),
    [
        (294.5, "24 ft 6 1/2 in"),
        (6.5, "6 1/2 in"),
        (0.5, "1/2 in"),
        (0, "0 in"),
        (-38, "-3 ft 2 in"),
        (288, "24 ft"),
        (288.5, "24 ft 1/2 in"),
        (11.99, "1 ft"),  # carries
        (-0.01, "0 in"),  # no minus zero
        (5.9375, "5 15/16 in"),
    ],
)
def test_feet_and_inches(inches: float, text: str) -> None:
    assert q.feet_and_inches(inches * INCH) == text  # derived by hand


def _sixteenths(text: str) -> int:
    feet, _, rest = text.removeprefix("-").rpartition(" ft")
    inches = sum(Fraction(part) for part in rest.removesuffix(" in").split())
    whole = Fraction(feet or 0) * 12 + inches
    return int(whole * 16) * (-1 if text.startswith("-") else 1)


@given(st.floats(-3000, 3000) | st.integers(-(2**30), 2**30).map(lambda n: n * 127 / 2**12))
@example(0.0)
@example(127 / 160_000)  # as near to half a sixteenth as a float comes
@example(127 * 3 / 4096)
def test_feet_and_inches_are_the_nearest_by_exact_fractions(metres: float) -> None:
    exact = Fraction(metres) / Fraction(254, 10_000) * 16
    # The definition of `round`: an even number where it is a tie, which needs whole 127ths.
    assert _sixteenths(q.feet_and_inches(metres)) == round(exact)


@given(st.floats(-3000, 3000))
def test_feet_and_inches_read_back_to_half_a_sixteenth(metres: float) -> None:
    back = q.parse_elevation(q.feet_and_inches(metres))
    # Half a sixteenth of an inch, and room for one rounding of a float this large.
    assert abs(back - metres) <= INCH / 32 + 1e-12


@given(st.integers(-100_000, 100_000))
def test_a_whole_number_of_sixteenths_reads_back_exactly(sixteenths: int) -> None:
    text = q.feet_and_inches(sixteenths * INCH / 16)
    assert q.feet_and_inches(q.parse_elevation(text)) == text
    assert q.parse_elevation(text) == pytest.approx(sixteenths * INCH / 16, rel=1e-15, abs=1e-18)


def test_both_systems_the_preferred_first() -> None:
    # Derived by hand from the exact inch, pound, psi and US gallon.
    assert q.show_length(7.4803, IMPERIAL) == "24 ft 6 1/2 in (7.480 m)"
    assert q.show_length(7.4803, METRIC) == "7.480 m (24 ft 6 1/2 in)"
    assert q.show_pressure(413_685.4, IMPERIAL) == "60.0 psi (414 kPa)"
    assert q.show_temperature(293.15, IMPERIAL) == "68 degF (20.0 degC)"
    assert q.show_temperature(293.15, METRIC) == "20.0 degC (68 degF)"
    assert q.show_mass(8.1647, IMPERIAL) == "18.0 lb (8.16 kg)"
    assert q.show_volume(0.04656, IMPERIAL) == "12.3 US gal (46.6 L)"
    assert q.show_area(18.5806, IMPERIAL) == "200 ft2 (18.6 m2)"
    assert q.show_flow(0.188779, IMPERIAL) == "400 cfm (189 L/s)"
    assert q.show_fraction(0.035) == "3.50 %"
    assert q.show_pressure(0.0, IMPERIAL) == "0 psi (0 kPa)"


def test_large_numbers_keep_their_whole_digits() -> None:
    assert q.show_pressure(13.5e6, METRIC) == "13500 kPa (1958 psi)"
    assert q.short_mass(99.96, METRIC) == "100 kg"


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (5400, "1 h 30 min"),
        (320, "5 min 20 s"),
        (599.4, "9 min 59 s"),
        (599.7, "10 min"),
        (640, "11 min"),
        (3590, "1 h"),
        (172800, "48 h"),
        (0, "0 s"),
        (0.4, "0 s"),
    ],
)
def test_durations(seconds: float, text: str) -> None:
    assert q.show_duration(seconds) == text  # derived by hand


@given(st.floats(0, 1e6))
def test_durations_read_back(seconds: float) -> None:
    slack = 30 if round(seconds) >= 600 else 0.5
    assert abs(q.parse_duration(q.show_duration(seconds)) - seconds) <= slack


@given(st.floats(1e-3, 1e6), SYSTEMS)
def test_short_forms_read_back_to_three_digits(value: float, system: UnitSystem) -> None:
    # Three significant digits: half of one in the third is at most 0.5 %.
    assert q.parse_mass(q.short_mass(value, system)) == pytest.approx(value, rel=5.1e-3)
    assert q.parse_pressure(q.short_pressure(value, system)) == pytest.approx(value, rel=5.1e-3)
    assert q.parse_volume(q.short_volume(value / 1e3, system)) == pytest.approx(
        value / 1e3, rel=5.1e-3
    )


@given(st.floats(1, 1900), SYSTEMS)
def test_short_temperatures_read_back(kelvins: float, system: UnitSystem) -> None:
    back = q.parse_temperature(q.short_temperature(kelvins, system))
    assert abs(back - kelvins) <= 0.5 * 5 / 9 + 1e-9  # half a degF


def _parts(text: str) -> list[str]:
    return text.removesuffix(")").split(" (")


@given(
    required=st.floats(0.01, 500),
    difference=st.floats(-0.05, 0.05),
    system=SYSTEMS,
)
def test_lengths_that_differ_never_look_alike(
    required: float, difference: float, system: UnitSystem
) -> None:
    measured = required + difference
    assume(measured >= 0 and abs(measured - required) > 1e-6)
    texts = q.show_length_pair(measured, required, system)
    for ours, limit in zip(*map(_parts, texts), strict=True):
        assert ours != limit
        words = ours.removeprefix("just under ").removeprefix("just over ")
        assert ("under" in ours) <= (measured < required)
        assert ("over" in ours) <= (measured > required)
        if words == ours:
            read = q.parse_length(ours), q.parse_length(limit)
            assert (read[0] < read[1]) == (measured < required)


@given(required=st.floats(0.01, 500), difference=st.floats(-9e-7, 9e-7), system=SYSTEMS)
def test_lengths_within_the_tolerance_look_alike(
    required: float, difference: float, system: UnitSystem
) -> None:
    ours, limit = q.show_length_pair(required + difference, required, system)
    assert ours == limit == q.show_length(required, system)


def test_a_length_just_short_of_its_limit_says_so() -> None:
    limit = 24 * INCH
    # Derived by hand: 0.15 mm is less than half of 1/64 in.
    assert q.show_length_pair(limit - 1.5e-4, limit, IMPERIAL) == (
        "just under 2 ft (0.609 m)",
        "2 ft (0.610 m)",
    )


@given(st.floats(1, 1e7), st.floats(-1e-3, 1e-3), SYSTEMS)
def test_other_values_that_differ_never_look_alike(
    required: float, share: float, system: UnitSystem
) -> None:
    measured = required * (1 + share)
    assume(abs(share) > 1e-8)
    for pair in (q.show_pressure_pair, q.show_mass_pair):
        texts = pair(measured, required, system)
        for ours, limit in zip(*map(_parts, texts), strict=True):
            assert ours != limit
    ours, limit = q.show_duration_pair(measured, required)
    assert ours != limit


def test_a_temperature_just_over_its_limit_is_seen() -> None:
    assert q.show_temperature_pair(293.2, 293.15, IMPERIAL) == (
        "68.1 degF (20.1 degC)",
        "68.0 degF (20.0 degC)",
    )


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf")])
def test_only_finite_values_are_written(value: float) -> None:
    for show in (q.feet_and_inches, q.show_duration, q.show_fraction):
        with pytest.raises(ValueError, match="finite"):
            show(value)
