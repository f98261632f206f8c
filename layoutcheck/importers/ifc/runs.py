"""The run of one pipe segment: what of it is bare pipe, and the lengths that branches cut it into.

Ports are not always where a body ends: a port may lie inside a socket, or a segment's body end
short of its port. A jacket needs pipe that can be touched, so only what lies both between the ports
and in the body counts as pipe; the rest of the way belongs to what it meets.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from layoutcheck.importers.draft import metres, rounded
from layoutcheck.importers.ifc.joints import nearest_on, station_on
from layoutcheck.importers.ifc.parts import Part
from layoutcheck.importers.ifc.shape import Vector, apart, run_of

_STRAIGHT = 1e-3  # a corner nearer to the straight line than this (m) is none
_ENDS = 1e-3  # a body that ends within this much of a port (m) ends there


@dataclass(frozen=True)
class Stretch:
    """A length of bare pipe (m), the way before and after it that is none (m), and its line."""

    length: float
    before: float
    after: float
    line: tuple[Vector, ...]

    @classmethod
    def nothing(cls) -> Stretch:
        """Give no pipe at all."""
        return cls(0.0, 0.0, 0.0, ())

    def corners(self, start: Vector, end: Vector) -> list[object] | None:
        """Give the corners of the drawn path between two junctions, but for those in line."""
        drawn = [start, *self.line, end]
        kept = [drawn[0]]
        for here, after in pairwise(drawn[1:]):
            if _off(kept[-1], after, here) > _STRAIGHT:
                kept.append(here)
        found: list[object] = [
            {"at": [rounded(p[0]), rounded(p[1])], "elevation": metres(p[2])} for p in kept[1:]
        ]
        return found or None


@dataclass(frozen=True)
class Run:
    """line: from port to port (m). low, high: where bare pipe begins and ends along it (m)."""

    line: tuple[Vector, ...]
    low: float
    high: float

    @classmethod
    def of(cls, part: Part, line: Sequence[Vector]) -> Run:
        """Find what of a segment is bare pipe."""
        size = run_of(tuple(line))
        low, high = 0.0, size
        path = part.body.path
        # Most bodies run from port to port, and nothing more has to be asked of them.
        if len(path) > 1 and not _alike(path, line):
            ends = (station_on(list(line), path[k]) for k in (0, -1))
            one, two = sorted(ends)
            if two - one > _ENDS:  # a body across its own line tells nothing
                low = one if one > _ENDS else 0.0
                high = two if two < size - _ENDS else size
        return cls(tuple(line), low, high)

    @property
    def bare(self) -> float:
        """Give the length of bare pipe (m) along the line."""
        return self.high - self.low

    @property
    def off_body(self) -> bool:
        """Tell whether the body ends short of a port."""
        return self.low > 0.0 or self.high < run_of(self.line)

    def shortened(self, length: float) -> Run:
        """Take bare pipe away at both ends alike, until it is no longer than a length (m)."""
        over = max(0.0, self.bare - length) / 2
        return Run(self.line, self.low + over, self.high - over)

    def stations(self, ends: Sequence[tuple[Vector, int]]) -> list[tuple[float, int]]:
        """Give a pipe's ends in their order along it, with their stations on its line (m)."""
        size = run_of(self.line)
        if len(ends) == 2:
            one, two = ends if ends[0][0] == self.line[0] else ends[::-1]
            return [(0.0, one[1]), (size, two[1])]
        found = sorted((station_on(list(self.line), at), end) for at, end in ends)
        found[0], found[-1] = (0.0, found[0][1]), (size, found[-1][1])
        return found

    def stretch(self, start: float, stop: float, length: float) -> Stretch:
        """Cut out what lies between two stations (m). length: what all the bare pipe comes to."""
        first, last = (min(max(s, self.low), self.high) for s in (start, stop))
        share = (last - first) / self.bare if self.bare else 0.0
        before = first - start if last > first else stop - start
        inner = [p for s, p in self._corners() if start + _STRAIGHT < s < stop - _STRAIGHT]
        line = (self._at(start), *inner, self._at(stop))
        return Stretch(length * share, before, stop - last if last > first else 0.0, line)

    def _corners(self) -> list[tuple[float, Vector]]:
        """Give the inner corners of the line with how far along it they lie (m)."""
        found, along = [], 0.0
        for a, b in pairwise(self.line):
            along += apart(a, b)
            found.append((along, b))
        return found[:-1]

    def _at(self, station: float) -> Vector:
        along = 0.0
        for a, b in pairwise(self.line):
            size = apart(a, b)
            if station <= along + size and size:
                share = (station - along) / size
                x, y, z = (p + share * (q - p) for p, q in zip(a, b, strict=True))
                return (x, y, z)
            along += size
        return self.line[-1]


def _alike(path: Sequence[Vector], line: Sequence[Vector]) -> bool:
    """Tell whether two lines have the same ends, either way round."""
    if apart(path[0], line[0]) <= _ENDS:
        return apart(path[-1], line[-1]) <= _ENDS
    return apart(path[0], line[-1]) <= _ENDS and apart(path[-1], line[0]) <= _ENDS


def _off(a: Vector, b: Vector, spot: Vector) -> float:
    """Give how far a point lies from the stretch between two others (m)."""
    if spot in (a, b):
        return 0.0
    return nearest_on([a, b], spot)[0]
