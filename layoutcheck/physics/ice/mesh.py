"""The grid: rings in radius, slices along the pipe, and the factors that geometry gives.

Every array has a row or an entry for each slice, so several pipes laid end to end (joined by
nothing) are a grid too, and the same solver runs in a cylinder and in a flat slab (the slab is how
it is compared with Neumann's exact solution).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Numbers = NDArray[np.float64]


class Mesh(NamedTuple):
    """A grid of `nz` slices by `nr` rings; ring 0 is on the axis, the last is the outer wall.

    Attributes:
        rings_of_water: rings below this index hold water or ice, the others wall.
        bore: inside radius, m, for each slice.
        areas: cross-section of each ring, m2.
        inner: resistance factor from a ring's inner edge to its middle, for a metre of pipe:
            divide by conductivity for K m/W.
        outer: the same from the middle to the outer edge.
        perimeter: outer surface for a metre of pipe, m, for each slice.
        slices: thickness of each slice along the pipe, m.
        middles: distance of each slice's middle from the jacket's middle, m; it rises from slice
            to slice, and in a pipe that rises it rises downwards.
    """

    rings_of_water: int
    bore: Numbers
    areas: Numbers
    inner: Numbers
    outer: Numbers
    perimeter: Numbers
    slices: Numbers
    middles: Numbers


def cylinder(
    *, ring_edges: Numbers, rings_of_water: int, slices: Numbers, first_edge: float = 0.0
) -> Mesh:
    """Make the grid of a pipe from ring edges (m, starting at 0) and slice thicknesses (m).

    first_edge: where the first slice begins, m from the jacket's middle.
    """
    middle = 0.5 * (ring_edges[1:] + ring_edges[:-1])
    inner = np.zeros_like(middle)
    inner[1:] = np.log(middle[1:] / ring_edges[1:-1]) / (2.0 * math.pi)
    return _spread(
        rings_of_water,
        float(ring_edges[rings_of_water]),
        (
            math.pi * (ring_edges[1:] ** 2 - ring_edges[:-1] ** 2),
            inner,
            np.log(ring_edges[1:] / middle) / (2.0 * math.pi),
        ),
        2.0 * math.pi * float(ring_edges[-1]),
        slices,
        first_edge,
    )


def slab(*, edges: Numbers, rings_of_water: int, slices: Numbers) -> Mesh:
    """Make the grid of a flat slab one metre wide, cooled at its last edge (m)."""
    half = 0.5 * np.diff(edges)
    rings = (np.diff(edges), half, half)
    return _spread(rings_of_water, float(edges[rings_of_water]), rings, 1.0, slices, 0.0)


def _spread(
    rings_of_water: int,
    bore: float,
    rings: tuple[Numbers, Numbers, Numbers],
    perimeter: float,
    slices: Numbers,
    first_edge: float,
) -> Mesh:
    """Give every slice its own copy of what the rings are."""
    count = slices.size
    areas, inner, outer = (np.tile(one, (count, 1)) for one in rings)
    return Mesh(
        rings_of_water,
        np.full(count, bore),
        areas,
        inner,
        outer,
        np.full(count, perimeter),
        slices,
        first_edge + np.cumsum(slices) - 0.5 * slices,
    )


def end_to_end(meshes: Sequence[Mesh]) -> Mesh:
    """Lay grids with the same rings one after another."""
    rows = zip(*(mesh[1:] for mesh in meshes), strict=True)
    return Mesh(meshes[0].rings_of_water, *(np.concatenate(row) for row in rows))


def ring_edges(*, inside_radius: float, wall: float, water_rings: int, wall_rings: int) -> Numbers:
    """Even rings in the water and even rings in the wall; edges in m."""
    water = np.linspace(0.0, inside_radius, water_rings + 1)
    metal = np.linspace(inside_radius, inside_radius + wall, wall_rings + 1)
    return np.concatenate([water, metal[1:]])


def growing_slices(*, first: float, length: float, growth: float) -> Numbers:
    """Slices from `first` (m) on, each longer than the one before, over just `length` (m)."""
    count = max(1, math.ceil(math.log1p(length * (growth - 1.0) / first) / math.log(growth)))
    raw = first * growth ** np.arange(count)
    return np.asarray(raw * (length / raw.sum()), dtype=np.float64)


def slice_thicknesses(*, half_jacket: float, beyond: float, under_jacket: int) -> Numbers:
    """Even slices under the half jacket, then slices that grow by a quarter each to the far end.

    Parameters:
        half_jacket: m.
        beyond: length of bare pipe to cover, m.
        under_jacket: number of slices under the half jacket.

    Returns:
        Thicknesses, m.
    """
    first = half_jacket / under_jacket
    bare = growing_slices(first=first, length=beyond, growth=1.25)
    return np.concatenate([np.full(under_jacket, first), bare])


def slices_of_a_column(
    *, jacket: float, above: float, below: float, under_jacket: int, growth: float
) -> tuple[Numbers, float]:
    """Slices of a pipe that rises, from above the jacket to the foot of the column below it.

    Parameters:
        jacket: its length, m.
        above: pipe to cover above it, m.
        below: pipe to cover below it, m.
        under_jacket: number of slices under the jacket.
        growth: how much longer each slice beyond the jacket is than the one before it.

    Returns:
        Thicknesses (m) from the top down, and where the first begins, m from the jacket's middle.
    """
    first = jacket / under_jacket
    top = growing_slices(first=first, length=above, growth=growth)[::-1]
    column = growing_slices(first=first, length=below, growth=growth)
    slices = np.concatenate([top, np.full(under_jacket, first), column])
    return slices, -0.5 * jacket - above
