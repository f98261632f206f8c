"""One implicit time step of the enthalpy method: the inner loop, compiled.

Why this method. An explicit step is limited by the thin, well-conducting wall (milliseconds in
copper), and a freeze lasts hours. So the step is fully implicit (backward Euler, finite volumes)
with Newton's method on the enthalpy: the temperature is linearised about the last iterate, the
enthalpy is then updated by the linear law, and the next temperature is read from the enthalpy (the
scheme Swaminathan and Voller described in 1993, from memory). The matrix is symmetric and
positive, its band is one ring wide, and a banded Cholesky factorisation of about 700 unknowns
takes a fraction of a millisecond. The last linear solve satisfies the heat balance of every cell
exactly, whatever the iteration error, so heat is conserved by construction.

Why numba and not vectorised scipy: the unknowns are few and the rounds many (about 300 for a
freeze, and an answer is five freezes, three holds and six thaws), so array calls would spend their
time in overhead. The whole loop compiles once and is kept on disk; the first run on a machine takes
some seconds longer.
No fast-math: sums keep their written order, so a machine with wider vectors gives the same digits.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from layoutcheck.compiled import compiled
from layoutcheck.physics.ice.mesh import Mesh
from layoutcheck.physics.ice.tables import Curve, Tables

Numbers = NDArray[np.float64]

_ALIKE = 1e-4
"""Temperatures closer than this (K) take the conductivity at one of them: no 0 / 0."""

_ROUNDS_OF_CONDUCTANCE = 3
"""After this many rounds the conductances stay: a cell at freezing would else flip between ice and
stirred water for ever. The heat balance holds whatever they are."""


@compiled
def _read(first: float, step: float, values: Numbers, at: float) -> tuple[float, float]:
    """Value and slope of an evenly tabulated function; end segments go on straight."""
    place = (at - first) / step
    index = int(min(max(place, 0.0), values.size - 2.0))
    slope = (values[index + 1] - values[index]) / step
    return values[index] + (at - first - index * step) * slope, slope


@compiled
def _temperature(tables: Tables, enthalpy: float, in_wall: bool) -> tuple[float, float]:  # noqa: FBT001
    """Temperature relative to freezing (K), and its slope against enthalpy (K m3/J)."""
    if in_wall:
        curve = tables.wall
        return _read(curve.first_enthalpy, curve.enthalpy_step, curve.temperature_of, enthalpy)
    if enthalpy < 0.0:
        curve = tables.ice
        value, slope = _read(
            curve.first_enthalpy, curve.enthalpy_step, curve.temperature_of, enthalpy
        )
        return value - tables.mush, slope
    if enthalpy < tables.latent:
        slope = tables.mush / tables.latent
        return enthalpy * slope - tables.mush, slope
    curve = tables.liquid
    return _read(curve.first_enthalpy, curve.enthalpy_step, curve.temperature_of, enthalpy)


@compiled
def _potential(curve: Curve, temperature: float) -> float:
    """Integral of conductivity from freezing to a relative temperature, W/m."""
    value, _ = _read(
        curve.first_temperature, curve.temperature_step, curve.potential_of, temperature
    )
    return value


@compiled
def _mean_wall(tables: Tables, a: float, b: float) -> float:
    """Mean conductivity of the wall between two temperatures, W/(m K)."""
    if abs(a - b) < _ALIKE:
        b = a + 10.0 * _ALIKE
    return (_potential(tables.wall, a) - _potential(tables.wall, b)) / (a - b)


@compiled
def _mean_water(tables: Tables, a: float, b: float, mixing: float) -> float:
    """Mean conductivity of ice and water between two temperatures, W/(m K).

    The liquid's share is multiplied by `mixing`, the closure for natural convection.
    """
    if abs(a - b) < _ALIKE:
        b = a + 10.0 * _ALIKE
    cold = _potential(tables.ice, min(a, 0.0)) - _potential(tables.ice, min(b, 0.0))
    warm = _potential(tables.liquid, max(a, 0.0)) - _potential(tables.liquid, max(b, 0.0))
    return (cold + mixing * warm) / (a - b)


@compiled
def _across_the_wall_face(
    tables: Tables, water: float, wall: float, geometry: tuple[float, float], mixing: float
) -> float:
    """Conductance (W/(m K)) from the last water ring to the first wall ring.

    The temperature of the surface between them follows from the two resistances, which depend on
    it; three rounds settle it far below the solver's tolerance.
    """
    surface = wall
    conductance = 0.0
    for _ in range(3):
        in_water = geometry[0] / _mean_water(tables, water, surface, mixing)
        in_wall = geometry[1] / _mean_wall(tables, surface, wall)
        conductance = 1.0 / (in_water + in_wall)
        surface = wall + (water - wall) * conductance * in_wall
    return conductance


@compiled
def _to_surroundings(
    tables: Tables,
    cell: float,
    outside: float,
    geometry: tuple[float, float],
    is_wall: bool,  # noqa: FBT001
) -> float:
    """Conductance (W/(m K)) from the outermost ring's middle to the surroundings."""
    surface = cell
    conductance = 0.0
    for _ in range(3):
        if is_wall:
            inside = geometry[0] / _mean_wall(tables, cell, surface)
        else:
            inside = geometry[0] / _mean_water(tables, cell, surface, 1.0)
        conductance = 1.0 / (inside + geometry[1])
        surface = cell + (outside - cell) * conductance * inside
    return conductance


