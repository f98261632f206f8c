"""The machine's arithmetic, and the libraries that do sums for us."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

import numpy as np
import shapely
from scipy import linalg, optimize, special
from scipy.sparse import csr_array
from scipy.sparse.csgraph import breadth_first_order, connected_components, dijkstra, maximum_flow
from scipy.spatial import KDTree

from layoutcheck.network import blocks
from layoutcheck.selftest.check import Check, Reader, Reading, Status, near, worst

GROUP = "ARITHMETIC AND LIBRARIES"


def _floats() -> Iterator[Reading]:
    tenth, fifth = (float(text) for text in ("0.1", "0.2"))
    yield Reading("0.1 + 0.2", tenth + fifth, 0.30000000000000004)
    yield Reading("1 + 2**-53, rounded to even", 1.0 + 2.0**-53, 1.0)
    yield Reading("(1 + 2**-52) + 2**-53, rounded to even", 1.0 + 2.0**-52 + 2.0**-53, 1 + 2**-51)
    # A library built carelessly can make the whole process round small numbers to zero.
    halved = np.array([2.0**-1073, 2.0**-1060]) * np.array([0.5, 0.5])
    yield Reading("half of 2**-1073", float(halved[0]), 2.0**-1074)
    yield Reading("half of 2**-1060", float(halved[1]), 2.0**-1061)


def _matrix_product() -> Iterator[Reading]:
    """Odd sizes, so that a kernel's ragged edges are used; sums stay below 2**53."""
    rows, inner, columns = 131, 157, 173
    left = (np.arange(rows * inner).reshape(rows, inner) * 7919) % 2003 - 1001
    right = (np.arange(inner * columns).reshape(inner, columns) * 6101) % 1999 - 999
    exact = left @ right  # whole numbers do not go through BLAS
    found = left.astype(np.float64) @ right.astype(np.float64)
    yield worst("largest gap to the whole numbers", (found - exact).ravel(), most=0.0)
    strided = right.astype(np.float64).T @ left.astype(np.float64).T
    yield worst("largest gap, both factors turned", (strided.T - exact).ravel(), most=0.0)


_WILSON = ((10, 7, 8, 7), (7, 5, 6, 5), (8, 6, 10, 9), (7, 5, 9, 10))


def _linear_systems() -> Iterator[Reading]:
    wilson = np.array(_WILSON, dtype=np.float64)
    ones = linalg.solve(wilson, wilson.sum(axis=1))
    yield worst("Wilson's matrix, gap to all ones", ones - 1.0, most=1e-11)
    yield near("Wilson's matrix, determinant", float(linalg.det(wilson)), 1.0, share=1e-11)
    pascal = linalg.pascal(10, kind="symmetric").astype(np.float64)
    whole = np.arange(1.0, 11.0)
    # The condition number is 4e9, so 1e-16 may grow to about 1e-6.
    yield worst(
        "Pascal's matrix of 10, gap to 1 ... 10", np.linalg.solve(pascal, pascal @ whole) - whole,
        most=1e-5,
    )  # fmt: skip
    count = np.arange(1, 301)
    least = np.minimum.outer(count, count).astype(np.float64)
    answer = np.where(count % 2 == 1, 1.0, -2.0)
    yield worst(
        "min(i, j) of 300, gap to 1, -2, 1, ...", np.linalg.solve(least, least @ answer) - answer,
        most=1e-8,
    )  # fmt: skip


def _eigenvalues() -> Iterator[Reading]:
    size = 120
    second = 2.0 * np.eye(size) - np.eye(size, k=1) - np.eye(size, k=-1)
    exact = 2.0 - 2.0 * np.cos(np.pi * np.arange(1, size + 1) / (size + 1))
    yield worst("largest gap", np.linalg.eigvalsh(second) - exact, most=1e-12)
    values = np.linalg.svd(second, compute_uv=False)[::-1]
    yield worst("largest gap of singular values", values - exact, most=1e-12)


def _banded() -> Iterator[Reading]:
    # Fourth difference, 1 -4 6 -4 1, and 1 on the diagonal.
    answer = np.where(np.arange(60) % 3 == 0, 2.0, -1.0)
    full = np.diag(np.full(60, 7.0))
    for offset, value in ((1, -4.0), (2, 1.0)):
        full += value * (np.eye(60, k=offset) + np.eye(60, k=-offset))
    right = full @ answer
    lower = np.array([np.full(60, 7.0), np.full(60, -4.0), np.full(60, 1.0)])
    yield worst("LAPACK, gap", linalg.solveh_banded(lower, right, lower=True) - answer, most=1e-12)
    band = np.ascontiguousarray(lower.T)
    _, found, _ = linalg.lapack.dpbsv(band.T, right, lower=1)
    yield worst("LAPACK as the freezing model calls it, gap", found - answer, most=1e-12)


