"""Places for junctions that the document gives no position: a diagram drawn by the program.

Height on the drawing follows elevation; runs are spread sideways. The search is greedy on a grid:
the tallest and widest pipes are laid first, and every further junction takes the place nearest to
its neighbours at which its pipes cross and cover the fewest others. Rows of one elevation are
split into sub-rows where runs would cover each other. Nothing here depends on the order in which
the document lists its elements.
"""

from __future__ import annotations

import heapq
import itertools
import math
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import networkx as nx
import numpy as np
import shapely
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from layoutcheck.document.models import Layout, Pipe

Cell = tuple[int, int]
Route = tuple[Cell, ...]

# Elevations nearer than this (m) are drawn on one level.
SAME_LEVEL = 0.1

# Sub-rows kept free in each level. Rows that stay empty are left out at the end.
_ROWS = 16
_MIDDLE = _ROWS // 2

# Costs, in grid steps: what a reader would rather follow than a longer line.
_CROSSING, _COVERING, _CORNER = 7.0, 80.0, 1.5
_REACH = 14

# How many places are weighed for one junction before the best so far is taken.
_TRIES = 90

# How dear it is to stand in a column's room, in the ways to begin that are tried.
_CROWDINGS = (5.0, 1.5)

# A site on no more levels than this may be drawn without heights.
_FEW_LEVELS = 3
_LARGE = 160
_ROUNDS = 120
_TOUCH = 1e-6


@dataclass(frozen=True)
class Arrangement:
    """A drawn place for each junction and a drawn path for each pipe; y grows upwards.

    by_height: height on the drawing follows elevation.
    """

    points: Mapping[str, tuple[float, float]]
    paths: Mapping[str, tuple[tuple[float, float], ...]]
    by_height: bool = True


@dataclass
class _Grid:
    """What is laid already: junctions by cell, and straight stretches by column and row."""

    cells: dict[Cell, str] = field(default_factory=dict)
    columns: dict[int, list[tuple[int, int]]] = field(default_factory=lambda: defaultdict(list))
    rows: dict[int, list[tuple[int, int]]] = field(default_factory=lambda: defaultdict(list))
    in_column: dict[int, list[Cell]] = field(default_factory=lambda: defaultdict(list))
    in_row: dict[int, list[Cell]] = field(default_factory=lambda: defaultdict(list))

    def lay(self, route: Route) -> None:
        """Take up the cells of a route."""
        for (x, y), (p, q) in _steps(route):
            if x == p:
                self.columns[x].append((min(y, q), max(y, q)))
            else:
                self.rows[y].append((min(x, p), max(x, p)))

    def cost(self, route: Route) -> float:
        """Weigh what a route would cross, cover and turn."""
        total = _CORNER * (len(route) - 2)
        ends = {route[0], route[-1]}
        for (x, y), (p, q) in _steps(route):
            upright = x == p
            fixed, low, high = (x, *sorted((y, q))) if upright else (y, *sorted((x, p)))
            along = self.columns if upright else self.rows
            across = self.rows if upright else self.columns
            total += _COVERING * sum(a < high and low < b for a, b in along.get(fixed, ()))
            total += _CROSSING * _crossed(across, fixed, low, high)
            total += _COVERING * self._trodden(ends, fixed, (low, high), upright=upright)
        return total

    def stand(self, junction: str, cell: Cell) -> None:
        """Take up a cell for a junction."""
        self.cells[cell] = junction
        self.in_column[cell[0]].append(cell)
        self.in_row[cell[1]].append(cell)

    def _trodden(self, ends: set[Cell], fixed: int, span: tuple[int, int], *, upright: bool) -> int:
        """Count junctions of others on a straight stretch."""
        line = (self.in_column if upright else self.in_row).get(fixed, ())
        along = 1 if upright else 0
        return sum(span[0] <= c[along] <= span[1] and c not in ends for c in line)


def _steps(route: Route) -> Iterator[tuple[Cell, Cell]]:
    yield from ((a, b) for a, b in itertools.pairwise(route) if a != b)


def _crossed(lines: Mapping[int, list[tuple[int, int]]], fixed: int, low: int, high: int) -> int:
    """Count the stretches across a line that touch it between its ends."""
    if high - low < len(lines):
        between = (lines[at] for at in range(low + 1, high) if at in lines)
    else:
        between = (spans for at, spans in lines.items() if low < at < high)
    return sum(a <= fixed <= b for spans in between for a, b in spans)


