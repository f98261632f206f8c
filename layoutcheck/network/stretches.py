"""Closed stretches on the pieces of a network: where a point may lie.

A stretch is a closed interval of offsets (m) from a piece's node u; a single point is a stretch
of no length. Almost always a rule leaves one interval on a piece, so intervals are kept as two
arrays over all pieces, and the few pieces with several intervals apart.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

# A distance may fall short of its limit by this much (m) and still be 'exactly on the limit':
# a thousand times finer than a sixteenth of an inch, far above rounding in floating point.
TOLERANCE = 1e-6

Interval = tuple[float, float]


def settle(low: float, high: float) -> Interval | None:
    """Give a closed interval, or None if empty; one empty by rounding alone is a point."""
    if low <= high:
        return low, high
    if low <= high + 2 * TOLERANCE:
        middle = (low + high) / 2
        return middle, middle
    return None


@dataclass(frozen=True)
class Stretches:
    """Closed intervals for each piece: low and high (pieces,), and pieces with several."""

    low: np.ndarray
    high: np.ndarray
    split: Mapping[int, tuple[Interval, ...]]

    @classmethod
    def everywhere(cls, length: np.ndarray) -> Stretches:
        """Give the whole of every piece, from an array of lengths (m)."""
        return cls(np.zeros_like(length), length.copy(), {})

    @classmethod
    def between(cls, low: np.ndarray, high: np.ndarray) -> Stretches:
        """Give one interval for each piece; empty where low exceeds high."""
        return cls(low, high, {})

    def only(self, pieces: np.ndarray) -> Stretches:
        """Keep the stretches on some pieces (a boolean array)."""
        low = np.where(pieces, self.low, np.inf)
        high = np.where(pieces, self.high, -np.inf)
        return Stretches(low, high, {p: s for p, s in self.split.items() if pieces[p]})

    def at(self, pieces: np.ndarray) -> Stretches:
        """Give the stretches on some pieces alone, numbered by their place in that array."""
        places = {p: i for i, p in enumerate(pieces.tolist())} if self.split else {}
        split = {places[p]: s for p, s in self.split.items() if p in places}
        return Stretches(self.low[pieces], self.high[pieces], split)

    def of(self, piece: int) -> tuple[Interval, ...]:
        """Give the intervals on one piece, in order."""
        if piece in self.split:
            return self.split[piece]
        return spans((float(self.low[piece]), float(self.high[piece])))

    def meet(self, other: Stretches) -> Stretches:
        """Give what lies in both."""
        low = np.maximum(self.low, other.low)
        high = np.minimum(self.high, other.high)
        split: dict[int, tuple[Interval, ...]] = {}
        for piece in sorted({*self.split, *other.split}):
            split[piece] = meet(self.of(piece), other.of(piece))
        return Stretches(low, high, split)

    def pieces(self) -> list[int]:
        """Give the pieces that have a stretch, in order."""
        plain = np.flatnonzero(self.low <= self.high + 2 * TOLERANCE)
        found = {int(p) for p in plain if int(p) not in self.split}
        return sorted(found | {p for p, s in self.split.items() if s})


def spans(span: Interval) -> tuple[Interval, ...]:
    """Give one interval as the intervals that it is: none if it is empty."""
    found = settle(*span)
    return () if found is None else (found,)


def meet(first: tuple[Interval, ...], second: tuple[Interval, ...]) -> tuple[Interval, ...]:
    """Give what lies in both of two lists of intervals."""
    found = []
    for a, b in first:
        for c, d in second:
            both = settle(max(a, c), min(b, d))
            if both is not None:
                found.append(both)
    return tuple(sorted(set(found)))


def complement(intervals: tuple[Interval, ...], length: float) -> list[Interval]:
    """Give the open gaps that intervals leave on a piece of some length, as (start, end)."""
    gaps: list[Interval] = []
    here = 0.0
    for low, high in intervals:
        if low - here > TOLERANCE:
            gaps.append((here, low))
        here = max(here, high)
    if length - here > TOLERANCE or (not intervals and length <= TOLERANCE):
        gaps.append((here, length))
    return gaps
