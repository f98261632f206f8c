"""The edges of the physics, worked by hand: what holds exactly at a limit, and no further.

Every expected value is derived by hand from the sizes and the formula beside it, all of them
invented round numbers; a published figure is named where one is used.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from layoutcheck.physics import air as module
from layoutcheck.physics.air import (
    DANGER_LIMIT,
    OXYGEN_IN_AIR,
    OXYGEN_LIMIT,
    AirLimit,
    Release,
    Room,
    RoomAir,
    fresh_air_needed,
    gas_volume,
    releases_of,
    room_air,
)
from layoutcheck.physics.coolant import COOLANT_TEMPERATURE, Coolant, Supply
from layoutcheck.physics.coolant_need import Handling, Jacket, coolant_needed, cylinders_for
from layoutcheck.physics.figures import Status
from layoutcheck.physics.loss import Layer, Space, loss_by_draining, loss_from_source, outflow
from layoutcheck.physics.ranges import Range
from layoutcheck.physics.schedule import Delivery, Step, StepKind, make_schedule
from layoutcheck.physics.strength import HoldingLimit, holding_pressure, plug_length_needed
from layoutcheck.physics.trapped import PipeSegment, TrappedPressure, trapped_pressure
from layoutcheck.physics.wall import Tolerance, stress_ratio, wall_verdict
from layoutcheck.quantities.materials import Material

CO2, LN2 = Coolant.CARBON_DIOXIDE, Coolant.NITROGEN
G = 9.80665  # m/s2, standard gravity (BIPM, SI brochure)
ONE = Range.exactly(1.0)


def just_above(value: float) -> float:
    """Give the next number a machine knows."""
    return math.nextafter(value, math.inf)


def just_below(value: float) -> float:
    """Give the number before."""
    return math.nextafter(value, -math.inf)


@pytest.mark.parametrize("coolant", list(Coolant))
@pytest.mark.parametrize("material", list(Material))
def test_a_stated_minimum_is_met_at_the_coolants_own_temperature(
    coolant: Coolant, material: Material
) -> None:
    cold = COOLANT_TEMPERATURE[coolant]

    def verdict(minimum: float) -> Tolerance:
        return wall_verdict(material=material, coolant=coolant, stated_minimum=minimum).tolerance

    assert verdict(cold) is Tolerance.TOLERATES
    assert verdict(just_below(cold)) is Tolerance.TOLERATES
    assert verdict(just_above(cold)) is Tolerance.DOES_NOT


def test_the_stress_ratio_at_its_limit_and_just_above() -> None:
    """46 mm bore, 2 mm wall: D / 2w = 12.5. 2.4 MPa gives 30 MPa, of 100 MPa that is 0.3."""
    ratio = stress_ratio(pressure=2.4e6, bore=0.046, wall=0.002, allowable=1e8)
    assert ratio == pytest.approx(0.3, rel=1e-12)
    for value, expected in ((0.3, Tolerance.TOLERATES), (just_above(0.3), Tolerance.ASK)):
        steel = wall_verdict(material=Material.CARBON_STEEL, coolant=CO2, stress_ratio=value)
        assert steel.tolerance is expected
    assert stress_ratio(pressure=0.0, bore=0.046, wall=0.002, allowable=1e8) == 0.0


def test_a_plug_at_which_bond_and_ice_fail_together() -> None:
    """4 x 0.25 MPa x 1 m / 0.5 m = 2 MPa of shear, and ice of 2 MPa: each is the limit."""
    plug = holding_pressure(
        bore=0.5, plug_length=Range.exactly(1.0), factor=1.0, adhesion=2.5e5, compression=2e6
    )
    assert (plug.shear, plug.compression, plug.allowed) == (2e6, 2e6, 2e6)
    assert plug.governing is HoldingLimit.SHEAR
    assert (plug.holds(2e6), plug.holds(just_above(2e6))) == (True, False)
    assert (plug.margin(2e6), plug.margin(3e6)) == (0.0, -1e6)


def test_the_longest_plug_that_helps() -> None:
    """With a factor of 4 and ice of 5 MPa, 1.25 MPa is the most; 0.05 m x 5 / 0.8 = 0.3125 m."""
    assert plug_length_needed(bore=0.05, pressure=1.25e6) == pytest.approx(0.3125, rel=1e-12)
    assert plug_length_needed(bore=0.05, pressure=just_above(1.25e6)) is None
    assert plug_length_needed(bore=0.05, pressure=0.0) == 0.0


def test_no_head_no_loss() -> None:
    assert outflow(bore=0.05, head=0.0, coefficient=1.0) == 0.0
    still = loss_from_source(bore=0.05, pressure=0.0, space=Space(1.0, 1.0))
    assert (still.head, still.speed, still.volume) == (0.0, 0.0, 0.0)
    assert still.flow == still.time_to_drain == Range.exactly(0.0)
    assert still.time_to_fill == Range.exactly(math.inf)


def test_a_stack_of_two_tanks_drains_one_after_the_other() -> None:
    """t = A/a sqrt(2/g) (sqrt h1 - sqrt h2). Opening 1 m2: 4 m to 1 m takes A sqrt(2/g), too."""
    bore = math.sqrt(4.0 / math.pi)
    layers = [Layer(0.0, 1.0, 3.0), Layer(1.0, 4.0, 2.0)]
    unit = math.sqrt(2.0 / G)

    def fills(volume: float) -> float | None:
        loss = loss_by_draining(bore=bore, layers=layers, space=Space(volume, 1.0), coefficient=ONE)
        assert loss.time_to_fill is not None
        return loss.time_to_fill.likely

    assert fills(6.0) == pytest.approx(2.0 * unit, rel=1e-12)  # the upper tank alone
    assert fills(9.0) == pytest.approx(5.0 * unit, rel=1e-12)  # all there is
    assert fills(9.1) == math.inf
    # 3.5 m3 leave 2.25 m in the upper tank: 2 x (2 - 1.5)
    assert fills(3.5) == pytest.approx(1.0 * unit, rel=1e-12)


def test_layers_touch_within_a_millionth_of_a_millimetre() -> None:
    upper = Layer(3.0, 4.0, 1.0)
    loss_by_draining(bore=0.05, layers=[Layer(0.0, 3.0 + 1e-9, 1.0), upper])
    with pytest.raises(ValueError, match=r"^two layers of water overlap$"):
        loss_by_draining(bore=0.05, layers=[Layer(0.0, just_above(3.0 + 1e-9), 1.0), upper])


def _trapped(pressure: float, limit: float | None) -> TrappedPressure:
    return TrappedPressure(1.0, 0.0, 1e-9, 0.0, False, pressure, limit, None)


def test_a_shut_section_exactly_at_its_limit_is_within_it() -> None:
    assert _trapped(1e6, 1e6).within_limit is True
    assert _trapped(just_above(1e6), 1e6).within_limit is False
    assert _trapped(0.0, None).within_limit is None


def test_all_the_water_may_freeze_but_no_more() -> None:
    pipe = PipeSegment(0.05, 0.004, 1.0, Material.CARBON_STEEL)

    def freeze(share: float) -> TrappedPressure:
        return trapped_pressure(
            segments=[pipe],
            frozen_volume=share * pipe.volume,
            start_pressure=0.0,
            coldest_temperature=273.15,
        )

    whole = freeze(1.0)
    assert (whole.rise, whole.at_ceiling) == (0.0, True)  # at 0 degC no pressure keeps ice
    # Water of 999.84 and ice of 917 kg/m3, handbook values: 9.03 % more room.
    assert whole.expansion / pipe.volume == pytest.approx(999.84 / 917.0 - 1.0, rel=1e-12)
    assert freeze(1.0 + 1e-9).volume == whole.volume  # that much is put down to rounding
    with pytest.raises(ValueError, match="can not grow"):
        freeze(1.0 + 1.001e-9)
    assert not freeze(0.0).at_ceiling  # no ice, so nothing is cut off


def _delivery(**changed: float) -> Delivery:
    habits = {
        "rate": 0.01,
        "injection": 300.0,
        "wait": 300.0,
        "shortest_wait": 60.0,
        "top_up_interval": 300.0,
        **changed,
    }
    return Delivery(**habits, source="invented", status=Status.OWN_CHOICE)


def test_one_injection_by_hand() -> None:
    """Nitrogen, no leak, all kept: 199 kJ a second are 1 kg/s, and 199 kJ in all are 1 kg.

    A jacket of 1 m x 1 m2 filled to 3 kg/m3 takes 3 kg. So 4 kg until the plug stands, at
    0.01 kg/s in 400 s, read off a watch in quarters of a minute: 405 s, then 195 s of waiting.
    """
    wide = math.sqrt(0.01 + 4.0 / math.pi)
    need = coolant_needed(
        heat_to_freeze=Range.exactly(199e3),
        freeze_time=Range.exactly(600.0),
        hold_heat=Range.exactly(199.0 * 300.0),
        hold_time=300.0,
        jacket=Jacket(0.1, wide, 1.0),
        supply=Supply(LN2, 10.0),
        ambient_temperature=293.15,
        handling=Handling(ONE, Range.exactly(0.0), Range.exactly(3.0), "", Status.OWN_CHOICE),
    )
    assert need.until_plug.values == pytest.approx((4.0, 4.0, 4.0), rel=1e-12)
    assert need.hold.likely == pytest.approx(0.3, rel=1e-12)
    assert need.total.likely == pytest.approx(4.3 * 1.25, rel=1e-12)
    assert need.share_reaching_pipe.likely == pytest.approx(0.25, rel=1e-12)
    assert need.jacket_lasts == pytest.approx(3000.0, rel=1e-12)
    assert cylinders_for(need.total.high, Supply(LN2, 10.0)) == need.cylinders.high == 1
    plan = make_schedule(
        need=need, freeze_time=Range.exactly(600.0), hold_time=300.0, delivery=_delivery()
    )
    assert [(step.kind, step.start, step.duration) for step in plan.steps] == [
        (StepKind.INJECT, 0.0, 405.0),
        (StepKind.WAIT, 405.0, 195.0),
        (StepKind.PLUG_EXPECTED, 600.0, 0.0),
        (StepKind.PLUG_DUE, 600.0, 0.0),
        (StepKind.TOP_UP, 600.0, 30.0),
        (StepKind.HOLD_ENDS, 900.0, 0.0),
    ]
    assert plan.mass == pytest.approx(4.05 + 0.3, rel=1e-12)


def test_whole_cylinders_at_and_beside_a_round_number() -> None:
    supply = Supply(LN2, 10.0, usable=0.5)
    masses = (0.0, 1e-300, 5.0, just_above(5.0), 10.0)
    assert [cylinders_for(mass, supply) for mass in masses] == [0, 1, 1, 2, 2]


def test_waits_may_be_as_short_as_the_usual_one_and_no_longer() -> None:
    assert _delivery(shortest_wait=300.0).cycle == 600.0
    with pytest.raises(ValueError, match=r"^the shortest wait is longer than the usual wait$"):
        _delivery(shortest_wait=just_above(300.0))


def test_two_plugs_in_one_room_add_up() -> None:
    """0.4 kg in 20 s and 0.3 kg in 10 s, the second from the middle of the first."""
    steps = [Step(0.0, 20.0, StepKind.INJECT, 0.4), Step(10.0, 10.0, StepKind.INJECT, 0.3)]
    first, second = releases_of(steps)
    assert (first.duration, second.duration) == (10.0, 10.0)
    assert (first.rate, second.rate) == pytest.approx((0.02, 0.05), rel=1e-12)


def test_a_room_that_gets_as_much_gas_as_fresh_air_goes_to_a_half() -> None:
    """dA/dt = (G - (Q + G) A) / V, with G = Q = V / 2000 s: A = (1 - exp(-t / 1000 s)) / 2."""
    rate = 1e-3 / gas_volume(1.0, CO2, 293.15)
    room = Room(2.0, 1e-3, background=0.0)
    air = room_air(room=room, coolant=CO2, releases=[Release(1000.0, rate)])
    assert air.peak == pytest.approx(0.5 * (1.0 - math.exp(-1.0)), rel=1e-12)
    assert air.lowest_oxygen == pytest.approx(0.209 * (1.0 - air.peak), rel=1e-12)
    danger = -1000.0 * math.log(1.0 - 2.0 * DANGER_LIMIT.value)
    assert air.crossed[AirLimit.DANGER] == pytest.approx(danger, rel=1e-9)
    low = -1000.0 * math.log(1.0 - 2.0 * (1.0 - OXYGEN_LIMIT.value / OXYGEN_IN_AIR.value))
    assert air.crossed[AirLimit.OXYGEN] == pytest.approx(low, rel=1e-9)


def test_a_closed_room_keeps_what_it_got() -> None:
    """Without fresh air the gas drives air out: A = 1 - exp(-volume of gas / V), for ever."""
    mass = 3.0 / gas_volume(1.0, CO2, 293.15)
    room = Room(60.0, 0.0, background=0.0)
    air = room_air(room=room, coolant=CO2, releases=[Release(60.0, mass / 60.0)])
    end = 1.0 - math.exp(-0.05)
    worst = (air.peak, air.worst_quarter_hour, air.worst_eight_hours)
    assert worst == pytest.approx((end, end, end), rel=1e-9)


def test_the_fresh_air_of_a_gas_that_never_ends() -> None:
    """Nitrogen for a day settles at G / (Q + G), which may be 1 - 0.195 / 0.209 = 14 / 209."""
    rate = 1e-3 / gas_volume(1.0, LN2, 293.15)
    needed = fresh_air_needed(room=Room(1.0, 0.0), coolant=LN2, releases=[Release(86_400.0, rate)])
    assert needed == pytest.approx(1e-3 * (209.0 / 14.0 - 1.0), rel=1e-4)


@pytest.mark.parametrize(
    ("shares", "severity"),
    [
        ((0.04, 0.0, 0.0, 0.209), 1.0),
        ((0.0, 0.03, 0.0, 0.209), 1.0),
        ((0.0, 0.0, 0.005, 0.209), 1.0),
        ((0.0, 0.0, 0.0, 0.195), 1.0),
        ((0.02, 0.006, 0.0005, 0.2055), 0.5),
    ],
)
def test_how_much_of_a_limit_is_used(
    shares: tuple[float, float, float, float], severity: float
) -> None:
    """40,000, 30,000 and 5,000 ppm (NIOSH, OSHA) and 19.5 % oxygen (OSHA): each is all of one."""
    air = RoomAir(CO2, *shares, crossed={})
    assert air.severity == pytest.approx(severity, rel=1e-9)
    assert air.fit
    assert not RoomAir(CO2, *shares, crossed={AirLimit.DANGER: 0.0}).fit


def test_each_piece_is_looked_at_in_17_places() -> None:
    """Two pieces share an end, so 33 places; own choice, enough for curves of one hump."""
    asked: list[int] = []

    def line(times: np.ndarray) -> np.ndarray:
        asked.append(len(times))
        return times

    knots = np.array([0.0, 1.0, 3.0])
    module._refined(line, knots)
    assert asked[0] == 33
    asked.clear()
    module._first_above(line, knots, 2.0, 3.0)
    assert asked[0] == 33
