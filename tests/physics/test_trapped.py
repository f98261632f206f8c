"""Trapped water: Korteweg's form against a solve with the water's own equation of state."""

import math

import fluids
import pytest
from hypothesis import given
from hypothesis import strategies as st
from iapws import IAPWS97
from scipy.optimize import brentq

from layoutcheck.physics import trapped as module
from layoutcheck.physics.trapped import PipeSegment, trapped_pressure
from layoutcheck.quantities.materials import Material

SOFT_WATER = 2.03e9  # Pa at 5 degC, CoolProp; the value of the project's notes
DRY_ICE = 194.69


def two_inch(*, length: float = 1.0, material: Material = Material.CARBON_STEEL) -> PipeSegment:
    """2 in schedule 40 as the fluids library gives it (ASME B36.10)."""
    _, bore, _, wall = fluids.nearest_pipe(NPS=2, schedule="40")
    return PipeSegment(float(bore), float(wall), length, material)


def rise_of(segment: PipeSegment, share: float, bulk: float = SOFT_WATER) -> float:
    return trapped_pressure(
        segments=[segment],
        frozen_volume=share * segment.volume,
        start_pressure=0.0,
        coldest_temperature=DRY_ICE,
        bulk_modulus=bulk,
    ).rise


def test_values_of_the_notes() -> None:
    """Calculated in the notes for f = 0.1 %: 20 bar rigid, 18 bar in 2 in schedule 40 steel.

    And 10 mm of further growth into 1 m: about 16 bar. The notes round to whole bar.
    """
    share = 0.001 / module.expansion_ratio()
    rigid = two_inch(material=Material.UNKNOWN)
    assert rise_of(rigid, share) == pytest.approx(20e5, abs=0.5e5)
    assert rise_of(two_inch(), share) == pytest.approx(18e5, abs=0.5e5)
    assert rise_of(two_inch(), 0.01) == pytest.approx(16e5, abs=0.5e5)


def test_expansion_and_melting_line() -> None:
    # Notes, calculated: 999.84/917 = 1.090; 13.5 MPa per kelvin. Textbooks give 13.4 to 13.6.
    assert module.expansion_ratio() == pytest.approx(0.090, abs=0.0005)
    assert module.pressure_per_kelvin() == pytest.approx(13.5e6, rel=0.01)


@pytest.mark.parametrize("share", [0.002, 0.01, 0.03])
@pytest.mark.parametrize("material", [Material.CARBON_STEEL, Material.COPPER, Material.PVC])
def test_against_the_equation_of_state(share: float, material: Material) -> None:
    """Oracle: mass kept, water of IAPWS-IF97 at 20 degC, a hoop that stretches by p D / (w E).

    Within 5 %: the closed form keeps the bulk modulus of low pressure, and counts the volume of
    the ice as if it were compressed like water.
    """
    segment = two_inch(material=material)
    frozen = share * segment.volume
    ice = frozen * (1.0 + module.expansion_ratio())

    def surplus(pressure: float) -> float:
        density = IAPWS97(T=293.15, P=0.1 + pressure / 1e6).rho
        room = segment.volume * (1.0 + segment.stretch() * pressure) - ice
        return float(density / IAPWS97(T=293.15, P=0.1).rho * room - (segment.volume - frozen))

    oracle = brentq(lambda pressure: -surplus(pressure), 0.0, 90e6)
    assert rise_of(segment, share, module.WATER_BULK_MODULUS.value) == pytest.approx(
        oracle, rel=0.05
    )


def test_bulk_modulus_against_iapws() -> None:
    """IAPWS-IF97, central difference over 2 MPa at 20 degC; isothermal."""
    low, high = (IAPWS97(T=293.15, P=pressure).rho for pressure in (0.1, 2.1))
    assert 2e6 / math.log(high / low) == pytest.approx(module.WATER_BULK_MODULUS.value, rel=0.01)


def test_two_pipes_share_the_rise() -> None:
    """Two halves of one pipe are the pipe."""
    whole = trapped_pressure(
        segments=[two_inch(length=2.0)],
        frozen_volume=1e-5,
        start_pressure=3e5,
        coldest_temperature=DRY_ICE,
    )
    halves = trapped_pressure(
        segments=[two_inch(), two_inch()],
        frozen_volume=1e-5,
        start_pressure=3e5,
        coldest_temperature=DRY_ICE,
    )
    assert halves.pressure == pytest.approx(whole.pressure, rel=1e-12)
    assert halves.limit == whole.limit


def test_barlow_by_hand() -> None:
    """2 S w / D = 2 x 17,000 psi x 0.154 in / 2.375 in = 2,204 psi; by hand, stress from memory."""
    limit = two_inch().limit()
    assert limit == pytest.approx(2.0 * 17_000 * 0.154 / 2.375 * 6894.757, rel=0.003)


def test_a_rating_lower_than_barlow_rules() -> None:
    segment = PipeSegment(0.0525, 0.0039, 1.0, Material.CARBON_STEEL, rating=1e6)
    assert segment.limit() == 1e6


@pytest.mark.parametrize("material", list(Material))
def test_a_wall_of_no_known_strength_is_not_within_its_limit(material: Material) -> None:
    result = trapped_pressure(
        segments=[two_inch(), two_inch(material=material)],
        frozen_volume=1e-7,
        start_pressure=0.0,
        coldest_temperature=DRY_ICE,
    )
    unknown = module.WALL_STRENGTH[material].allowable is None
    assert (result.within_limit is None) is unknown
    assert (result.volume_to_limit is None) is unknown


def test_letting_out_the_stated_volume_is_enough() -> None:
    segment = two_inch()
    full = trapped_pressure(
        segments=[segment],
        frozen_volume=0.2 * segment.volume,
        start_pressure=4e5,
        coldest_temperature=DRY_ICE,
    )
    assert full.within_limit is False
    assert full.limit is not None
    assert full.volume_to_limit is not None
    left = full.expansion - full.volume_to_limit
    assert 4e5 + left / full.compliance == pytest.approx(full.limit, rel=1e-9)


def test_ice_stops_where_it_would_melt() -> None:
    segment = two_inch()
    result = trapped_pressure(
        segments=[segment],
        frozen_volume=segment.volume,
        start_pressure=0.0,
        coldest_temperature=272.15,
    )
    assert result.at_ceiling
    assert result.rise == pytest.approx(13.5e6, rel=0.01)


@given(
    share=st.floats(min_value=0.0, max_value=0.5),
    more=st.floats(min_value=1.0, max_value=2.0),
    length=st.floats(min_value=0.1, max_value=100.0),
)
def test_more_ice_or_a_shorter_section_is_worse(share: float, more: float, length: float) -> None:
    segment = two_inch(length=length)
    assert rise_of(segment, share * more) >= rise_of(segment, share) >= 0.0
    longer = two_inch(length=length * more)
    frozen = share * segment.volume / longer.volume
    assert rise_of(longer, frozen) <= rise_of(segment, share) * (1.0 + 1e-12)


def test_bad_inputs_are_refused() -> None:
    with pytest.raises(ValueError, match="at least one pipe"):
        trapped_pressure(
            segments=[], frozen_volume=0.0, start_pressure=0.0, coldest_temperature=DRY_ICE
        )
    with pytest.raises(ValueError, match="can not grow"):
        rise_of(two_inch(), 1.5)
