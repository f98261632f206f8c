"""The air of a room into which coolant goes: well mixed, with fresh air, exact in time.

One number describes it: the added gas as a share of the air, `A`. With fresh air `Q`, released gas
`G` (both m3/s at room temperature) and a room of volume `V`,
`V dA/dt = G - (Q + G) A`, since as much leaves as comes in. For a release that is constant over
stretches of time the solution is a chain of exponentials, and so are its means. Carbon dioxide is
then `A + (1 - A)` times its background, oxygen `(1 - A)` times 20.9 %.

A well-mixed room is the kind case. Cold gas lies at the floor, in pits and in shafts: see
`LOW_POINT_CAUTION`.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from layoutcheck.physics.coolant import Coolant
from layoutcheck.physics.figures import (
    Figure,
    Status,
    require_not_negative,
    require_positive,
)
from layoutcheck.physics.schedule import Step

_Array = npt.NDArray[np.float64]
_Numbers = _Array | float

_NIOSH = "NIOSH Pocket Guide 2005-151"
EIGHT_HOUR_LIMIT = Figure(5_000e-6, "1", f"OSHA PEL and NIOSH REL, 8 h mean; {_NIOSH}", Status.READ)
SHORT_TERM_LIMIT = Figure(30_000e-6, "1", f"NIOSH STEL, 15 min mean; {_NIOSH}", Status.READ)
DANGER_LIMIT = Figure(
    40_000e-6, "1", "immediately dangerous, CDC/NIOSH IDLH page, May 1994", Status.READ
)
OXYGEN_LIMIT = Figure(
    0.195, "1", "deficient below 19.5 %, OSHA letter of 2 April 2007", Status.READ
)
OXYGEN_RICH = Figure(0.235, "1", "oxygen-enriched above 23.5 %, 29 CFR 1910.146(b)", Status.READ)
AIR_CONDENSES = Figure(82.0, "K", "air at 1 atm begins to condense, handbook value", Status.MEMORY)
OXYGEN_IN_AIR = Figure(0.209, "1", "dry air, handbook value", Status.MEMORY)
BACKGROUND = Figure(
    420e-6,
    "1",
    "carbon dioxide out of doors, about the global mean of the 2020s; a room with "
    "people in it has more",
    Status.MEMORY,
)
EIGHT_HOURS = 8.0 * 3600.0
QUARTER_HOUR = 900.0

LOW_POINT_CAUTION = (
    "The figures are for air that is well mixed. Carbon dioxide is 1.53 times as dense as air, and "
    "either coolant's cold gas sinks: pits, floors, shafts and stairs below the work can be deadly "
    "while the room is not. Measure there, at the floor."
)
CONDENSED_AIR_CAUTION = (
    f"Metal colder than about {AIR_CONDENSES.value:.0f} K (-312 degF), as bare metal with liquid "
    "nitrogen on it is, condenses air: what drips from it is rich in oxygen. Nothing that can burn "
    "under it, no oil or grease on it, no flame or spark near it; wrap what is bare. Above "
    f"{100 * OXYGEN_RICH.value:g} % of oxygen (29 CFR 1910.146(b)) stop, let nobody strike a "
    "spark, and air the room."
)
METER_STATEMENT: Mapping[Coolant, str] = MappingProxyType(
    {
        Coolant.CARBON_DIOXIDE: "Measure carbon dioxide. An oxygen meter alone is not accepted for "
        "it: oxygen is still at 19.5 % when carbon dioxide has passed 40,000 ppm.",
        Coolant.NITROGEN: "Measure oxygen. Nitrogen gives no warning of its own.",
    }
)

_PRESSURE = 101_325.0
_GAS_CONSTANT = 8.314462618
_MOLAR_MASS = {Coolant.CARBON_DIOXIDE: 44.0095e-3, Coolant.NITROGEN: 28.0134e-3}
_POINTS_PER_PIECE = 17
_PASSING = 1.0
_SMALL = 1e-4
# A fullest moment is found to within this, s, and a first one to within this share of it.
_NEAR_ENOUGH = 1e-3
_EXACT = 1e-12


class Meter(StrEnum):
    """A gas that a meter on site measures."""

    CARBON_DIOXIDE = "carbon dioxide"
    OXYGEN = "oxygen"


def meters_suffice(coolant: Coolant, meters: frozenset[Meter]) -> bool:
    """Tell whether the meters on site watch the danger of this coolant.

    An oxygen meter alone is not accepted for carbon dioxide.
    """
    needed = Meter.CARBON_DIOXIDE if coolant is Coolant.CARBON_DIOXIDE else Meter.OXYGEN
    return needed in meters


class AirLimit(StrEnum):
    """The limits that a room is held against."""

    EIGHT_HOUR = "carbon dioxide, mean of 8 h"
    SHORT_TERM = "carbon dioxide, mean of 15 min"
    DANGER = "carbon dioxide, immediately dangerous"
    OXYGEN = "oxygen, lowest"


@dataclass(frozen=True, slots=True)
class Release:
    """A stretch of time with a constant release.

    Parameters:
        duration: s.
        rate: of the coolant's gas into the room, kg/s; 0 for a pause. All that leaves the nozzle
            counts at once, though the snow takes its time: the unsafe side avoided.
        nitrogen: what comes in of nitrogen besides, where the coolant is carbon dioxide, kg/s.
    """

    duration: float
    rate: float
    nitrogen: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a negative release."""
        require_not_negative(duration=self.duration, rate=self.rate, nitrogen=self.nitrogen)


