"""Low, likely and high: the freezes of one or many pipes, put together into answers.

The three cases differ in jacket conductance (which dominates), start temperature, needed length,
strength of the convection closures and the room's film. The low case of a level pipe is conduction
alone: the shortest the inputs allow. The likely and the high case are run with conduction alone and
with the closures; every time is the longer of the two, so a closure never makes a freeze look
shorter. In a pipe that rises the runs with closures hold the whole column of water below.

All runs of all pipes asked for at once are marched together (see `step`).

No measured freeze could be compared. Looked for, and read no further than the abstract or opening
page, in which no time stands: McDonald and others, Applied Thermal Engineering 73 (2014) 140 (2 in
steel pipe in cold air); Li and Liu, Fluid Dyn. Mater. Process. 18(3) (2022) (219 mm, nitrogen);
Park and others (2001, Korean; nitrogen, with flow); Water 13 (2021) 2725 and 16 (2024) 202 (50 to
150 mm, nitrogen). Against statements of practice: 2 in from 68 degF in about 30 minutes (the fit),
and a freezing contractor's public answer, 8 in with nitrogen from 50 degF in about 40 minutes (no
jacket stated), which lies within our range, below its likely value.
"""

from __future__ import annotations

import math
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from layoutcheck.physics.coolant import COOLANT_TEMPERATURE
from layoutcheck.physics.ice import mesh as grids
from layoutcheck.physics.ice.answer_types import (
    Deciding,
    FreezeAnswer,
    FreezeOutcome,
    HoldCourse,
    IceCourse,
    Uncertain,
    widened,
)
from layoutcheck.physics.ice.assumptions import assumptions_of
from layoutcheck.physics.ice.events import (
    Frozen,
    Held,
    Thawed,
    freeze,
    hold_and_thaw,
    plug_time,
)
from layoutcheck.physics.ice.inputs import (
    COVERED_PIPE,
    LONGEST_COLUMN,
    SOLID_LENGTH_SPREAD,
    START_TEMPERATURE_SPREAD,
    FreezeInputs,
)
from layoutcheck.physics.ice.tables import pipe_tables
from layoutcheck.physics.ice.transient import Course, Room, Run, Setting, frost_bands
from layoutcheck.physics.properties import FREEZING_POINT, WALLS
from layoutcheck.physics.ranges import Range

_SETTLING_LIMIT = 48.0 * 3600.0
_THAW_LIMIT = 60.0 * 86400.0
_MOMENTS = 48
_REMEMBERED = 512


@dataclass(frozen=True, slots=True)
class Resolution:
    """Rings and slices of the grid, and the share of a slice's heat that may leave in one step.

    slices: under half a jacket.
    """

    water_rings: int = 8
    wall_rings: int = 1
    slices: int = 6
    progress: float = 0.05


STANDARD = Resolution()
"""Against one twice as fine in rings, slices and steps (our own runs, likely case; 1/2 to 12 in,
every wall that figures are kept for, both coolants; 120 level pipes and 12 columns of 1 to 6 in):
time to the plug -1.4 to +2.2 % in level pipe, -0.8 to +3.9 % with a column, heat -2.3 to +6.7 %.
A test holds it to 2.5, 4 and 8 %. The model's error is taken as 25 %."""
_ROUGH = Resolution(slices=3, progress=0.2)
"""For what is only compared with another run on it."""
FINE = Resolution(water_rings=16, wall_rings=2, slices=12, progress=0.02)
"""Twice as fine in every way: the error of the standard grid is measured against it."""


