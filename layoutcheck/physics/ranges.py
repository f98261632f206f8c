"""A low / likely / high triple: no physics answer leaves this package as one bare number."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Range:
    """Three values of one quantity, in one unit, with `low <= likely <= high`.

    The unit is that of the quantity the range stands for; the owner of the range states it.

    Raises:
        ValueError: a value is not a number, or the three are out of order. Infinity is allowed:
            a crossing that never happens has an infinite time.
    """

    low: float
    likely: float
    high: float

    def __post_init__(self) -> None:
        """Refuse a range that is not one."""
        if any(math.isnan(value) for value in self.values):
            raise ValueError(f"a range holds no NaN: {self.values}")
        if not self.low <= self.likely <= self.high:
            raise ValueError(f"a range needs low <= likely <= high, found {self.values}")

    @classmethod
    def exactly(cls, value: float) -> Range:
        """Make a range of no width, for a value that is given and not estimated."""
        return cls(value, value, value)

    @classmethod
    def spanning(cls, first: float, likely: float, last: float) -> Range:
        """Make a range from two ends in either order and a likely value between them."""
        return cls(min(first, last), likely, max(first, last))

    @property
    def values(self) -> tuple[float, float, float]:
        """The three values, low first."""
        return (self.low, self.likely, self.high)

    def map(self, function: Callable[[float], float]) -> Range:
        """Apply a monotone function to the three values.

        Parameters:
            function: rising or falling over the range. A falling one swaps the ends.

        Returns:
            The range of the results, in order.

        Raises:
            ValueError: the function is not monotone over the three values.
        """
        return Range.spanning(function(self.low), function(self.likely), function(self.high))

    def scaled(self, factor: float) -> Range:
        """Multiply all three values by one factor; a negative one swaps the ends."""
        return self.map(lambda value: value * factor)

    def plus(self, other: Range) -> Range:
        """Add two ranges end to end: low to low, high to high (the wide, safe sum)."""
        return Range(self.low + other.low, self.likely + other.likely, self.high + other.high)