@compiled
def _potentials(mesh: Mesh, tables: Tables, t: Numbers, cold: Numbers, warm: Numbers) -> None:
    """Fill the potential of every cell: `cold` holds that of ice or wall, `warm` of liquid."""
    nz, nr = t.shape
    for j in range(nz):
        for i in range(nr):
            if i >= mesh.rings_of_water:
                cold[j, i], warm[j, i] = _potential(tables.wall, t[j, i]), 0.0
            elif t[j, i] < 0.0:
                cold[j, i], warm[j, i] = _potential(tables.ice, t[j, i]), 0.0
            else:
                cold[j, i], warm[j, i] = 0.0, _potential(tables.liquid, t[j, i])


@compiled
def _radial(
    mesh: Mesh,
    tables: Tables,
    cells: tuple[Numbers, Numbers, Numbers],
    mixing: Numbers,
    out: Numbers,
) -> None:
    """Fill `out[j, i]` with the conductance (W/K) between rings i and i + 1 of slice j."""
    t, cold, warm = cells
    nz, nr = t.shape
    for i in range(nr - 1):
        inner, outer = mesh.outer[i], mesh.inner[i + 1]
        for j in range(nz):
            a, b = t[j, i], t[j, i + 1]
            if i + 1 == mesh.rings_of_water:
                mean = (inner + outer) * _across_the_wall_face(
                    tables, a, b, (inner, outer), mixing[j]
                )
            elif abs(a - b) > _ALIKE:
                flow = cold[j, i] - cold[j, i + 1] + mixing[j] * (warm[j, i] - warm[j, i + 1])
                mean = flow / (a - b)
            elif i < mesh.rings_of_water:
                mean = _mean_water(tables, a, b, mixing[j])
            else:
                mean = _mean_wall(tables, a, b)
            out[j, i] = mean * mesh.slices[j] / (inner + outer)


@compiled
def _axial(
    mesh: Mesh,
    tables: Tables,
    cells: tuple[Numbers, Numbers, Numbers],
    mixing: Numbers,
    out: Numbers,
) -> None:
    """Fill `out[j, i]` with the conductance (W/K) between slices j and j + 1 of ring i."""
    t, cold, warm = cells
    nz, nr = t.shape
    for j in range(nz - 1):
        per_distance = 2.0 / (mesh.slices[j] + mesh.slices[j + 1])
        for i in range(nr):
            a, b = t[j, i], t[j + 1, i]
            if abs(a - b) > _ALIKE:
                flow = cold[j, i] - cold[j + 1, i] + mixing[j] * (warm[j, i] - warm[j + 1, i])
                mean = flow / (a - b)
            elif i < mesh.rings_of_water:
                mean = _mean_water(tables, a, b, mixing[j])
            else:
                mean = _mean_wall(tables, a, b)
            out[j, i] = mean * mesh.areas[i] * per_distance


