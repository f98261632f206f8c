"""What coolant comes in, in words: cylinders by mass, vessels of liquid nitrogen by volume."""

from __future__ import annotations

from layoutcheck.physics.coolant import NITROGEN_LIQUID_DENSITY, Coolant
from layoutcheck.quantities import UnitSystem, show_mass, show_volume

CONTAINER = {Coolant.CARBON_DIOXIDE: "cylinder", Coolant.NITROGEN: "vessel"}


def containers(coolant: Coolant, number: int, mass_each: float, units: UnitSystem) -> str:
    """Write '4 cylinders of 50.0 lb (22.7 kg)' or '1 vessel of 42.3 US gal (160 L)'.

    mass_each: coolant in a full one, kg.
    """
    noun = CONTAINER[coolant] + ("" if number == 1 else "s")
    return f"{number} {noun} of {container(coolant, mass_each, units)}"


def container(coolant: Coolant, mass_each: float, units: UnitSystem) -> str:
    """Write what one holds: a mass (kg given) of carbon dioxide, a volume of liquid nitrogen."""
    if coolant is Coolant.NITROGEN:
        return show_volume(mass_each / NITROGEN_LIQUID_DENSITY.value, units)
    return show_mass(mass_each, units)
