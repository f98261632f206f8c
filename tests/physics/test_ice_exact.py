"""The exact solutions themselves: limits, hand values, and the calculated regression table."""

import math

import numpy as np
import pytest
from scipy.integrate import quad

from layoutcheck.selftest.exact import NeumannSlab, Phase
from tests.physics.exact_cylinders import (
    composite_cylinder_heat_flow,
    quasi_steady_cylinder_time,
    wall_resistance,
)

ICE = Phase(2.2, 917.0 * 2000.0)
WATER = Phase(0.58, 1000.0 * 4200.0)
LATENT = 917.0 * 334e3

# Calculated for this project, not measured: quasi-steady radial freezing with ice 2.4 W/(m K),
# 917 kg/m3, 334 kJ/kg, wall 4 mm of 50 W/(m K), water at 0 degC. Columns: coolant at 78.5 K and
# at 196 K below freezing; no wall or jacket, jacket 500 and 100 W/(m2 K). Minutes, to 0.1.
TABLE = {
    15.8: ((0.4, 0.8, 2.1), (0.2, 0.3, 0.9)),
    26.6: ((1.2, 1.9, 4.6), (0.5, 0.8, 1.8)),
    52.5: ((4.7, 6.2, 12.1), (1.9, 2.5, 4.9)),
    77.9: ((10.3, 12.7, 21.9), (4.1, 5.1, 8.8)),
    102.3: ((17.7, 20.9, 33.3), (7.1, 8.4, 13.3)),
    154.1: ((40.2, 45.2, 64.2), (16.1, 18.1, 25.7)),
}


@pytest.mark.parametrize("bore", sorted(TABLE))
@pytest.mark.parametrize(("column", "difference"), [(0, 78.5), (1, 196.0)])
def test_the_calculated_table_comes_out(bore: float, column: int, difference: float) -> None:
    radius = 0.5e-3 * bore
    for film, minutes in zip((math.inf, 500.0, 100.0), TABLE[bore][column], strict=True):
        resistance = 0.0
        if math.isfinite(film):
            resistance = wall_resistance(
                inside_radius=radius, wall=0.004, wall_conductivity=50.0, film=film
            )
        time = quasi_steady_cylinder_time(
            inside_radius=radius,
            open_radius=0.0,
            latent=LATENT,
            ice_conductivity=2.4,
            resistance=resistance,
            difference=difference,
        )
        # Half of the table's last digit.
        assert time / 60.0 == pytest.approx(minutes, abs=0.0501)


def test_quasi_steady_time_is_the_integral_of_its_rate() -> None:
    """Oracle: the rate balance at the front, integrated numerically."""
    big, small, resistance, k = 0.026, 0.011, 0.4, 2.2

    def seconds_per_metre(radius: float) -> float:
        return LATENT * radius * (resistance + math.log(big / radius) / k) / 78.5

    expected, _ = quad(seconds_per_metre, small, big)
    found = quasi_steady_cylinder_time(
        inside_radius=big,
        open_radius=small,
        latent=LATENT,
        ice_conductivity=k,
        resistance=resistance,
        difference=78.5,
    )
    assert found == pytest.approx(expected, rel=1e-9)


def test_neumann_satisfies_both_phases_and_the_front() -> None:
    """Oracle: the heat equation and the front balance by finite differences (derived by hand)."""
    slab = NeumannSlab(ICE, WATER, LATENT, face=-40.0, start=15.0)
    time, dx, dt = 1800.0, 1e-5, 0.05
    for depth, phase in ((0.4 * slab.front(time), ICE), (2.0 * slab.front(time), WATER)):
        around = np.array([depth - dx, depth, depth + dx])
        curvature = np.diff(slab.temperature(around, time), 2)[0] / dx**2
        later = slab.temperature(around[1:2], time + dt) - slab.temperature(around[1:2], time - dt)
        assert phase.diffusivity * curvature == pytest.approx(later[0] / (2 * dt), rel=1e-3)
    front = slab.front(time)
    in_ice = -slab.temperature(np.array([front - dx]), time)[0] / dx
    in_water = slab.temperature(np.array([front + dx]), time)[0] / dx
    speed = (slab.front(time + dt) - slab.front(time - dt)) / (2 * dt)
    assert ICE.conductivity * in_ice - WATER.conductivity * in_water == pytest.approx(
        LATENT * speed, rel=1e-3
    )


def test_neumann_goes_over_into_stefan_for_a_small_stefan_number() -> None:
    """Textbook limit: front = sqrt(2 k dT t / latent) as the Stefan number goes to zero."""
    slab = NeumannSlab(ICE, WATER, LATENT, face=-0.01, start=0.0)
    stefan = math.sqrt(2.0 * ICE.conductivity * 0.01 * 3600.0 / LATENT)
    assert slab.front(3600.0) == pytest.approx(stefan, rel=1e-4)


def test_neumann_heat_is_the_enthalpy_of_ice_and_cooled_water() -> None:
    """Oracle: integrate the enthalpy that the temperature field has lost."""
    slab = NeumannSlab(ICE, WATER, LATENT, face=-40.0, start=15.0)
    time = 1800.0
    front = slab.front(time)

    def lost(depth: float) -> float:
        t = float(slab.temperature(np.array([depth]), time)[0])
        if depth < front:
            return LATENT + WATER.heat_capacity * slab.start - ICE.heat_capacity * t
        return WATER.heat_capacity * (slab.start - t)

    in_ice, _ = quad(lost, 0.0, front)
    in_water, _ = quad(lost, front, front + 0.3)
    assert slab.heat_taken(time) == pytest.approx(in_ice + in_water, rel=1e-5)


def test_composite_cylinder_is_the_sum_of_its_resistances() -> None:
    """By hand: 1/(100*0.030) + ln(30/26)/50 + ln(26/10)/2.2 = 0.7705 m K/W; 78.5 K, 2 pi."""
    flow = composite_cylinder_heat_flow(
        radii=(0.010, 0.026, 0.030), conductivities=(2.2, 50.0), film=100.0, difference=78.5
    )
    assert flow == pytest.approx(2 * math.pi * 78.5 / 0.77052, rel=1e-4)
