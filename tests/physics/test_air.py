"""Room air: the exact chain against a general integrator, and the limits as published."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.interpolate import CubicHermiteSpline

from layoutcheck.physics import air as module
from layoutcheck.physics.air import (
    AirLimit,
    Meter,
    Release,
    Room,
    fresh_air_needed,
    gas_volume,
    meters_suffice,
    releases_of,
    room_air,
)
from layoutcheck.physics.coolant import Coolant
from layoutcheck.physics.schedule import Step, StepKind
from tests.sizes import some

CO2, LN2 = Coolant.CARBON_DIOXIDE, Coolant.NITROGEN
NOZZLE = 0.00907  # kg/s, 18 lb in 15 minutes: common practice, no published source


def crew_day() -> tuple[Release, ...]:
    """Invented: three injections, then a top-up of 35 s every 5 minutes for 4 hours."""
    cycle = (Release(300.0, NOZZLE), Release(300.0, 0.0))
    top_up = (Release(35.0, NOZZLE), Release(265.0, 0.0))
    return cycle * 3 + top_up * 48


def added(share: float) -> float:
    """Added gas from a carbon dioxide share, with the background taken off."""
    back = module.BACKGROUND.value
    return (share - back) / (1.0 - back)


class Oracle:
    """Carbon dioxide by scipy's integrator, stretch by stretch, with its running integral."""

    def __init__(self, room: Room, releases: tuple[Release, ...], horizon: float) -> None:
        times, shares, areas = [np.array([0.0])], [np.array([0.0])], [np.array([0.0])]
        start, state = 0.0, [0.0, 0.0]
        for release in (*releases, Release(horizon, 0.0)):
            if release.duration == 0.0:
                continue
            gas = gas_volume(release.rate, CO2, room.temperature)

            def slope(
                _: float, now: np.ndarray, gas: float = gas, room: Room = room
            ) -> list[float]:
                return [(gas - (room.fresh_air + gas) * now[0]) / room.volume, now[0]]

            even = np.linspace(0.0, release.duration, 121)
            early = release.duration * np.geomspace(1e-6, 1.0, 121)
            grid = np.unique(np.concatenate([even, early]))
            run = solve_ivp(
                slope, (0.0, release.duration), state, t_eval=grid, rtol=1e-10, atol=1e-13
            )
            times.append(start + run.t)
            shares.append(run.y[0])
            areas.append(run.y[1])
            start, state = start + release.duration, [run.y[0][-1], run.y[1][-1]]
        self.times = np.concatenate(times)
        self.shares = np.concatenate(shares)
        self.areas = np.concatenate(areas)
        self.times, first = np.unique(self.times, return_index=True)
        self.shares, self.areas = self.shares[first], self.areas[first]
        self._area = CubicHermiteSpline(self.times, self.areas, self.shares)

    def area(self, times: np.ndarray) -> np.ndarray:
        """Running integral of the share; the share is its slope."""
        return np.asarray(self._area(np.clip(times, 0.0, self.times[-1])))

    def worst_mean(self, window: float) -> float:
        """Slide a window over the running integral, by brute force."""
        ends = np.unique(np.concatenate([self.times, self.times + window]))
        ends = ends[ends <= self.times[-1]]
        return float(np.max(self.area(ends) - self.area(ends - window)) / window)


@pytest.mark.parametrize(("volume", "fresh"), [(60.0, 0.05), (25.0, 0.0), (400.0, 0.5)])
def test_against_a_general_integrator(volume: float, fresh: float) -> None:
    """Tolerance 1e-4: the oracle tries only windows that begin or end at one of its points."""
    room = Room(volume, fresh)
    result = room_air(room=room, coolant=CO2, releases=crew_day())
    oracle = Oracle(room, crew_day(), horizon=9 * 3600.0)
    assert added(result.peak) == pytest.approx(float(np.max(oracle.shares)), rel=1e-7)
    assert added(result.worst_quarter_hour) == pytest.approx(oracle.worst_mean(900.0), rel=1e-4)
    assert added(result.worst_eight_hours) == pytest.approx(oracle.worst_mean(28800.0), rel=1e-4)
    lowest = 0.209 * (1.0 - float(np.max(oracle.shares)))
    assert result.lowest_oxygen == pytest.approx(lowest, rel=1e-7)


