"""What the ice model says of many small cases, kept so that no word or figure changes unnoticed.

ice_pinned.json is pinned from our own runs: it proves nothing right, the tests against exact
solutions do that. `python -m tests.physics.ice_cases` writes it again; read the difference before
you keep it. All pipes are invented. Grids are coarse: nothing here is an answer for a real pipe.
"""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Callable, Sequence
from enum import Enum
from pathlib import Path
from typing import Any

import numpy as np

from layoutcheck.physics.coolant import Coolant
from layoutcheck.physics.ice import exact, mesh, tables
from layoutcheck.physics.ice.answer import report_of
from layoutcheck.physics.ice.answer_types import FreezeAnswer, FreezeOutcome, IceCourse
from layoutcheck.physics.ice.assumptions import assumptions_of
from layoutcheck.physics.ice.closure import Orientation, mixing_factors
from layoutcheck.physics.ice.inputs import FreezeInputError, FreezeInputs
from layoutcheck.physics.ice.model import (
    Resolution,
    _reach,
    _slices,
    cases_of,
    freeze_answer,
    run_case,
    setting_of,
)
from layoutcheck.physics.ice.transient import (
    Course,
    Run,
    Setting,
    closing_time,
    freeze,
    settle,
    thaw,
)
from layoutcheck.physics.ranges import Range
from layoutcheck.quantities.materials import Material

FILE = Path(__file__).parent / "ice_pinned.json"
Made = Callable[[], Any]

PIPE = FreezeInputs(
    outside_diameter=0.06,
    wall=0.004,
    material=Material.CARBON_STEEL,
    coolant=Coolant.CARBON_DIOXIDE,
    jacket_length=0.25,
    start_temperature=290.0,
)
ROUGH = Resolution(water_rings=4, wall_rings=2, slices=4, progress=0.1)


def plain(value: Any) -> Any:
    """Write a value in what JSON knows; numbers to eleven figures, no number as a word."""
    if isinstance(value, Enum | str):
        return getattr(value, "value", value)
    if isinstance(value, float):
        return float(f"{value:.11g}") if math.isfinite(value) else str(value)
    if isinstance(value, np.ndarray | np.generic):
        return plain(value.tolist())
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        value = {f.name: getattr(value, f.name) for f in dataclasses.fields(value)}
    value = value._asdict() if hasattr(value, "_asdict") else value
    if isinstance(value, dict):
        return {str(k): plain(v) for k, v in value.items()}
    return [plain(one) for one in value] if isinstance(value, Sequence) else value


def but(**changes: Any) -> FreezeInputs:
    """Give the pipe with some inputs changed."""
    return dataclasses.replace(PIPE, **changes)


# Inputs


def _said_of(changes: dict[str, Any]) -> str:
    try:
        but(**changes)
    except FreezeInputError as error:
        return str(error)
    return "taken"


def _around(name: str, least: float, most: float, **others: Any) -> dict[str, str]:
    """Say what is answered just below, at and just above each bound."""
    tried = (
        math.nextafter(least, -math.inf),
        least,
        most,
        math.nextafter(most, math.inf),
        0.5 * least - 1.0,
        2.0 * most,
        math.nan,
    )
    return {f"{name}={value!r}": _said_of({name: value, **others}) for value in tried}


def _inputs() -> dict[str, str]:
    kelvin = 273.15
    return {
        **_around("outside_diameter", 0.004, 2.0, wall=0.001),
        **_around("wall", 1e-4, 0.49 * 0.06),
        **_around("jacket_length", 0.01, 10.0),
        **_around("start_temperature", kelvin, kelvin + 90.0),
        **_around("ambient_temperature", 233.15, 333.15),
        **_around("horizon", 60.0, 30.0 * 86400.0),
        **_around("needed_solid_length", 1e-3, 10.0),
    }


def _conductances() -> dict[str, str]:
    triples = (
        (0.1, 0.1, 0.1),
        (0.0999, 5.0, 9.0),
        (0.05, 0.06, 0.07),
        (-0.01, 5.0, 9.0),
        (-0.3, -0.2, -0.1),
        (0.0, 0.0, 0.0),
        (0.0, 0.0, 0.05),
        (50.0, 60.0, 1e5),
        (50.0, 60.0, 100001.0),
        (50.0, 60.0, math.inf),
        (math.inf, math.inf, math.inf),
    )
    return {
        f"{name}={triple}": _said_of({name: Range(*triple)})
        for name in ("jacket_conductance", "ambient_conductance")
        for triple in triples
    }