def releases_of(steps: Iterable[Step], nitrogen: Iterable[Step] = ()) -> tuple[Release, ...]:
    """Turn the schedules of the plugs in one room into releases, one after the other.

    Parameters:
        steps: of all plugs with one coolant, on one clock; they may overlap.
        nitrogen: of the plugs with nitrogen besides, on the same clock.

    Returns:
        Stretches of constant release from time 0 to the end of the last step. Their mass is that
        of the steps.
    """
    both = [[step for step in given if step.mass > 0.0] for given in (steps, nitrogen)]
    edges = sorted({0.0, *(edge for g in both for step in g for edge in (step.start, step.end))})
    columns = [_rates(giving, edges) for giving in both]
    return tuple(
        Release(end - start, rate, besides)
        for (start, end), rate, besides in zip(itertools.pairwise(edges), *columns, strict=False)
    )


def _rates(giving: list[Step], edges: list[float]) -> list[float]:
    """Give the rate (kg/s) after each edge."""
    change = dict.fromkeys(edges, 0.0)
    for step in giving:
        change[step.start] += step.mass / step.duration
        change[step.end] -= step.mass / step.duration
    # What is left of adding and taking away the same rates may be a hair below zero.
    return [max(0.0, rate) for rate in itertools.accumulate(change[edge] for edge in edges)]


@dataclass(frozen=True, slots=True)
class Room:
    """A room and its fresh air.

    Parameters:
        volume: free air, m3.
        fresh_air: outside air in, m3/s; 0 for none stated.
        temperature: K.
        background: carbon dioxide in the fresh air and at the start, share of the air.
    """

    volume: float
    fresh_air: float
    temperature: float = 293.15
    background: float = BACKGROUND.value

    def __post_init__(self) -> None:
        """Refuse a room of no size and air that is none."""
        require_positive(volume=self.volume, temperature=self.temperature)
        require_not_negative(fresh_air=self.fresh_air, background=self.background)


def gas_volume(mass: float, coolant: Coolant, temperature: float) -> float:
    """Volume of released gas once it is as warm as the room, ideal gas at 1 atm.

    Parameters:
        mass: kg, or kg/s for a rate.
        coolant: which gas.
        temperature: K.

    Returns:
        m3, or m3/s. Source: calculated; carbon dioxide is half a per cent from ideal there.
    """
    return mass * _GAS_CONSTANT * temperature / (_MOLAR_MASS[coolant] * _PRESSURE)


