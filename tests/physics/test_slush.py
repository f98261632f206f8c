"""Freezing points of glycols: the table against what it is made from, and against other sources."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layoutcheck.physics.slush import (
    TRACE,
    freezing_point,
    freezing_points,
    is_as_water,
    share_by_mass,
    still_liquid,
)
from layoutcheck.quantities import FluidKind, parse_fluid
from layoutcheck.quantities.fluids import Fluid, ShareBasis
from tests.physics.freezing_points import made

ZERO = 273.15


def celsius(text: str) -> float:
    found = freezing_point(parse_fluid(text))
    assert found is not None
    return found - ZERO


def test_the_table_is_the_one_that_coolprop_makes() -> None:
    kept, fresh = freezing_points(), made()
    assert kept.largest == fresh.largest
    for kind, points in fresh.points.items():
        assert kept.points[kind] == pytest.approx(points, rel=1e-8)


def test_a_handbook_value_of_propylene_glycol() -> None:
    """30 % by volume freezes at -12.8 degC: chemistry handbook, table 5.13 (read).

    Within 0.7 K: between two tables that take a share by volume at other temperatures, and a degree
    is two per cent of glycol.
    """
    assert celsius("30 % propylene glycol by volume") == pytest.approx(-12.8, abs=0.7)


@pytest.mark.parametrize(
    ("name", "molar"), [("ethylene glycol", 62.07), ("propylene glycol", 76.09)]
)
def test_thin_mixtures_follow_the_law_of_dilution(name: str, molar: float) -> None:
    """1.86 K for each mol in a kg of water (cryoscopic constant, handbook value from memory).

    5 % by mass: 50 g in 950 g, so 52.6 / molar mass mol in a kg. Within 8 %: 5 % is not thin enough
    for the law to be exact.
    """
    expected = -1.86 * (50.0 / molar) / 0.95
    assert celsius(f"5 % {name} by mass") == pytest.approx(expected, rel=0.08)


def test_volume_to_mass_by_hand() -> None:
    """30 L of propylene glycol at 1.036 kg/L with 70 L of water at 0.9982: 31.08 in 100.95 kg."""
    found = share_by_mass(parse_fluid("30 % propylene glycol by volume"))
    assert found == pytest.approx(31.08 / (31.08 + 69.874), rel=1e-4)


def test_the_lever_rule_by_hand() -> None:
    """At the end of the table the liquid is 60 % glycol: of a 30 % mixture half is left of it."""
    fluid = parse_fluid("30 % propylene glycol by mass")
    coldest = freezing_points().points["propylene glycol"][-1]
    assert still_liquid(fluid, coldest) == pytest.approx(0.5, rel=1e-6)
    assert still_liquid(fluid, ZERO) == 1.0


def test_a_trace_is_a_fiftieth_liquid_at_ten_below() -> None:
    """What the figure's source says of it; within a fifth for the two glycols."""
    for kind in (FluidKind.PROPYLENE_GLYCOL, FluidKind.ETHYLENE_GLYCOL):
        trace = Fluid(kind, TRACE.value, ShareBasis.MASS)
        assert still_liquid(trace, ZERO - 10.0) == pytest.approx(0.02, rel=0.2)


@given(
    st.sampled_from([FluidKind.PROPYLENE_GLYCOL, FluidKind.ETHYLENE_GLYCOL]),
    st.floats(min_value=0.01, max_value=0.59),
    st.floats(min_value=0.001, max_value=0.01),
)
def test_more_glycol_freezes_later_and_leaves_more_liquid(
    kind: FluidKind, share: float, more: float
) -> None:
    thin, rich = (Fluid(kind, s, ShareBasis.MASS) for s in (share, share + more))
    low, high = freezing_point(rich), freezing_point(thin)
    assert low is not None
    assert high is not None
    assert low < high
    for temperature in (268.15, 253.15, 233.15):
        little, much = still_liquid(thin, temperature), still_liquid(rich, temperature)
        assert little is not None
        assert much is not None
        assert little <= much


@pytest.mark.parametrize(
    ("text", "as_water"),
    [
        ("plain water", True),
        ("0.4 % ethylene glycol by mass", True),
        ("1 % ethylene glycol by mass", False),
        ("propylene glycol", False),
        ("brine", False),
        ("0.1 % brine by mass", False),
        ("treated water", False),
        ("other", False),
    ],
)
def test_what_counts_as_water(text: str, *, as_water: bool) -> None:
    assert is_as_water(parse_fluid(text)) is as_water


def test_what_is_not_known_is_not_guessed() -> None:
    for text in ("propylene glycol", "70 % ethylene glycol by mass", "20 % brine by mass"):
        assert freezing_point(parse_fluid(text)) is None
        assert still_liquid(parse_fluid(text), 250.0) is None
