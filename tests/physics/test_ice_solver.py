"""The solver against exact solutions, with the observed order of convergence."""

import itertools
import math

import numpy as np
import pytest

from layoutcheck.physics.ice.mesh import Mesh, cylinder, ring_edges, slab
from layoutcheck.physics.ice.step import Limits, Mixing, Pipes, advance
from layoutcheck.physics.ice.tables import Tables, constant_tables, liquid_enthalpy, wall_enthalpy
from layoutcheck.selftest.exact import NeumannSlab, Phase
from tests.physics.exact_cylinders import (
    composite_cylinder_heat_flow,
    quasi_steady_cylinder_time,
    wall_resistance,
)

ICE = Phase(2.2, 917.0 * 2000.0)
WATER = Phase(0.58, 1000.0 * 4200.0)
LATENT = 917.0 * 334e3
ONE_SLICE = np.array([1.0])


def start_at(mesh: Mesh, tables: Tables, temperature: float) -> np.ndarray:
    enthalpy = np.empty_like(mesh.areas)
    enthalpy[:, : mesh.rings_of_water] = liquid_enthalpy(tables, temperature)
    enthalpy[:, mesh.rings_of_water :] = wall_enthalpy(tables, temperature)
    return enthalpy


STILL = Mixing(np.ones(1), np.ones(1))


def one_step(pipes: Pipes, enthalpy: np.ndarray, step: float) -> float:
    """Take one step, in two halves where it does not settle; return the heat given off, J."""
    taken = advance(pipes, enthalpy, np.array([step]), STILL, Limits(1e-3, 12))
    if taken.settled[0]:
        return step * float(taken.heat[0])
    return sum(one_step(pipes, enthalpy, 0.5 * step) for _ in range(2))


def one_pipe(mesh: Mesh, tables: Tables, film: float, outside: float) -> Pipes:
    return Pipes([mesh], [tables], [(np.array([film]), np.array([outside]))])


def step_evenly(
    mesh: Mesh,
    tables: Tables,
    enthalpy: np.ndarray,
    film: float,
    outside: float,
    step: float,
    steps: int,
) -> float:
    """Take even steps; return the heat given off, J."""
    pipes = one_pipe(mesh, tables, film, outside)
    return sum(one_step(pipes, enthalpy, step) for _ in range(steps))


def slab_run(cells: int, steps: int) -> tuple[float, float]:
    """Relative errors of front depth and heat against Neumann after 3,000 s."""
    exact = NeumannSlab(ICE, WATER, LATENT, face=-30.0, start=12.0)
    tables = constant_tables(
        ice=(ICE.conductivity, ICE.heat_capacity),
        liquid=(WATER.conductivity, WATER.heat_capacity),
        wall=(50.0, 3.6e6),
        latent=LATENT,
        mush=1e-3,
    )
    # 0.12 m is more than five diffusion lengths of the water: the far end does not matter.
    mesh = slab(edges=np.linspace(0.0, 0.12, cells + 1), rings_of_water=cells, slices=ONE_SLICE)
    enthalpy = start_at(mesh, tables, 12.0)
    heat = step_evenly(mesh, tables, enthalpy, 1e7, -30.0, 3000.0 / steps, steps)
    solid = 1.0 - np.clip(enthalpy[0] / LATENT, 0.0, 1.0)
    front = float((solid * mesh.areas[0]).sum())
    return abs(front / exact.front(3000.0) - 1.0), abs(heat / exact.heat_taken(3000.0) - 1.0)


def order_of(sizes: tuple[int, ...], errors: list[float]) -> float:
    """Least-squares order: single halvings are ragged, because the front sits within a cell."""
    return float(-np.polyfit(np.log(sizes), np.log(errors), 1)[0])


def test_neumann_slab_converges_in_mesh_and_step_together() -> None:
    """Published: Neumann's two-phase solution (Carslaw and Jaeger 1959, from memory).

    The step shrinks with the mesh: backward Euler is of first order, so the whole must be.
    """
    sizes = (8, 16, 32, 64)
    errors = [slab_run(cells, 4 * cells) for cells in sizes]
    for kind in (0, 1):
        column = [error[kind] for error in errors]
        assert order_of(sizes, column) > 0.9
        assert column[-1] < 0.002


def test_neumann_slab_converges_in_step_alone() -> None:
    """The heat taken on one mesh, against very short steps on it: first order or better."""
    reference = slab_heat(60, 2400)
    sizes = (40, 80, 160, 320)
    errors = [abs(slab_heat(60, steps) - reference) for steps in sizes]
    assert order_of(sizes, errors) > 0.8


