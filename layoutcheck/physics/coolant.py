"""The two coolants: what a kilogram of each can do, and what a full cylinder or vessel gives."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from layoutcheck.physics.carbon_dioxide import saturated, saturated_table
from layoutcheck.physics.figures import (
    Figure,
    Status,
    require_positive,
)


class Coolant(StrEnum):
    """The two coolants this tool knows."""

    CARBON_DIOXIDE = "carbon dioxide"
    NITROGEN = "nitrogen"


class CylinderStateError(ValueError):
    """A cylinder so warm or so cold that it holds no liquid to draw."""


SUBLIMATION_TEMPERATURE = Figure(
    194.69, "K", "handbook value for solid carbon dioxide at 1 atm", Status.SECONDARY
)
SUBLIMATION_HEAT = Figure(
    571e3,
    "J/kg",
    "solid carbon dioxide at 1 atm; a second source gives 591 kJ/kg at 180 K",
    Status.MEMORY,
)
NITROGEN_BOILING_POINT = Figure(
    77.355, "K", "CoolProp equation of state for nitrogen, 1 atm", Status.CALCULATED
)
NITROGEN_BOILING_HEAT = Figure(
    199e3, "J/kg", "CoolProp equation of state for nitrogen, 1 atm", Status.CALCULATED
)
NITROGEN_LIQUID_DENSITY = Figure(
    806.0, "kg/m3", "CoolProp equation of state for nitrogen, 1 atm", Status.CALCULATED
)
CRITICAL_TEMPERATURE = Figure(
    304.13,
    "K",
    "CoolProp equation of state for carbon dioxide; handbooks agree",
    Status.CALCULATED,
)
TRIPLE_POINT_TEMPERATURE = Figure(
    216.592, "K", "CoolProp equation of state for carbon dioxide", Status.CALCULATED
)
FILLING_DENSITY = Figure(
    0.68,
    "kg per kg of water the cylinder holds",
    "49 CFR 173.304a(a)(2), carbon dioxide in 1,800 psi cylinders; read on mirrors of the code",
    Status.READ,
)
CYLINDER_MASS = Figure(22.68, "kg", "a 50 lb cylinder, a usual size of the trade", Status.PRACTICE)
NITROGEN_VESSEL = Figure(
    0.160,
    "m3",
    "liquid in one vessel where none is stated: 160 L, a usual size of the trade",
    Status.PRACTICE,
)
VESSEL_USABLE_FRACTION = Figure(
    0.9, "1", "a nitrogen vessel loses some to standing and cannot be drawn dry", Status.OWN_CHOICE
)
_WATER_DENSITY_AT_FILLING = 999.0  # kg/m3 at 60 degF, the temperature the filling rule names

COOLANT_TEMPERATURE: Mapping[Coolant, float] = MappingProxyType(
    {
        Coolant.CARBON_DIOXIDE: SUBLIMATION_TEMPERATURE.value,
        Coolant.NITROGEN: NITROGEN_BOILING_POINT.value,
    }
)
"""Temperature in the jacket, K, at 1 atm."""


@dataclass(frozen=True, slots=True)
class Supply:
    """What the crew draws from.

    Parameters:
        coolant: which.
        cylinder_mass: coolant in one full cylinder or vessel, kg.
        cylinder_temperature: K. Needed for carbon dioxide, not used for nitrogen.
        usable: share of a full cylinder that comes out as liquid, above 0 and up to 1; None
            computes it for carbon dioxide (`usable_fraction`) and assumes it for nitrogen.
    """

    coolant: Coolant
    cylinder_mass: float
    cylinder_temperature: float | None = None
    usable: float | None = None

    def __post_init__(self) -> None:
        """Refuse an empty cylinder, and carbon dioxide of unknown temperature."""
        require_positive(cylinder_mass=self.cylinder_mass)
        if self.usable is not None and not 0.0 < self.usable <= 1.0:
            raise ValueError(f"usable must lie above 0 and up to 1, found {self.usable}")
        if self.coolant is Coolant.CARBON_DIOXIDE and self.cylinder_temperature is None:
            raise ValueError("carbon dioxide needs the cylinder's temperature")

    @property
    def usable_per_cylinder(self) -> float:
        """Coolant that one full cylinder gives as liquid, kg."""
        return self.cylinder_mass * self.usable_share

    @property
    def usable_share(self) -> float:
        """Share of a full cylinder that comes out as liquid."""
        if self.usable is not None:
            return self.usable
        if self.cylinder_temperature is None or self.coolant is Coolant.NITROGEN:
            return VESSEL_USABLE_FRACTION.value
        return usable_fraction(self.cylinder_temperature)

    @property
    def liquid_share(self) -> float:
        """Share of the liquid drawn that is still snow or liquid at 1 atm."""
        if self.cylinder_temperature is None or self.coolant is Coolant.NITROGEN:
            return 1.0
        return snow_yield(self.cylinder_temperature)

    @property
    def cooling(self) -> float:
        """Heat that a kilogram drawn can take at the jacket's temperature, J/kg."""
        if self.coolant is Coolant.NITROGEN:
            return NITROGEN_BOILING_HEAT.value
        return self.liquid_share * SUBLIMATION_HEAT.value


def _require_liquid(cylinder_temperature: float) -> None:
    low, high = TRIPLE_POINT_TEMPERATURE.value, CRITICAL_TEMPERATURE.value
    if not low <= cylinder_temperature < high:
        raise CylinderStateError(
            f"at {cylinder_temperature:.2f} K a cylinder holds no liquid carbon dioxide: "
            f"it must be at least {low} K and colder than {high} K"
        )


def snow_yield(cylinder_temperature: float) -> float:
    """Share of liquid carbon dioxide that becomes snow when it flashes to 1 atm.

    The flash is isenthalpic: the nozzle does no work and takes up no heat.

    Parameters:
        cylinder_temperature: of the saturated liquid, K.

    Returns:
        kg of snow per kg of liquid. The rest leaves as gas at the sublimation point.

    Raises:
        CylinderStateError: no liquid exists at that temperature.

    Source: calculated, CoolProp with 571 kJ/kg of sublimation (from memory).
    """
    _require_liquid(cylinder_temperature)
    liquid, _ = saturated(cylinder_temperature)
    return (saturated_table().cold_gas_enthalpy - liquid) / SUBLIMATION_HEAT.value


def usable_fraction(cylinder_temperature: float) -> float:
    """Share of a full carbon dioxide cylinder that a dip tube draws as liquid.

    When the last liquid leaves, the cylinder is still full of vapour at its saturation pressure.
    The cylinder is taken to stay at its temperature, which is the low side: drawing cools it and
    thins the vapour.

    Parameters:
        cylinder_temperature: K.

    Returns:
        Share between 0 and 1.

    Raises:
        CylinderStateError: no liquid exists at that temperature.

    Source: calculated, CoolProp with the filling density of 49 CFR 173.304a (read).
    """
    _require_liquid(cylinder_temperature)
    _, vapour_density = saturated(cylinder_temperature)
    filled = FILLING_DENSITY.value * _WATER_DENSITY_AT_FILLING
    return max(0.0, 1.0 - vapour_density / filled)