@settings(deadline=None, max_examples=some(25))
@given(
    stretches=st.lists(
        st.tuples(
            st.just(0.0) | st.floats(min_value=0.1, max_value=4000.0),
            st.sampled_from([0.0, 0.002, NOZZLE, 0.05]),
        ),
        max_size=6,
    ),
    volume=st.floats(min_value=5.0, max_value=500.0),
    fresh=st.sampled_from([0.0, 0.001, 0.05, 1.0]),
)
def test_any_release_against_the_integrator(
    stretches: list[tuple[float, float]], volume: float, fresh: float
) -> None:
    """Tolerance 1e-3: as above, for stretches where the oracle's points lie further apart."""
    releases = tuple(Release(*stretch) for stretch in stretches)
    room = Room(volume, fresh)
    result = room_air(room=room, coolant=CO2, releases=releases)
    oracle = Oracle(room, releases, horizon=9 * 3600.0)
    assert added(result.peak) == pytest.approx(float(np.max(oracle.shares)), rel=1e-6, abs=1e-9)
    expected = oracle.worst_mean(900.0)
    assert added(result.worst_quarter_hour) == pytest.approx(expected, rel=1e-3, abs=1e-9)
    assert added(result.worst_quarter_hour) >= expected * (1.0 - 1e-6) - 1e-9


def test_times_at_which_limits_are_crossed() -> None:
    """The values at the stated times are the limits, by the integrator; 1 % for straight lines."""
    room = Room(60.0, 0.05)
    result = room_air(room=room, coolant=CO2, releases=crew_day())
    oracle = Oracle(room, crew_day(), horizon=9 * 3600.0)
    danger = result.crossed[AirLimit.DANGER]
    share = np.interp(danger, oracle.times, oracle.shares)
    assert share == pytest.approx(added(module.DANGER_LIMIT.value), rel=1e-2)
    for limit, window, figure in (
        (AirLimit.SHORT_TERM, 900.0, module.SHORT_TERM_LIMIT),
        (AirLimit.EIGHT_HOUR, 28800.0, module.EIGHT_HOUR_LIMIT),
    ):
        end = result.crossed[limit]
        ends = np.array([end - window, end])
        before, after = oracle.area(ends)
        assert (after - before) / window == pytest.approx(added(figure.value), rel=1e-4)
    assert AirLimit.OXYGEN not in result.crossed


def test_steady_state_by_hand() -> None:
    """Long release: share tends to G / (Q + G). By hand, at 1 atm and 20 degC: 1.829 kg/m3."""
    rate = 0.01
    gas = rate / 1.829
    room = Room(50.0, 0.5)
    result = room_air(room=room, coolant=CO2, releases=[Release(86400.0, rate)])
    assert added(result.peak) == pytest.approx(gas / (0.5 + gas), rel=1e-3)
    assert added(result.worst_eight_hours) == pytest.approx(gas / (0.5 + gas), rel=1e-3)


def test_a_puff_decays_with_the_air_changes() -> None:
    """Textbook dilution: 15-minute mean of a decaying share is C0 (1 - exp(-x)) / x. By hand."""
    room = Room(100.0, 0.1)
    result = room_air(room=room, coolant=CO2, releases=[Release(0.001, 1000.0)])
    first = gas_volume(1.0, CO2, 293.15) / 100.0
    x = 0.1 / 100.0 * 900.0
    expected = first * (1.0 - math.exp(-x)) / x
    assert added(result.worst_quarter_hour) == pytest.approx(expected, rel=0.01)


def test_oxygen_at_its_limit_is_far_past_the_danger_of_carbon_dioxide() -> None:
    """Notes, calculated: 20.9 % falls to 19.5 % only when 6.7 % has been added; IDLH is 4 %."""
    needed = 1.0 - module.OXYGEN_LIMIT.value / module.OXYGEN_IN_AIR.value
    assert needed == pytest.approx(0.067, abs=0.0005)
    mass = 0.05 * 100.0 * 1.829  # 5 % in a room of 100 m3 without fresh air
    result = room_air(room=Room(100.0, 0.0), coolant=CO2, releases=[Release(600.0, mass / 600.0)])
    assert AirLimit.DANGER in result.crossed
    assert AirLimit.OXYGEN not in result.crossed


