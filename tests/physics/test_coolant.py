"""Coolant: the flash against handbook heats, and the balance by hand."""

import math

import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given, settings
from hypothesis import strategies as st

from layoutcheck.physics import coolant as module
from layoutcheck.physics.carbon_dioxide import saturated_table
from layoutcheck.physics.coolant import (
    Coolant,
    CylinderStateError,
    Supply,
    snow_yield,
    usable_fraction,
)
from layoutcheck.physics.coolant_need import (
    CoolantNeed,
    Handling,
    Jacket,
    coolant_needed,
    cylinders_for,
)
from layoutcheck.physics.figures import Status
from layoutcheck.physics.ranges import Range

POUND = 0.45359237  # kg, exact by definition
CO2 = Coolant.CARBON_DIOXIDE
ROOM = 293.15


# Calculated in this project's notes by the same method (isenthalpic flash, 571 kJ/kg), so this
# checks the code and not the method. The notes give whole per cent and whole kJ/kg.
@pytest.mark.parametrize(
    ("celsius", "share"), [(-20.0, 0.47), (0.0, 0.39), (10.0, 0.34), (20.0, 0.29), (25.0, 0.26)]
)
def test_snow_yield_of_the_notes(celsius: float, share: float) -> None:
    assert snow_yield(celsius + 273.15) == pytest.approx(share, abs=0.006)


@pytest.mark.parametrize(("celsius", "heat"), [(-20.0, 268e3), (0.0, 222e3), (20.0, 167e3)])
def test_cooling_of_the_notes(celsius: float, heat: float) -> None:
    assert Supply(CO2, 22.68, celsius + 273.15).cooling == pytest.approx(heat, rel=0.004)


def test_the_heats_close_a_cycle_through_the_triple_point() -> None:
    """Solid at 1 atm, warmed to the triple point and melted, must be CoolProp's liquid.

    Heat of fusion 189 to 205 kJ/kg (8.33 to 9.02 kJ/mol) and heat capacity of the solid about
    1.3 kJ/kgK near 205 K: handbook values, from memory. An error of 1 % in the heat of sublimation
    would move the outcome by 6 kJ/kg.
    """
    solid = saturated_table().cold_gas_enthalpy - module.SUBLIMATION_HEAT.value
    warmed = solid + 1300.0 * (216.592 - module.SUBLIMATION_TEMPERATURE.value)
    fusion = float(PropsSI("H", "T", 216.593, "Q", 0.0, "CO2")) - warmed
    assert 189e3 <= fusion <= 205e3


def test_sublimation_heat_near_a_published_molar_value() -> None:
    # Giauque and Egan (1937): 6030 cal/mol at the sublimation point. From memory.
    published = 6030.0 * 4.184 / 44.0095e-3
    assert module.SUBLIMATION_HEAT.value == pytest.approx(published, rel=0.01)


def test_nitrogen_constants_are_those_of_the_equation_of_state() -> None:
    state = ("P", 101325.0, "Q")
    heat = PropsSI("H", *state, 1.0, "Nitrogen") - PropsSI("H", *state, 0.0, "Nitrogen")
    assert module.NITROGEN_BOILING_HEAT.value == pytest.approx(heat, rel=0.002)
    boiling = PropsSI("T", *state, 0.0, "Nitrogen")
    assert module.NITROGEN_BOILING_POINT.value == pytest.approx(boiling, abs=0.01)
    density = PropsSI("D", *state, 0.0, "Nitrogen")
    assert module.NITROGEN_LIQUID_DENSITY.value == pytest.approx(density, rel=0.001)
    critical = PropsSI("Tcrit", "CO2")
    assert module.CRITICAL_TEMPERATURE.value == pytest.approx(critical, abs=0.01)


def test_critical_temperature_is_the_88_degf_of_the_contract() -> None:
    fahrenheit = module.CRITICAL_TEMPERATURE.value * 9.0 / 5.0 - 459.67
    assert fahrenheit == pytest.approx(87.8, abs=0.1)  # 30.98 degC, handbook value