def _lag(x: _Numbers) -> _Array:
    """Integral of `1 - exp(-x)`; the plain form loses all digits for small `x`."""
    series = 0.5 * x**2 * (1.0 - x / 3.0)
    return np.where(x < _SMALL, series, x + np.expm1(-x))


# These two take arrays or single numbers: a long schedule is chained one number at a time.
def _share_after(since: _Numbers, initial: _Numbers, steady: _Numbers, decay: _Numbers) -> _Array:
    """Added share so long (s) after a stretch began."""
    return np.asarray(initial - (steady - initial) * np.expm1(-decay * since))


def _total_after(
    since: _Numbers, integral: _Numbers, initial: _Numbers, steady: _Numbers, decay: _Numbers
) -> _Array:
    """Integral of the added share so long (s) after a stretch began."""
    # Without decay nothing moves and the gap is zero; any rate will do.
    rate = np.where(decay > 0.0, decay, 1.0)
    moved = (steady - initial) * _lag(rate * since) / rate
    return np.asarray(integral + initial * since + moved)


@dataclass(frozen=True, slots=True)
class _History:
    """The added share `A` and its integral as exact functions of time.

    One entry for each stretch: its start, the share and the integral there, the share it tends to,
    and the rate at which it does.
    """

    starts: _Array
    initial: _Array
    integral: _Array
    steady: _Array
    decay: _Array

    def _place(self, times: _Array) -> tuple[npt.NDArray[np.intp], _Array]:
        at = np.clip(np.searchsorted(self.starts, times, side="right") - 1, 0, None)
        return at, np.maximum(times - self.starts[at], 0.0)

    def share(self, times: _Array) -> _Array:
        """Added share at times, s; before the start there is none."""
        at, since = self._place(times)
        return _share_after(since, self.initial[at], self.steady[at], self.decay[at])

    def total(self, times: _Array) -> _Array:
        """Integral of the added share from the start to times, s."""
        at, since = self._place(times)
        initial, steady, decay = self.initial[at], self.steady[at], self.decay[at]
        return _total_after(since, self.integral[at], initial, steady, decay)

    def mean(self, starts: _Array, window: float) -> _Array:
        """Mean of the added share over windows that begin at `starts`."""
        return (self.total(starts + window) - self.total(starts)) / window


def _history(room: Room, coolant: Coolant, releases: Sequence[Release]) -> _History:
    """Chain the stretches of the coolant's gas; the last, without release, goes on for ever."""
    rows: list[tuple[float, float, float, float, float]] = []
    start = share = area = 0.0
    for release in (*releases, Release(0.0, 0.0)):
        gas = gas_volume(release.rate, coolant, room.temperature)
        coming = room.fresh_air + gas
        coming += gas_volume(release.nitrogen, Coolant.NITROGEN, room.temperature)
        decay = coming / room.volume
        steady = gas / coming if decay > 0.0 else share
        rows.append((start, share, area, steady, decay))
        start += release.duration
        since = start - rows[-1][0]
        area = float(_total_after(since, area, share, steady, decay))
        share = float(_share_after(since, share, steady, decay))
    return _History(*(np.array(column) for column in zip(*rows, strict=True)))


def _all_gas(coolant: Coolant, releases: Sequence[Release]) -> list[Release]:
    """Count nitrogen that comes in besides as the same volume of the coolant's gas."""
    alike = _MOLAR_MASS[coolant] / _MOLAR_MASS[Coolant.NITROGEN]
    return [Release(r.duration, r.rate + alike * r.nitrogen) for r in releases]


