"""Where plugs stand together: stations on given intervals that keep the spacing between plugs.

The distance between two points on two pieces is the least of four sums (over either end of each
piece), so 'at least r apart' is four linear inequalities, which must all hold. On one piece the
one lies before the other: each order is tried. So the places of a set of plugs are the solutions
of a small linear programme, exact but for rounding.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, permutations, product

import networkx as nx
import numpy as np

from layoutcheck.network import Field, Trust
from layoutcheck.network.stretches import TOLERANCE, Interval
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.declared import Role
from layoutcheck.rules.feet_per_inch import PER_INCH
from layoutcheck.rules.registry import rule_of

_SLACK = TOLERANCE / 2

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
    per_inch = case.pack.number(rule_of(Role.KEEPS_APART).name, PER_INCH)
    return max(one.inches, two.inches) * per_inch + one.reach + two.reach


def field_from(case: Case, node: int) -> Field:
    """Give the distances (m) from a node while freezing, in the worst reading, made once."""
    world = case.worlds.freezing(Trust.PROVEN)
    return case.worlds.once(f"plan from {node}", lambda: world.metric.from_nodes(np.array([node])))


# By which ends of two pieces two offsets are apart: (sign of the one, of the other, least sum).
Way = tuple[float, float, float]


class Links:
    """What every two seats of a case ask of each other, worked out once for each two."""

    def __init__(self, case: Case) -> None:
        """Begin with nothing worked out."""
        self.case = case
        self._ways: dict[tuple[Seat, Seat], tuple[Way, ...]] = {}
        self._binding: dict[tuple[Seat, Seat], tuple[Way, ...]] = {}

    def ways(self, one: Seat, two: Seat) -> tuple[Way, ...]:
        """Give what keeps two plugs apart, save for their order on one piece."""
        if (one, two) not in self._ways:
            self._ways[one, two] = _ways_apart(self.case, one, two)
        return self._ways[one, two]

    def binding(self, one: Seat, two: Seat) -> tuple[Way, ...]:
        """Give those of them that not every two offsets on the seats keep."""
        if (one, two) not in self._binding:
            ways = self.ways(one, two)
            self._binding[one, two] = tuple(w for w in ways if not _always_kept(w, one, two))
        return self._binding[one, two]

    def groups(self, seats: Sequence[Seat]) -> list[list[int]]:
        """Sort the plugs into groups that ask nothing of each other, each in order."""
        graph: nx.Graph[int] = nx.empty_graph(len(seats))
        for (i, one), (j, two) in combinations(enumerate(seats), 2):
            if one.piece == two.piece or self.binding(one, two):
                graph.add_edge(i, j)
        return sorted(sorted(group) for group in nx.connected_components(graph))


def _ways_apart(case: Case, one: Seat, two: Seat) -> tuple[Way, ...]:
    need = spacing(case, one, two)
    first, second = case.network.pieces[one.piece], case.network.pieces[two.piece]
    found: list[Way] = []
    for node, sign, base in ((first.u, 1.0, 0.0), (first.v, -1.0, first.length)):
        distance = field_from(case, node).distance
        for other, turn, start in ((second.u, 1.0, 0.0), (second.v, -1.0, second.length)):
            way = float(distance[other])
            if math.isfinite(way):
                found.append((sign, turn, need - base - start - way))
    if one.piece == two.piece:  # ways round through one end and back do not shorten the direct one
        found = [w for w in found if w[0] != w[1]]
    return tuple(found)


def _always_kept(way: Way, one: Seat, two: Seat) -> bool:
    sign, turn, least = way
    lowest = min(sign * x for x in one.interval) + min(turn * x for x in two.interval)
    return lowest >= least - _SLACK


Row = tuple[dict[int, float], float]  # coefficients by plug, and the least that their sum may be


def _rows(seats: Sequence[Seat], ways: Callable[[Seat, Seat], Sequence[Way]]) -> list[Row]:
    """Write what is asked of every two seats as inequalities."""
    return [
        ({i: sign, j: turn}, least)
        for (i, one), (j, two) in combinations(enumerate(seats), 2)
        for sign, turn, least in ways(one, two)
    ]


def _orders(case: Case, seats: Sequence[Seat]) -> Iterator[list[Row]]:
    """Give the inequalities of each order of the plugs that share a piece."""
    for lines in product(*(permutations(together) for together in _together(seats))):
        yield [
            ({i: -1.0, j: 1.0}, spacing(case, seats[i], seats[j]))
            for line in lines
            for i, j in combinations(line, 2)
        ]


def _together(seats: Sequence[Seat]) -> list[list[int]]:
    """Give the plugs that share a piece, piece by piece."""
    by_piece: dict[int, list[int]] = defaultdict(list)
    for index, one in enumerate(seats):
        by_piece[one.piece].append(index)
    return [by_piece[piece] for piece in sorted(by_piece)]


def programmes(seats: Sequence[Seat]) -> int:
    """Count the linear programmes that these seats take: one for each order along the pieces."""
    return math.prod(math.factorial(len(together)) for together in _together(seats))


def seat(case: Case, seats: Sequence[Seat]) -> tuple[float, ...] | None:
    """Find offsets (m) for all plugs at once; None if no offsets keep them apart.

    The wished offsets are taken where they keep the spacing, else those with the most room to all
    limits. More plugs on one piece than can be put in every order are not seated at all.
    """
    if programmes(seats) > MOST_PROGRAMMES:
        return None
    wished = tuple(s.best for s in seats)
    fixed = _rows(seats, Links(case).ways)
    orders = list(_orders(case, seats))
    if any(_kept(fixed + order, wished) for order in orders):
        return wished
    return _best_of(_solve_roomy(seats, fixed + order) for order in orders)


def seat_cheaply(
    links: Links, seats: Sequence[Seat], costs: Sequence[float]
) -> tuple[float, ...] | None:
    """Find the cheapest offsets (m) for all plugs at once; None if no offsets keep them apart.

    costs: what a metre of offset costs each plug (the slope of its travel). Too many on one piece
    are not seated, as in `seat`.
    """
    if programmes(seats) > MOST_PROGRAMMES:
        return None
    # What any offsets keep is left out: the programmes are small, and most plugs need none.
    fixed = _rows(seats, links.binding)
    orders = _orders(links.case, seats)
    return _best_of(_solve_cheap(seats, fixed + order, costs) for order in orders)


_Solved = tuple[float, tuple[float, ...]]  # what it costs, and the offsets (m)


def _best_of(solved: Iterable[_Solved | None]) -> tuple[float, ...] | None:
    found = [one for one in solved if one is not None]
    return min(found)[1] if found else None


def _kept(rows: Sequence[Row], offsets: Sequence[float]) -> bool:
    return all(
        sum(c * offsets[k] for k, c in terms.items()) >= least - TOLERANCE for terms, least in rows
    )


def _solve_cheap(
    seats: Sequence[Seat], rows: Sequence[Row], costs: Sequence[float]
) -> _Solved | None:
    """Find the offsets of least cost."""
    if not rows:
        ends = (s.interval[cost < 0.0] for s, cost in zip(seats, costs, strict=True))
        offsets = tuple(ends)
        return math.fsum(c * x for c, x in zip(costs, offsets, strict=True)), offsets
    matrix = np.zeros((len(rows), len(seats)))
    bound = np.zeros(len(rows))
    for at, (terms, least) in enumerate(rows):
        for plug, factor in terms.items():
            matrix[at, plug] -= factor
        bound[at] = -least + _SLACK
    return _solve(seats, matrix, bound, costs)


def _solve_roomy(seats: Sequence[Seat], rows: Sequence[Row]) -> _Solved | None:
    """Find the offsets with the most room to every limit: one unknown more, which is that room."""
    count = len(seats)
    matrix = np.zeros((len(rows) + 2 * count, count + 1))
    bound = np.zeros(len(matrix))
    for at, (terms, least) in enumerate(rows):
        for plug, factor in terms.items():
            matrix[at, plug] -= factor
        matrix[at, count] = 1.0
        bound[at] = -least + _SLACK
    for plug, one in enumerate(seats):
        low, high = one.interval
        at = len(rows) + 2 * plug
        matrix[at, plug], matrix[at, count], bound[at] = -1.0, 1.0, -low + TOLERANCE
        matrix[at + 1, plug], matrix[at + 1, count], bound[at + 1] = 1.0, 1.0, high + TOLERANCE
    return _solve(seats, matrix, bound, [*(0.0 for _ in seats), -1.0])


def _solve(
    seats: Sequence[Seat], matrix: np.ndarray, bound: np.ndarray, goal: Sequence[float]
) -> _Solved | None:
    """Solve one linear programme in the offsets, and in what else there is from nought up."""
    from scipy.optimize import linprog  # noqa: PLC0415 - slow to load, and most plugs need none

    more = [(0.0, None)] * (len(goal) - len(seats))
    limits = [*(s.interval for s in seats), *more]
    result = linprog(goal, A_ub=matrix, b_ub=bound, bounds=limits, method="highs")
    if result.status != 0 or result.x is None or result.fun is None:
        return None
    offsets = tuple(
        float(min(max(x, s.interval[0]), s.interval[1]))
        for x, s in zip(result.x[: len(seats)], seats, strict=True)
    )
    return float(result.fun), offsets


def seat_of(case: Case, plug: PlacedPlug, interval: Interval, wish: float | None) -> Seat:
    """Give the seat of a plug on the piece it stands on."""
    return Seat(plug.spot.piece, interval, case.reach(plug), plug.inches, wish)