def arrange(layout: Layout) -> Arrangement:
    """Lay a layout out by itself. Pure, and the same for any order of elements.

    A few ways to begin are tried, and the one that crosses least is kept. A site on two or three
    levels has hardly any heights to follow; there, distances along the pipe may decide.
    """
    levels = _levels(layout)
    tries = [(first, crowding) for first in range(3) for crowding in _CROWDINGS]
    options: list[tuple[int, Arrangement]] = []
    if len(set(levels.values())) <= _FEW_LEVELS:
        loose = spread_by_distance(layout)
        options.append((count_tangles(layout, loose), loose))
        tries = tries[:1]
    elif len(layout.pipes) > _LARGE:
        tries = tries[:2]
    meets: dict[str, list[Pipe]] = {j.id: [] for j in layout.junctions}
    for pipe in sorted(layout.pipes, key=lambda p: p.id):
        meets[pipe.from_].append(pipe)
        meets[pipe.to].append(pipe)
    columns, roots = _columns(meets, levels), _roots(layout, meets, levels)
    for first, crowding in tries:
        plan = _Plan(meets, levels, columns, crowding)
        for root in [*roots[first:], *roots[:first]]:
            if root not in plan.at:
                _spread(root, plan)
        found = _compressed(plan.at, plan.routes)
        options.append((count_tangles(layout, found), found))
        if options[-1][0] == 0:
            break
    # Where two are equally good, heights win: the last one follows them.
    return min(reversed(options), key=lambda option: option[0])[1]


def count_tangles(layout: Layout, arrangement: Arrangement) -> int:
    """Count the pairs of pipes that cross, or cover each other, away from a shared junction."""
    pipes = sorted(layout.pipes, key=lambda p: p.id)
    lines = [shapely.LineString(arrangement.paths[p.id]) for p in pipes]
    found = 0
    for i, k in shapely.STRtree(lines).query(lines, predicate="intersects").T:
        if i >= k:
            continue
        shared = {pipes[i].from_, pipes[i].to} & {pipes[k].from_, pipes[k].to}
        ends = [shapely.Point(arrangement.points[j]) for j in shared]
        for part in shapely.get_parts(shapely.intersection(lines[i], lines[k])):
            if part.length > _TOUCH or all(part.distance(e) > _TOUCH for e in ends):
                found += 1
                break
    return found


def spread_by_distance(layout: Layout) -> Arrangement:
    """Place junctions so that drawn distances are as the number of pipes between them.

    Stress majorisation (Gansner, Koren, North: Graph drawing by stress majorization, 2004), begun
    from classical scaling, so that nothing in it is random.
    """
    names = sorted(j.id for j in layout.junctions)
    index = {name: i for i, name in enumerate(names)}
    ends = np.array([(index[p.from_], index[p.to]) for p in layout.pipes])
    size = len(names)
    links = csr_array((np.ones(len(ends)), (ends[:, 0], ends[:, 1])), shape=(size, size))
    apart = dijkstra(links, directed=False, unweighted=True)
    apart[~np.isfinite(apart)] = 1.3 * np.max(apart[np.isfinite(apart)]) + 2.0
    points = _majorised(apart, _scaled(apart))
    at = {
        n: (float(round(x, 6)), float(round(y, 6))) for n, (x, y) in zip(names, points, strict=True)
    }
    paths: dict[str, tuple[tuple[float, float], ...]] = {}
    for pipe in layout.pipes:
        start, end = at[pipe.from_], at[pipe.to]
        if pipe.from_ == pipe.to:
            x, y = start
            paths[pipe.id] = (start, (x + 0.4, y), (x + 0.4, y + 0.4), (x, y + 0.4), end)
        else:
            paths[pipe.id] = (start, end)
    return Arrangement(at, paths, by_height=False)


def _scaled(apart: np.ndarray) -> np.ndarray:
    """Begin from classical scaling: the two directions in which distances vary most."""
    size = len(apart)
    centre = np.eye(size) - 1.0 / size
    values, vectors = np.linalg.eigh(-0.5 * centre @ (apart**2) @ centre)
    top = vectors[:, -2:] * np.sqrt(np.maximum(values[-2:], 1e-9))
    # Twins at the ends of like branches would begin, and stay, on one spot.
    angle = np.arange(size) * 2.399963
    signs = np.where(top[np.argmax(np.abs(top), axis=0), [0, 1]] < 0, -1.0, 1.0)
    begun: np.ndarray = top * signs + 0.05 * np.column_stack((np.cos(angle), np.sin(angle)))
    return begun


def _majorised(apart: np.ndarray, points: np.ndarray) -> np.ndarray:
    size = len(apart)
    weights = np.zeros_like(apart)
    others = ~np.eye(size, dtype=bool)
    weights[others] = 1.0 / np.maximum(apart[others], 1.0) ** 2
    laplacian = np.diag(weights.sum(axis=1)) - weights
    inverse = np.linalg.pinv(laplacian)
    for _ in range(_ROUNDS):
        steps = points[:, None, :] - points[None, :, :]
        drawn = np.maximum(np.hypot(steps[..., 0], steps[..., 1]), 1e-9)
        pull = weights * apart / drawn
        target = np.diag(pull.sum(axis=1)) - pull
        points = inverse @ (target @ points)
    return points