def test_neumann_slab_converges_in_mesh_alone() -> None:
    """With very short steps the error of the mesh is left, of first order or better."""
    sizes = (8, 16, 32, 64)
    errors = [slab_run(cells, 800)[1] for cells in sizes]
    assert order_of(sizes, errors) > 0.9
    assert errors[-1] < 0.002


def slab_heat(cells: int, steps: int) -> float:
    tables = constant_tables(
        ice=(ICE.conductivity, ICE.heat_capacity),
        liquid=(WATER.conductivity, WATER.heat_capacity),
        wall=(50.0, 3.6e6),
        latent=LATENT,
    )
    mesh = slab(edges=np.linspace(0.0, 0.12, cells + 1), rings_of_water=cells, slices=ONE_SLICE)
    enthalpy = start_at(mesh, tables, 12.0)
    return step_evenly(mesh, tables, enthalpy, 1e7, -30.0, 3000.0 / steps, steps)


def cylinder_closing_time(stefan: float, rings: int, steps: int) -> float:
    """Closing time over the quasi-steady one, for a pipe at freezing and a given Stefan number."""
    radius, wall, film, difference = 0.026, 0.004, 100.0, 78.5
    capacity = stefan * LATENT / difference
    tables = constant_tables(
        ice=(2.2, capacity), liquid=(0.58, capacity), wall=(50.0, capacity), latent=LATENT
    )
    mesh = cylinder(
        ring_edges=ring_edges(inside_radius=radius, wall=wall, water_rings=rings, wall_rings=2),
        rings_of_water=rings,
        slices=ONE_SLICE,
    )
    quasi_steady = quasi_steady_cylinder_time(
        inside_radius=radius,
        open_radius=0.0,
        latent=LATENT,
        ice_conductivity=2.2,
        resistance=wall_resistance(
            inside_radius=radius, wall=wall, wall_conductivity=50.0, film=film
        ),
        difference=difference,
    )
    enthalpy = start_at(mesh, tables, 0.0)
    step, time = quasi_steady / steps, 0.0
    while enthalpy[0, 0] > 0.0:
        before = enthalpy[0, 0]
        step_evenly(mesh, tables, enthalpy, film, -difference, step, 1)
        time += step
    return (time - step * (1.0 - before / (before - enthalpy[0, 0]))) / quasi_steady


def test_cylinder_goes_over_into_london_and_seban_as_the_stefan_number_vanishes() -> None:
    """Published form: London and Seban 1943 (from memory). 1 %: mesh and step of this run."""
    ratios = [cylinder_closing_time(stefan, 24, 400) for stefan in (0.5, 0.1, 0.01)]
    assert ratios[0] > ratios[1] > ratios[2]
    assert ratios[2] == pytest.approx(1.0, abs=0.01)


def test_cylinder_converges_to_london_and_seban() -> None:
    """Mesh and step refined together, at a Stefan number too small to matter."""
    sizes = (8, 16, 32)
    errors = [abs(cylinder_closing_time(1e-4, rings, 25 * rings) - 1.0) for rings in sizes]
    assert order_of(sizes, errors) > 0.9
    assert errors[-1] < 0.005


def steady_flow_error(rings: int) -> float:
    """Relative error of steady conduction through ice, wall and film; the axis held at freezing."""
    inner, radius, wall, film = 0.006, 0.026, 0.004, 100.0
    tables = constant_tables(ice=(2.2, 1e3), liquid=(0.58, 1e3), wall=(50.0, 1e3), latent=1e16)
    edges = np.concatenate(
        [
            [0.0],
            ring_edges(
                inside_radius=radius - inner, wall=wall, water_rings=rings, wall_rings=rings // 4
            )[0:]
            + inner,
        ]
    )
    mesh = cylinder(ring_edges=edges, rings_of_water=rings + 1, slices=ONE_SLICE)
    # A latent heat without end in the core ring keeps it at freezing; the rest is ice and wall.
    enthalpy = np.full(mesh.areas.shape, -1e3 * 30.0)
    enthalpy[0, 0] = 5e15
    heat = step_evenly(mesh, tables, enthalpy, film, -78.5, 1e4, 40) / (40 * 1e4)
    core = 0.5 * inner
    expected = composite_cylinder_heat_flow(
        radii=(core, radius, radius + wall),
        conductivities=(2.2, 50.0),
        film=film,
        difference=78.5,
    )
    return abs(heat / expected - 1.0)


def test_steady_conduction_through_a_composite_cylinder_is_exact_on_any_mesh() -> None:
    """Textbook: log resistances in series. The grid uses log factors, so no mesh error is left.

    1e-3: the first step stores heat, and the core sits within the freezing interval of 0.01 K.
    """
    for rings in (4, 8, 16):
        assert steady_flow_error(rings) < 1e-3


