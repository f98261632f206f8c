"""Low, likely and high: three freezes of one pipe, put together into one answer.

The three cases differ in jacket conductance (which dominates), start temperature, needed length,
strength of the convection closure and ambient conductance. Each is run with conduction alone, and
the likely and the high case once more with the closure; every time is the longer of the two, so
the closure never makes a freeze look shorter. The low case is conduction alone: it is the shortest
the inputs allow.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from layoutcheck.physics.ice import mesh as grids
from layoutcheck.physics.ice.answer_types import FreezeAnswer, FreezeOutcome, IceCourse
from layoutcheck.physics.ice.assumptions import assumptions_of
from layoutcheck.physics.ice.inputs import (
    COOLANT_TEMPERATURES,
    MODEL_ERROR,
    SOLID_LENGTH_SPREAD,
    START_TEMPERATURE_SPREAD,
    FreezeInputs,
)
from layoutcheck.physics.ice.tables import pipe_tables
from layoutcheck.physics.ice.transient import (
    Course,
    Frozen,
    Run,
    Setting,
    Thawed,
    freeze,
    settle,
    thaw,
)
from layoutcheck.physics.properties import FREEZING_POINT, WALLS
from layoutcheck.physics.ranges import Range

_SETTLING_LIMIT = 48.0 * 3600.0
_THAW_LIMIT = 60.0 * 86400.0
_MOMENTS = 48


@dataclass(frozen=True, slots=True)
class Resolution:
    """Rings and slices of the grid, and the share of a slice's bore that may freeze in one step."""

    water_rings: int = 16
    wall_rings: int = 2
    slices: int = 12
    progress: float = 0.02


STANDARD = Resolution()
"""Within about 1 % of a grid twice as fine in the time to close (our own runs)."""
COARSE = Resolution(water_rings=8, wall_rings=1, slices=6, progress=0.04)
"""For tests of trends, not for answers."""


