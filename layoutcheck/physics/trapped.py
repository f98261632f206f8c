"""The rise of pressure in water shut in while ice grows into it.

Ice takes nine per cent more room than the water it comes from. Where the water has nowhere to go it
is squeezed, and the pipe stretches a little. The balance is Korteweg's: the added volume equals the
pressure times the compliance of water and pipe. Over 1000 bar was reported as attainable between
two frozen ends (Akyurt et al., JKAU Eng. Sci. 16(1), 2005, read in the abstract, "preliminary").

No distance makes a shut section safe. A vent or an open end does.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from layoutcheck.physics.figures import (
    Figure,
    Status,
    require_not_negative,
    require_positive,
)
from layoutcheck.quantities.materials import Material

WATER_DENSITY = Figure(999.84, "kg/m3", "water at 0 degC, 1 atm", Status.CALCULATED)
ICE_DENSITY = Figure(917.0, "kg/m3", "ice at 0 degC, handbook value", Status.MEMORY)
FUSION_HEAT = Figure(334e3, "J/kg", "ice at 0 degC, handbook value", Status.MEMORY)
WATER_BULK_MODULUS = Figure(
    2.18e9,
    "Pa",
    "CoolProp, water at 20 degC; colder water is softer (2.03 GPa at 5 degC), so this is the "
    "unsafe side avoided",
    Status.CALCULATED,
)
RESTRAINT = Figure(
    1.0,
    "1",
    "Korteweg's factor for a thin pipe free to move; an anchored one is up to a tenth "
    "stiffer, which the stiff end of each modulus makes up for in part",
    Status.MEMORY,
)


@dataclass(frozen=True, slots=True)
class WallStrength:
    """How stiff and how strong a pipe wall is.

    Parameters:
        modulus: Young's modulus at the stiff end of usual values, Pa: a stiffer pipe gives less.
            Infinite where nothing is known.
        allowable: hoop stress a design code allows at room temperature, joint factor included,
            Pa, or None if no single value can be given and a rating must be stated.
        source: where the two come from.
        status: how far that was checked.
    """

    modulus: float
    allowable: float | None
    source: str
    status: Status


def _from_memory(modulus: float, allowable: float | None, source: str) -> WallStrength:
    return WallStrength(modulus, allowable, source, Status.MEMORY)


_PSI = 6894.757293168
_STEEL_NOTE = "20,000 psi for A53 grade B in B31.3, times 0.85 for a resistance-welded seam"
_RATING_NEEDED = "no single allowable stress: state the rating"

WALL_STRENGTH: Mapping[Material, WallStrength] = MappingProxyType(
    {
        Material.CARBON_STEEL: _from_memory(207e9, 0.85 * 20_000 * _PSI, _STEEL_NOTE),
        Material.GALVANIZED_STEEL: _from_memory(207e9, 0.85 * 20_000 * _PSI, _STEEL_NOTE),
        Material.STAINLESS_STEEL: _from_memory(
            200e9, 0.8 * 16_700 * _PSI, "16,700 psi for 304L/316L in B31.3, times 0.8 for a seam"
        ),
        Material.COPPER: WallStrength(
            125e9,
            6_000 * _PSI,
            "modulus from memory; 6,000 psi for annealed B88 tube, read in a fitting maker's "
            "table that names the process piping code",
            Status.SECONDARY,
        ),
        Material.CAST_IRON: _from_memory(145e9, None, f"grey iron; {_RATING_NEEDED}"),
        Material.DUCTILE_IRON: _from_memory(170e9, None, _RATING_NEEDED),
        Material.PVC: _from_memory(
            3.5e9, 2_000 * _PSI, "2,000 psi hydrostatic design stress at 73 degF"
        ),
        Material.CPVC: _from_memory(
            3.5e9, 2_000 * _PSI, "2,000 psi hydrostatic design stress at 73 degF"
        ),
        Material.PEX: _from_memory(
            1.5e9, 630 * _PSI, "630 psi hydrostatic design stress at 73 degF; stiffer when cold"
        ),
        Material.HDPE: _from_memory(
            1.5e9, 800 * _PSI, "800 psi hydrostatic design stress at 73 degF; stiffer when cold"
        ),
        Material.LINED_STEEL: _from_memory(207e9, None, f"a lining cracks first; {_RATING_NEEDED}"),
        Material.UNKNOWN: WallStrength(
            math.inf, None, "nothing is known: taken as rigid and of no strength", Status.NO_SOURCE
        ),
    }
)


@dataclass(frozen=True, slots=True)
class PipeSegment:
    """A length of pipe in the shut section.

    Parameters:
        bore: inside diameter, m.
        wall: thickness, m.
        length: developed length, m.
        material: gives the modulus and the allowable stress.
        restraint: Korteweg's factor.
        rating: stated pressure rating, Pa gauge, or None.
    """

    bore: float
    wall: float
    length: float
    material: Material
    restraint: float = RESTRAINT.value
    rating: float | None = None

    def __post_init__(self) -> None:
        """Refuse a pipe of no size."""
        require_positive(
            bore=self.bore, wall=self.wall, length=self.length, restraint=self.restraint
        )
        if self.rating is not None:
            require_positive(rating=self.rating)

    @property
    def volume(self) -> float:
        """Water inside, m3."""
        return 0.25 * math.pi * self.bore**2 * self.length

    def stretch(self) -> float:
        """Relative growth in volume per Pa, 1/Pa, from the hoop alone."""
        modulus = WALL_STRENGTH[self.material].modulus
        return self.restraint * self.bore / (self.wall * modulus)

    def limit(self) -> float | None:
        """Pressure the pipe stands, Pa gauge: the lesser of its rating and Barlow's formula.

        Returns:
            Pa gauge, or None where neither is known. Joints, valves and fittings may be weaker.

        Source: Barlow, `P = 2 S w / D` with the outside diameter (from memory).
        """
        allowable = WALL_STRENGTH[self.material].allowable
        outside = self.bore + 2.0 * self.wall
        barlow = None if allowable is None else 2.0 * allowable * self.wall / outside
        known = [value for value in (barlow, self.rating) if value is not None]
        return min(known) if known else None


@dataclass(frozen=True, slots=True)
class TrappedPressure:
    """What becomes of a shut section.

    Parameters:
        volume: water shut in, m3.
        expansion: added by the ice, m3. This much water must be able to leave if the pressure is
            not to rise at all.
        compliance: m3 of added volume per Pa.
        rise: of pressure, Pa.
        at_ceiling: the rise was cut off where ice can grow no further.
        pressure: start and rise together, Pa gauge.
        limit: weakest known limit of the pipes, Pa gauge; None if one of them has none.
        volume_to_limit: m3 that must leave, at the least, to stay within the limit; None if the
            limit is not known.
    """

    volume: float
    expansion: float
    compliance: float
    rise: float
    at_ceiling: bool
    pressure: float
    limit: float | None
    volume_to_limit: float | None

    @property
    def within_limit(self) -> bool | None:
        """Whether the pipes stay within their limit; None if that can not be said."""
        return None if self.limit is None else self.pressure <= self.limit


def expansion_ratio() -> float:
    """Room that ice takes over that of the water it comes from, less one; about 0.09.

    Per volume of water frozen. Source: calculated from the two densities.
    """
    return WATER_DENSITY.value / ICE_DENSITY.value - 1.0


def pressure_per_kelvin() -> float:
    """Slope of the melting line at 0 degC, Pa per K of undercooling; about 13.5 MPa/K.

    Source: Clausius and Clapeyron, `L / (T dv)`; calculated.
    """
    change = 1.0 / ICE_DENSITY.value - 1.0 / WATER_DENSITY.value
    return FUSION_HEAT.value / (273.15 * change)


def trapped_pressure(
    *,
    segments: Sequence[PipeSegment],
    frozen_volume: float,
    start_pressure: float,
    coldest_temperature: float,
    bulk_modulus: float = WATER_BULK_MODULUS.value,
) -> TrappedPressure:
    """Work out the pressure in a section shut at all ends while ice grows into it.

    `dP = dV / sum V_i (1/K + c_i D_i / (w_i E_i))` with `dV` nine per cent of the volume frozen.

    Parameters:
        segments: the pipes of the section; at least one.
        frozen_volume: water of the section that turns to ice after it is shut, m3. The volume
            of the ice may be given instead: it is the larger, so that is the safe side.
        start_pressure: when it is shut, Pa gauge.
        coldest_temperature: of the ice, K; ice grows no further than its melting pressure there.
        bulk_modulus: of water, Pa.

    Returns:
        Rise, limit and the volume that must be vented. Air in the water is not credited.

    Raises:
        ValueError: no segment, a negative volume, or more ice than there is water.

    Source: Korteweg's form (calculated); moduli as in `WALL_STRENGTH` (from memory).
    """
    if not segments:
        raise ValueError("a shut section needs at least one pipe")
    require_not_negative(frozen_volume=frozen_volume)
    require_positive(bulk_modulus=bulk_modulus, coldest_temperature=coldest_temperature)
    volume = math.fsum(segment.volume for segment in segments)
    if frozen_volume > volume * (1.0 + 1e-9):
        raise ValueError(f"{frozen_volume} m3 of ice can not grow in {volume} m3 of water")
    compliance = math.fsum(
        segment.volume * (1.0 / bulk_modulus + segment.stretch()) for segment in segments
    )
    expansion = expansion_ratio() * frozen_volume
    ceiling = pressure_per_kelvin() * max(0.0, 273.15 - coldest_temperature)
    free_rise = expansion / compliance
    limit = _weakest(segments)
    room = None if limit is None else max(0.0, limit - start_pressure) * compliance
    rise = min(free_rise, ceiling)
    return TrappedPressure(
        volume=volume,
        expansion=expansion,
        compliance=compliance,
        rise=rise,
        at_ceiling=free_rise > ceiling,
        pressure=start_pressure + rise,
        limit=limit,
        volume_to_limit=None if room is None else max(0.0, expansion - room),
    )


def _weakest(segments: Sequence[PipeSegment]) -> float | None:
    limits = [segment.limit() for segment in segments]
    known = [limit for limit in limits if limit is not None]
    return min(known) if len(known) == len(limits) else None