@dataclass(frozen=True, slots=True)
class RoomAir:
    """What the air of the room comes to.

    Shares are parts of one (0.005 is 5,000 ppm). For nitrogen the carbon dioxide values are those
    of the background.

    Parameters:
        peak: highest carbon dioxide.
        worst_quarter_hour: highest mean of 15 minutes.
        worst_eight_hours: highest mean of 8 hours.
        lowest_oxygen: lowest oxygen.
        crossed: for each limit broken, the time it is first reached, s; for a mean, the end of the
            first window that breaks it.
    """

    coolant: Coolant
    peak: float
    worst_quarter_hour: float
    worst_eight_hours: float
    lowest_oxygen: float
    crossed: Mapping[AirLimit, float]

    @property
    def fit(self) -> bool:
        """Whether every limit is kept. Only for air that is well mixed."""
        return not self.crossed

    @property
    def severity(self) -> float:
        """Largest share of a limit that is used up; above 1 a limit is broken."""
        used = [(OXYGEN_IN_AIR.value - self.lowest_oxygen) / _oxygen_room()]
        if self.coolant is Coolant.CARBON_DIOXIDE:
            used += [
                self.peak / DANGER_LIMIT.value,
                self.worst_quarter_hour / SHORT_TERM_LIMIT.value,
                self.worst_eight_hours / EIGHT_HOUR_LIMIT.value,
            ]
        return max(used)


def _oxygen_room() -> float:
    return OXYGEN_IN_AIR.value - OXYGEN_LIMIT.value


def _refined(function: Callable[[_Array], _Array], knots: _Array) -> tuple[float, float]:
    """Largest value of a function that is smooth between knots, and where it is."""
    fractions = np.linspace(0.0, 1.0, _POINTS_PER_PIECE)
    grid = np.unique((knots[:-1, None] + np.diff(knots)[:, None] * fractions).ravel())
    values = function(grid)
    best = int(np.argmax(values))
    at, most = float(grid[best]), float(values[best])
    while True:  # scipy's optimizers take longer to load than this takes
        low, high = grid[max(best - 1, 0)], grid[min(best + 1, len(grid) - 1)]
        if high - low <= _NEAR_ENOUGH:
            return at, most
        grid = np.linspace(low, high, _POINTS_PER_PIECE)
        values = function(grid)
        best = int(np.argmax(values))
        if values[best] > most:
            at, most = float(grid[best]), float(values[best])


def _knots(history: _History, window: float) -> _Array:
    """Starts of windows between which a window's mean is smooth."""
    starts = history.starts
    shifted = starts - window
    return np.unique(np.concatenate([[-window], shifted[shifted > -window], starts]))


def _first_above(
    function: Callable[[_Array], _Array], knots: _Array, limit: float, peak_at: float
) -> float:
    """Earliest point at which a function that starts below a limit comes to it."""
    fractions = np.linspace(0.0, 1.0, _POINTS_PER_PIECE)
    grid = (knots[:-1, None] + np.diff(knots)[:, None] * fractions).ravel()
    grid = np.unique(np.append(grid[grid < peak_at], peak_at))
    above = np.flatnonzero(function(grid) > limit)
    first = int(above[0]) if above.size else len(grid) - 1
    if first == 0:
        return float(grid[0])
    low, high = float(grid[first - 1]), float(grid[first])
    gap = float(function(np.array([high]))[0]) - limit
    if gap <= 0.0:
        return high
    while high - low > _EXACT * max(abs(low), 1.0):
        grid = np.linspace(low, high, _POINTS_PER_PIECE)
        first = max(int(np.argmax(function(grid) > limit)), 1)
        low, high = float(grid[first - 1]), float(grid[first])
    return high