def _derived() -> dict[str, Any]:
    tried = {
        "as it is": PIPE,
        "stated length": but(needed_solid_length=0.2),
        "short jacket": but(jacket_length=0.1),
        "nitrogen": but(coolant=Coolant.NITROGEN),
        "stated jacket": but(jacket_conductance=Range(20.0, 30.0, 44.0)),
    }
    return {
        name: [one.solid_length, one.conductance, one.inside_radius] for name, one in tried.items()
    }


def _assumptions() -> dict[str, Any]:
    lengths = {"default": None, "stated": 0.2}
    jackets = {"default": None, "stated": Range(20.4, 30.5, 44.6)}
    return {
        f"{coolant.value}, jacket {jacket}, length {length}": assumptions_of(
            but(
                coolant=coolant,
                jacket_conductance=jackets[jacket],
                needed_solid_length=lengths[length],
                ambient_conductance=Range(4.5, 8.0, 12.25),
            )
        )
        for coolant in Coolant
        for jacket in jackets
        for length in lengths
    }


# Report

RANGES = (
    "time_to_neck_closed",
    "time_to_plug",
    "heat_taken",
    "hold_heat_rate",
    "frost_band_at_plug",
    "frost_band_in_hold",
    "ice_volume_at_plug",
    "ice_volume_in_hold",
    "solid_length_in_hold",
    "time_to_release",
    "time_to_thaw",
    "heat_rate_at_plug",
)


def full_answer() -> FreezeAnswer:
    """Make an answer by hand in which every figure is another one."""
    spans = iter(range(1, 100))

    def span() -> Range:
        first = float(next(spans))
        return Range(first, first + 0.25, first + 0.5)

    course = IceCourse(
        "likely", (0.0, 5.0), (0.1, 0.2), ((0.026, 0.026), (0.0, 0.011)), (0.0, 9.5), (7.0, 6.5)
    )
    ranges: dict[str, Any] = {name: span() for name in RANGES}
    return FreezeAnswer(
        FreezeOutcome.CLOSES,
        "a reason",
        but(orientation=Orientation.VERTICAL, ambient_temperature=288.0),
        0.12,
        courses=(course, dataclasses.replace(course, case="high")),
        assumptions=("one", "two"),
        **ranges,
    )


def _reports() -> dict[str, Any]:
    bare = FreezeAnswer(FreezeOutcome.UNDECIDED, "another reason", PIPE, 0.1)
    return {
        "all there": report_of(full_answer()).model_dump(mode="json"),
        "none there": report_of(bare).model_dump(mode="json"),
    }


# Closure, mesh, tables, exact solutions


def _closure() -> dict[str, Any]:
    warm = np.array([0.0, 0.3, 2.0, 4.0, 5.1, 8.0, 15.0, 33.0, 61.2, 100.0, 120.0])
    wide = np.array([0.05, 0.0, 0.002, 0.05, 0.1, 0.03, 0.06, 0.012, 0.3, 0.05, 0.05])
    return {
        f"{way.value}, half jacket {half}, strength {strength}": mixing_factors(
            warmest=warm,
            open_diameter=wide,
            half_jacket=half,
            orientation=way,
            strength=strength,
        )
        for way in Orientation
        for half in (0.08, 0.6)
        for strength in (-1.0, 0.0, 0.5, 1.0, 2.0)
    }


def _meshes() -> dict[str, Any]:
    edges = mesh.ring_edges(inside_radius=0.026, wall=0.004, water_rings=3, wall_rings=2)
    slices = mesh.slice_thicknesses(half_jacket=0.12, beyond=0.3, under_jacket=3)
    return {
        "edges": edges,
        "slices": slices,
        "cylinder": mesh.cylinder(ring_edges=edges, rings_of_water=3, slices=slices),
        "slab": mesh.slab(edges=edges, rings_of_water=3, slices=slices),
    }


def _curve(of: tables.Curve) -> dict[str, Any]:
    """Give some of a curve's points, and the sum of all."""
    return {
        "first_enthalpy": of.first_enthalpy,
        "enthalpy_step": of.enthalpy_step,
        "temperatures": [of.temperature_of.size, *of.temperature_of[::70], of.temperature_of.sum()],
        "first_temperature": of.first_temperature,
        "temperature_step": of.temperature_step,
        "potentials": [of.potential_of.size, *of.potential_of[::70], of.potential_of.sum()],
    }