@compiled
def _surface(
    mesh: Mesh, tables: Tables, t: Numbers, outside: tuple[Numbers, Numbers], out: Numbers
) -> None:
    """Fill `out[j]` with the conductance (W/K) from slice j to its surroundings."""
    nz, nr = t.shape
    is_wall = nr > mesh.rings_of_water
    for j in range(nz):
        film = outside[0][j] * mesh.perimeter
        if film <= 0.0:
            out[j] = 0.0
        else:
            out[j] = mesh.slices[j] * _to_surroundings(
                tables, t[j, nr - 1], outside[1][j], (mesh.outer[nr - 1], 1.0 / film), is_wall
            )


@compiled
def _factor_and_solve(band: Numbers, rhs: Numbers) -> None:
    """Solve a symmetric positive banded system in place (Cholesky).

    `band[p, w - d]` holds the entry of row p, d columns left of the diagonal, `w` the band width.
    """
    n, width = band.shape
    w = width - 1
    column = np.empty(w)
    for p in range(n):
        pivot = np.sqrt(band[p, w])
        band[p, w] = pivot
        rhs[p] /= pivot
        last = min(w, n - 1 - p)
        for d in range(last):
            row = band[p + d + 1]
            value = row[w - d - 1] / pivot
            row[w - d - 1] = value
            column[d] = value
            rhs[p + d + 1] -= value * rhs[p]
            # Views that start at zero: the compiler then needs no test for negative indices.
            target = row[w - d :]
            for e in range(d + 1):
                target[e] -= value * column[e]
    for p in range(n - 1, -1, -1):
        rhs[p] /= band[p, w]
        value = rhs[p]
        last = min(w, p)
        left = band[p, w - last : w]
        above = rhs[p - last : p]
        for d in range(last):
            above[d] -= left[d] * value


@compiled
def _assemble(
    conductances: tuple[Numbers, Numbers, Numbers],
    t: Numbers,
    outside: Numbers,
    band: Numbers,
    rhs: Numbers,
) -> None:
    """Fill the band with conductances and the right side with the heat (W) into each cell."""
    radial, axial, surface = conductances
    nz, nr = t.shape
    for p in range(nz * nr):
        rhs[p] = 0.0
        for d in range(nr + 1):
            band[p, d] = 0.0
    for j in range(nz):
        for i in range(nr):
            p = j * nr + i
            if i + 1 < nr:
                _link(band, rhs, (p, p + 1), radial[j, i], t[j, i + 1] - t[j, i])
            if j + 1 < nz:
                _link(band, rhs, (p, p + nr), axial[j, i], t[j + 1, i] - t[j, i])
        p = j * nr + nr - 1
        band[p, nr] += surface[j]
        rhs[p] += surface[j] * (outside[j] - t[j, nr - 1])


@compiled
def _link(
    band: Numbers, rhs: Numbers, cells: tuple[int, int], conductance: float, difference: float
) -> None:
    """Add one conductance between two cells, and the heat it carries now."""
    p, q = cells
    w = band.shape[1] - 1
    band[p, w] += conductance
    band[q, w] += conductance
    band[q, w - (q - p)] -= conductance
    rhs[p] += conductance * difference
    rhs[q] -= conductance * difference


@compiled
def temperatures(mesh: Mesh, tables: Tables, enthalpy: Numbers, out: Numbers) -> None:
    """Fill `out` with the temperature (K, relative to freezing) of every cell."""
    nz, nr = enthalpy.shape
    for j in range(nz):
        for i in range(nr):
            out[j, i], _ = _temperature(tables, enthalpy[j, i], i >= mesh.rings_of_water)