@pytest.mark.parametrize("temperature", [200.0, 304.2, 320.0])
def test_no_liquid_no_snow(temperature: float) -> None:
    for function in (snow_yield, usable_fraction):
        with pytest.raises(CylinderStateError, match="no liquid carbon dioxide"):
            function(temperature)


def test_usable_fraction_by_hand() -> None:
    """By hand: saturated vapour at 20 degC is 194.2 kg/m3 (tables of the NIST equation, from
    memory); a cylinder holds 0.68 kg per kg of water at 60 degF, 999.0 kg/m3."""
    assert usable_fraction(ROOM) == pytest.approx(1.0 - 194.2 / (0.68 * 999.0), abs=0.002)


def hand_handling() -> Handling:
    exact = Range.exactly
    return Handling(exact(0.5), exact(5.0), exact(400.0), "invented for this test", Status.MEMORY)


def test_the_balance_by_hand() -> None:
    """Nitrogen, so that every number is on the page. Calculated by hand."""
    jacket = Jacket(pipe_outside_diameter=0.06, outside_diameter=0.10, length=0.25)
    need = coolant_needed(
        heat_to_freeze=Range.exactly(398e3),
        freeze_time=Range.exactly(1000.0),
        hold_heat=Range.exactly(360e3),
        hold_time=3600.0,
        jacket=jacket,
        supply=Supply(Coolant.NITROGEN, 20.0, usable=0.5),
        ambient_temperature=297.355,
        handling=hand_handling(),
        reserve_fraction=0.5,
    )
    end = math.pi / 4.0 * (0.10**2 - 0.06**2)
    room_heat = 5.0 * (math.pi * 0.10 * 0.25 + 2.0 * end) * 220.0
    fill = 400.0 * end * 0.25 / 0.5
    freeze = (398e3 + 1000.0 * room_heat) / (199e3 * 0.5)
    hold = 3600.0 * (100.0 + room_heat) / (199e3 * 0.5)
    assert need.fill.likely == pytest.approx(fill, rel=1e-12)
    assert need.freeze.likely == pytest.approx(freeze, rel=1e-12)
    assert need.hold.likely == pytest.approx(hold, rel=1e-12)
    assert need.total.likely == pytest.approx(1.5 * (fill + freeze + hold), rel=1e-12)
    assert need.cylinders.likely == math.ceil(need.total.likely / 10.0)
    share = 398e3 / ((fill + freeze) * 199e3)
    assert need.share_reaching_pipe.likely == pytest.approx(share, rel=1e-12)


def two_inch_line() -> CoolantNeed:
    """2 in schedule 40 steel, water and room at 68 degF, a jacket of 12 in, 30 minutes.

    Heat by hand over the jacket's length: water cooled by 20 K and frozen, ice cooled by 40 K on
    average, wall by 90 K, and a tenth on top for what leaks in from both sides.
    """
    length, bore, outside = 0.3048, 0.0525, 0.0603
    water = 1000.0 * math.pi / 4.0 * bore**2 * length
    steel = 7850.0 * math.pi / 4.0 * (outside**2 - bore**2) * length
    heat = 1.1 * (water * (4.2e3 * 20.0 + 334e3 + 2.0e3 * 40.0) + steel * 470.0 * 90.0)
    return coolant_needed(
        heat_to_freeze=Range(0.8 * heat, heat, 1.25 * heat),
        freeze_time=Range(1400.0, 1800.0, 2300.0),
        hold_heat=Range.exactly(0.0),
        hold_time=0.0,
        jacket=Jacket.round_pipe(pipe_outside_diameter=outside, length=length),
        supply=Supply(CO2, 22.68, ROOM),
        ambient_temperature=ROOM,
    )