def test_an_oxygen_meter_alone_is_not_accepted_for_carbon_dioxide() -> None:
    assert not meters_suffice(CO2, frozenset({Meter.OXYGEN}))
    assert meters_suffice(CO2, frozenset({Meter.CARBON_DIOXIDE}))
    assert meters_suffice(LN2, frozenset({Meter.OXYGEN}))
    assert not meters_suffice(LN2, frozenset())


def test_nitrogen_only_displaces_oxygen() -> None:
    result = room_air(room=Room(30.0, 0.0), coolant=LN2, releases=[Release(600.0, 0.02)])
    assert result.peak == module.BACKGROUND.value
    expected = 0.209 * math.exp(-gas_volume(12.0, LN2, 293.15) / 30.0)  # by hand, no fresh air
    assert result.lowest_oxygen == pytest.approx(expected, rel=1e-9)
    assert set(result.crossed) == {AirLimit.OXYGEN}
    time = result.crossed[AirLimit.OXYGEN]
    at = 0.209 * math.exp(-gas_volume(0.02 * time, LN2, 293.15) / 30.0)
    assert at == pytest.approx(0.195, abs=1e-9)


def test_two_gases_in_one_room_by_hand() -> None:
    """Each alone leaves enough oxygen, together they do not.

    No fresh air: a share 1 - exp(-v / V) is added by v of gas in V. 5 m3 of nitrogen in 100 m3 is
    4.88 %: 20.9 x 0.9512 = 19.88 %. 3 m3 of carbon dioxide is 2.96 %: 20.28 %. Both are
    1 - exp(-0.08) = 7.69 %: 19.29 %, below 19.5 %. Of what is added, three eighths is carbon
    dioxide: 2.88 %, a little less than alone, since the nitrogen pushes some of it out.
    """
    cold, liquid = 3.0 / gas_volume(1.0, CO2, 293.15), 5.0 / gas_volume(1.0, LN2, 293.15)
    room = Room(100.0, 0.0, background=0.0)
    alone = room_air(room=room, coolant=LN2, releases=[Release(600.0, liquid / 600.0)])
    both = [Release(600.0, cold / 600.0, liquid / 600.0)]
    together = room_air(room=room, coolant=CO2, releases=both)
    assert alone.fit
    assert alone.lowest_oxygen == pytest.approx(0.209 * math.exp(-0.05), rel=1e-9)
    assert together.lowest_oxygen == pytest.approx(0.209 * math.exp(-0.08), rel=1e-9)
    assert together.peak == pytest.approx(0.375 * (1.0 - math.exp(-0.08)), rel=1e-9)
    assert AirLimit.OXYGEN in together.crossed


def test_nitrogen_besides_is_merged_by_hand() -> None:
    """0 to 10 s carbon dioxide at 0.1 kg/s, 5 to 15 s nitrogen at 0.2 kg/s."""
    cold = [Step(0.0, 10.0, StepKind.INJECT, 1.0)]
    liquid = [Step(5.0, 10.0, StepKind.INJECT, 2.0)]
    assert [(r.duration, r.rate, r.nitrogen) for r in releases_of(cold, liquid)] == [
        pytest.approx(row) for row in ((5.0, 0.1, 0.0), (5.0, 0.1, 0.2), (5.0, 0.0, 0.2))
    ]


def test_gas_density_of_handbooks() -> None:
    """CO2 1.84 kg/m3 and N2 1.165 kg/m3 at 20 degC and 1 atm: handbook values, from memory."""
    assert 1.0 / gas_volume(1.0, CO2, 293.15) == pytest.approx(1.84, rel=0.01)
    assert 1.0 / gas_volume(1.0, LN2, 293.15) == pytest.approx(1.165, rel=0.01)


