"""The freezing model against a second one written with FiPy: closing times within 2 %."""

import importlib.util
import math
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest

from layoutcheck.physics.ice import mesh as grids
from layoutcheck.physics.ice.events import freeze
from layoutcheck.physics.ice.tables import Tables, curve, pipe_tables
from layoutcheck.physics.ice.transient import Room, Run, Setting
from layoutcheck.physics.properties import WALLS
from layoutcheck.quantities.materials import Material

LIQUID = (0.58, 4.195e6)

# Outside diameter and wall (m), wall material, coolant and jacket (K above freezing, W/(m2 K)),
# start temperature (K above freezing). Pipe sizes: ASME B36.10M / B88, from memory.
PIPES = {
    "2 in steel, CO2": (0.0603, 0.0039, Material.CARBON_STEEL, -78.46, 58.0, 20.0),
    "1 in copper, CO2": (0.0286, 0.00127, Material.COPPER, -78.46, 58.0, 15.0),
    "4 in stainless, nitrogen": (0.1143, 0.0060, Material.STAINLESS_STEEL, -195.8, 120.0, 10.0),
    "12 in steel, nitrogen": (0.3239, 0.0103, Material.CARBON_STEEL, -195.8, 120.0, 20.0),
}


def second_model() -> ModuleType:
    path = Path(__file__).with_name("fipy_freeze.py")
    spec = importlib.util.spec_from_file_location("fipy_freeze", path)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["fipy_freeze"] = module
    spec.loader.exec_module(module)
    return module


def setting_of(
    name: str, water_rings: int = 10, wall_rings: int = 1, under_jacket: int = 6
) -> Setting:
    diameter, wall, material, coolant, film, start = PIPES[name]
    rings = grids.ring_edges(
        inside_radius=0.5 * diameter - wall,
        wall=wall,
        water_rings=water_rings,
        wall_rings=wall_rings,
    )
    slices = grids.slice_thicknesses(
        half_jacket=2.0 * diameter, beyond=4.0 * diameter, under_jacket=under_jacket
    )
    mesh = grids.cylinder(ring_edges=rings, rings_of_water=water_rings, slices=slices)
    return Setting(
        mesh,
        with_constant_water_and_wall(pipe_tables(material), material),
        start,
        2.0 * diameter,
        film,
        coolant,
        Room(10.0, 10.0, 20.0),
        2,
        0.0,
        0.0,
        0.02,
    )


def wall_figures(material: Material) -> tuple[float, float]:
    """Conductivity and volumetric heat capacity at 230 K, the same for both models."""
    wall = WALLS[material]
    return float(wall.conductivity(230.0)), wall.density * float(wall.heat_capacity(230.0))


def with_constant_water_and_wall(tables: Tables, material: Material) -> Tables:
    conductivity, capacity = wall_figures(material)
    wall = curve(
        first=-210.0,
        last=105.0,
        heat_capacity=lambda t: np.full_like(t, capacity),
        conductivity=lambda t: np.full_like(t, conductivity),
        enthalpy_at_zero=0.0,
    )
    liquid = curve(
        first=0.0,
        last=105.0,
        heat_capacity=lambda t: np.full_like(t, LIQUID[1]),
        conductivity=lambda t: np.full_like(t, LIQUID[0]),
        enthalpy_at_zero=tables.latent,
    )
    return Tables(tables.ice, liquid, wall, tables.latent, tables.mush)


def rings_of(setting: Setting) -> np.ndarray:
    """Ring edges from the areas of the rings, m."""
    return np.sqrt(np.concatenate([[0.0], np.cumsum(setting.mesh.areas[0])]) / math.pi)


def question_of(module: Any, name: str, setting: Setting) -> Any:
    conductivity, capacity = wall_figures(PIPES[name][2])
    return module.Question(
        rings=rings_of(setting),
        rings_of_water=setting.mesh.rings_of_water,
        slices=setting.mesh.slices,
        half_jacket=setting.half_jacket,
        wall_conductivity=conductivity,
        wall_heat_capacity=capacity,
        jacket_film=setting.jacket_conductance,
        coolant=setting.coolant,
        room_film=setting.room.warming,
        room=setting.room.temperature,
        start=setting.start,
        progress=setting.progress,
    )


@pytest.mark.slow
@pytest.mark.parametrize("name", sorted(PIPES))
def test_closing_time_agrees_with_fipy_within_two_percent(name: str) -> None:
    """Independent check by a general library: same grid lines and step rule, another solver."""
    module = second_model()
    ours = freeze([Run(setting_of(name))], needed=[2e-4], horizons=[1e6])[0].neck_at
    theirs = module.closing_time(question_of(module, name, setting_of(name)), LIQUID, 1e6)
    assert math.isfinite(ours)
    assert ours == pytest.approx(theirs, rel=0.02)