@dataclass(frozen=True, slots=True)
class Case:
    """One of the three cases."""

    name: str
    start_temperature: float
    conductance: float
    needed: float
    mixing: float
    ambient_conductance: float


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one case came to. Infinite times are things that did not happen."""

    case: Case
    neck: float
    plug: float
    course: IceCourse
    steady: bool
    hold_rate: float = math.nan
    heat: float = math.nan
    plug_rate: float = math.nan
    frost: tuple[float, float] = (math.nan, math.nan)
    volume: tuple[float, float] = (math.nan, math.nan)
    solid_length: float = math.nan
    early_thaw: Thawed = Thawed(math.inf, math.inf)  # noqa: RUF009  (frozen)
    thawed: Thawed = Thawed(math.inf, math.inf)  # noqa: RUF009  (frozen)


def cases_of(inputs: FreezeInputs) -> tuple[Case, Case, Case]:
    """Spread the uncertain inputs into a low, a likely and a high case (by time to plug)."""
    needed, start = inputs.solid_length, inputs.start_temperature
    longest = max(needed, min(needed * (1.0 + SOLID_LENGTH_SPREAD), inputs.jacket_length))
    room = inputs.ambient_conductance
    return (
        Case(
            "low",
            max(start - START_TEMPERATURE_SPREAD, FREEZING_POINT),
            inputs.conductance.high,
            needed * (1.0 - SOLID_LENGTH_SPREAD),
            0.0,
            room.low,
        ),
        Case("likely", start, inputs.conductance.likely, needed, 1.0, room.likely),
        Case(
            "high",
            start + START_TEMPERATURE_SPREAD,
            inputs.conductance.low,
            longest,
            2.0,
            room.high,
        ),
    )


@lru_cache(maxsize=512)
def freeze_answer(inputs: FreezeInputs, resolution: Resolution = STANDARD) -> FreezeAnswer:
    """Estimate one freeze, its hold and its thaw.

    Parameters:
        inputs: one pipe, one jacket, one coolant. Equal inputs are computed once.
        resolution: of the grid and the steps.

    Returns:
        The answer. A pipe that does not close is an answer with its reason, not an error.

    Raises:
        HeatBalanceError: the solver lost heat; a fault of this tool.
    """
    early = _answer_without_a_run(inputs)
    if early is not None:
        return early
    outcomes = tuple(run_case(inputs, case, resolution) for case in cases_of(inputs))
    return _assemble(inputs, outcomes)


def _answer_without_a_run(inputs: FreezeInputs) -> FreezeAnswer | None:
    needed = inputs.solid_length
    if inputs.material not in WALLS:
        return FreezeAnswer(
            FreezeOutcome.UNDECIDED,
            f"no freeze time can be given for a wall of {inputs.material.value} pipe: the heat it "
            "conducts is not known (state the material, and for a lined pipe ask a specialist)",
            inputs,
            needed,
        )
    if inputs.jacket_length < needed:
        return FreezeAnswer(
            FreezeOutcome.DOES_NOT_CLOSE,
            f"the jacket ({inputs.jacket_length:.3f} m) is shorter than the solid length needed "
            f"({needed:.3f} m)",
            inputs,
            needed,
        )
    return None


def run_case(inputs: FreezeInputs, case: Case, resolution: Resolution) -> Outcome:
    """Run one case with conduction alone and with its closure, if any; keep the longer."""
    strengths = (0.0,) if case.mixing <= 0.0 else (0.0, case.mixing)
    runs = [Run(setting_of(inputs, case, resolution, mixing)) for mixing in strengths]
    frozen = [freeze(run, needed_half=0.5 * case.needed, horizon=inputs.horizon) for run in runs]
    slower = max(range(len(runs)), key=lambda i: (frozen[i].needed_at, frozen[i].neck_at, i))
    neck = max(one.neck_at for one in frozen)
    plug = max(one.needed_at for one in frozen)
    course = _thinned(case.name, frozen[slower].course, runs[slower])
    if math.isinf(plug):
        return Outcome(case, neck, plug, course, frozen[slower].steady)
    return _held_and_thawed(case, inputs, runs[slower], frozen, (neck, plug), course)


def _held_and_thawed(
    case: Case,
    inputs: FreezeInputs,
    run: Run,
    frozen: list[Frozen],
    times: tuple[float, float],
    course: IceCourse,
) -> Outcome:
    warm = _without_jacket(run.setting)
    # The plug that has only just closed lets go first: both ends of the hold are thawed.
    early = thaw(Run(warm, run.enthalpy.copy()), limit=_THAW_LIMIT)
    steady = settle(run, limit=_SETTLING_LIMIT)
    held_volume, held_frost = run.solid_volume(), run.surface_below_freezing()
    solid_length, rate = run.solid_length(), run.jacket_rate
    thawed = thaw(Run(warm, run.enthalpy.copy()), limit=_THAW_LIMIT)
    return Outcome(
        case,
        times[0],
        times[1],
        course,
        steady,
        rate,
        max(one.plug_heat for one in frozen),
        max(one.course.rate[-1] for one in frozen),
        (max(one.plug_frost for one in frozen), held_frost),
        (max(one.plug_volume for one in frozen), held_volume),
        solid_length,
        early,
        thawed,
    )


def setting_of(inputs: FreezeInputs, case: Case, resolution: Resolution, mixing: float) -> Setting:
    """Make the grid, the material tables and the surroundings of one run."""
    half = 0.5 * inputs.jacket_length
    mesh = grids.cylinder(
        ring_edges=grids.ring_edges(
            inside_radius=inputs.inside_radius,
            wall=inputs.wall,
            water_rings=resolution.water_rings,
            wall_rings=resolution.wall_rings,
        ),
        rings_of_water=resolution.water_rings,
        slices=grids.slice_thicknesses(
            half_jacket=half, beyond=_reach(inputs), under_jacket=_slices(inputs, resolution)
        ),
    )
    return Setting(
        mesh,
        pipe_tables(inputs.material),
        case.start_temperature - FREEZING_POINT,
        half,
        case.conductance,
        COOLANT_TEMPERATURES[inputs.coolant] - FREEZING_POINT,
        case.ambient_conductance,
        inputs.ambient_temperature - FREEZING_POINT,
        inputs.orientation,
        mixing,
        resolution.progress,
    )


def _slices(inputs: FreezeInputs, resolution: Resolution) -> int:
    """More slices under a long jacket, so that none is longer than two thirds of a diameter."""
    at_most = 0.67 * inputs.outside_diameter
    return min(max(resolution.slices, math.ceil(0.5 * inputs.jacket_length / at_most)), 40)


def _reach(inputs: FreezeInputs) -> float:
    """Bare pipe to model beyond the jacket: eight diameters, or four decay lengths."""
    conductivity = float(WALLS[inputs.material].conductivity(FREEZING_POINT))
    radius = 0.5 * inputs.outside_diameter
    carried = conductivity * math.pi * (radius**2 - inputs.inside_radius**2)
    carried += 3.0 * math.pi * inputs.inside_radius**2
    film = max(inputs.ambient_conductance.likely, 2.0)
    decay = math.sqrt(carried / (film * 2.0 * math.pi * radius))
    return max(8.0 * inputs.outside_diameter, 4.0 * decay)


def _without_jacket(setting: Setting) -> Setting:
    """The same pipe in the room with its jacket off."""
    return Setting(
        setting.mesh,
        setting.tables,
        setting.start,
        setting.half_jacket,
        setting.ambient_conductance,
        setting.ambient,
        setting.ambient_conductance,
        setting.ambient,
        setting.orientation,
        0.0,
        setting.progress,
    )


def _thinned(name: str, course: Course, run: Run) -> IceCourse:
    keep = np.unique(np.linspace(0, len(course.times) - 1, _MOMENTS).round().astype(int))
    return IceCourse(
        name,
        tuple(course.times[i] for i in keep),
        tuple(float(z) for z in run.setting.mesh.middles),
        tuple(tuple(float(r) for r in course.open_radius[i]) for i in keep),
        tuple(course.heat[i] for i in keep),
        tuple(course.rate[i] for i in keep),
    )


def _assemble(inputs: FreezeInputs, outcomes: tuple[Outcome, ...]) -> FreezeAnswer:
    failed = [one for one in outcomes if math.isinf(one.plug)]
    return _failed(inputs, outcomes, failed) if failed else _closed(inputs, outcomes)


def _failed(
    inputs: FreezeInputs, outcomes: tuple[Outcome, ...], failed: list[Outcome]
) -> FreezeAnswer:
    likely = outcomes[1]
    return FreezeAnswer(
        FreezeOutcome.DOES_NOT_CLOSE if likely in failed else FreezeOutcome.UNDECIDED,
        _why_not(inputs, likely if likely in failed else failed[-1]),
        inputs,
        inputs.solid_length,
        time_to_neck_closed=_range_if_known(*(one.neck for one in outcomes)),
        courses=tuple(one.course for one in outcomes),
        assumptions=assumptions_of(inputs),
    )


def _closed(inputs: FreezeInputs, outcomes: tuple[Outcome, ...]) -> FreezeAnswer:
    early = [one.early_thaw for one in outcomes]
    late = [one.thawed for one in outcomes]
    return FreezeAnswer(
        FreezeOutcome.CLOSES,
        "the bore freezes solid over the needed length in the low, the likely and the high case",
        inputs,
        inputs.solid_length,
        time_to_neck_closed=_range(*(one.neck for one in outcomes)),
        time_to_plug=_range(*(one.plug for one in outcomes)),
        heat_taken=_range(*(one.heat for one in outcomes)),
        heat_rate_at_plug=_range(*(one.plug_rate for one in outcomes)),
        hold_heat_rate=_range(*(one.hold_rate for one in outcomes)),
        frost_band_at_plug=_range_if_known(*(one.frost[0] for one in outcomes)),
        frost_band_in_hold=_range_if_known(*(one.frost[1] for one in outcomes)),
        ice_volume_at_plug=_range_if_known(*(one.volume[0] for one in outcomes)),
        ice_volume_in_hold=_range_if_known(*(one.volume[1] for one in outcomes)),
        solid_length_in_hold=_range(*(one.solid_length for one in outcomes)),
        time_to_release=_thaw_range(
            [one.released_at for one in early],
            early[1].released_at,
            [one.released_at for one in late],
        ),
        time_to_thaw=_thaw_range(
            [one.clear_at for one in early], late[1].clear_at, [one.clear_at for one in late]
        ),
        courses=tuple(one.course for one in outcomes),
        assumptions=assumptions_of(inputs),
    )


def _range(low: float, likely: float, high: float) -> Range:
    """Put three cases in order and widen the ends by the model's own error."""
    return Range(
        min(low, likely, high) * (1.0 - MODEL_ERROR),
        likely,
        max(low, likely, high) * (1.0 + MODEL_ERROR),
    )


