"""What a freeze comes to, as values."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from layoutcheck.physics.ice.inputs import MODEL_ERROR, FreezeInputs
from layoutcheck.physics.ranges import Range


def widened(low: float, likely: float, high: float) -> Range:
    """Put three cases in order and widen the ends by the model's own error."""
    return Range(
        min(low, likely, high) * (1.0 - MODEL_ERROR),
        likely,
        max(low, likely, high) * (1.0 + MODEL_ERROR),
    )


class FreezeOutcome(StrEnum):
    """Whether the pipe closes over the needed length."""

    CLOSES = "closes"
    """In the low, the likely and the high case."""
    UNDECIDED = "undecided"
    """In some cases and not in others, or nothing can be computed for this wall."""
    DOES_NOT_CLOSE = "does not close"
    """Not even in the likely case."""


class Uncertain(StrEnum):
    """What the range of a freeze comes from."""

    JACKET = "jacket"
    START = "start"
    LENGTH = "length"
    WATER = "water"
    ROOM = "room"


@dataclass(frozen=True, slots=True)
class Deciding:
    """The uncertain input that alone lengthens a freeze most.

    Attributes:
        what: which.
        likely: time to the plug, s, with every input at its likely value.
        alone: the same with this one at its high value; infinite where it would not close.
    """

    what: Uncertain
    likely: float
    alone: float


@dataclass(frozen=True, slots=True)
class IceCourse:
    """The ice of one case over time, thinned to a fixed number of moments.

    Attributes:
        case: low, likely or high.
        times: s.
        positions: distance from the jacket's middle, m; in a pipe that rises those below are
            positive.
        open_radii: radius of the bore still open, m; one row for each time, one entry for each
            position.
        surface: temperature of the pipe's outside, K, as `open_radii`.
        frost: length of bare pipe at or below freezing beyond each end of the jacket, m, for each
            time; in a pipe that rises the one above comes first.
        heat: taken by the jacket so far, J.
        rate: heat flow into the jacket, W.
    """

    case: str
    times: tuple[float, ...]
    positions: tuple[float, ...]
    open_radii: tuple[tuple[float, ...], ...]
    surface: tuple[tuple[float, ...], ...]
    frost: tuple[tuple[float, float], ...]
    heat: tuple[float, ...]
    rate: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class HoldCourse:
    """Heat that the jacket takes while a plug is held, in one case.

    Attributes:
        times: since the plug stood, s.
        heat: taken since then, J.
        rate: heat flow after the last of the times, W.
    """

    times: tuple[float, ...]
    heat: tuple[float, ...]
    rate: float

    def heat_by(self, time: float) -> float:
        """Heat (J) taken in the first `time` seconds of the hold."""
        last = self.times[-1]
        if time <= last:
            return float(np.interp(time, self.times, self.heat))
        return self.heat[-1] + self.rate * (time - last)


@dataclass(frozen=True, slots=True)
class FreezeAnswer:
    """An estimate of one freeze, its hold and its thaw; never a measured time.

    Attributes:
        outcome: whether it closes.
        reason: why, in a sentence.
        inputs: what was asked.
        needed_solid_length: m.
        time_to_neck_closed: s from the start of cooling until the bore first closes.
        time_to_plug: s until the bore is solid over the needed length.
        heat_taken: J that the jacket has taken when the plug stands.
        hold_heat_rate: W that the jacket takes in steady hold, when nothing changes any more.
        frost_band_at_plug: m of bare pipe at or below freezing beyond one jacket end, when the
            plug stands.
        frost_band_in_hold: the same in steady hold.
        ice_volume_at_plug: m3.
        ice_volume_in_hold: m3, in steady hold; the growth from the one to the other goes into the
            pipe.
        solid_length_in_hold: m.
        time_to_release: s after the jacket comes off until the ice lets go of the wall; likely:
            from a plug that has only just closed, which lets go soonest.
        time_to_thaw: s after the jacket comes off until the ice is gone; likely: after a long hold.
        heat_rate_at_plug: W that the jacket takes when the plug stands. It falls from there to
            `hold_heat_rate` over some hours; `hold_heat` adds it up.
        time_to_first_ice: s until ice stands anywhere at the wall.
        hold_courses: the heat of the hold, low, likely and high case.
        missing: what has to be known for an answer.
        deciding: the input that decides the range; none where not even the likely case closes.
        courses: the low, likely and high case over time.
        assumptions: what was taken for granted, one sentence each.

    Frost bands and volumes of ice are none where they reach beyond the pipe that is modelled, as in
    a room near freezing: how far they go is then not known.

    Every range is none unless the outcome is `closes`; `time_to_neck_closed` is also there when
    the neck closes in all three cases but the plug does not reach its length.
    """

    outcome: FreezeOutcome
    reason: str
    inputs: FreezeInputs
    needed_solid_length: float
    time_to_neck_closed: Range | None = None
    time_to_plug: Range | None = None
    heat_taken: Range | None = None
    hold_heat_rate: Range | None = None
    frost_band_at_plug: Range | None = None
    frost_band_in_hold: Range | None = None
    ice_volume_at_plug: Range | None = None
    ice_volume_in_hold: Range | None = None
    solid_length_in_hold: Range | None = None
    time_to_release: Range | None = None
    time_to_thaw: Range | None = None
    courses: tuple[IceCourse, ...] = ()
    assumptions: tuple[str, ...] = ()
    heat_rate_at_plug: Range | None = None
    time_to_first_ice: Range | None = None
    hold_courses: tuple[HoldCourse, ...] = ()
    missing: tuple[str, ...] = ()
    deciding: Deciding | None = None

    def hold_heat(self, time: float) -> Range:
        """Heat (J) that the jacket takes in the first `time` seconds of a hold.

        Raises:
            ValueError: there is no plug to be held.
        """
        low, likely, high = (course.heat_by(time) for course in self.hold_courses)
        return widened(low, likely, high)
