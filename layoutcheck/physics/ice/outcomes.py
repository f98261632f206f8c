"""What the cases of a pipe came to, put together into one answer."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from layoutcheck.physics.ice.answer_types import (
    FreezeAnswer,
    FreezeOutcome,
    HoldCourse,
    IceCourse,
    widened,
)
from layoutcheck.physics.ice.assumptions import assumptions_of
from layoutcheck.physics.ice.cases import Case
from layoutcheck.physics.ice.events import Held, Thawed
from layoutcheck.physics.ice.inputs import FreezeInputs
from layoutcheck.physics.ice.transient import Course, Setting, frost_bands
from layoutcheck.physics.properties import FREEZING_POINT
from layoutcheck.physics.ranges import Range

_MOMENTS = 48


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


def thinned(name: str, course: Course, setting: Setting) -> IceCourse:
    """Keep some moments, and lay out both halves of a pipe of which one is modelled."""
    keep = np.unique(np.linspace(0, len(course.times) - 1, _MOMENTS).round().astype(int))

    def whole(row: np.ndarray, sign: float = 1.0) -> tuple[float, ...]:
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


def assembled(inputs: FreezeInputs, outcomes: tuple[Outcome, ...]) -> FreezeAnswer:
    """Make the answer of the low, the likely and the high case."""
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
