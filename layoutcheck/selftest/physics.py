"""The physics: exact solutions, balances and published anchors."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from layoutcheck.physics import air, coolant, loss, properties, strength, trapped
from layoutcheck.physics.carbon_dioxide import saturated, saturated_table
from layoutcheck.physics.ice.mesh import Mesh, cylinder, ring_edges, slab
from layoutcheck.physics.ice.step import Limits, Mixing, Pipes, advance
from layoutcheck.physics.ice.tables import Tables, constant_tables, liquid_enthalpy, wall_enthalpy
from layoutcheck.physics.ranges import Range
from layoutcheck.quantities import parse_size, pipe_dimensions
from layoutcheck.quantities.materials import Material
from layoutcheck.selftest import exact
from layoutcheck.selftest.check import Check, Reader, Reading, Status, near, worst

GROUP = "PHYSICS"
Numbers = NDArray[np.float64]

_ICE = exact.Phase(2.2, 917.0 * 2000.0)
_WATER = exact.Phase(0.58, 1000.0 * 4200.0)
_LATENT = 917.0 * 334e3
_ATMOSPHERE = 101_325.0


def _tables(*, mush: float = 1e-2) -> Tables:
    return constant_tables(
        ice=(_ICE.conductivity, _ICE.heat_capacity),
        liquid=(_WATER.conductivity, _WATER.heat_capacity),
        wall=(50.0, 3.6e6),
        latent=_LATENT,
        mush=mush,
    )


def _even(mesh: Mesh, tables: Tables, temperature: float) -> Numbers:
    enthalpy = np.empty_like(mesh.areas)
    enthalpy[:, : mesh.rings_of_water] = liquid_enthalpy(tables, temperature)
    enthalpy[:, mesh.rings_of_water :] = wall_enthalpy(tables, temperature)
    return enthalpy


def _step(pipes: Pipes, enthalpy: Numbers, step: float) -> float:
    """Take one step, in halves where it does not settle; give the heat given off, J."""
    still = np.ones(pipes.pipe.size)
    taken = advance(pipes, enthalpy, np.array([step]), Mixing(still, still), Limits(1e-3, 12))
    if taken.settled[0]:
        return step * float(taken.heat.sum())
    if step < 1e-6:
        return math.nan
    return sum(_step(pipes, enthalpy, 0.5 * step) for _ in range(2))


def _one_pipe(mesh: Mesh, tables: Tables, film: float, outside: float) -> Pipes:
    around = (np.full(mesh.slices.size, film), np.full(mesh.slices.size, outside))
    return Pipes([mesh], [tables], [around])


def _neumann() -> Iterator[Reading]:
    solution = exact.NeumannSlab(_ICE, _WATER, _LATENT, face=-30.0, start=12.0)
    cells, steps, time = 32, 128, 3000.0
    tables = _tables(mush=1e-3)
    mesh = slab(
        edges=np.linspace(0.0, 0.12, cells + 1), rings_of_water=cells, slices=np.array([1.0])
    )
    enthalpy = _even(mesh, tables, 12.0)
    pipes = _one_pipe(mesh, tables, 1e7, -30.0)
    heat = sum(_step(pipes, enthalpy, time / steps) for _ in range(steps))
    solid = 1.0 - np.clip(enthalpy[0] / _LATENT, 0.0, 1.0)
    yield near("depth of ice after 3000 s (m)", float((solid * mesh.areas[0]).sum()),
               solution.front(time), share=0.01)  # fmt: skip
    yield near("heat taken (J/m2)", heat, solution.heat_taken(time), share=0.01)


def _stefan() -> Iterator[Reading]:
    solution = exact.NeumannSlab(_ICE, _WATER, _LATENT, face=-0.01, start=0.0)
    by_hand = math.sqrt(2.0 * 2.2 * 0.01 * 3600.0 / (917.0 * 334e3))
    yield near("depth of ice after 1 h (m)", solution.front(3600.0), by_hand, share=1e-4)


def _london_and_seban() -> Iterator[Reading]:
    radius, wall, film, difference, rings = 0.026, 0.004, 100.0, 78.5, 24
    # Hardly any heat is stored, so that only the heat of freezing counts.
    tables = constant_tables(
        ice=(2.2, 400.0), liquid=(0.58, 400.0), wall=(50.0, 400.0), latent=_LATENT
    )
    mesh = cylinder(
        ring_edges=ring_edges(inside_radius=radius, wall=wall, water_rings=rings, wall_rings=2),
        rings_of_water=rings,
        slices=np.array([1.0]),
    )
    resistance = 1.0 / (film * (radius + wall)) + math.log((radius + wall) / radius) / 50.0
    by_formula = _LATENT * radius**2 * (0.25 / 2.2 + 0.5 * resistance) / difference
    enthalpy, time, before = _even(mesh, tables, 0.0), 0.0, _LATENT
    step, pipes = by_formula / 600.0, _one_pipe(mesh, tables, film, -difference)
    while enthalpy[0, 0] > 0.0 and time < 2.0 * by_formula:
        before = float(enthalpy[0, 0])
        _step(pipes, enthalpy, step)
        time += step
    time -= step * (1.0 - before / (before - float(enthalpy[0, 0])))
    yield near("time to close a 52 mm bore (s)", time, by_formula, share=0.01)


def _heat_balance() -> Iterator[Reading]:
    tables = _tables()
    mesh = cylinder(
        ring_edges=ring_edges(inside_radius=0.026, wall=0.004, water_rings=12, wall_rings=2),
        rings_of_water=12,
        slices=np.array([1.0]),
    )
    enthalpy, gaps = _even(mesh, tables, 20.0), []
    pipes = _one_pipe(mesh, tables, 200.0, -78.5)
    for step in (0.5, 5.0, 50.0, 200.0) * 3:
        first = float((enthalpy * mesh.areas).sum())
        heat = _step(pipes, enthalpy, step)
        lost = first - float((enthalpy * mesh.areas).sum())
        gaps.append(heat / lost - 1.0)
    yield worst("heat given off over enthalpy lost, largest gap of 12 steps", gaps, most=1e-6)


def _ice() -> Iterator[Reading]:
    yield near("density of ice (kg/m3)", properties.ICE_DENSITY, 916.709492200, share=1e-4)
    heat = 333_444.254 + 0.612  # ice and liquid at the triple point
    yield near("heat of freezing (J/kg)", properties.LATENT_HEAT, heat, share=1e-3)
    capacity = float(properties.ice_heat_capacity(273.16))
    yield near("heat capacity of ice (J/(kg K))", capacity, 2096.78431622, share=0.01)
    conductivity = float(properties.ice_conductivity(273.15))
    yield Reading("conductivity of ice (W/(m K))", conductivity, 2.2, 0.15)


def _water() -> Iterator[Reading]:
    # Density by the international formulation at 1 atm, as CoolProp gives it.
    for temperature, density in ((277.15, 999.97), (293.15, 998.21), (333.15, 983.20)):
        ours = float(properties.water_density(temperature))
        yield near(f"density at {temperature:.2f} K (kg/m3)", ours, density, share=1e-4)
    viscosity = float(properties.water_viscosity(298.15))
    yield near("viscosity at 298.15 K (Pa s)", viscosity, 0.890022551e-3, share=2e-3)
    conductivity = float(properties.water_conductivity(298.15))
    yield near("conductivity at 298.15 K (W/(m K))", conductivity, 0.607509806, share=5e-3)


def _coolants() -> Iterator[Reading]:
    table = saturated_table()
    yield Reading("CO2 critical temperature (K)", table.critical, 304.1282, 2e-3)
    yield Reading("CO2 triple point (K)", table.triple, 216.592, 2e-3)
    # Liquid and vapour become one at the critical point: 467.6 kg/m3.
    yield near("CO2 vapour at the critical point (kg/m3)", table.vapour_density[0], 467.6,
               share=0.01)  # fmt: skip
    yield Reading("nitrogen boils at (K)",
                  coolant.NITROGEN_BOILING_POINT.value, 77.355, 2e-3)  # fmt: skip
    # Giauque and Egan: 6030 cal/mol at the sublimation point.
    heat = 6030.0 * 4.184 / 44.0095e-3
    yield near("CO2 heat of sublimation (J/kg)", coolant.SUBLIMATION_HEAT.value, heat, share=0.01)
    # The flash loses no heat: snow and gas together hold what the liquid held. On the scale of the
    # table, liquid at 20 degC holds 256.0 kJ/kg and gas at the sublimation point 422.6.
    liquid, _ = saturated(293.15)
    yield near("CO2 liquid at 20 degC (J/kg)", liquid, 256.0e3, share=2e-3)
    snow = coolant.snow_yield(293.15)
    held = table.cold_gas_enthalpy - snow * coolant.SUBLIMATION_HEAT.value
    yield Reading("CO2 flash at 20 degC, heat before and after (J/kg)", held, liquid, 1.0)


def _pipes() -> Iterator[Reading]:
    pipe = pipe_dimensions(parse_size("2 in"), Material.CARBON_STEEL, "40")
    yield Reading("NPS 2 schedule 40, outside (m)", pipe.outside_diameter, 2.375 * 0.0254, 1e-4)
    yield Reading("NPS 2 schedule 40, wall (m)", pipe.wall, 0.154 * 0.0254, 1e-5)
    wall, bore = 0.154 * 0.0254, (2.375 - 2 * 0.154) * 0.0254
    limit = trapped.PipeSegment(bore, wall, 1.0, Material.CARBON_STEEL).limit() or math.nan
    # 2 S w / D with 17,000 psi.
    by_hand = 2.0 * 17_000.0 * 0.154 / 2.375 * 6894.757293168
    yield near("Barlow, 2 in schedule 40 (Pa)", limit, by_hand, share=1e-9)


def _plug() -> Iterator[Reading]:
    held = strength.holding_pressure(bore=0.05, plug_length=Range.exactly(0.1))
    yield near("4 tau L / D over the factor, L = 2 D (Pa)", held.allowed, 0.4e6, share=1e-12)
    ratio = 999.84 / 916.7 - 1.0
    yield Reading("water grows as it freezes by", trapped.expansion_ratio(), ratio, 5e-4)
    segment = trapped.PipeSegment(0.0525, 0.0039, 1.0, Material.UNKNOWN)
    rise = trapped.trapped_pressure(
        segments=[segment],
        frozen_volume=0.001 / trapped.expansion_ratio() * segment.volume,
        start_pressure=0.0,
        coldest_temperature=194.69,
        bulk_modulus=2.03e9,
    ).rise
    # A rigid pipe: 2.03 GPa times 0.1 %, on the water that is left.
    yield near("0.1 % pushed into a rigid section (Pa)", rise, 2.03e6, share=0.02)
    jet = loss.loss_from_source(bore=0.05, pressure=1000.0 * 9.80665 * 10.0)
    speed = math.sqrt(2.0 * 9.80665 * 10.0)
    yield near("Torricelli under 10 m (m/s)", jet.speed, speed, share=1e-12)
    flow = speed * math.pi / 4.0 * 0.05**2
    yield near("and through 50 mm (m3/s)", jet.flow.high, flow, share=1e-12)


def _room() -> Iterator[Reading]:
    """`A = G/(Q + G) (1 - exp(-(Q + G) t / V))`, 2 g/s of CO2 for an hour."""
    room = air.Room(60.0, 0.05)
    release = air.Release(3600.0, 0.002)
    found = air.room_air(room=room, coolant=coolant.Coolant.CARBON_DIOXIDE, releases=(release,))
    gas = 0.002 / 44.0095e-3 * 8.314462618 * room.temperature / _ATMOSPHERE
    added = gas / (0.05 + gas) * (1.0 - math.exp(-(0.05 + gas) * 3600.0 / 60.0))
    back = air.BACKGROUND.value
    yield near("highest share of CO2", found.peak, back + (1.0 - back) * added, share=1e-6)
    yield near("lowest share of oxygen", found.lowest_oxygen, 0.209 * (1.0 - added), share=1e-6)


def _check(name: str, proves: str, source: str, status: Status, read: Reader) -> Check:
    return Check(name, GROUP, proves, source, status, read)


_SEEN = "values read in other programs' tests"
CHECKS = (
    _check(
        "neumann", "The freezing model follows the exact front and heat in a slab, to 1 %.",
        "Neumann's solution: Carslaw and Jaeger (1959), section 11.2",
        Status.MEMORY, _neumann,
    ),
    _check(
        "stefan", "The exact solution goes over into Stefan's for a small difference.",
        "front = sqrt(2 k dT t / latent heat), textbook", Status.BY_HAND, _stefan,
    ),
    _check(
        "london-and-seban", "The freezing model closes a pipe in the quasi-steady time, to 1 %.",
        "London and Seban, Trans. ASME 65 (1943) 771: the form was derived again",
        Status.MEMORY, _london_and_seban,
    ),
    _check(
        "heat-balance", "Heat given off equals enthalpy lost, whatever the step.",
        "conservation of energy", Status.BY_HAND, _heat_balance,
    ),
    _check(
        "ice", "Density, heat of freezing, heat capacity and conductivity of ice.",
        f"IAPWS R10-06(2009), table 6, triple point ({_SEEN}); conductivity 2.1 to 2.3 in "
        "handbooks, from memory", Status.PUBLISHED, _ice,
    ),
    _check(
        "water", "Water is the international one.",
        f"density: IAPWS-95, from memory; check values at 298.15 K and 0.1 MPa of the IAPWS-97 "
        f"supplements on viscosity and conductivity ({_SEEN})", Status.PUBLISHED, _water,
    ),
    _check(
        "coolants", "Carbon dioxide and nitrogen are the published ones; a flash keeps its heat.",
         "Span and Wagner (1996); Span et al. (2000); Giauque and Egan (1937)",
        Status.MEMORY, _coolants,
    ),
    _check(
        "pipes", "Pipe sizes are the standard's, and Barlow's formula is worked rightly.",
        "ASME B36.10M: 2.375 in, 0.154 in; P = 2 S w / D with 17,000 psi",
        Status.MEMORY, _pipes,
    ),
    _check(
        "plug", "What a plug holds, what trapped ice pushes, what runs out when it goes.",
        "balance of forces; bulk modulus times share; Torricelli", Status.BY_HAND, _plug,
    ),
    _check(
        "gas-in-a-room", "Gas in a ventilated room follows the exact exponential.",
        "well-mixed room, solved by hand", Status.BY_HAND, _room,
    ),
)  # fmt: skip


def checks() -> tuple[Check, ...]:
    """Give the checks of this group."""
    return CHECKS
