"""Ranges: their order is what the rest of the package leans on."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layoutcheck.physics.ranges import Range

finite = st.floats(min_value=-1e9, max_value=1e9)


@given(st.tuples(finite, finite, finite), st.floats(min_value=-1e3, max_value=1e3))
def test_scaling_keeps_the_order(values: tuple[float, float, float], factor: float) -> None:
    low, likely, high = sorted(values)
    scaled = Range(low, likely, high).scaled(factor)
    assert scaled.low <= scaled.likely <= scaled.high
    assert scaled.likely == likely * factor


def test_a_falling_function_swaps_the_ends() -> None:
    assert Range(1.0, 2.0, 4.0).map(lambda value: 1.0 / value) == Range(0.25, 0.5, 1.0)


def test_a_function_that_turns_round_is_refused() -> None:
    with pytest.raises(ValueError, match="low <= likely <= high"):
        Range(-1.0, 0.0, 1.0).map(lambda value: value**2)


@pytest.mark.parametrize("values", [(2.0, 1.0, 3.0), (1.0, 3.0, 2.0), (math.nan, 1.0, 2.0)])
def test_values_out_of_order_are_refused(values: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError, match="range"):
        Range(*values)


def test_a_time_that_never_comes_is_infinite() -> None:
    assert Range(1.0, 2.0, math.inf).plus(Range.exactly(1.0)).high == math.inf
