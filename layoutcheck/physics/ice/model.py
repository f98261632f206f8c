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

from layoutcheck.physics.ice.answer_types import (
    Deciding,
    FreezeAnswer,
    FreezeOutcome,
    Uncertain,
)
from layoutcheck.physics.ice.cases import ROUGH, STANDARD, Case, Resolution, cases_of, setting_of
from layoutcheck.physics.ice.events import (
    Frozen,
    freeze,
    hold_and_thaw,
    plug_time,
)
from layoutcheck.physics.ice.inputs import (
    LONGEST_COLUMN,
    FreezeInputs,
)
from layoutcheck.physics.ice.outcomes import Later, Outcome, assembled, thinned
from layoutcheck.physics.ice.transient import Run, Setting
from layoutcheck.physics.properties import WALLS

_SETTLING_LIMIT = 48.0 * 3600.0
_THAW_LIMIT = 60.0 * 86400.0
_REMEMBERED = 512


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
        return ("how long water warmer than 68 degF (20 degC) takes in a level pipe (let it cool)",)
    if inputs.column_below is None:
        return ("length of the water that rises to the plug from below",)
    if inputs.column > LONGEST_COLUMN:
        return (
            f"how long more than {LONGEST_COLUMN:g} m of warm water below the plug takes (let it "
            "cool, or shut it off)",
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
        answers.append(replace(assembled(inputs, outcomes), deciding=deciding))
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
        what: _Planned(inputs, case, Run(setting_of(inputs, case, ROUGH)))
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
        thinned(chosen.case.name, result.course, chosen.run.setting),
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