def _shortest_ways() -> Iterator[Reading]:
    """A net of six nodes: 0-1 2.5, 1-2 1.25, 0-2 4, 2-3 0 (no length), 3-4 8.5; 5 stands alone."""
    steps = [(0, 1, 2.5), (1, 2, 1.25), (0, 2, 4.0), (2, 3, 0.0), (3, 4, 8.5)]
    starts, ends, lengths = (np.array(column) for column in zip(*steps, strict=True))
    net = csr_array((lengths, (starts, ends)), shape=(6, 6))
    found, before, _ = dijkstra(
        net, directed=False, indices=[0], return_predecessors=True, min_only=True
    )
    for node, by_hand in enumerate((0.0, 2.5, 3.75, 3.75, 12.25)):
        yield Reading(f"distance to node {node}", float(found[node]), by_hand)
    yield Reading("distance to the lone node", str(float(found[5])), "inf")
    yield Reading("way back from node 4", str([int(before[n]) for n in (4, 3, 2, 1)]),
                  "[3, 2, 1, 0]")  # fmt: skip
    count, _ = connected_components(net, directed=False)
    yield Reading("parts that connect", float(count), 2.0)
    ones = csr_array((np.ones(5), (starts, ends)), shape=(6, 6))
    reached = breadth_first_order(ones, 0, directed=False, return_predecessors=False)
    yield Reading("nodes reached from node 0", float(len(reached)), 5.0)


def _flows_and_blocks() -> Iterator[Reading]:
    """Two ways of 3 and 2 from 0, then 2 and 4 into 3: the cut of 2 + 2 lets 4 through."""
    capacity = csr_array(
        (np.array([3, 2, 2, 4], dtype=np.int32), ([0, 0, 1, 2], [1, 2, 3, 3])), shape=(4, 4)
    )
    yield Reading("largest flow", float(maximum_flow(capacity, 0, 3).flow_value), 4.0)
    # Edges 0-2 and 3-5 are triangles, 6 a tail, 7 and 8 lie side by side between nodes 5 and 6.
    ends = [(0, 1), (1, 2), (2, 0), (2, 3), (3, 4), (4, 2), (4, 5), (5, 6), (5, 6)]
    found = blocks.block_numbers(7, np.array(ends))
    groups = [sorted(np.flatnonzero(found == n).tolist()) for n in dict.fromkeys(found.tolist())]
    yield Reading("blocks", str(groups), "[[0, 1, 2], [3, 4, 5], [6], [7, 8]]")
    alone = np.flatnonzero(blocks.bridges(7, np.array(ends))).tolist()
    yield Reading("bridges", str(alone), "[6]")


def _programmes() -> Iterator[Reading]:
    # Largest 3 x + 5 y with x <= 4, 2 y <= 12, 3 x + 2 y <= 18: 36 at (2, 6).
    plant = optimize.linprog(
        [-3.0, -5.0], A_ub=[[1.0, 0.0], [0.0, 2.0], [3.0, 2.0]], b_ub=[4.0, 12.0, 18.0],
        method="highs",
    )  # fmt: skip
    yield Reading("linear programme, optimum", _lowest(plant.fun), 36.0, 1e-9)
    yield worst("linear programme, gap to (2, 6)", plant.x - np.array([2.0, 6.0]), most=1e-9)
    worth, weight, most = (10, 13, 7, 8, 5, 9), (5, 7, 4, 5, 3, 6), 15
    best = max(
        sum(w for w, taken in zip(worth, choice, strict=True) if taken)
        for choice in itertools.product((0, 1), repeat=6)
        if sum(w for w, taken in zip(weight, choice, strict=True) if taken) <= most
    )
    packed = optimize.milp(
        [-float(w) for w in worth],
        constraints=optimize.LinearConstraint(np.array([weight], dtype=float), ub=[float(most)]),
        integrality=np.ones(6, dtype=np.int64),
        bounds=optimize.Bounds(0.0, 1.0),
    )
    yield Reading("whole-number programme, optimum", _lowest(packed.fun), float(best), 1e-6)


def _lowest(objective: float | None) -> float:
    """Turn a lowest cost into a highest gain; no answer is no number."""
    return math.nan if objective is None else -objective


