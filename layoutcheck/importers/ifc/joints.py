"""Which ends meet: as the model connects them, and by geometry where it connects nothing."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from scipy.spatial import cKDTree

from layoutcheck.importers.draft import Draft
from layoutcheck.importers.ifc.kinds import Role
from layoutcheck.importers.ifc.parts import End, Part, Read, far_pairs
from layoutcheck.importers.ifc.shape import Vector, apart

# Ends further apart than the tolerance but within this many times it are told as near misses.
_NEAR_MISS = 20.0
_SAME = 1e-6


def complete_ends(read: Read, draft: Draft) -> None:
    """Give every part its ends, from its body where ports are missing or have no place."""
    partner = _partners(read)
    pipes = [part for part in read.parts if part.role is Role.PIPE]
    for part in pipes:
        _complete_pipe(read, part, partner, draft)
    for part in read.parts:
        if part.role is not Role.PIPE:  # what has no place of its own is where its pipes end
            _place_device_ends(read, part, partner)


def _partners(read: Read) -> dict[int, int]:
    found: dict[int, int] = {}
    for one, two in read.pairs:
        found.setdefault(one, two)
        found.setdefault(two, one)
    return found


def _complete_pipe(read: Read, part: Part, partner: dict[int, int], draft: Draft) -> None:
    path = part.body.path
    placed = [i for i in part.ends if read.ends[i].at is not None]
    spots = [read.ends[i].at for i in placed]
    heap = len(spots) > 1 and all(apart(s, spots[0]) < _SAME for s in spots if s and spots[0])
    if len(part.ends) >= 2 and len(placed) == len(part.ends) and not heap:
        return
    if len(path) < 2 or apart(path[0], path[-1]) < _SAME:
        if len(part.ends) < 2:
            draft.gap(
                "A pipe with fewer than two ports and no body: its ends are unknown", part.name
            )
        return
    ends = (path[0], path[-1])
    if not part.ends:
        draft.assume("A pipe without ports: its ends are those of its body", part.name)
    elif heap or not placed:
        draft.assume("Ports that have no place of their own: placed at the body's ends", part.name)
    while len(part.ends) < 2:
        read.ends.append(End(part.index, None))
        part.ends.append(len(read.ends) - 1)
    first, second = part.ends[:2]
    fixed = read.ends[placed[0]].at if len(placed) == 1 else None
    if fixed is not None:
        far = max(ends, key=lambda e: apart(e, fixed))
        read.ends[second if placed[0] == first else first].at = far
    else:
        turned = _cost(read, partner, (first, second), ends[::-1])
        straight = _cost(read, partner, (first, second), ends)
        order = ends if straight <= turned else ends[::-1]
        read.ends[first].at, read.ends[second].at = order


def _cost(
    read: Read, partner: dict[int, int], ends: tuple[int, int], spots: tuple[Vector, ...]
) -> float:
    """Tell how far two ends would lie from what they are connected to."""
    total = 0.0
    for end, spot in zip(ends, spots, strict=True):
        other = partner.get(end)
        beside = None if other is None else read.ends[other].at
        total += 0.0 if beside is None else apart(spot, beside)
    return total


def _place_device_ends(read: Read, part: Part, partner: dict[int, int]) -> None:
    for index in part.ends:
        end = read.ends[index]
        if end.at is None:
            other = partner.get(index)
            end.at = (None if other is None else read.ends[other].at) or part.at


@dataclass
class Joiner:
    """Joins by geometry the ends that the model leaves free."""

    read: Read
    draft: Draft
    tolerance: float

    def join(self) -> None:
        """Join devices without ports, then ends that meet, then ends that lie on a pipe."""
        for name, gap in far_pairs(self.read, max(self.tolerance, 1e-3)).items():
            says = "Ports that the model connects lie apart; the gap is not counted as pipe"
            self.draft.gap(says, f"{name} ({gap:.3f} m)")
        self._claim()
        self._meet()
        self._tap()
        self._near_misses()

    def _free(self) -> list[int]:
        taken = {i for pair in self.read.pairs for i in pair}
        return [
            i
            for i, end in enumerate(self.read.ends)
            if i not in taken and end.at is not None and not end.beyond
        ]

    def _name(self, end: int) -> str:
        return self.read.parts[self.read.ends[end].part].name

    def _claim(self) -> None:
        """Let each device without ports take the free ends that lie in its body."""
        bare = [p for p in self.read.parts if p.role is not Role.PIPE and not p.ends]
        free = self._free()
        if not bare or not free:
            return
        spots = np.array([self.read.ends[i].at for i in free])
        tree = cKDTree(spots)
        claims: dict[int, list[tuple[float, int]]] = defaultdict(list)
        for part in bare:
            for index, distance in _inside(part, tree, spots, self.tolerance):
                claims[free[index]].append((distance, part.index))
        for end, rows in sorted(claims.items()):
            if len({round(d, 6) for d, _ in rows}) < len(rows):
                self.draft.gap("Lies in the bodies of two elements without ports", self._name(end))
            part = self.read.parts[min(rows)[1]]
            self.read.ends.append(End(part.index, self.read.ends[end].at))
            part.ends.append(len(self.read.ends) - 1)
            self.read.pairs.append((end, part.ends[-1]))
            says = "Joined by where it stands: the element has no ports"
            self.draft.assume(says, part.name)

    def _meet(self) -> None:
        free = self._free()
        if len(free) < 2:
            return
        tree = cKDTree(np.array([self.read.ends[i].at for i in free]))
        beside = self._neighbours()
        for a, b in sorted(tree.query_pairs(self.tolerance)):
            one, two = free[a], free[b]
            first, second = self.read.ends[one].part, self.read.ends[two].part
            if first == second:
                continue
            if second in beside[first]:
                says = "Free ends that meet, of elements already joined: not joined once more"
                self.draft.gap(says, f"{self._name(one)} and {self._name(two)}")
                continue
            self.read.pairs.append((one, two))
            says = f"Ends not connected in the model, joined within {self.tolerance:g} m"
            self.draft.assume(says, self._name(one), self._name(two))

    def _neighbours(self) -> dict[int, set[int]]:
        """Give, for each part, those that it is joined with so far."""
        found: dict[int, set[int]] = defaultdict(set)
        for one, two in self.read.pairs:
            first, second = self.read.ends[one].part, self.read.ends[two].part
            found[first].add(second)
            found[second].add(first)
        return found

    def _tap(self) -> None:
        """Join ends that lie on the run of another pipe, as branches are often drawn."""
        free = self._free()
        pipes = [p for p in self.read.parts if p.role is Role.PIPE and len(p.ends) >= 2]
        lines = [centre_line(self.read, p) for p in pipes]
        if not free or not pipes:
            return
        flat = [shapely.LineString([p[:2] for p in line]) for line in lines]
        tree = shapely.STRtree(flat)
        beside = self._neighbours()
        for end in free:
            at = self.read.ends[end].at
            assert at is not None
            near = tree.query(shapely.Point(at[:2]), predicate="dwithin", distance=self.tolerance)
            for index in sorted(int(n) for n in near):
                pipe = pipes[index]
                own = self.read.ends[end].part
                # A port never joins what its own element already joins: it would make a ring.
                if pipe.index == own or pipe.index in beside[own]:
                    continue
                off, spot = nearest_on(lines[index], at)
                if off <= self.tolerance:
                    self.read.ends.append(End(pipe.index, spot))
                    pipe.ends.append(len(self.read.ends) - 1)
                    self.read.pairs.append((end, pipe.ends[-1]))
                    beside[own].add(pipe.index)
                    says = (
                        f"Ends within {self.tolerance:g} m of the run of another pipe: "
                        "read as a branch of it"
                    )
                    self.draft.assume(says, f"{self._name(end)} on {pipe.name}")
                    break

    def _near_misses(self) -> None:
        free = self._free()
        if len(free) < 2:
            return
        tree = cKDTree(np.array([self.read.ends[i].at for i in free]))
        for a, b in sorted(tree.query_pairs(_NEAR_MISS * self.tolerance)):
            if self.read.ends[free[a]].part != self.read.ends[free[b]].part:
                says = "Ends that nearly meet, and were not joined"
                self.draft.gap(says, f"{self._name(free[a])} and {self._name(free[b])}")


def _inside(
    part: Part, tree: cKDTree, spots: np.ndarray, tolerance: float
) -> list[tuple[int, float]]:
    """Give the free ends in a part's box, each with its distance from the middle (m)."""
    points = part.body.points or ((part.at,) if part.at is not None else ())
    if not points:
        return []
    cloud = np.array(points)
    low, high = cloud.min(axis=0) - tolerance, cloud.max(axis=0) + tolerance
    middle = (low + high) / 2
    reach = float(np.linalg.norm(high - low)) / 2
    found = []
    for index in tree.query_ball_point(middle, reach):
        spot = spots[index]
        if bool(np.all(spot >= low)) and bool(np.all(spot <= high)):
            found.append((int(index), float(np.linalg.norm(spot - middle))))
    return found