def _range_if_known(low: float, likely: float, high: float) -> Range | None:
    """As `_range`; none if one of them is not known: beyond the pipe or the time watched."""
    known = all(map(math.isfinite, (low, likely, high)))
    return _range(low, likely, high) if known else None


def _thaw_range(early: list[float], likely: float, late: list[float]) -> Range | None:
    """As `_range`, over both ends of the hold; none if the ice outlasts the time watched."""
    times = [*early, likely, *late]
    return _range_if_known(min(times), likely, max(times))


def _why_not(inputs: FreezeInputs, failed: Outcome) -> str:
    open_now = failed.course.open_radii[-1][0]
    where = f"in the {failed.case.name} case"
    watched = f"{inputs.horizon / 3600.0:.3g} h, the longest freeze that is watched"
    if math.isfinite(failed.neck) and not failed.steady:
        return (
            f"{where} the neck closes but the ice is not yet solid over {failed.case.needed:.3f} m "
            f"after {watched}"
        )
    if math.isfinite(failed.neck):
        return (
            f"{where} the neck closes but the ice does not become solid over "
            f"{failed.case.needed:.3f} m: the jacket is too short or too poor for this pipe"
        )
    if failed.steady and open_now > 0.99 * inputs.inside_radius:
        return f"{where} no ice forms: the pipe brings as much heat as the jacket takes"
    if failed.steady:
        return (
            f"{where} the ice stops growing with a bore of {2e3 * open_now:.0f} mm still open: "
            "the pipe and the water bring as much heat as the jacket takes"
        )
    return f"{where} the bore is still open ({2e3 * open_now:.0f} mm) after {watched}"
