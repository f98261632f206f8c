"""Places for junctions that the document gives no position: a diagram drawn by the program.

Height on the drawing follows elevation; runs are spread sideways. The search is greedy on a grid:
the tallest and widest pipes are laid first, and every further junction takes the place nearest to
its neighbours at which its pipes cross and cover the fewest others. Rows of one elevation are
split into sub-rows where runs would cover each other. Nothing here depends on the order in which
the document lists its elements.
"""

from __future__ import annotations

import heapq
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from layoutcheck.document.models import Layout, Pipe

Cell = tuple[int, int]
Route = tuple[Cell, ...]

# Elevations nearer than this (m) are drawn on one level.
SAME_LEVEL = 0.1

# Sub-rows kept free in each level. Rows that stay empty are left out at the end.
_ROWS = 16

# Costs, in grid steps: what a reader would rather follow than a longer line.
_CROSSING, _COVERING, _CORNER = 7.0, 80.0, 1.5
_REACH = 14


@dataclass(frozen=True)
class Arrangement:
    """A drawn place for each junction and a drawn path for each pipe; y grows upwards."""

    points: Mapping[str, tuple[float, float]]
    paths: Mapping[str, tuple[tuple[float, float], ...]]


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
    yield from ((a, b) for a, b in zip(route, route[1:], strict=False) if a != b)


def _crossed(lines: Mapping[int, list[tuple[int, int]]], fixed: int, low: int, high: int) -> int:
    """Count the stretches across a line that touch it between its ends."""
    if high - low < len(lines):
        between = (lines[at] for at in range(low + 1, high) if at in lines)
    else:
        between = (spans for at, spans in lines.items() if low < at < high)
    return sum(a <= fixed <= b for spans in between for a, b in spans)


def arrange(layout: Layout) -> Arrangement:
    """Lay a layout out on a grid of its own. Pure, and the same for any order of elements."""
    levels = _levels(layout)
    meets: dict[str, list[Pipe]] = defaultdict(list)
    for pipe in sorted(layout.pipes, key=lambda p: p.id):
        meets[pipe.from_].append(pipe)
        meets[pipe.to].append(pipe)
    grid, at, routes = _Grid(), dict[str, Cell](), dict[str, Route]()
    for root in _roots(layout, meets, levels):
        if root not in at:
            _spread(root, meets, levels, grid, at, routes)
    return _compressed(at, routes)


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


def _spread(
    root: str,
    meets: Mapping[str, list[Pipe]],
    levels: Mapping[str, int],
    grid: _Grid,
    at: dict[str, Cell],
    routes: dict[str, Route],
) -> None:
    """Lay out the part of the network that hangs together with a root."""
    start = max((x for x, _ in grid.cells), default=-3) + 3
    queue: list[tuple[bool, float, int, str, str]] = []
    turn = 0

    def place(junction: str, cell: Cell) -> None:
        nonlocal turn
        at[junction] = cell
        grid.stand(junction, cell)
        for pipe in meets[junction]:
            other = pipe.to if pipe.from_ == junction else pipe.from_
            turn += 1
            flat = levels[pipe.from_] == levels[pipe.to]
            heapq.heappush(queue, (flat, -pipe.size.inches, turn, pipe.id, other))

    place(root, (start, levels[root] * _ROWS))
    while queue:
        *_, junction = heapq.heappop(queue)
        if junction in at:
            continue
        ties = [p for p in meets[junction] if {p.from_, p.to} - {junction} <= set(at)]
        cell, chosen = _best(junction, ties, levels, grid, at)
        for pipe_id, route in chosen.items():
            grid.lay(route)
            routes[pipe_id] = route
        place(junction, cell)
    for pipe in sorted({p.id: p for j in at for p in meets[j]}.values(), key=lambda p: p.id):
        if pipe.id not in routes and pipe.from_ in at:
            routes[pipe.id] = _route(grid, at[pipe.from_], at[pipe.to])[1]
            grid.lay(routes[pipe.id])


def _best(
    junction: str,
    ties: list[Pipe],
    levels: Mapping[str, int],
    grid: _Grid,
    at: Mapping[str, Cell],
) -> tuple[Cell, dict[str, Route]]:
    """Find the cell at which a junction's pipes are shortest and cross least."""
    others = [at[p.to if p.from_ == junction else p.from_] for p in ties if p.from_ != p.to]
    base_row = levels[junction] * _ROWS
    cells = []
    for x in sorted({o[0] + d for o in others for d in range(-_REACH, _REACH + 1)}):
        for sub in range(_ROWS):
            cell = (x, base_row + sub)
            if cell not in grid.cells:
                cells.append((sum(_apart(cell, o) for o in others), cell))
    best_cost, best_cell, best_routes = float("inf"), cells[0][1], dict[str, Route]()
    for base, cell in sorted(cells):
        if base >= best_cost:
            break
        total, routes = base, {}
        for pipe, other in zip((p for p in ties if p.from_ != p.to), others, strict=True):
            cost, route = _route(grid, other, cell)
            total += cost
            routes[pipe.id] = route if pipe.to == junction else route[::-1]
            if total >= best_cost:
                break
        else:
            twins = len({tuple(sorted(r)) for r in routes.values()}) < len(routes)
            total += _COVERING * twins
            best_cost, best_cell, best_routes = min(
                (best_cost, best_cell, best_routes),
                (total, cell, routes),
                key=lambda found: found[0],
            )
    return best_cell, best_routes


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