def _functions() -> Iterator[Reading]:
    # Abramowitz and Stegun, table 7.1, ten digits.
    for at, by_table in ((0.5, 0.5204998778), (1.0, 0.8427007929), (2.0, 0.9953222650)):
        yield Reading(f"erf({at:g})", float(special.erf(at)), by_table, 1e-10)
        yield Reading(f"erfc({at:g})", float(special.erfc(at)), 1.0 - by_table, 1e-10)
    yield near("erfcx(3) exp(-9)", float(special.erfcx(3.0)) * math.exp(-9.0),
               float(special.erfc(3.0)), share=1e-12)  # fmt: skip
    # The root of cos x = x.
    root = float(optimize.brentq(lambda x: math.cos(x) - x, 0.0, 1.0, xtol=1e-14))
    yield Reading("root of cos x = x", root, 0.7390851332151607, 1e-12)
    least = optimize.minimize_scalar(lambda x: (x - 2.0) ** 2 + 1.0, bounds=(0, 5),
                                     method="bounded", options={"xatol": 1e-9})  # fmt: skip
    yield Reading("lowest point of (x - 2)^2 + 1", float(least.x), 2.0, 1e-6)


def _geometry() -> Iterator[Reading]:
    line = shapely.LineString([(3.0, -1.0), (3.0, 4.0), (10.0, 4.0)])
    yield Reading("point to line", float(shapely.Point(0.0, 8.0).distance(line)), 5.0, 1e-12)
    yield Reading("length", float(line.length), 12.0, 1e-12)
    yield Reading("place along it", float(line.project(shapely.Point(5.0, 9.0))), 7.0, 1e-12)
    ell = shapely.Polygon([(0, 0), (4, 0), (4, 1), (1, 1), (1, 3), (0, 3)])
    yield Reading("area of an L", float(ell.area), 6.0, 1e-12)
    cross = shapely.LineString([(0, 0), (4, 4)]).intersection(shapely.LineString([(0, 3), (6, 0)]))
    yield Reading(
        "crossing of two lines, x", float(shapely.get_coordinates(cross)[0, 0]), 2.0, 1e-12
    )
    tree = shapely.STRtree([shapely.Point(x, 0.0) for x in range(20)])
    near_by = tree.query(shapely.Point(7.4, 0.0), predicate="dwithin", distance=1.0)
    yield Reading("points within 1 of 7.4", str(sorted(int(n) for n in near_by)), "[7, 8]")
    grid = KDTree([(x, y) for x in range(10) for y in range(10)])
    distance, index = grid.query((4.0, 5.3))
    yield Reading("nearest of a grid, distance", float(distance), 0.3, 1e-12)
    yield Reading("nearest of a grid, which", float(index), 45.0)


def _check(name: str, proves: str, source: str, status: Status, read: Reader) -> Check:
    return Check(name, GROUP, proves, source, status, read)


CHECKS = (
    _check(
        "floating-point", "Numbers are rounded as they should be, and small ones are kept.",
        "IEEE 754-2019: round to nearest, ties to even, gradual underflow",
        Status.PUBLISHED, _floats,
    ),
    _check(
        "matrix-product", "The matrix product (BLAS) is right to the last bit.",
        "the same product in whole numbers, without BLAS", Status.SECOND_WAY, _matrix_product,
    ),
    _check(
        "linear-systems", "Ill-conditioned systems with whole-number answers are solved (LAPACK).",
        "Wilson's matrix, all ones solve it: Higham and Lettington, Amer. Math. Monthly (2022), "
        "from memory; the others have the answer they were made with",
        Status.BY_HAND, _linear_systems,
    ),
    _check(
        "eigenvalues", "Eigenvalues and singular values are right (LAPACK).",
        "second difference of 120 points: 2 - 2 cos(k pi / 121), textbook",
        Status.BY_HAND, _eigenvalues,
    ),
    _check(
        "banded-systems", "The solver of the freezing model (LAPACK) solves a banded system.",
        "the answer the system was made with", Status.BY_HAND, _banded,
    ),
    _check(
        "shortest-ways", "Distances through a network are right, also over pieces of no length "
        "(scipy).", "a net of six nodes", Status.BY_HAND, _shortest_ways,
    ),
    _check(
        "flows-and-blocks", "Largest flow (scipy), and our compiled blocks and bridges, are right.",
        "a cut of four arcs; two triangles, a tail and a pair", Status.BY_HAND,
        _flows_and_blocks,
    ),
    _check(
        "programmes", "Linear and whole-number programmes reach their optimum (HiGHS).",
        "Hillier and Lieberman's first example, 36 at (2, 6), from memory and by hand; all 64 "
        "choices tried", Status.BY_HAND, _programmes,
    ),
    _check(
        "functions", "The error function, a root and a lowest point are right (scipy).",
        "Abramowitz and Stegun, table 7.1, and the root of cos x = x",
        Status.MEMORY, _functions,
    ),
    _check(
        "geometry", "Distances, areas and crossings in plan are right (GEOS, scipy).",
        "3-4-5 triangle, rectangles, two straight lines", Status.BY_HAND, _geometry,
    ),
)  # fmt: skip


def checks() -> tuple[Check, ...]:
    """Give the checks of this group."""
    return CHECKS