def _tables(of: tables.Tables) -> dict[str, Any]:
    at = (-250.0, -120.0, -0.5, 0.0, 3.0, 50.0, 104.0, 130.0)
    return {
        "ice": _curve(of.ice),
        "liquid": _curve(of.liquid),
        "wall": _curve(of.wall),
        "latent": of.latent,
        "mush": of.mush,
        "liquid enthalpies": [tables.liquid_enthalpy(of, t) for t in at],
        "wall enthalpies": [tables.wall_enthalpy(of, t) for t in at],
    }


def constant() -> tables.Tables:
    """Make tables of constant properties, each figure another one."""
    return tables.constant_tables(
        ice=(2.2, 1.8e6), liquid=(0.58, 4.2e6), wall=(50.0, 3.5e6), latent=3.06e8
    )


def _bent_curve() -> Any:
    return _curve(
        tables.curve(
            first=-13.0,
            last=29.0,
            heat_capacity=lambda t: 1000.0 + 3.0 * t + t**2,
            conductivity=lambda t: 2.0 + 0.01 * t,
            enthalpy_at_zero=77.0,
        )
    )


def _exact() -> dict[str, Any]:
    slab = exact.NeumannSlab(
        exact.Phase(2.2, 1.8e6), exact.Phase(0.58, 4.2e6), 3.06e8, face=-30.0, start=12.0
    )
    depths = np.array([0.0, 0.003, 0.01, 0.02, 0.05])
    moving = {
        "inside_radius": 0.026,
        "latent": 3.06e8,
        "ice_conductivity": 2.2,
        "resistance": 0.4,
        "difference": 78.5,
    }
    return {
        "root": slab.root,
        "front": [slab.front(t) for t in (0.0, 100.0, 3000.0)],
        "temperatures": [slab.temperature(depths, t) for t in (60.0, 3000.0)],
        "heat": [slab.heat_taken(t) for t in (0.0, 100.0, 3000.0)],
        "diffusivity": slab.ice.diffusivity,
        "wall": exact.wall_resistance(
            inside_radius=0.026, wall=0.004, wall_conductivity=50.0, film=100.0
        ),
        "steady": exact.composite_cylinder_heat_flow(
            radii=(0.01, 0.026, 0.03), conductivities=(2.2, 50.0), film=100.0, difference=78.5
        ),
        "closing": [
            exact.quasi_steady_cylinder_time(**moving, open_radius=r) for r in (0.0, 0.007, 0.026)
        ],
    }


# Runs in time


def setting(**changes: Any) -> Setting:
    """Make a small grid with real materials."""
    inputs = but(**{k: v for k, v in changes.items() if k != "mixing"})
    return setting_of(inputs, cases_of(inputs)[1], ROUGH, changes.get("mixing", 0.0))


def state_of(run: Run) -> dict[str, Any]:
    """Give all that can be asked of a run."""
    return {
        "time": run.time,
        "open radius": run.open_radius,
        "axis": run.temperature[:, 0],
        "outside": run.temperature[:, -1],
        "rates": [run.jacket_rate, run.stored_rate],
        "heat": run.jacket_heat,
        "frost": run.surface_below_freezing(),
        "ice": [run.solid_volume(), run.solid_length()],
        "turned over": [run._given, run._turnover],
    }


def brief(course: Course | IceCourse) -> dict[str, Any]:
    """Give the record of a run, and of the open radii each row's sum and the last row."""
    rows = course.open_radius if isinstance(course, Course) else course.open_radii
    return {
        "times": course.times,
        "heat": course.heat,
        "rate": course.rate,
        "open": [math.fsum(row) for row in rows],
        "last": rows[-1],
    }


def _stepped(**changes: Any) -> Made:
    def made() -> Any:
        run = Run(setting(**changes))
        states = [state_of(run)]
        for step in (1.0, 5.0, 20.0, 60.0, 240.0, 300.0, 300.0):
            assert run.try_step(step)
            states.append(state_of(run))
        run.check_balance()
        return states

    return made


def _frozen(*, half: float, horizon: float, **changes: Any) -> Made:
    def made() -> Any:
        run = Run(setting(**changes))
        found = freeze(run, needed_half=half, horizon=horizon)
        figures = {f.name: getattr(found, f.name) for f in dataclasses.fields(found)}
        return {**figures, "course": brief(found.course), "neck": found.neck_at}

    return made