def room_air(*, room: Room, coolant: Coolant, releases: Sequence[Release]) -> RoomAir:
    """Work out the air of a well-mixed room during and after a release.

    Parameters:
        room: size, fresh air, temperature.
        coolant: what is released; carbon dioxide where both are.
        releases: one after the other from time 0; pauses are releases of rate 0. After the last
            the room is followed until nothing can get worse.

    Returns:
        Peak, worst means, lowest oxygen, and the time at which each broken limit is first reached.
        Means of windows that begin before time 0 count the time before as free of added gas.

    Source: calculated, exact for constant stretches; limits as in the constants (read).
    """
    history = _history(room, coolant, releases)
    displaced = _history(room, coolant, _all_gas(coolant, releases))
    peak, fullest = _peak(history), _peak(displaced)
    quarter = _worst_mean(history, QUARTER_HOUR)
    eight = _worst_mean(history, EIGHT_HOURS)
    crossed = _oxygen_crossing(displaced, fullest)
    shown = (0.0, 0.0, 0.0)
    if coolant is Coolant.CARBON_DIOXIDE:
        shown = (peak.added, quarter.added, eight.added)
        crossed |= _crossing(history, peak, AirLimit.DANGER, DANGER_LIMIT, room)
        crossed |= _crossing(history, quarter, AirLimit.SHORT_TERM, SHORT_TERM_LIMIT, room)
        crossed |= _crossing(history, eight, AirLimit.EIGHT_HOUR, EIGHT_HOUR_LIMIT, room)
    return RoomAir(
        coolant=coolant,
        peak=_carbon_dioxide(shown[0], room),
        worst_quarter_hour=_carbon_dioxide(shown[1], room),
        worst_eight_hours=_carbon_dioxide(shown[2], room),
        lowest_oxygen=OXYGEN_IN_AIR.value * (1.0 - fullest.added),
        crossed=MappingProxyType(crossed),
    )


@dataclass(frozen=True, slots=True)
class _Worst:
    """The worst window of a length (0 for a moment), where it begins, and its added share."""

    window: float
    start: float
    added: float


def _peak(history: _History) -> _Worst:
    ends = history.share(history.starts)  # between the ends of stretches the share is monotone
    return _Worst(0.0, float(history.starts[int(np.argmax(ends))]), float(np.max(ends)))


def _worst_mean(history: _History, window: float) -> _Worst:
    start, added = _refined(lambda at: history.mean(at, window), _knots(history, window))
    return _Worst(window, start, added)


def _oxygen_crossing(history: _History, peak: _Worst) -> dict[AirLimit, float]:
    added = 1.0 - OXYGEN_LIMIT.value / OXYGEN_IN_AIR.value
    if peak.added <= added:
        return {}
    return {AirLimit.OXYGEN: _first_above(history.share, history.starts, added, peak.start)}


def _crossing(
    history: _History, worst: _Worst, limit: AirLimit, figure: Figure, room: Room
) -> dict[AirLimit, float]:
    added = (figure.value - room.background) / (1.0 - room.background)
    if worst.added <= added:
        return {}
    if worst.window == 0.0:
        return {limit: _first_above(history.share, history.starts, added, worst.start)}
    start = _first_above(
        lambda times: history.mean(times, worst.window),
        _knots(history, worst.window),
        added,
        worst.start,
    )
    return {limit: start + worst.window}


def _carbon_dioxide(added: float, room: Room) -> float:
    return added + room.background * (1.0 - added)


def fresh_air_needed(*, room: Room, coolant: Coolant, releases: Sequence[Release]) -> float | None:
    """Find the fresh air that makes a well-mixed room pass.

    Parameters:
        room: its own fresh air is not used.
        coolant: what is released.
        releases: as in `room_air`.

    Returns:
        m3/s of outside air, the smallest that passes to within a thousandth and never less; 0 if
        the room passes without; None if the background alone breaks a limit.

    Source: calculated by root finding on `room_air`, and checked with it.
    """
    from scipy.optimize import brentq  # noqa: PLC0415 - slow to load, and seldom needed

    def severity(fresh_air: float) -> float:
        trial = Room(room.volume, fresh_air, room.temperature, room.background)
        return room_air(room=trial, coolant=coolant, releases=releases).severity

    if severity(0.0) <= _PASSING:
        return 0.0
    if coolant is Coolant.CARBON_DIOXIDE and room.background >= EIGHT_HOUR_LIMIT.value:
        return None
    high = room.volume / 3600.0
    while severity(high) > _PASSING:
        high *= 2.0
    found = float(brentq(lambda air: severity(air) - _PASSING, 0.0, high, rtol=1e-6))
    while severity(found) > _PASSING:  # the root may lie a hair on the wrong side
        found *= 1.0 + 1e-5
    return found
