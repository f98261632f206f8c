"""Where plugs stand together: stations on given intervals that keep the spacing between plugs.

The distance between two points on two pieces is the least of four sums (over either end of each
piece), so 'at least r apart' is four linear inequalities, which must all hold. On one piece the
one lies before the other: each order is tried. So the places of a set of plugs are the solutions
of a small linear programme, exact but for rounding.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, permutations, product

import numpy as np
from scipy.optimize import linprog

from layoutcheck.network import Field, Trust
from layoutcheck.network.stretches import TOLERANCE, Interval
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.feet_per_inch import PER_INCH

_SPACING = "plug-spacing"

# Orders of plugs along the pieces that are gone through for one set of places: six on one piece.
MOST_PROGRAMMES = 720


@dataclass(frozen=True)
class Seat:
    """A closed interval (m) on a piece for one plug, and where in it the plug would best stand.

    jacket: m. inches: nominal size. wish: offset (m) that is wanted, or None for the middle.
    """

    piece: int
    interval: Interval
    reach: float
    inches: float
    wish: float | None = None

    @property
    def best(self) -> float:
        """Give the offset (m) that is wanted, drawn into the interval."""
        low, high = self.interval
        return (low + high) / 2 if self.wish is None else min(max(self.wish, low), high)


def spacing(case: Case, one: Seat, two: Seat) -> float:
    """Give how far apart (m, centre to centre) two plugs must be."""
    per_inch = case.pack.number(_SPACING, PER_INCH)
    return max(one.inches, two.inches) * per_inch + one.reach + two.reach


def field_from(case: Case, node: int) -> Field:
    """Give the distances (m) from a node while freezing, in the worst reading, made once."""
    world = case.worlds.freezing(Trust.PROVEN)
    return case.worlds.once(f"plan from {node}", lambda: world.metric.from_nodes(np.array([node])))


Row = tuple[dict[int, float], float]  # coefficients by plug, and the least that their sum may be


def _apart(case: Case, seats: Sequence[Seat], i: int, j: int) -> list[Row]:
    """Give the inequalities that keep two plugs apart, save for order on one piece."""
    one, two = seats[i], seats[j]
    need = spacing(case, one, two)
    first, second = case.network.pieces[one.piece], case.network.pieces[two.piece]
    rows: list[Row] = []
    for node, sign, base in ((first.u, 1.0, 0.0), (first.v, -1.0, first.length)):
        distance = field_from(case, node).distance
        for other, turn, start in ((second.u, 1.0, 0.0), (second.v, -1.0, second.length)):
            way = float(distance[other])
            if math.isfinite(way):
                rows.append(({i: sign, j: turn}, need - base - start - way))
    if first is second:  # ways round through one end and back do not shorten the direct one
        rows = [r for r in rows if r[0][i] != r[0][j]]
    return rows


def _orders(case: Case, seats: Sequence[Seat]) -> Iterator[list[Row]]:
    """Give the inequalities for each order of the plugs that share a piece."""
    pairs = combinations(range(len(seats)), 2)
    fixed = [row for i, j in pairs for row in _apart(case, seats, i, j)]
    for lines in product(*(permutations(together) for together in _together(seats))):
        ordered: list[Row] = [
            ({i: -1.0, j: 1.0}, spacing(case, seats[i], seats[j]))
            for line in lines
            for i, j in combinations(line, 2)
        ]
        yield fixed + ordered


def _together(seats: Sequence[Seat]) -> list[list[int]]:
    """Give the plugs that share a piece, piece by piece."""
    by_piece: dict[int, list[int]] = defaultdict(list)
    for index, one in enumerate(seats):
        by_piece[one.piece].append(index)
    return [by_piece[piece] for piece in sorted(by_piece)]


def programmes(seats: Sequence[Seat]) -> int:
    """Count the linear programmes that these seats take: one for each order along the pieces."""
    return math.prod(math.factorial(len(together)) for together in _together(seats))


def seat(
    case: Case, seats: Sequence[Seat], costs: Sequence[float] | None = None
) -> tuple[float, ...] | None:
    """Find offsets (m) for all plugs at once; None if no offsets keep them apart.

    costs: what a metre of offset costs each plug (the slope of its travel); if None, the wished
    offsets are taken where they keep the spacing, else those with the most room to all limits.
    More plugs on one piece than can be put in every order are not seated at all.
    """
    if programmes(seats) > MOST_PROGRAMMES:
        return None
    if costs is None:
        wished = tuple(s.best for s in seats)
        if any(_kept(rows, wished) for rows in _orders(case, seats)):
            return wished
    found: list[tuple[float, tuple[float, ...]]] = []
    for rows in _orders(case, seats):
        solved = _solve(seats, rows, costs)
        if solved is not None:
            found.append(solved)
    return min(found)[1] if found else None


def _kept(rows: Sequence[Row], offsets: Sequence[float]) -> bool:
    return all(
        sum(c * offsets[k] for k, c in terms.items()) >= least - TOLERANCE for terms, least in rows
    )


def _solve(
    seats: Sequence[Seat], rows: Sequence[Row], costs: Sequence[float] | None
) -> tuple[float, tuple[float, ...]] | None:
    """Solve one linear programme: least cost, or (costs None) the most room to every limit."""
    count = len(seats)
    roomy = costs is None
    matrix = np.zeros((len(rows) + (2 * count if costs is None else 0), count + 1))
    bound = np.zeros(len(matrix))
    for at, (terms, least) in enumerate(rows):
        for plug, factor in terms.items():
            matrix[at, plug] -= factor
        matrix[at, count] = float(roomy)
        bound[at] = -least + TOLERANCE / 2
    for plug in range(count if roomy else 0):
        low, high = seats[plug].interval
        at = len(rows) + 2 * plug
        matrix[at, plug], matrix[at, count], bound[at] = -1.0, 1.0, -low + TOLERANCE
        matrix[at + 1, plug], matrix[at + 1, count], bound[at + 1] = 1.0, 1.0, high + TOLERANCE
    goal = np.append(np.zeros(count) if costs is None else np.asarray(costs), -float(roomy))
    limits = [*(s.interval for s in seats), (0.0, None)]
    result = linprog(goal, A_ub=matrix, b_ub=bound, bounds=limits, method="highs")
    if result.status != 0 or result.x is None or result.fun is None:
        return None
    offsets = tuple(
        float(min(max(x, s.interval[0]), s.interval[1]))
        for x, s in zip(result.x[:count], seats, strict=True)
    )
    return float(result.fun), offsets


def seat_of(case: Case, plug: PlacedPlug, interval: Interval, wish: float | None) -> Seat:
    """Give the seat of a plug on the piece it stands on."""
    return Seat(plug.spot.piece, interval, case.reach(plug), plug.inches, wish)