def _held_and_thawed(**changes: Any) -> Made:
    def made() -> Any:
        run = Run(setting(**changes))
        freeze(run, needed_half=0.05, horizon=2e5)
        bare = dataclasses.replace(
            run.setting, jacket_conductance=12.0, coolant=15.0, ambient=15.0, mixing=0.0
        )
        early = thaw(Run(bare, run.enthalpy.copy()), limit=1e6)
        steady = settle(run, limit=1e5)
        held = state_of(run)
        late = Run(bare, run.enthalpy.copy())
        return [early, steady, held, thaw(late, limit=1e6), state_of(late)]

    return made


def _cut_short() -> Any:
    run = Run(setting())
    freeze(run, needed_half=0.05, horizon=2e5)
    bare = dataclasses.replace(run.setting, jacket_conductance=12.0, coolant=15.0, ambient=15.0)
    thawed = [thaw(Run(bare, run.enthalpy.copy()), limit=t) for t in (60.0, 1800.0, 5400.0)]
    begun = run.time
    return [thawed, settle(run, limit=600.0), run.time - begun]


def _closing() -> Any:
    middles = np.array([0.01, 0.03, 0.05, 0.08])
    courses = {
        "in turn": [10.0, 20.0, 40.0, 90.0],
        "out of turn": [10.0, 50.0, 40.0, 90.0],
        "far open": [10.0, 20.0, 40.0, math.inf],
        "neck open": [math.inf, 20.0, 40.0, 90.0],
        "first last": [70.0, 20.0, 40.0, 90.0],
    }
    lengths = (0.0, 0.005, 0.01, 0.02, 0.03, 0.045, 0.05, 0.06, 0.08, 0.09)
    return {
        name: {str(x): closing_time(middles, np.array(times), x) for x in lengths}
        for name, times in courses.items()
    }


# The model


def _cases() -> Any:
    tried = {
        "as it is": PIPE,
        "ice cold": but(start_temperature=274.0),
        "jacket caps the length": but(jacket_length=0.125),
        "no room for more": but(jacket_length=0.12, needed_solid_length=0.13),
        "stated": but(
            needed_solid_length=0.2,
            jacket_conductance=Range(20.0, 30.0, 44.0),
            ambient_conductance=Range(4.0, 8.0, 12.0),
        ),
    }
    return {name: cases_of(one) for name, one in tried.items()}


def _settings() -> Any:
    tried = {
        "as it is": PIPE,
        "nitrogen, upright, copper": but(
            coolant=Coolant.NITROGEN,
            orientation=Orientation.VERTICAL,
            material=Material.COPPER,
            ambient_temperature=280.0,
        ),
        "long jacket": but(jacket_length=0.7),
        "very long jacket": but(outside_diameter=0.02, wall=0.002, jacket_length=3.0),
        "plastic, still air": but(
            material=Material.PVC, ambient_conductance=Range(0.5, 1.0, 1.5), wall=0.006
        ),
        "windy": but(ambient_conductance=Range(10.0, 20.0, 30.0)),
    }
    return {
        name: _setting_figures(setting_of(one, cases_of(one)[2], ROUGH, 1.5))
        for name, one in tried.items()
    }


def _setting_figures(of: Setting) -> dict[str, Any]:
    figures = {f.name: getattr(of, f.name) for f in dataclasses.fields(of)}
    grid = of.mesh
    return {
        **figures,
        "mesh": [grid.rings_of_water, grid.edges, grid.slices.size, grid.slices[[0, -1]]],
        "tables": of.tables.wall.enthalpy_step,
    }


def _grids() -> Any:
    tried = {
        "steel": PIPE,
        "wide plastic": but(outside_diameter=0.3, wall=0.02, material=Material.HDPE),
        "copper in still air": but(
            material=Material.COPPER, ambient_conductance=Range(0.5, 1.0, 1.5)
        ),
        "copper, nearly still": but(
            material=Material.COPPER, ambient_conductance=Range(2.0, 2.5, 3.0)
        ),
        "plastic, windy": but(
            material=Material.PVC, ambient_conductance=Range(40.0, 50.0, 60.0), wall=0.006
        ),
        "long jacket": but(jacket_length=0.7),
        "very long jacket": but(outside_diameter=0.02, wall=0.002, jacket_length=3.0),
    }
    return {name: [_reach(one), _slices(one, ROUGH)] for name, one in tried.items()}


