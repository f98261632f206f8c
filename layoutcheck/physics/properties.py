"""Thermal properties of ice, water and pipe walls, each with the source of its figures.

What the source notes mean:

- 'read in a secondary source': the formula was read in a work that cites the original;
- 'from memory': not looked up again for this project. The tests compare ice and water with an
  independent implementation of the international formulations, so a slip would show there.
  Wall figures are rounded handbook values; the jacket's conductance matters far more than they do.

All temperatures are in kelvin.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layoutcheck.quantities.materials import Material

Numbers = NDArray[np.float64]

FREEZING_POINT = 273.15
"""Freezing point of water at one atmosphere, K."""

LATENT_HEAT = 333.43e3
"""Heat of fusion of ice at the freezing point, J/kg. International formulation for ice (2006),
from memory; compared with an independent implementation in the tests."""

ICE_DENSITY = 916.7
"""Density of ice at the freezing point, kg/m3. Same source and status as `LATENT_HEAT`."""


def ice_conductivity(temperature: Numbers | float) -> Numbers:
    """Heat conductivity of ice: `9.828 exp(-0.0057 T)`.

    Parameters:
        temperature: K, 60 to 273.15.

    Returns:
        W/(m K).

    Source:
        Yen Y.-C. (1981), Review of thermal properties of snow, ice and sea ice, CRREL Report
        81-10. Read in a secondary source. It lies below the 651/T form (from memory) over the
        whole range, so freeze times err on the long side.
    """
    return np.asarray(9.828 * np.exp(-0.0057 * np.asarray(temperature)), dtype=np.float64)


def ice_heat_capacity(temperature: Numbers | float) -> Numbers:
    """Heat capacity of ice: `152.5 + 7.122 T`.

    Parameters:
        temperature: K, 70 to 273.15.

    Returns:
        J/(kg K).

    Source:
        Yen (1981), as for `ice_conductivity`; coefficients from memory, within 3 % of the
        international formulation for ice (checked in the tests).
    """
    return np.asarray(152.5 + 7.122 * np.asarray(temperature), dtype=np.float64)


def water_conductivity(temperature: Numbers | float) -> Numbers:
    """Heat conductivity of liquid water at one atmosphere.

    Parameters:
        temperature: K, 273.15 to 373.15.

    Returns:
        W/(m K).

    Source:
        IAPWS SR6-08(2011), liquid water at 0.1 MPa; coefficients from memory.
    """
    t = np.asarray(temperature, dtype=np.float64) / 300.0
    return np.asarray(
        1.6630 * t**-1.15 - 1.7781 * t**-3.4 + 1.1567 * t**-6.0 - 0.432115 * t**-7.6,
        dtype=np.float64,
    )


def water_viscosity(temperature: Numbers | float) -> Numbers:
    """Dynamic viscosity of liquid water at one atmosphere.

    Parameters:
        temperature: K, 273.15 to 373.15.

    Returns:
        Pa s.

    Source:
        IAPWS SR6-08(2011), liquid water at 0.1 MPa; coefficients from memory.
    """
    t = np.asarray(temperature, dtype=np.float64) / 300.0
    terms = 280.68 * t**-1.9 + 511.45 * t**-7.7 + 61.131 * t**-19.6 + 0.45903 * t**-40.0
    return np.asarray(1e-6 * terms, dtype=np.float64)


def water_density(temperature: Numbers | float) -> Numbers:
    """Density of liquid water at one atmosphere, with its greatest value near 4 degC.

    Parameters:
        temperature: K, 273.15 to 373.15.

    Returns:
        kg/m3.

    Source:
        Kell G.S. (1975), J. Chem. Eng. Data 20(1) 97; coefficients from memory.
    """
    t = np.asarray(temperature, dtype=np.float64) - FREEZING_POINT
    top = (
        999.83952
        + 16.945176 * t
        - 7.9870401e-3 * t**2
        - 46.170461e-6 * t**3
        + 105.56302e-9 * t**4
        - 280.54253e-12 * t**5
    )
    return np.asarray(top / (1.0 + 16.879850e-3 * t), dtype=np.float64)


def water_heat_capacity(temperature: Numbers | float) -> Numbers:
    """Heat capacity of liquid water at one atmosphere.

    Parameters:
        temperature: K, 273.15 to 373.15.

    Returns:
        J/(kg K).

    Source:
        Values of the IAPWS-95 formulation every 10 K, from memory, read between in straight lines.
    """
    celsius = np.asarray(temperature, dtype=np.float64) - FREEZING_POINT
    return np.asarray(np.interp(celsius, _TENS, _WATER_CP), dtype=np.float64)


_TENS = tuple(10.0 * n for n in range(11))
_WATER_CP = (4219.4, 4195.5, 4184.1, 4179.9, 4179.4, 4181.3, 4185.0, 4190.2, 4197.0, 4205.3, 4215.7)


@dataclass(frozen=True, slots=True)
class WallProperties:
    """Heat properties of a pipe wall by temperature.

    Attributes:
        density: kg/m3, taken as constant.
        temperatures: K, rising.
        conductivities: W/(m K) at those temperatures.
        heat_capacities: J/(kg K) at those temperatures.
        source: where the figures come from, and their status.
    """

    density: float
    temperatures: tuple[float, ...]
    conductivities: tuple[float, ...]
    heat_capacities: tuple[float, ...]
    source: str

    def conductivity(self, temperature: Numbers | float) -> Numbers:
        """Give the conductivity, W/(m K), at a temperature in K; flat beyond the ends."""
        return np.asarray(
            np.interp(temperature, self.temperatures, self.conductivities), dtype=np.float64
        )

    def heat_capacity(self, temperature: Numbers | float) -> Numbers:
        """Give the heat capacity, J/(kg K), at a temperature in K; flat beyond the ends."""
        return np.asarray(
            np.interp(temperature, self.temperatures, self.heat_capacities), dtype=np.float64
        )


_AT = (77.0, 100.0, 150.0, 200.0, 250.0, 300.0, 350.0)
_IRON_CP = (150.0, 216.0, 324.0, 384.0, 422.0, 449.0, 470.0)
_FROM_MEMORY = "rounded handbook values, from memory"


def _wall(
    density: float, conductivities: tuple[float, ...], heat_capacities: tuple[float, ...]
) -> WallProperties:
    return WallProperties(density, _AT, conductivities, heat_capacities, _FROM_MEMORY)


_CARBON_STEEL = _wall(7850.0, (45.0, 48.0, 50.0, 50.0, 50.0, 50.0, 50.0), _IRON_CP)
_STAINLESS = _wall(
    7900.0,
    (7.9, 9.2, 11.1, 12.6, 13.8, 14.9, 15.8),
    (190.0, 272.0, 350.0, 402.0, 443.0, 477.0, 497.0),
)
# Tube is phosphorus-deoxidised copper, which conducts less than the pure metal.
_COPPER = _wall(
    8930.0,
    (190.0, 220.0, 260.0, 290.0, 312.0, 330.0, 335.0),
    (197.0, 252.0, 313.0, 356.0, 373.0, 385.0, 390.0),
)
_GREY_IRON = _wall(7200.0, (45.0,) * 4 + (48.0, 50.0, 50.0), _IRON_CP)
_DUCTILE_IRON = _wall(7100.0, (28.0, 29.0, 30.0, 32.0, 33.0, 34.0, 34.0), _IRON_CP)
_PVC = _wall(1400.0, (0.13, 0.14, 0.15, 0.155, 0.16, 0.165, 0.165), (350.0, 430.0, 580.0, 720.0,
             850.0, 1000.0, 1150.0))  # fmt: skip
_CPVC = _wall(1530.0, (0.12, 0.125, 0.13, 0.135, 0.138, 0.14, 0.14), (340.0, 420.0, 560.0, 700.0,
              830.0, 960.0, 1100.0))  # fmt: skip
_POLYETHYLENE_CP = (600.0, 760.0, 1080.0, 1380.0, 1700.0, 2100.0, 2600.0)
_PEX = _wall(940.0, (0.38,) * 4 + (0.39, 0.40, 0.40), _POLYETHYLENE_CP)
_HDPE = _wall(950.0, (0.40, 0.41, 0.43, 0.44, 0.45, 0.45, 0.45), _POLYETHYLENE_CP)

WALLS: dict[Material, WallProperties] = {
    Material.CARBON_STEEL: _CARBON_STEEL,
    Material.GALVANIZED_STEEL: _CARBON_STEEL,
    Material.STAINLESS_STEEL: _STAINLESS,
    Material.COPPER: _COPPER,
    Material.CAST_IRON: _GREY_IRON,
    Material.DUCTILE_IRON: _DUCTILE_IRON,
    Material.PVC: _PVC,
    Material.CPVC: _CPVC,
    Material.PEX: _PEX,
    Material.HDPE: _HDPE,
}
"""Heat properties by wall material. Lined and unknown pipe are left out on purpose: the lining's
thickness and conductivity are not stated, so no freeze time can be given for them."""