@dataclass(frozen=True)
class _Column:
    """Junctions that upright pipes join: its number, and the columns of room it wants beside it."""

    number: int
    room: int


@dataclass
class _Plan:
    """An arrangement in the making."""

    meets: Mapping[str, list[Pipe]]
    levels: Mapping[str, int]
    columns: Mapping[str, _Column]
    crowding_cost: float
    grid: _Grid = field(default_factory=_Grid)
    at: dict[str, Cell] = field(default_factory=dict)
    routes: dict[str, Route] = field(default_factory=dict)
    stands: dict[int, tuple[int, int]] = field(default_factory=dict)

    def place(self, junction: str, cell: Cell) -> None:
        """Stand a junction in a cell."""
        self.at[junction] = cell
        self.grid.stand(junction, cell)
        column = self.columns.get(junction)
        if column is not None:
            self.stands.setdefault(column.number, (cell[0], column.room))

    def crowding(self, junction: str, x: int) -> float:
        """Weigh how much of the room of columns a new column would take."""
        column = self.columns.get(junction)
        if column is None or column.number in self.stands:
            return 0.0
        near = (room + column.room - abs(x - at) for at, room in self.stands.values())
        return self.crowding_cost * max(0, *near, 0)


def _columns(meets: Mapping[str, list[Pipe]], levels: Mapping[str, int]) -> dict[str, _Column]:
    """Find the columns, and how many junctions hang beside each on its fullest level."""
    upright: nx.Graph[str] = nx.Graph()
    flat: nx.Graph[str] = nx.Graph()
    for junction in sorted(meets):
        for pipe in meets[junction]:
            graph = flat if levels[pipe.from_] == levels[pipe.to] else upright
            graph.add_edge(pipe.from_, pipe.to)
    flat.remove_nodes_from([j for j in upright if j in flat])
    beside: dict[str, int] = {}
    for part in nx.connected_components(flat):
        beside.update(dict.fromkeys(part, len(part)))
    found: dict[str, _Column] = {}
    columns = sorted(sorted(part) for part in nx.connected_components(upright))
    for number, column in enumerate(columns):
        hanging: dict[int, int] = defaultdict(int)
        for junction in column:
            for pipe in meets[junction]:
                other = pipe.to if pipe.from_ == junction else pipe.from_
                hanging[levels[other]] += min(beside.get(other, 0), 6)
        room = 1 + math.ceil(max(hanging.values(), default=0) / 4)
        found.update(dict.fromkeys(column, _Column(number, min(room, 4))))
    return found


def _levels(layout: Layout) -> dict[str, int]:
    """Number the levels from the lowest up; an unknown height is that of the nearest neighbour."""
    known = {j.id: j.elevation for j in layout.junctions if j.elevation is not None}
    meets: dict[str, set[str]] = defaultdict(set)
    for pipe in layout.pipes:
        meets[pipe.from_].add(pipe.to)
        meets[pipe.to].add(pipe.from_)
    front = sorted(known)
    while front:
        found = sorted({n for j in front for n in meets[j] if n not in known})
        for junction in found:
            known[junction] = known[min(n for n in meets[junction] if n in known)]
        front = found
    numbers: dict[str, int] = {}
    level, last = 0, None
    for junction in sorted(known, key=lambda j: (known[j], j)):
        if last is not None and known[junction] - last > SAME_LEVEL:
            level += 1
            last = known[junction]
        last = known[junction] if last is None else last
        numbers[junction] = level
    return {j.id: numbers.get(j.id, 0) for j in layout.junctions}


def _roots(layout: Layout, meets: Mapping[str, list[Pipe]], levels: Mapping[str, int]) -> list[str]:
    """Order junctions by how well they start a drawing: on the widest upright pipes first."""

    def weight(junction: str) -> tuple[float, int, str]:
        upright = [p.size.inches for p in meets[junction] if levels[p.from_] != levels[p.to]]
        return -max(upright, default=0.0), -len(meets[junction]), junction

    return sorted((j.id for j in layout.junctions), key=weight)


