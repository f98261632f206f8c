"""Ice and water properties against an independent implementation of the IAPWS formulations.

The `iapws` package (GPL) is used here only; nothing that ships depends on it.
"""

import numpy as np
import pytest
from iapws import _iapws
from iapws.iapws95 import IAPWS95

from layoutcheck.physics import properties
from layoutcheck.quantities.materials import Material

ATMOSPHERE = 0.101325  # MPa
COOL_WATER = [273.16, 277.15, 283.15, 293.15, 313.15, 333.15, 353.15]


@pytest.fixture(scope="module")
def water() -> dict[float, IAPWS95]:
    return {t: IAPWS95(T=t, P=ATMOSPHERE) for t in COOL_WATER}


@pytest.mark.parametrize("temperature", COOL_WATER)
def test_water_is_that_of_iapws(water: dict[float, IAPWS95], temperature: float) -> None:
    """Published: IAPWS-95 and its transport releases, by the iapws package."""
    reference = water[temperature]
    assert properties.water_density(temperature) == pytest.approx(reference.rho, rel=1e-4)
    assert properties.water_heat_capacity(temperature) == pytest.approx(
        1e3 * reference.cp, rel=2e-3
    )
    assert properties.water_conductivity(temperature) == pytest.approx(reference.k, rel=0.01)
    assert properties.water_viscosity(temperature) == pytest.approx(reference.mu, rel=0.01)


def test_water_is_densest_near_four_degrees() -> None:
    """Published: greatest density of water at 3.98 degC (IAPWS-95)."""
    at = np.linspace(273.15, 283.15, 1001)
    assert at[np.argmax(properties.water_density(at))] == pytest.approx(277.13, abs=0.05)


@pytest.mark.parametrize("temperature", [80.0, 120.0, 160.0, 194.7, 230.0, 260.0, 273.0])
def test_ice_heat_capacity_is_that_of_iapws(temperature: float) -> None:
    """Published: IAPWS R10-06 (2009). 4 %: a straight line through a gently curved law."""
    reference = _iapws._Ice(temperature, ATMOSPHERE)
    assert properties.ice_heat_capacity(temperature) == pytest.approx(
        1e3 * reference["cp"], rel=0.04
    )


def test_ice_density_and_heat_of_fusion_are_those_of_iapws() -> None:
    """Published: IAPWS R10-06 (2009) and IAPWS-95 at the freezing point."""
    ice = _iapws._Ice(273.15, ATMOSPHERE)
    liquid = IAPWS95(T=273.16, P=ATMOSPHERE)
    assert pytest.approx(ice["rho"], rel=1e-3) == properties.ICE_DENSITY
    assert pytest.approx(1e3 * (liquid.h - ice["h"]), rel=1e-3) == properties.LATENT_HEAT


@pytest.mark.parametrize("temperature", [77.0, 100.0, 150.0, 195.0, 230.0, 273.15])
def test_ice_conductivity_is_on_the_low_side_of_the_inverse_form(temperature: float) -> None:
    """651/T is from memory (Petrenko and Whitworth, 1999). Low conductivity means long times."""
    inverse_form = 651.0 / temperature
    assert 0.74 * inverse_form < properties.ice_conductivity(temperature) < inverse_form


def test_ice_conductivity_at_freezing_is_a_handbook_value() -> None:
    """Handbooks give 2.1 to 2.3 W/(m K) at 0 degC (from memory)."""
    assert 2.05 < properties.ice_conductivity(273.15) < 2.3


@pytest.mark.parametrize(
    ("material", "conductivity", "capacity"),
    [
        # Incropera et al., table A.1, AISI 304 and pure copper's heat capacity: from memory.
        (Material.STAINLESS_STEEL, 14.9, 477.0),
        (Material.COPPER, 330.0, 385.0),
        (Material.CARBON_STEEL, 50.0, 449.0),
    ],
)
def test_metals_have_handbook_values_at_room_temperature(
    material: Material, conductivity: float, capacity: float
) -> None:
    wall = properties.WALLS[material]
    assert wall.conductivity(300.0) == pytest.approx(conductivity, rel=0.02)
    assert wall.heat_capacity(300.0) == pytest.approx(capacity, rel=0.02)


def test_no_figures_are_given_for_pipe_whose_wall_is_not_known() -> None:
    assert Material.UNKNOWN not in properties.WALLS
    assert Material.LINED_STEEL not in properties.WALLS


@pytest.mark.parametrize("material", sorted(properties.WALLS))
def test_every_wall_names_its_source_and_rises_in_temperature(material: Material) -> None:
    wall = properties.WALLS[material]
    assert wall.source
    assert list(wall.temperatures) == sorted(wall.temperatures)
    assert len(wall.temperatures) == len(wall.conductivities) == len(wall.heat_capacities)
    assert wall.temperatures[0] <= 77.36