@dataclass(frozen=True, slots=True)
class Case:
    """One of the three cases.

    Attributes:
        mixing: strength of the closure across the pipe, and along a level one.
        exchange: constant of the exchange along a pipe that rises.
        room: film of pipe colder and of pipe warmer than the room, W/(m2 K).
    """

    name: str
    start_temperature: float
    conductance: float
    needed: float
    mixing: float
    exchange: float
    room: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one case came to. Infinite times are things that did not happen."""

    case: Case
    ice: float
    neck: float
    plug: float
    course: IceCourse
    steady: bool
    heat: float
    plug_rate: float
    frost: float
    volume: float
    later: Later | None = None


@dataclass(frozen=True, slots=True)
class Later:
    """What became of a plug: held, and thawed when it had only just closed, or after a long hold.

    The high case takes in heat fastest, so its plug goes first; the low case's is the last to go.
    So the first is not thawed late, nor the last early.
    """

    hold: Held
    frost: float
    volume: float
    solid_length: float
    early: Thawed | None
    late: Thawed | None


def cases_of(inputs: FreezeInputs) -> tuple[Case, Case, Case]:
    """Spread the uncertain inputs into a low, a likely and a high case (by time to plug)."""
    needed, start = inputs.solid_length, inputs.start_temperature
    longest = max(needed, min(needed * (1.0 + SOLID_LENGTH_SPREAD), inputs.jacket_length))
    film, level = inputs.ambient_conductance, inputs.is_level
    exchange = inputs.exchange
    return (
        Case(
            "low",
            max(start - START_TEMPERATURE_SPREAD, FREEZING_POINT),
            inputs.conductance.high,
            needed * (1.0 - SOLID_LENGTH_SPREAD),
            0.0 if level else 0.5,
            exchange.low,
            (film.low, film.high),
        ),
        Case(
            "likely",
            start,
            inputs.conductance.likely,
            needed,
            1.0,
            exchange.likely,
            (film.likely, min(film.likely, COVERED_PIPE.likely)),
        ),
        Case(
            "high",
            start + START_TEMPERATURE_SPREAD,
            inputs.conductance.low,
            longest,
            2.0,
            exchange.high,
            (film.high, min(film.low, COVERED_PIPE.low)),
        ),
    )


def freeze_answer(inputs: FreezeInputs, resolution: Resolution = STANDARD) -> FreezeAnswer:
    """Estimate one freeze, its hold and its thaw: `freeze_answers` for one pipe."""
    return freeze_answers([inputs], resolution)[0]


def freeze_answers(
    asked: Sequence[FreezeInputs], resolution: Resolution = STANDARD
) -> list[FreezeAnswer]:
    """Estimate many freezes, their holds and their thaws, marched together.

    Parameters:
        asked: pipes, each with one jacket and one coolant. Equal ones are computed once.
        resolution: of the grid and the steps.

    Returns:
        The answers in the same order; each is the same whatever else is asked with it. A pipe that
        does not close is an answer with its reason, not an error.

    Raises:
        HeatBalanceError: the solver lost heat; a fault of this tool.
    """
    new = [one for one in dict.fromkeys(asked) if (one, resolution) not in _ANSWERS]
    early = {one: _answer_without_a_run(one) for one in new}
    to_run = [one for one in new if early[one] is None]
    found = {one: answer for one, answer in early.items() if answer is not None}
    found.update(zip(to_run, _marched(to_run, resolution), strict=True))
    _ANSWERS.update({(one, resolution): answer for one, answer in found.items()})
    answers = [_ANSWERS[one, resolution] for one in asked]
    while len(_ANSWERS) > _REMEMBERED:
        _ANSWERS.popitem(last=False)
    return answers


_ANSWERS: OrderedDict[tuple[FreezeInputs, Resolution], FreezeAnswer] = OrderedDict()


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
    missing = _missing_of(inputs)
    if missing:
        return FreezeAnswer(
            FreezeOutcome.UNDECIDED,
            _LEVEL_AND_WARM if inputs.is_level else _RISING_AND_WARM,
            inputs,
            needed,
            missing=missing,
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


_RISING_AND_WARM = (
    "warm water below a jacket rises to it and can keep a plug from closing for hours: how long "
    "can not be said without the whole column"
)
_LEVEL_AND_WARM = (
    "in a level pipe cold water runs off along the bottom and warm water comes in its place: with "
    "water warmer than 68 degF (20 degC) nobody has checked how much longer that takes"
)


def _missing_of(inputs: FreezeInputs) -> tuple[str, ...]:
    """Name what is not known of the water, or more than the model was checked for."""
    if not inputs.is_warm:
        return ()
    if inputs.is_level:
        return ("water that has cooled to 68 degF (20 degC) in the level pipe",)
    if inputs.column_below is None:
        return ("length of the water that rises to the plug from below",)
    if inputs.column > LONGEST_COLUMN:
        return (
            f"a shorter column of water below the plug (at most {LONGEST_COLUMN:g} m was checked), "
            "or water that has cooled",
        )
    return ()


@dataclass(frozen=True, slots=True)
class _Planned:
    """One run of one case of one pipe."""

    inputs: FreezeInputs
    case: Case
    run: Run


def _plan(inputs: FreezeInputs, case: Case, resolution: Resolution) -> list[_Planned]:
    """Give the runs of a case: with conduction alone, with its closures, or both."""
    still = replace(case, mixing=0.0, exchange=0.0)
    ways = [case] if case.name == "low" else [still, case]
    return [_Planned(inputs, case, Run(setting_of(inputs, way, resolution))) for way in ways]


def _marched(asked: Sequence[FreezeInputs], resolution: Resolution) -> list[FreezeAnswer]:
    if not asked:
        return []
    groups = [_plan(inputs, case, resolution) for inputs in asked for case in cases_of(inputs)]
    varied = [_vary(inputs) for inputs in asked]
    flat = [one for group in groups for one in group]
    frozen = iter(_freeze([*flat, *(one for each in varied for one in each.values())]))
    kept = _held_and_thawed([_slower(group, [next(frozen) for _ in group]) for group in groups])
    answers = []
    for at, (inputs, each) in enumerate(zip(asked, varied, strict=True)):
        outcomes = tuple(kept[3 * at : 3 * at + 3])
        deciding = _deciding(inputs, {w: (p, next(frozen)) for w, p in each.items()}, outcomes[1])
        answers.append(replace(_assemble(inputs, outcomes), deciding=deciding))
    return answers


def freeze_case(inputs: FreezeInputs, case: Case, resolution: Resolution = STANDARD) -> Outcome:
    """Freeze one case of one pipe, and stop when its plug stands."""
    runs = _plan(inputs, case, resolution)
    return _slower(runs, _freeze(runs))[1]


def _vary(inputs: FreezeInputs) -> dict[Uncertain, _Planned]:
    """Give the likely case with one input after the other at its high value.

    What the likely case itself comes to can be read from the run to the longer plug.
    """
    _, likely, high = cases_of(inputs)
    cases = {
        Uncertain.LENGTH: replace(likely, needed=high.needed),
        Uncertain.JACKET: replace(likely, conductance=high.conductance),
        Uncertain.START: replace(likely, start_temperature=high.start_temperature),
        Uncertain.WATER: replace(likely, mixing=high.mixing, exchange=high.exchange),
        Uncertain.ROOM: replace(likely, room=high.room),
    }
    return {
        what: _Planned(inputs, case, Run(setting_of(inputs, case, _ROUGH)))
        for what, case in cases.items()
    }


def _deciding(
    inputs: FreezeInputs, varied: dict[Uncertain, tuple[_Planned, Frozen]], likely: Outcome
) -> Deciding | None:
    """Name the input that alone lengthens the likely time most; in proportion to that time."""
    longer, with_longer = varied[Uncertain.LENGTH]
    usual = plug_time(longer.run, with_longer.closed_at, cases_of(inputs)[1].needed)
    if math.isinf(likely.plug) or math.isinf(usual):
        return None
    what = max(varied, key=lambda one: varied[one][1].needed_at)
    return Deciding(what, likely.plug, likely.plug * varied[what][1].needed_at / usual)


def _freeze(planned: Sequence[_Planned]) -> list[Frozen]:
    return freeze(
        [one.run for one in planned],
        needed=[one.case.needed for one in planned],
        horizons=[one.inputs.horizon for one in planned],
    )


def _slower(runs: Sequence[_Planned], frozen: Sequence[Frozen]) -> tuple[_Planned, Outcome]:
    """Keep the slower run of a case with its frost; of heat and ice the greater."""
    which = max(range(len(runs)), key=lambda i: (frozen[i].needed_at, frozen[i].neck_at, i))
    chosen, result = runs[which], frozen[which]
    outcome = Outcome(
        chosen.case,
        max(one.ice_at for one in frozen),
        max(one.neck_at for one in frozen),
        max(one.needed_at for one in frozen),
        _thinned(chosen.case.name, result.course, chosen.run.setting),
        result.steady,
        max(one.plug_heat for one in frozen),
        max(one.plug_rate for one in frozen),
        min(result.plug_frost),
        max(one.plug_volume for one in frozen),
    )
    return chosen, outcome


def _held_and_thawed(outcomes: Sequence[tuple[_Planned, Outcome]]) -> list[Outcome]:
    """Hold and thaw every plug of the pipes that close in all three cases."""
    closes = [
        all(math.isfinite(one.plug) for _, one in outcomes[3 * (at // 3) : 3 * (at // 3) + 3])
        for at in range(len(outcomes))
    ]
    runs = [one.run for (one, _), kept in zip(outcomes, closes, strict=True) if kept]
    # Runs come in threes: low, likely, high.
    early = {at: _bare(run) for at, run in enumerate(runs) if at % 3 != 0}
    holds, thawed = hold_and_thaw(
        runs, list(early.values()), hold_limit=_SETTLING_LIMIT, thaw_limit=_THAW_LIMIT
    )
    soon = dict(zip(early, thawed, strict=True))
    late = {at: _bare(run) for at, run in enumerate(runs) if at % 3 != 2}
    _, thawed = hold_and_thaw([], list(late.values()), hold_limit=0.0, thaw_limit=_THAW_LIMIT)
    last = dict(zip(late, thawed, strict=True))
    later = iter(
        Later(
            hold,
            min(run.frost_bands()),
            run.solid_volume(),
            run.solid_length(),
            soon.get(at),
            last.get(at),
        )
        for at, (run, hold) in enumerate(zip(runs, holds, strict=True))
    )
    return [
        replace(outcome, later=next(later)) if kept else outcome
        for (_, outcome), kept in zip(outcomes, closes, strict=True)
    ]


def setting_of(inputs: FreezeInputs, case: Case, resolution: Resolution) -> Setting:
    """Make the grid, the material tables and the surroundings of one run."""
    half = 0.5 * inputs.jacket_length
    slices, first_edge = _slices_of(inputs, case, resolution)
    mesh = grids.cylinder(
        ring_edges=grids.ring_edges(
            inside_radius=inputs.inside_radius,
            wall=inputs.wall,
            water_rings=resolution.water_rings,
            wall_rings=resolution.wall_rings,
        ),
        rings_of_water=resolution.water_rings,
        slices=slices,
        first_edge=first_edge,
    )
    return Setting(
        mesh=mesh,
        tables=pipe_tables(inputs.material),
        start=case.start_temperature - FREEZING_POINT,
        half_jacket=half,
        jacket_conductance=case.conductance,
        coolant=COOLANT_TEMPERATURE[inputs.coolant] - FREEZING_POINT,
        room=Room(*case.room, inputs.ambient_temperature - FREEZING_POINT),
        sides=1 if case.exchange > 0.0 else 2,
        stirring=case.mixing,
        exchange=case.exchange,
        progress=resolution.progress,
    )


def _slices_of(
    inputs: FreezeInputs, case: Case, resolution: Resolution
) -> tuple[grids.Numbers, float]:
    """Slices of the half that is modelled, or of a whole pipe with the column below it."""
    under = _slices(inputs, resolution)
    reach = _reach(inputs)
    if case.exchange <= 0.0:
        half = 0.5 * inputs.jacket_length
        return grids.slice_thicknesses(half_jacket=half, beyond=reach, under_jacket=under), 0.0
    fineness = resolution.slices / STANDARD.slices
    return grids.slices_of_a_column(
        jacket=inputs.jacket_length,
        above=reach,
        below=max(reach, inputs.column),
        under_jacket=2 * under,
        growth=1.4 ** (1.0 / fineness),
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
    film = max(inputs.ambient_conductance.low, 2.0)
    decay = math.sqrt(carried / (film * 2.0 * math.pi * radius))
    return max(8.0 * inputs.outside_diameter, 4.0 * decay)


def _bare(run: Run) -> Run:
    """The same pipe as it stands, at time 0, with its jacket off."""
    return Run(_without_jacket(run.setting), run.enthalpy.copy())


def _without_jacket(setting: Setting) -> Setting:
    """The same pipe in the room with its jacket off; a level one is not stirred."""
    return replace(
        setting,
        jacket_conductance=setting.room.warming,
        coolant=setting.room.temperature,
        stirring=setting.stirring if setting.exchange > 0.0 else 0.0,
    )


def _thinned(name: str, course: Course, setting: Setting) -> IceCourse:
    """Keep some moments, and lay out both halves of a pipe of which one is modelled."""
    keep = np.unique(np.linspace(0, len(course.times) - 1, _MOMENTS).round().astype(int))

    def whole(row: grids.Numbers, sign: float = 1.0) -> tuple[float, ...]:
        mirrored = row if setting.sides == 1 else np.concatenate([sign * row[::-1], row])
        return tuple(float(value) for value in mirrored)

    bands = [frost_bands(setting, course.wall[i]) for i in keep]
    return IceCourse(
        case=name,
        times=tuple(course.times[i] for i in keep),
        positions=whole(setting.mesh.middles, -1.0),
        open_radii=tuple(whole(course.open_radius[i]) for i in keep),
        surface=tuple(whole(course.wall[i] + FREEZING_POINT) for i in keep),
        frost=tuple(bands),
        heat=tuple(course.heat[i] for i in keep),
        rate=tuple(course.rate[i] for i in keep),
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
    later = [one.later for one in outcomes if one.later is not None]
    early, late = (
        [x for x in each if x is not None]
        for each in ([one.early for one in later], [one.late for one in later])
    )
    return FreezeAnswer(
        FreezeOutcome.CLOSES,
        "the bore freezes solid over the needed length in the low, the likely and the high case",
        inputs,
        inputs.solid_length,
        time_to_first_ice=widened(*(one.ice for one in outcomes)),
        time_to_neck_closed=widened(*(one.neck for one in outcomes)),
        time_to_plug=widened(*(one.plug for one in outcomes)),
        heat_taken=widened(*(one.heat for one in outcomes)),
        heat_rate_at_plug=widened(*(one.plug_rate for one in outcomes)),
        hold_heat_rate=widened(*(one.hold.rate for one in later)),
        hold_courses=tuple(_hold_course(one) for one in later),
        frost_band_at_plug=_range_if_known(*(one.frost for one in outcomes)),
        frost_band_in_hold=_range_if_known(*(one.frost for one in later)),
        ice_volume_at_plug=_range_if_known(*(one.volume for one in outcomes)),
        ice_volume_in_hold=_range_if_known(*(one.volume for one in later)),
        solid_length_in_hold=widened(*(one.solid_length for one in later)),
        time_to_release=_thaw_range(
            [one.released_at for one in early],
            early[0].released_at,
            [one.released_at for one in late],
        ),
        time_to_thaw=_thaw_range(
            [one.clear_at for one in early], late[1].clear_at, [one.clear_at for one in late]
        ),
        courses=tuple(one.course for one in outcomes),
        assumptions=assumptions_of(inputs),
    )


def _hold_course(of: Later) -> HoldCourse:
    return HoldCourse(tuple(of.hold.times.tolist()), tuple(of.hold.heat.tolist()), of.hold.rate)


def _range_if_known(low: float, likely: float, high: float) -> Range | None:
    """As `widened`; none if one of them is not known: beyond the pipe or the time watched."""
    known = all(map(math.isfinite, (low, likely, high)))
    return widened(low, likely, high) if known else None


def _thaw_range(early: list[float], likely: float, late: list[float]) -> Range | None:
    """As `widened`, over both ends of the hold; none if the ice outlasts the time watched."""
    times = [*early, likely, *late]
    return _range_if_known(min(times), likely, max(times))


def _why_not(inputs: FreezeInputs, failed: Outcome) -> str:
    open_now = min(failed.course.open_radii[-1])
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