@pytest.mark.parametrize("coolant", list(Coolant))
@pytest.mark.parametrize("volume", [10.0, 60.0, 300.0])
def test_the_stated_fresh_air_passes_and_a_little_less_does_not(
    coolant: Coolant, volume: float
) -> None:
    releases = crew_day()
    found = fresh_air_needed(room=Room(volume, 0.0), coolant=coolant, releases=releases)
    assert found is not None
    assert room_air(room=Room(volume, found), coolant=coolant, releases=releases).fit
    if found > 0.0:
        less = room_air(room=Room(volume, 0.995 * found), coolant=coolant, releases=releases)
        assert not less.fit


def test_a_big_room_needs_none_and_foul_air_is_never_enough() -> None:
    releases = [Release(60.0, NOZZLE)]
    assert fresh_air_needed(room=Room(5000.0, 0.0), coolant=CO2, releases=releases) == 0.0
    foul = Room(50.0, 0.0, background=0.006)
    assert fresh_air_needed(room=foul, coolant=CO2, releases=releases) is None


def test_no_release_leaves_the_background() -> None:
    result = room_air(room=Room(50.0, 0.1), coolant=CO2, releases=[])
    assert result.fit
    assert result.peak == result.worst_eight_hours == module.BACKGROUND.value


@settings(deadline=None)
@given(
    fresh=st.floats(min_value=0.0, max_value=2.0),
    volume=st.floats(min_value=5.0, max_value=1000.0),
    more=st.floats(min_value=1.0, max_value=3.0),
)
def test_more_air_helps_and_more_gas_harms(fresh: float, volume: float, more: float) -> None:
    def worst(room: Room, factor: float) -> tuple[float, ...]:
        releases = [Release(900.0, NOZZLE * factor), Release(600.0, 0.0)]
        result = room_air(room=room, coolant=CO2, releases=releases)
        return (result.peak, result.worst_quarter_hour, result.worst_eight_hours)

    base = worst(Room(volume, fresh), 1.0)
    for value, reference in zip(worst(Room(volume, fresh * more), 1.0), base, strict=True):
        assert value <= reference * (1.0 + 1e-6)
    for value, reference in zip(worst(Room(volume, fresh), more), base, strict=True):
        assert value >= reference * (1.0 - 1e-6)
    # A larger room lowers the peak but not every long mean: its air clears more slowly.
    assert worst(Room(volume * more, fresh), 1.0)[0] <= base[0] * (1.0 + 1e-6)


def test_two_plugs_in_one_room_by_hand() -> None:
    """0 to 10 s one nozzle of 0.1 kg/s, 5 to 15 s another of 0.2 kg/s, and a wait between."""
    steps = [
        Step(0.0, 10.0, StepKind.INJECT, 1.0),
        Step(10.0, 5.0, StepKind.WAIT, 0.0),
        Step(5.0, 10.0, StepKind.INJECT, 2.0),
        Step(20.0, 10.0, StepKind.TOP_UP, 0.5),
    ]
    releases = releases_of(steps)
    assert [release.duration for release in releases] == [5.0, 5.0, 5.0, 5.0, 10.0]
    rates = [release.rate for release in releases]
    assert rates == pytest.approx([0.1, 0.3, 0.2, 0.0, 0.05], abs=1e-12)
    assert releases_of([]) == ()


@given(
    st.lists(
        st.tuples(
            st.floats(min_value=0.0, max_value=1e4),
            st.floats(min_value=1.0, max_value=1e3),
            st.floats(min_value=0.0, max_value=10.0),
        ),
        max_size=8,
    )
)
def test_releases_keep_the_mass(parts: list[tuple[float, float, float]]) -> None:
    steps = [Step(start, lasting, StepKind.INJECT, mass) for start, lasting, mass in parts]
    total = sum(release.duration * release.rate for release in releases_of(steps))
    assert total == pytest.approx(sum(mass for _, _, mass in parts), rel=1e-6, abs=1e-6)


def test_bad_rooms_are_refused() -> None:
    with pytest.raises(ValueError, match="volume"):
        Room(0.0, 0.1)
    with pytest.raises(ValueError, match="rate"):
        Release(10.0, -1.0)
