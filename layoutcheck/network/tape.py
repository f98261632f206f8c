"""One rounding of lengths along a pipe to what a tape shows.

A length that is printed may be typed back in, or marked on the pipe. So it is never rounded to the
nearest reading but to one that is no worse than the exact length: a place into the stretch that is
clear, a limit towards the safe side. That holds of both texts, the imperial and the metric one.
Where a stretch holds no reading of a usual tape, finer ones are taken, at the last a decimal one
that no tape shows but that reads back right.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from layoutcheck.network.stretches import TOLERANCE, Interval
from layoutcheck.quantities import UnitSystem
from layoutcheck.quantities.shown import LENGTH_FORMS, LengthForm

# A reading may lie past the end of a stretch by this much (m): a quarter of what rules forgive, so
# that two plugs on their limits are forgiven together. It covers the rounding of decimals.
_ON = TOLERANCE / 4


@dataclass(frozen=True)
class Reading:
    """A length off a tape.

    value: m, as the text in the document's own units has it, which comes first. other: m, as the
    second text has it. texts: the first and the second.
    """

    value: float
    other: float
    texts: tuple[str, str]

    @property
    def shown(self) -> str:
        """Give both texts as one."""
        return f"{self.texts[0]} ({self.texts[1]})"


def read_into(length: float, span: Interval, system: UnitSystem) -> Reading:
    """Read a length (m) off a tape, as near as a reading that lies in a closed span (m) allows."""
    other = UnitSystem.METRIC if system is UnitSystem.IMPERIAL else UnitSystem.IMPERIAL
    value, own = _read(length, span, LENGTH_FORMS[system])
    second, text = _read(length, span, LENGTH_FORMS[other])
    return Reading(value, second, (own, text))


def read_alike(reading: Reading, system: UnitSystem) -> Reading:
    """Write a reading so that its second text means the same place as the first."""
    return read_into(reading.value, (reading.value, reading.value), system)


def away_from(value: float, limit: float, system: UnitSystem) -> Reading:
    """Read a length (m) off a tape, away from a limit on its one side that it must not come near.

    limit: inf or -inf; the reading lies on that side of the length or on it.
    """
    return read_into(value, (min(value, limit), max(value, limit)), system)


def _read(length: float, span: Interval, forms: tuple[LengthForm, ...]) -> tuple[float, str]:
    """Give the value (m) and the text of the first form with a reading inside the span."""
    low, high = span[0] - _ON, span[1] + _ON
    for form in forms:
        inside = [m for m in _marks(length, form.step) if low <= m <= high]
        if inside:
            nearest = min(inside, key=lambda m: abs(m - length))
            return nearest, form.text(nearest)
    return length, forms[-1].text(length)


def _marks(length: float, step: Fraction) -> tuple[float, float]:
    """Give the readings (m) before and after a length."""
    count = math.floor(Fraction(length) / step)
    return float(count * step), float((count + 1) * step)