def _outcome(name: str, inputs: FreezeInputs, which: int) -> tuple[str, Made]:
    def made() -> Any:
        found = run_case(inputs, cases_of(inputs)[which], ROUGH)
        figures = {f.name: getattr(found, f.name) for f in dataclasses.fields(found)}
        return {**figures, "course": {"case": found.course.case, **brief(found.course)}}

    return f"outcome: {name}, {('low', 'likely', 'high')[which]}", made


UPRIGHT = but(orientation=Orientation.VERTICAL, start_temperature=303.0, material=Material.COPPER)
ASKED = {
    "closes": PIPE,
    "nitrogen in copper": but(coolant=Coolant.NITROGEN, material=Material.COPPER, wall=0.002),
    "upright and warm": UPRIGHT,
    "plastic": but(material=Material.PVC, jacket_conductance=Range(50.0, 200.0, 300.0)),
    "undecided": but(jacket_conductance=Range(3.0, 58.0, 90.0)),
    "poor jacket": but(jacket_conductance=Range(1.0, 2.0, 3.0)),
    "too little time": but(horizon=1200.0),
    "too little length": but(needed_solid_length=0.24, jacket_conductance=Range(40.0, 50.0, 90.0)),
    "plug too short": but(
        needed_solid_length=0.25, jacket_conductance=Range(8.0, 8.0, 8.1), material=Material.COPPER
    ),
    "jacket just as long": but(jacket_length=0.11, needed_solid_length=0.11),
    "jacket too short": but(jacket_length=0.11, needed_solid_length=0.1204),
    "unknown wall": but(material=Material.UNKNOWN),
}


def _answer(inputs: FreezeInputs) -> Made:
    def made() -> Any:
        found = freeze_answer(inputs, ROUGH)
        assert found.inputs == inputs
        left_out = {"inputs", "courses"}
        figures = {
            f.name: getattr(found, f.name)
            for f in dataclasses.fields(found)
            if f.name not in left_out
        }
        return {**figures, "assumptions": len(found.assumptions), "courses": len(found.courses)}

    return made


MADE: dict[str, Made] = {
    "inputs": _inputs,
    "conductances": _conductances,
    "inputs in force": _derived,
    "assumptions": _assumptions,
    "reports": _reports,
    "closure": _closure,
    "meshes": _meshes,
    "constant tables": lambda: _tables(constant()),
    "steel tables": lambda: _tables(tables.pipe_tables(Material.CARBON_STEEL)),
    "plastic tables": lambda: _tables(tables.pipe_tables(Material.PVC)),
    "bent curve": _bent_curve,
    "exact": _exact,
    "steps": _stepped(),
    "steps, upright and mixed": _stepped(
        orientation=Orientation.VERTICAL, mixing=1.0, start_temperature=310.0
    ),
    "freeze": _frozen(half=0.06, horizon=2e5),
    "freeze, mixed": _frozen(half=0.09, horizon=2e5, mixing=1.0),
    "freeze, too long a plug": _frozen(half=0.2, horizon=2e5),
    "freeze, out of time": _frozen(half=0.1, horizon=900.0),
    "freeze, at freezing": _frozen(half=0.0, horizon=2e5, start_temperature=273.15),
    "hold and thaw": _held_and_thawed(),
    "hold and thaw, copper": _held_and_thawed(material=Material.COPPER),
    "hold and thaw, cut short": _cut_short,
    "closing times": _closing,
    "cases": _cases,
    "settings": _settings,
    "grids": _grids,
    **dict(_outcome("steel", PIPE, which) for which in (0, 1, 2)),
    **dict(_outcome("upright", UPRIGHT, which) for which in (1, 2)),
    **{f"answer: {name}": _answer(inputs) for name, inputs in ASKED.items()},
}


def pinned_bytes() -> bytes:
    """Write the file for all cases."""
    note = (
        "Pinned from our own runs by `python -m tests.physics.ice_cases`. All pipes are invented."
    )
    lines = [f" {json.dumps('note')}: {json.dumps(note)}"]
    lines += [f" {json.dumps(k)}: {_written(plain(make()))}" for k, make in MADE.items()]
    return ("{\n" + ",\n".join(lines) + "\n}\n").encode()


def _written(value: Any) -> str:
    """Put each entry of a case on a line of its own."""
    if not isinstance(value, dict):
        return json.dumps(value, ensure_ascii=False)
    inner = [f"  {json.dumps(k)}: {json.dumps(v, ensure_ascii=False)}" for k, v in value.items()]
    return "{\n" + ",\n".join(inner) + "\n }"


if __name__ == "__main__":
    FILE.write_bytes(pinned_bytes())
