"""Estimates have two digits, and never look safer than they are. Conversions as in NIST SP 811."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layoutcheck.quantities import UnitSystem, units
from layoutcheck.quantities.rough import (
    MASS,
    PRESSURE,
    VOLUME,
    Toward,
    rough,
    rough_beside,
    rough_duration,
    rough_pair,
    two_digits,
)

FT, M = UnitSystem.IMPERIAL, UnitSystem.METRIC
PSI = float(units.PSI)


def number(text: str) -> float:
    return float(text.split(maxsplit=1)[0].replace(",", ""))


@pytest.mark.parametrize(
    ("value", "toward", "says"),
    [
        (4123.0, "nearest", "4,100"),
        (4123.0, "up", "4,200"),
        (4199.0, "down", "4,100"),
        (9.96, "up", "10"),
        (0.0640, "nearest", "0.064"),
        (0.06401, "up", "0.065"),
        (0.0, "up", "0"),
        (35.0, "up", "35"),
    ],
)
def test_two_digits(value: float, toward: Toward, says: str) -> None:
    assert two_digits(value, toward) == says


def test_both_systems_once() -> None:
    # 35.2 L / 3.785411784 L = 9.30 US gal; 4.37 kg / 0.45359237 kg = 9.634 lb.
    assert rough(0.0352, VOLUME, FT) == "9.3 US gal (35 L)"
    assert rough(4.37, MASS, M, "up") == "4.4 kg (9.7 lb)"


@pytest.mark.parametrize(
    ("seconds", "toward", "says"),
    [
        (599.0, "nearest", "9 min 59 s"),
        (32 * 60.0, "nearest", "30 min"),
        (32 * 60.0, "up", "35 min"),
        (9 * 3600.0 + 32 * 60.0, "nearest", "9 h 30 min"),
        (9 * 3600.0 + 34 * 60.0, "down", "9 h 30 min"),
        (3600.0, "up", "1 h"),
    ],
)
def test_times_to_five_minutes(seconds: float, toward: Toward, says: str) -> None:
    assert rough_duration(seconds, toward) == says


def test_a_pair_that_two_digits_would_blur_is_not_written_so() -> None:
    # 61.5 of 62.4 psi: two digits would say 62 of 62.
    assert rough_pair(61.5 * PSI, 62.4 * PSI, PRESSURE, FT) is None
    assert rough_beside(199.0 * PSI, 200.0 * PSI, PRESSURE, FT) is None
    assert rough_beside(1105 * PSI, 200.0 * PSI, PRESSURE, FT) == "1,200 psi (7,700 kPa)"
    # One pound short: 100.4 needed, 99.6 usable, which to three digits are 100 and 99.6.
    assert rough_pair(100.4 * 0.45359237, 99.6 * 0.45359237, MASS, FT) == (
        "110 lb (46 kg)",
        "99 lb (45 kg)",
    )


@given(st.floats(1.0, 1e7), st.floats(1.0, 1e7))
def test_what_is_not_met_never_looks_met(value: float, limit: float) -> None:
    pair = rough_pair(value, limit, PRESSURE, FT)
    if pair is not None:
        got, most = map(number, pair)
        assert (got < most) == (value <= limit)
    beside = rough_beside(value, limit, PRESSURE, FT)
    if beside is not None:
        assert (number(beside) < limit / PSI) == (value <= limit)


@given(st.floats(1e-6, 1e9), st.sampled_from(["up", "down"]))
def test_a_side_is_kept(value: float, toward: Toward) -> None:
    written = float(two_digits(value, toward).replace(",", ""))
    # The slack is a billionth of a step, which is at most a tenth of the value.
    assert written >= value * (1 - 1e-9) if toward == "up" else written <= value * (1 + 1e-9)
    assert abs(written - value) <= 0.1 * value * (1 + 1e-9)
