"""The grid: rings in radius, slices along the pipe, and the factors that geometry gives.

The arrays hold one number for each ring or slice, so the same solver runs in a cylinder and in a
flat slab (the slab is how it is compared with Neumann's exact solution).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Numbers = NDArray[np.float64]


class Mesh(NamedTuple):
    """A grid of `nz` slices by `nr` rings; ring 0 is on the axis, the last is the outer wall.

    Attributes:
        rings_of_water: rings below this index hold water or ice, the others wall.
        edges: ring edges, m (`nr + 1`).
        areas: cross-section of each ring, m2.
        inner: resistance factor from a ring's inner edge to its middle, for a metre of pipe:
            divide by conductivity for K m/W.
        outer: the same from the middle to the outer edge.
        perimeter: outer surface for a metre of pipe, m.
        slices: thickness of each slice along the pipe, m (`nz`).
        middles: distance of each slice's middle from the jacket's middle, m.
    """

    rings_of_water: int
    edges: Numbers
    areas: Numbers
    inner: Numbers
    outer: Numbers
    perimeter: float
    slices: Numbers
    middles: Numbers


def cylinder(*, ring_edges: Numbers, rings_of_water: int, slices: Numbers) -> Mesh:
    """Make the grid of a pipe from ring edges (m, starting at 0) and slice thicknesses (m)."""
    middle = 0.5 * (ring_edges[1:] + ring_edges[:-1])
    inner = np.zeros_like(middle)
    inner[1:] = np.log(middle[1:] / ring_edges[1:-1]) / (2.0 * math.pi)
    return Mesh(
        rings_of_water,
        ring_edges,
        math.pi * (ring_edges[1:] ** 2 - ring_edges[:-1] ** 2),
        inner,
        np.log(ring_edges[1:] / middle) / (2.0 * math.pi),
        2.0 * math.pi * float(ring_edges[-1]),
        slices,
        np.cumsum(slices) - 0.5 * slices,
    )


def slab(*, edges: Numbers, rings_of_water: int, slices: Numbers) -> Mesh:
    """Make the grid of a flat slab one metre wide, cooled at its last edge (m)."""
    half = 0.5 * np.diff(edges)
    return Mesh(
        rings_of_water,
        edges,
        np.diff(edges),
        half.copy(),
        half,
        1.0,
        slices,
        np.cumsum(slices) - 0.5 * slices,
    )


def ring_edges(*, inside_radius: float, wall: float, water_rings: int, wall_rings: int) -> Numbers:
    """Even rings in the water and even rings in the wall; edges in m."""
    water = np.linspace(0.0, inside_radius, water_rings + 1)
    metal = np.linspace(inside_radius, inside_radius + wall, wall_rings + 1)
    return np.concatenate([water, metal[1:]])


def slice_thicknesses(*, half_jacket: float, beyond: float, under_jacket: int) -> Numbers:
    """Even slices under the half jacket, then slices that grow by a quarter each to the far end.

    Parameters:
        half_jacket: m.
        beyond: length of bare pipe to cover, m (the last slice may pass it).
        under_jacket: number of slices under the half jacket.

    Returns:
        Thicknesses, m.
    """
    first = half_jacket / under_jacket
    thicknesses = [first] * under_jacket
    covered, step = 0.0, first
    while covered < beyond:
        thicknesses.append(step)
        covered += step
        step *= 1.25
    return np.asarray(thicknesses, dtype=np.float64)
