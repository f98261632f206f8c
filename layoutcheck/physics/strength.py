"""What pressure an ice plug holds, on the weakest published values and a stated factor.

Two limits: the bond between ice and wall in shear, and the ice in compression. Tension is not used:
nothing is hung on the plug. Pressure trapped between two plugs makes them grip harder; Takefuji and
Okubo (Urban Water J. 2018, abstract only) saw about four times. That gain is a burst hazard
(`trapped`) and is never credited here.

No published shear value for ice in steel pipe was found. The value used is for aluminium. One
published rig held 3.43 MPa for ten minutes (Liu et al., Water 16(2) 202, 2024, abstract only); that
is not used as a limit, since which size and length held it was not read. So a head beyond what the
compression allows is not a head that no ice holds: it is beyond what is vouched for here.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from layoutcheck.physics.figures import (
    Figure,
    Status,
    require_not_negative,
    require_positive,
)
from layoutcheck.physics.ranges import Range

ADHESION_MEAN = Figure(
    0.28e6,
    "Pa",
    "AIP Advances 9, 055304 (2019): bulk water ice on aluminium, centrifuge, 0.28 +/- 0.08 MPa",
    Status.READ,
)
ADHESION = Figure(
    0.20e6,
    "Pa",
    "the low side, 0.28 - 0.08 MPa, of AIP Advances 9, 055304 (2019), bulk water "
    "ice on aluminium; not steel, not a pipe",
    Status.READ,
)
COMPRESSION = Figure(
    5.0e6,
    "Pa",
    "Petrovic, J. Mater. Sci. (2003), 10.1023/A:1021134128038: 5 to 25 MPa at -10 to "
    "-20 degC, low end",
    Status.READ,
)
HOLDING_FACTOR = Figure(
    4.0,
    "1",
    "two for a value from another metal and another test, times two for shear that is "
    "not even along the plug and for its ends near 0 degC, where the bond is weak",
    Status.OWN_CHOICE,
)


class HoldingLimit(StrEnum):
    """Which limit decides."""

    SHEAR = "shear at the wall"
    COMPRESSION = "compression of the ice"


@dataclass(frozen=True, slots=True)
class HoldingPressure:
    """What a plug holds against a difference of pressure over it.

    Parameters:
        plug_length: solid length it was worked out for, the low end, m.
        shear: pressure at which the bond would slide, Pa.
        compression: pressure at which the ice would crush, Pa.
        factor: by which the lesser is divided.
        allowed: pressure the plug may be asked to hold, Pa.
        governing: which limit decides.
    """

    plug_length: float
    shear: float
    compression: float
    factor: float
    allowed: float
    governing: HoldingLimit

    def holds(self, pressure: float) -> bool:
        """Tell whether a difference of pressure, Pa, is within what is allowed."""
        return pressure <= self.allowed

    def margin(self, pressure: float) -> float:
        """Allowed pressure less the pressure to hold, Pa; negative if it does not hold."""
        return self.allowed - pressure


def holding_pressure(
    *,
    bore: float,
    plug_length: Range,
    factor: float = HOLDING_FACTOR.value,
    adhesion: float = ADHESION.value,
    compression: float = COMPRESSION.value,
) -> HoldingPressure:
    """Work out what a plug holds: the balance of pressure on its face and shear on its side.

    `P * pi D^2 / 4 = tau * pi D L`, so `P = 4 tau L / D`, with the low end of the length.

    Parameters:
        bore: inside diameter of the pipe, m.
        plug_length: length over which the ice fills the bore, m. May be zero at the low end.
        factor: at least 1.
        adhesion: shear strength of the bond, Pa.
        compression: compressive strength of the ice, Pa.

    Returns:
        Both limits, the governing one and what is allowed. A plug of no length holds nothing.

    Raises:
        ValueError: a size or strength that is not positive, or a factor below 1.

    Source: calculated from the balance of forces; strengths as in the constants (read).
    """
    require_positive(bore=bore, adhesion=adhesion, compression=compression)
    require_not_negative(plug_length=plug_length.low)
    _require_factor(factor)
    shear = 4.0 * adhesion * plug_length.low / bore
    governing = HoldingLimit.SHEAR if shear <= compression else HoldingLimit.COMPRESSION
    return HoldingPressure(
        plug_length=plug_length.low,
        shear=shear,
        compression=compression,
        factor=factor,
        allowed=min(shear, compression) / factor,
        governing=governing,
    )


def plug_length_needed(
    *,
    bore: float,
    pressure: float,
    factor: float = HOLDING_FACTOR.value,
    adhesion: float = ADHESION.value,
    compression: float = COMPRESSION.value,
) -> float | None:
    """Work out the solid length that holds a pressure.

    Parameters:
        bore: inside diameter, m.
        pressure: to hold, Pa, 0 or more.
        factor: at least 1.
        adhesion: shear strength of the bond, Pa.
        compression: compressive strength of the ice, Pa.

    Returns:
        Length in m, or None where it is beyond what is vouched for: the ice itself would be
        loaded further than the low end of its published strength.

    Raises:
        ValueError: as in `holding_pressure`.
    """
    require_positive(bore=bore, adhesion=adhesion, compression=compression)
    require_not_negative(pressure=pressure)
    _require_factor(factor)
    if pressure * factor > compression:
        return None
    return factor * pressure * bore / (4.0 * adhesion)


def _require_factor(factor: float) -> None:
    if not 1.0 <= factor < float("inf"):
        raise ValueError(f"a factor below 1 takes more than the ice has, found {factor}")