def centre_line(read: Read, part: Part) -> list[Vector]:
    """Give a pipe's centre line (m), from one of its two outermost ends to the other."""
    spots = [at for i in part.ends if (at := read.ends[i].at) is not None]
    first, last = spots[0], spots[-1]
    if len(spots) > 2:
        rows = [
            (apart(a, b), n, m) for n, a in enumerate(spots) for m, b in enumerate(spots) if n < m
        ]
        _, n, m = max(rows)
        first, last = spots[n], spots[m]
    inner = list(part.body.path[1:-1])
    if inner and apart(part.body.path[0], first) > apart(part.body.path[-1], first):
        inner.reverse()
    return [first, *inner, last]


def nearest_on(line: list[Vector], spot: Vector) -> tuple[float, Vector]:
    """Give how far a spot lies from a line (m), and the nearest point on it."""
    best = (math.inf, line[0])
    for a, b in pairwise(line):
        share = _share(a, b, spot)
        point = tuple(p + share * (q - p) for p, q in zip(a, b, strict=True))
        near: Vector = (point[0], point[1], point[2])
        best = min(best, (apart(near, spot), near))
    return best


def station_on(line: list[Vector], spot: Vector) -> float:
    """Give how far along a line the point nearest to a spot lies (m)."""
    best, along = (math.inf, 0.0), 0.0
    for a, b in pairwise(line):
        share = _share(a, b, spot)
        point = [p + share * (q - p) for p, q in zip(a, b, strict=True)]
        best = min(best, (math.dist(point, spot), along + share * apart(a, b)))
        along += apart(a, b)
    return best[1]


def _share(a: Vector, b: Vector, spot: Vector) -> float:
    way = [q - p for p, q in zip(a, b, strict=True)]
    size = sum(w * w for w in way)
    if size == 0.0:
        return 0.0
    return min(1.0, max(0.0, sum(w * (s - p) for w, s, p in zip(way, spot, a, strict=True)) / size))