@pytest.mark.parametrize("film", [20.0, 500.0])
@pytest.mark.parametrize("start", [0.0, 25.0])
def test_every_step_conserves_heat(film: float, start: float) -> None:
    """Heat given off equals enthalpy lost to round-off, whatever the step."""
    tables = constant_tables(
        ice=(2.2, 1.8e6), liquid=(0.58, 4.2e6), wall=(50.0, 3.5e6), latent=LATENT
    )
    mesh = cylinder(
        ring_edges=ring_edges(inside_radius=0.026, wall=0.004, water_rings=12, wall_rings=2),
        rings_of_water=12,
        slices=ONE_SLICE,
    )
    enthalpy = start_at(mesh, tables, start)
    first = float((enthalpy * mesh.areas).sum())
    for step in itertools.islice(itertools.cycle((0.5, 5.0, 50.0)), 30):
        heat = step_evenly(mesh, tables, enthalpy, film, -78.5, step, 1)
        now = float((enthalpy * mesh.areas).sum())
        assert heat == pytest.approx(first - now, rel=1e-6, abs=1e-6)
        first = now


def test_a_step_that_does_not_settle_changes_nothing() -> None:
    tables = constant_tables(
        ice=(2.2, 1.8e6), liquid=(0.58, 4.2e6), wall=(50.0, 3.5e6), latent=LATENT
    )
    mesh = slab(edges=np.linspace(0.0, 0.05, 21), rings_of_water=20, slices=ONE_SLICE)
    enthalpy = start_at(mesh, tables, 10.0)
    before = enthalpy.copy()
    pipes = one_pipe(mesh, tables, 1e5, -70.0)
    taken = advance(pipes, enthalpy, np.array([3600.0]), STILL, Limits(1e-9, 1))
    assert not taken.settled[0]
    assert (enthalpy == before).all()


def test_tables_give_back_the_temperature_they_were_made_from() -> None:
    tables = constant_tables(
        ice=(2.2, 1.8e6), liquid=(0.58, 4.2e6), wall=(50.0, 3.5e6), latent=LATENT
    )
    mesh = slab(edges=np.linspace(0.0, 0.01, 4), rings_of_water=2, slices=ONE_SLICE)
    enthalpy = np.array(
        [[liquid_enthalpy(tables, 17.3), -1.8e6 * 40.0, wall_enthalpy(tables, -55.5)]]
    )
    found, _ = one_pipe(mesh, tables, 1.0, 0.0).temperatures(enthalpy)
    assert found[0] == pytest.approx([17.3, -40.0 - tables.mush, -55.5], abs=1e-6)
    assert math.isclose(liquid_enthalpy(tables, 0.0), LATENT)


def test_pipes_together_do_what_each_does_alone() -> None:
    """Unlike pipes and unlike steps as one array: the joints carry no heat, to round-off."""
    meshes, states, films, steps = [], [], (60.0, 200.0, 9.0), np.array([4.0, 0.5, 60.0])
    table = constant_tables(
        ice=(2.2, 1.8e6), liquid=(0.58, 4.2e6), wall=(50.0, 3.5e6), latent=LATENT
    )
    for radius, slices, start in (
        (0.02, [0.03, 0.05], 3.0),
        (0.05, [0.1], 20.0),
        (0.01, [0.4], 9.0),
    ):
        edges = ring_edges(inside_radius=radius, wall=0.1 * radius, water_rings=6, wall_rings=2)
        mesh = cylinder(ring_edges=edges, rings_of_water=6, slices=np.array(slices))
        meshes.append(mesh)
        states.append(start_at(mesh, table, start))
    around = [
        (np.full(mesh.slices.size, film), np.full(mesh.slices.size, -78.5))
        for mesh, film in zip(meshes, films, strict=True)
    ]
    together = np.concatenate(states)
    still = Mixing(np.ones(4), np.ones(4))
    pipes = Pipes(meshes, [table] * 3, around)
    taken = advance(pipes, together, steps, still, Limits(1e-3, 12))
    assert taken.settled.all()
    first = 0
    for mesh, state, outside, step in zip(meshes, states, around, steps, strict=True):
        count = mesh.slices.size
        ones = Mixing(np.ones(count), np.ones(count))
        alone = Pipes([mesh], [table], [outside])
        heat = advance(alone, state, np.array([step]), ones, Limits(1e-3, 12)).heat
        assert together[first : first + count] == pytest.approx(state, rel=1e-9)
        assert taken.heat[first : first + count] == pytest.approx(heat, rel=1e-9)
        first += count
