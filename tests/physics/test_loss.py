"""Plug loss: Torricelli's law against its exact draining time and a general integrator."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from layoutcheck.physics.loss import (
    Layer,
    Space,
    head_from_pressure,
    loss_by_draining,
    loss_from_source,
    outflow,
)
from layoutcheck.physics.ranges import Range

GRAVITY = 9.80665
ONE = Range.exactly(1.0)


def test_torricelli_by_hand() -> None:
    """10 m of water over a bore of 50 mm: sqrt(2 x 9.80665 x 10) = 14.0 m/s, 27.5 l/s."""
    loss = loss_from_source(bore=0.05, pressure=1000.0 * GRAVITY * 10.0)
    assert loss.head == pytest.approx(10.0, rel=1e-12)
    assert loss.speed == pytest.approx(14.005, abs=0.001)
    assert loss.flow.high == pytest.approx(0.027499, abs=1e-5)
    assert loss.flow.low == pytest.approx(0.6 * loss.flow.high, rel=1e-12)
    assert loss.volume == math.inf


def test_head_of_a_foot_of_water() -> None:
    """2.31 ft of water to one psi, a figure of every handbook (from memory)."""
    assert head_from_pressure(6894.757) / 0.3048 == pytest.approx(2.31, abs=0.01)
    assert head_from_pressure(-5e4) == 0.0


@pytest.mark.parametrize(("area", "height", "bore"), [(0.5, 3.0, 0.05), (0.002, 20.0, 0.05)])
def test_a_draining_cylinder_is_exact(area: float, height: float, bore: float) -> None:
    """Textbook: t = (A / a) sqrt(2 h / g) until empty, half the height at 1 - sqrt(1/2) of it."""
    opening = math.pi / 4.0 * bore**2
    empty = area / opening * math.sqrt(2.0 * height / GRAVITY)
    loss = loss_by_draining(
        bore=bore,
        layers=[Layer(0.0, height, area)],
        space=Space(area * height, 0.5),
        coefficient=ONE,
    )
    assert loss.volume == pytest.approx(area * height, rel=1e-12)
    assert loss.time_to_drain.likely == pytest.approx(empty, rel=1e-12)
    assert loss.time_to_fill is not None
    half = empty * (1.0 - math.sqrt(0.5))
    assert loss.time_to_fill.likely == pytest.approx(half, rel=1e-9)


def test_a_tank_on_a_riser_against_an_integrator() -> None:
    """An invented tank of 1 m2 and 2 m on a riser of 50 cm2 and 12 m; scipy's integrator."""
    layers = [Layer(0.0, 12.0, 0.005), Layer(12.0, 14.0, 1.0)]
    bore = 0.04

    def fall(_: float, height: np.ndarray) -> list[float]:
        level = float(height[0])
        area = 1.0 if level > 12.0 else 0.005
        return [-outflow(bore=bore, head=max(level, 0.0), coefficient=0.8) / area]

    def at_level(_: float, height: np.ndarray) -> float:
        return float(height[0]) - 6.0

    at_level.terminal = True  # type: ignore[attr-defined]
    run = solve_ivp(fall, (0.0, 1e4), [14.0], events=at_level, rtol=1e-9, atol=1e-10, max_step=0.5)
    loss = loss_by_draining(
        bore=bore,
        layers=layers,
        space=Space(1.0, 2.0 + 6.0 * 0.005),
        coefficient=Range.exactly(0.8),
    )
    assert loss.time_to_fill is not None
    assert loss.time_to_fill.likely == pytest.approx(float(run.t[-1]), rel=1e-3)


def test_a_space_larger_than_the_water_never_fills() -> None:
    loss = loss_by_draining(bore=0.05, layers=[Layer(0.0, 3.0, 0.01)], space=Space(100.0, 0.1))
    assert loss.time_to_fill == Range.exactly(math.inf)


def test_a_source_fills_at_its_flow() -> None:
    loss = loss_from_source(bore=0.05, pressure=4e5, space=Space(20.0, 0.05))
    assert loss.time_to_fill is not None
    assert loss.time_to_fill.low == pytest.approx(1.0 / loss.flow.high, rel=1e-12)


def test_nothing_above_loses_nothing() -> None:
    dry = loss_by_draining(bore=0.05, layers=[], space=Space(1.0, 0.1))
    assert (dry.volume, dry.flow.high, dry.time_to_drain.high) == (0.0, 0.0, 0.0)
    assert dry.time_to_fill == Range.exactly(math.inf)
    still = loss_from_source(bore=0.05, pressure=0.0, space=Space(1.0, 0.1))
    assert still.time_to_fill == Range.exactly(math.inf)
    assert still.volume == 0.0


def test_layers_may_touch_but_not_overlap() -> None:
    loss_by_draining(bore=0.05, layers=[Layer(0.0, 3.0, 1.0), Layer(3.0, 4.0, 2.0)])
    with pytest.raises(ValueError, match="overlap"):
        loss_by_draining(bore=0.05, layers=[Layer(0.0, 3.0, 1.0), Layer(2.9, 4.0, 2.0)])


@given(
    height=st.floats(min_value=0.1, max_value=100.0),
    cut=st.floats(min_value=0.05, max_value=0.95),
    area=st.floats(min_value=1e-4, max_value=10.0),
)
def test_cutting_a_layer_in_two_changes_nothing(height: float, cut: float, area: float) -> None:
    middle = height * cut
    whole = loss_by_draining(bore=0.05, layers=[Layer(0.0, height, area)])
    halves = loss_by_draining(
        bore=0.05, layers=[Layer(middle, height, area), Layer(0.0, middle, area)]
    )
    assert halves.time_to_drain.likely == pytest.approx(whole.time_to_drain.likely, rel=1e-9)
    assert halves.volume == pytest.approx(whole.volume, rel=1e-9)


@given(
    bore=st.floats(min_value=0.01, max_value=0.3),
    pressure=st.floats(min_value=0.0, max_value=2e6),
    more=st.floats(min_value=1.0, max_value=3.0),
)
def test_more_bore_or_head_means_more_water(bore: float, pressure: float, more: float) -> None:
    flow = loss_from_source(bore=bore, pressure=pressure).flow
    assert 0.0 <= flow.low <= flow.likely <= flow.high
    assert loss_from_source(bore=bore * more, pressure=pressure).flow.low >= flow.low
    assert loss_from_source(bore=bore, pressure=pressure * more).flow.low >= flow.low


def test_no_opening_gives_more_than_torricelli() -> None:
    with pytest.raises(ValueError, match="Torricelli"):
        outflow(bore=0.05, head=1.0, coefficient=1.1)