def test_two_inch_line_takes_about_18_lb() -> None:
    """Common practice, no published source: about 18 lb for a 2 in line from 68 degF water.

    Nothing in the mass is fitted. 'About' is read as within a quarter.
    """
    need = two_inch_line()
    practice = 18.0 * POUND
    assert need.until_plug.low < practice < need.until_plug.high
    assert need.until_plug.likely == pytest.approx(practice, rel=0.25)


def test_most_of_the_cooling_misses_the_pipe() -> None:
    """The practice figure itself says so: its cooling over the heat of the freeze, by hand."""
    need = two_inch_line()
    assert 0.1 < need.share_reaching_pipe.low <= need.share_reaching_pipe.high < 0.6


positive = st.floats(min_value=1e3, max_value=1e7)
fraction = st.floats(min_value=1.0, max_value=3.0)


def spread(likely: float, by: float) -> Range:
    return Range(likely / by, likely, likely * by)


def need_of(
    *,
    heat: float = 4e5,
    by: float = 1.2,
    time: float = 1800.0,
    rate: float = 80.0,
    hold: float = 3600.0,
    length: float = 0.3,
    cylinder: float = ROOM,
) -> CoolantNeed:
    return coolant_needed(
        heat_to_freeze=spread(heat, by),
        freeze_time=spread(time, by),
        hold_heat=spread(rate * hold, by),
        hold_time=hold,
        jacket=Jacket.round_pipe(pipe_outside_diameter=0.0603, length=length),
        supply=Supply(CO2, 22.68, cylinder),
        ambient_temperature=ROOM,
    )


@settings(deadline=None)
@given(heat=positive, by=fraction, time=positive, hold=st.floats(min_value=0.0, max_value=1e5))
def test_masses_are_never_negative_and_in_order(
    heat: float, by: float, time: float, hold: float
) -> None:
    need = need_of(heat=heat, by=by, time=time, hold=hold)
    for part in (need.fill, need.freeze, need.hold, need.reserve, need.total):
        assert 0.0 <= part.low <= part.likely <= part.high
    assert need.cylinders.low <= need.cylinders.likely <= need.cylinders.high
    parts = need.fill.plus(need.freeze).plus(need.hold).plus(need.reserve)
    assert need.total.likely == pytest.approx(parts.likely, rel=1e-12)
    assert need.cylinders.high * Supply(CO2, 22.68, ROOM).usable_per_cylinder >= need.total.high


@settings(deadline=None)
@given(
    name=st.sampled_from(["heat", "time", "rate", "hold", "length", "cylinder"]),
    growth=st.floats(min_value=1.0, max_value=1.03),
)
def test_more_of_anything_never_takes_less(name: str, growth: float) -> None:
    start = {
        "heat": 4e5, "time": 1800.0, "rate": 80.0, "hold": 3600.0, "length": 0.3, "cylinder": 290.0
    }  # fmt: skip
    less = need_of(**start)
    more = need_of(**(start | {name: start[name] * growth}))
    for before, after in zip(less.total.values, more.total.values, strict=True):
        assert after >= before * (1.0 - 1e-12)


def test_bad_inputs_are_refused_in_plain_words() -> None:
    with pytest.raises(ValueError, match="cylinder's temperature"):
        Supply(CO2, 22.68)
    with pytest.raises(ValueError, match="finite"):
        need_of(time=math.inf)
    with pytest.raises(ValueError, match="wider than the pipe"):
        Jacket(0.06, 0.06, 0.3)
    with pytest.raises(ValueError, match="up to 1"):
        Handling(Range(0.5, 0.9, 1.2), Range.exactly(1), Range.exactly(1), "", Status.MEMORY)
    with pytest.raises(ValueError, match="zero or more"):
        cylinders_for(-1.0, Supply(CO2, 22.68, ROOM))


def test_a_part_of_a_cylinder_is_a_cylinder() -> None:
    supply = Supply(Coolant.NITROGEN, 10.0, usable=0.9)
    assert [cylinders_for(mass, supply) for mass in (0.0, 0.1, 9.0, 9.01)] == [0, 1, 1, 2]