def _spread(root: str, plan: _Plan) -> None:
    """Lay out the part of the network that hangs together with a root."""
    start = max((x for x, _ in plan.grid.cells), default=-3) + 3
    queue: list[tuple[bool, float, int, str]] = []

    def place(junction: str, cell: Cell) -> None:
        plan.place(junction, cell)
        for pipe in plan.meets[junction]:
            other = pipe.to if pipe.from_ == junction else pipe.from_
            flat = plan.levels[pipe.from_] == plan.levels[pipe.to]
            turn = len(plan.at) * 1000 + len(queue)
            heapq.heappush(queue, (flat, -pipe.size.inches, turn, other))

    place(root, (start, plan.levels[root] * _ROWS + _MIDDLE))
    while queue:
        *_, junction = heapq.heappop(queue)
        if junction in plan.at:
            continue
        cell, chosen = _best(junction, plan)
        for pipe_id, route in chosen.items():
            plan.grid.lay(route)
            plan.routes[pipe_id] = route
        place(junction, cell)
    pipes = {p.id: p for j in plan.at for p in plan.meets[j]}
    for pipe_id in sorted(pipes.keys() - plan.routes.keys()):
        pipe = pipes[pipe_id]
        plan.routes[pipe_id] = _route(plan.grid, plan.at[pipe.from_], plan.at[pipe.to])[1]
        plan.grid.lay(plan.routes[pipe_id])


def _best(junction: str, plan: _Plan) -> tuple[Cell, dict[str, Route]]:
    """Find the cell at which a junction's pipes are shortest and cross least."""
    first: dict[Cell, Pipe] = {}
    for pipe in plan.meets[junction]:
        other = pipe.to if pipe.from_ == junction else pipe.from_
        # A second pipe between the same two junctions waits until the first one is laid.
        if other != junction and other in plan.at:
            first.setdefault(plan.at[other], pipe)
    ties = [(pipe, cell) for cell, pipe in first.items()]
    cells = _free_cells(junction, [cell for _, cell in ties], plan)
    best_cost, best_cell, best_routes = math.inf, cells[0][1], dict[str, Route]()
    for base, cell in cells[:_TRIES]:
        if base >= best_cost:
            break
        total, routes = base, dict[str, Route]()
        for pipe, start in ties:
            cost, route = _route(plan.grid, start, cell)
            total += cost
            routes[pipe.id] = route if pipe.to == junction else route[::-1]
            if total >= best_cost:
                break
        if total < best_cost:
            best_cost, best_cell, best_routes = total, cell, routes
    return best_cell, best_routes


def _free_cells(junction: str, others: list[Cell], plan: _Plan) -> list[tuple[float, Cell]]:
    """List the free cells of a junction's level near its neighbours, the best first."""
    base = plan.levels[junction] * _ROWS
    cells = []
    for x in sorted({o[0] + d for o in others for d in range(-_REACH, _REACH + 1)}):
        crowding = plan.crowding(junction, x)
        for sub in range(_ROWS):
            cell = (x, base + sub)
            if cell not in plan.grid.cells:
                cells.append((crowding + sum(_apart(cell, o) for o in others), cell))
    return sorted(cells)


def _apart(cell: Cell, other: Cell) -> float:
    """Weigh the distance of two cells: sideways in steps, upwards in levels and sub-rows."""
    levels = abs(cell[1] // _ROWS - other[1] // _ROWS)
    subs = abs(cell[1] % _ROWS - other[1] % _ROWS)
    return abs(cell[0] - other[0]) + 0.2 * levels + 1.2 * subs


def _route(grid: _Grid, start: Cell, end: Cell) -> tuple[float, Route]:
    """Find the cheapest of a few plain routes: straight, one corner, or a detour of two."""
    (x, y), (p, q) = start, end
    if x == p and y == q:
        return 0.0, (start, (x + 1, y), (x + 1, y + 1), (x, y + 1), end)
    options: list[Route] = []
    if x == p or y == q:
        options.append((start, end))
    else:
        options += [(start, (p, y), end), (start, (x, q), end)]
    best = min((grid.cost(r), r) for r in options)
    if best[0] < _CROSSING:
        return best
    for side in (1, -1, 2, -2):
        options.append((start, (x + side, y), (x + side, q), end))
        options.append((start, (p + side, y), (p + side, q), end))
        options.append((start, (x, y + side), (p, y + side), end))
    return min((grid.cost(r) + 0.5 * (len(r) - 2), r) for r in options)


def _compressed(at: Mapping[str, Cell], routes: Mapping[str, Route]) -> Arrangement:
    """Leave out columns and rows in which nothing stands."""
    cells = [*at.values(), *(c for r in routes.values() for c in r)]
    xs = {x: float(i) for i, x in enumerate(sorted({x for x, _ in cells}))}
    ys = {y: float(i) for i, y in enumerate(sorted({y for _, y in cells}))}
    return Arrangement(
        {j: (xs[x], ys[y]) for j, (x, y) in at.items()},
        {p: tuple((xs[x], ys[y]) for x, y in _tidy(r)) for p, r in routes.items()},
    )


def _tidy(route: Route) -> Route:
    """Drop corners that repeat a point."""
    kept = [route[0]]
    for cell in route[1:]:
        if cell != kept[-1]:
            kept.append(cell)
    return tuple(kept) if len(kept) > 1 else (route[0], route[-1])