@compiled
def _newton_update(
    mesh: Mesh,
    tables: Tables,
    enthalpy: Numbers,
    old: Numbers,
    step: float,
    band: Numbers,
    rhs: Numbers,
    t: Numbers,
) -> float:
    """Solve the linearised step in place; return the largest temperature still out of tune, K."""
    nz, nr = enthalpy.shape
    for j in range(nz):
        for i in range(nr):
            p = j * nr + i
            volume = mesh.areas[i] * mesh.slices[j]
            _, slope = _temperature(tables, enthalpy[j, i], i >= mesh.rings_of_water)
            rhs[p] -= volume * (enthalpy[j, i] - old[j, i]) / step
            band[p, nr] += volume / (slope * step)
    _factor_and_solve(band, rhs)
    worst = 0.0
    for j in range(nz):
        for i in range(nr):
            p = j * nr + i
            _, slope = _temperature(tables, enthalpy[j, i], i >= mesh.rings_of_water)
            linear = t[j, i] + rhs[p]
            enthalpy[j, i] += rhs[p] / slope
            t[j, i], _ = _temperature(tables, enthalpy[j, i], i >= mesh.rings_of_water)
            worst = max(worst, abs(t[j, i] - linear))
            rhs[p] = linear
    return worst


@compiled
def _copy(values: Numbers, out: Numbers) -> None:
    """Copy a grid: one by one, since to compile an assignment of arrays takes seconds."""
    nz, nr = values.shape
    for j in range(nz):
        for i in range(nr):
            out[j, i] = values[j, i]


@compiled
def advance(
    mesh: Mesh,
    tables: Tables,
    enthalpy: Numbers,
    step: float,
    outside: tuple[Numbers, Numbers],
    mixing: tuple[Numbers, Numbers],
    limits: tuple[float, int],
    heat: Numbers,
) -> int:
    """Advance the enthalpy of every cell by one time step, in place.

    Parameters:
        mesh: the grid.
        tables: material curves.
        enthalpy: J/m3, slices by rings; overwritten when the step succeeds.
        step: s.
        outside: for each slice the outer conductance (W/(m2 K)) and the temperature of the
            surroundings (K, relative to freezing).
        mixing: factor on the liquid's conductivity, radial and along the pipe, for each slice.
        limits: largest temperature mismatch (K) and most iterations.
        heat: filled with the heat (W) that each slice gives to its surroundings in this step.

    Returns:
        The number of iterations, or 0 if the step did not settle (enthalpy is then unchanged).
    """
    nz, nr = enthalpy.shape
    new, t = np.empty((nz, nr)), np.empty((nz, nr))
    cold, warm = np.empty((nz, nr)), np.empty((nz, nr))
    radial, axial, surface = np.empty((nz, nr)), np.empty((nz, nr)), np.empty(nz)
    band, rhs = np.empty((nz * nr, nr + 1)), np.empty(nz * nr)
    _copy(enthalpy, new)
    temperatures(mesh, tables, new, t)
    for iteration in range(1, limits[1] + 1):
        if iteration <= _ROUNDS_OF_CONDUCTANCE:
            _potentials(mesh, tables, t, cold, warm)
            _radial(mesh, tables, (t, cold, warm), mixing[0], radial)
            _axial(mesh, tables, (t, cold, warm), mixing[1], axial)
            _surface(mesh, tables, t, outside, surface)
        _assemble((radial, axial, surface), t, outside[1], band, rhs)
        worst = _newton_update(mesh, tables, new, enthalpy, step, band, rhs, t)
        # At least two rounds: the conductivities are those of the round before.
        if worst < limits[0] and iteration > 1:
            for j in range(nz):
                heat[j] = surface[j] * (rhs[j * nr + nr - 1] - outside[1][j])
            _copy(new, enthalpy)
            return iteration
    return 0
