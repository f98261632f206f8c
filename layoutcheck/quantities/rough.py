"""Write what was calculated as well as it is known: two digits, times to five minutes.

What may be read as safe is rounded to the side that looks less so: name that side in `toward`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from layoutcheck.quantities import units
from layoutcheck.quantities.shown import UnitSystem, show_duration

Toward = Literal["nearest", "up", "down"]

_FIVE_MINUTES = 300.0
TO_FIVE_MINUTES = 600.0  # s: shorter times are written to the second
# Of one step: what a sum of floats may be off without being another number.
_SLACK = 1e-9


@dataclass(frozen=True)
class Kind:
    """What an estimate is of: for each system the SI value of a unit, and the unit's name."""

    imperial: tuple[float, str]
    metric: tuple[float, str]

    def unit(self, system: UnitSystem) -> tuple[float, str]:
        """Give the SI value of the unit of one system, and its name."""
        return self.imperial if system is UnitSystem.IMPERIAL else self.metric


PRESSURE = Kind((float(units.PSI), "psi"), (1000.0, "kPa"))
VOLUME = Kind((float(units.US_GALLON), "US gal"), (1e-3, "L"))
MASS = Kind((float(units.POUND), "lb"), (1.0, "kg"))
WATER_FLOW = Kind((float(units.US_GALLON / units.MINUTE), "gpm"), (1e-3, "L/s"))
AIR_FLOW = Kind((float(units.FOOT**3 / units.MINUTE), "cfm"), (1e-3, "L/s"))


def rough(value: float, kind: Kind, system: UnitSystem, toward: Toward = "nearest") -> str:
    """Write an estimate (SI) with two digits in both systems: "9.3 US gal (35 L)"."""
    other = UnitSystem.METRIC if system is UnitSystem.IMPERIAL else UnitSystem.IMPERIAL
    first, second = (rough_short(value, kind, s, toward) for s in (system, other))
    return f"{first} ({second})"


def rough_short(value: float, kind: Kind, system: UnitSystem, toward: Toward = "nearest") -> str:
    """Write an estimate (SI) with two digits in one system: "9.3 US gal"."""
    scale, name = kind.unit(system)
    return f"{two_digits(value / scale, toward)} {name}"


def rough_duration(seconds: float, toward: Toward = "nearest") -> str:
    """Write an estimated time (s) to five minutes; below ten minutes to the second."""
    if abs(seconds) < TO_FIVE_MINUTES:
        return show_duration(seconds)
    return show_duration(_FIVE_MINUTES * _whole(seconds / _FIVE_MINUTES, toward))


def rough_pair(
    value: float, limit: float, kind: Kind, system: UnitSystem
) -> tuple[str, str] | None:
    """Write an estimate and its estimated limit (SI), of which less than the limit is safe.

    None where two digits do not show which is the larger: then write both in full.
    """
    if value <= limit and not all(
        _number(value, kind, s, "up") < _number(limit, kind, s, "down") for s in UnitSystem
    ):
        return None
    return rough(value, kind, system, "up"), rough(limit, kind, system, "down")


def rough_beside(value: float, limit: float, kind: Kind, system: UnitSystem) -> str | None:
    """Write an estimate (SI) beside a limit that is written in full; less is safe.

    None where two digits do not show which is the larger: then write both in full.
    """
    for each in UnitSystem:
        got, most = _number(value, kind, each, "up"), limit / kind.unit(each)[0]
        if (got < most) != (value <= limit) or abs(got - most) <= 0.01 * abs(most):
            return None
    return rough(value, kind, system, "up")


def two_digits(number: float, toward: Toward = "nearest") -> str:
    """Write a number with two digits: "4,100", "35", "0.064"."""
    if number == 0.0:
        return "0"
    value = _to_two(number, toward)
    digits = max(0, 1 - int(f"{value:.1e}".partition("e")[2]))
    return f"{value:,.{digits}f}"


def _number(value: float, kind: Kind, system: UnitSystem, toward: Toward) -> float:
    return _to_two(value / kind.unit(system)[0], toward)


def _to_two(number: float, toward: Toward) -> float:
    if number == 0.0 or toward == "nearest":
        return float(f"{number:.2g}")
    step = 10.0 ** (math.floor(math.log10(abs(number))) - 1)
    return float(f"{_whole(number / step, toward) * step:.2g}")


def _whole(number: float, toward: Toward) -> int:
    if toward == "up":
        return math.ceil(number - _SLACK)
    return math.floor(number + _SLACK) if toward == "down" else round(number)
