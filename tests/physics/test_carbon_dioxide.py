"""The table of saturated carbon dioxide, against the equation of state that it is made from.

Source: Span and Wagner (1996) as CoolProp computes it.
"""

from __future__ import annotations

import subprocess
import sys

import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given, settings
from hypothesis import strategies as st

from layoutcheck.physics.carbon_dioxide import saturated, saturated_table
from layoutcheck.physics.coolant import (
    CRITICAL_TEMPERATURE,
    TRIPLE_POINT_TEMPERATURE,
    snow_yield,
    usable_fraction,
)
from tests.physics.saturated import CRITICAL, made
from tests.sizes import some

TRIPLE = TRIPLE_POINT_TEMPERATURE.value


def test_the_table_is_the_one_that_coolprop_makes() -> None:
    kept, fresh = saturated_table(), made()
    assert (kept.critical, kept.triple) == (fresh.critical, fresh.triple)
    # CoolProp's last digits are its own.
    assert kept.liquid_enthalpy == pytest.approx(fresh.liquid_enthalpy, rel=1e-9)
    assert kept.vapour_density == pytest.approx(fresh.vapour_density, rel=1e-9)
    assert kept.cold_gas_enthalpy == pytest.approx(fresh.cold_gas_enthalpy, rel=1e-9)


def _held_to_coolprop(temperature: float, *, within: float) -> None:
    state = ("T", temperature, "Q")
    enthalpy, density = saturated(temperature)
    assert enthalpy == pytest.approx(PropsSI("H", *state, 0.0, "CO2"), rel=within)
    assert density == pytest.approx(PropsSI("D", *state, 1.0, "CO2"), rel=within)


@settings(max_examples=some(500))
@given(st.floats(TRIPLE, CRITICAL - 0.5))
def test_between_the_rows_it_is_coolprop(temperature: float) -> None:
    _held_to_coolprop(temperature, within=1e-8)


@settings(max_examples=some(500))
@given(st.floats(1e-7, 0.5))
def test_next_to_the_critical_point_it_is_coolprop_to_four_digits(below: float) -> None:
    _held_to_coolprop(CRITICAL - below, within=1e-4)


@pytest.mark.parametrize("temperature", [CRITICAL, 304.129, 304.12999])
def test_up_to_the_stated_limit_there_is_an_answer(temperature: float) -> None:
    """The stated critical temperature is rounded up; CoolProp refuses what lies in between."""
    assert temperature < CRITICAL_TEMPERATURE.value
    assert snow_yield(temperature) == snow_yield(CRITICAL)
    assert usable_fraction(temperature) == usable_fraction(CRITICAL)
    assert 0.0 < snow_yield(temperature) < snow_yield(303.0)


def test_a_run_with_carbon_dioxide_does_not_wait_for_coolprop() -> None:
    code = (
        "import sys; from layoutcheck.physics.coolant import snow_yield; snow_yield(293.15); "
        "sys.exit('CoolProp' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
