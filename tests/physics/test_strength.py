"""Holding pressure: the balance of forces, and that nothing published is exceeded."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layoutcheck.physics.ranges import Range
from layoutcheck.physics.strength import (
    ADHESION,
    ADHESION_MEAN,
    HOLDING_FACTOR,
    HoldingLimit,
    holding_pressure,
    plug_length_needed,
)

PSI = 6894.757293168
size = st.floats(min_value=0.01, max_value=0.5)


def test_shear_balance_of_the_notes() -> None:
    """Calculated in the project's notes: 0.28 MPa and L = 2D give 2.2 MPa, L = D gives 1.1 MPa."""
    for diameters, expected in ((2.0, 2.24e6), (1.0, 1.12e6)):
        plug = holding_pressure(
            bore=0.05,
            plug_length=Range.exactly(0.05 * diameters),
            adhesion=ADHESION_MEAN.value,
            factor=1.0,
        )
        assert plug.shear == pytest.approx(expected, rel=1e-12)


def test_the_low_side_of_the_published_value_is_used() -> None:
    # AIP Advances 9, 055304 (2019): 0.28 +/- 0.08 MPa, bulk water ice on aluminium.
    assert ADHESION.value == pytest.approx(0.28e6 - 0.08e6)
    assert HOLDING_FACTOR.value >= 4.0


def test_a_usual_plug_by_hand() -> None:
    """2 in bore, solid over 2 to 4 bores: 4 x 0.2 x 2 / 4 = 0.4 MPa, 58 psi. By hand."""
    plug = holding_pressure(bore=0.0525, plug_length=Range(0.105, 0.15, 0.21))
    assert plug.allowed == pytest.approx(0.4e6, rel=1e-9)
    assert plug.governing is HoldingLimit.SHEAR
    assert plug.holds(55.0 * PSI)
    assert not plug.holds(60.0 * PSI)


def test_a_long_plug_is_limited_by_crushing() -> None:
    """Petrovic (2003): 5 MPa at the low end, so 1.25 MPa with the factor of four. By hand."""
    plug = holding_pressure(bore=0.05, plug_length=Range.exactly(1.0))
    assert plug.governing is HoldingLimit.COMPRESSION
    assert plug.allowed == pytest.approx(1.25e6)


@given(bore=size, length=st.floats(min_value=0.0, max_value=5.0))
def test_below_what_a_published_rig_held(bore: float, length: float) -> None:
    # Liu et al., Water 16(2) 202 (2024), abstract: 3.43 MPa held for about ten minutes.
    assert holding_pressure(bore=bore, plug_length=Range.exactly(length)).allowed < 3.43e6


@given(bore=size, pressure=st.floats(min_value=0.0, max_value=1.25e6))
def test_the_needed_length_holds(bore: float, pressure: float) -> None:
    length = plug_length_needed(bore=bore, pressure=pressure)
    assert length is not None
    plug = holding_pressure(bore=bore, plug_length=Range.exactly(length))
    assert plug.allowed >= pressure * (1.0 - 1e-9) - 1e-6
    shorter = holding_pressure(bore=bore, plug_length=Range.exactly(0.99 * length))
    assert shorter.allowed <= plug.allowed


@given(
    bore=size,
    low=st.floats(min_value=0.0, max_value=1.0),
    more=st.floats(min_value=0.0, max_value=1.0),
)
def test_only_the_low_end_counts(bore: float, low: float, more: float) -> None:
    wide = holding_pressure(bore=bore, plug_length=Range(low, low + more, low + 2 * more))
    assert wide == holding_pressure(bore=bore, plug_length=Range.exactly(low))


def test_too_much_pressure_has_no_length() -> None:
    assert plug_length_needed(bore=0.05, pressure=1.3e6) is None


def test_no_length_holds_nothing() -> None:
    assert holding_pressure(bore=0.05, plug_length=Range(0.0, 0.1, 0.2)).allowed == 0.0


def test_a_factor_below_one_is_refused() -> None:
    with pytest.raises(ValueError, match="factor"):
        holding_pressure(bore=0.05, plug_length=Range.exactly(0.1), factor=0.5)
