"""The cold wall: each verdict against the clause it names, and doubt as the default."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layoutcheck.physics.coolant import Coolant
from layoutcheck.physics.figures import Status
from layoutcheck.physics.wall import (
    LOW_STRESS_TEMPERATURE,
    Tolerance,
    stress_ratio,
    wall_verdict,
)
from layoutcheck.quantities.materials import Material

CO2, LN2 = Coolant.CARBON_DIOXIDE, Coolant.NITROGEN
STEELS = (Material.CARBON_STEEL, Material.GALVANIZED_STEEL)
FCC = (Material.STAINLESS_STEEL, Material.COPPER)
PLASTICS = (Material.PVC, Material.CPVC, Material.PEX, Material.HDPE)


@pytest.mark.parametrize("material", list(Material))
@pytest.mark.parametrize("coolant", list(Coolant))
def test_every_pair_has_a_verdict_with_reason_and_cautions(
    material: Material, coolant: Coolant
) -> None:
    verdict = wall_verdict(material=material, coolant=coolant)
    assert verdict.reason
    assert verdict.cautions
    assert bool(verdict.missing) is (verdict.tolerance is Tolerance.ASK)
    assert bool(verdict.clause) is (verdict.status is not Status.NO_SOURCE)


@pytest.mark.parametrize("material", [m for m in Material if m not in FCC])
@pytest.mark.parametrize("coolant", list(Coolant))
def test_without_evidence_it_asks(material: Material, coolant: Coolant) -> None:
    assert wall_verdict(material=material, coolant=coolant).tolerance is Tolerance.ASK


@pytest.mark.parametrize("material", FCC)
@pytest.mark.parametrize("coolant", list(Coolant))
def test_austenitic_and_copper(material: Material, coolant: Coolant) -> None:
    """B31.3 Table A-1 minimums -254 and -269 degC, both from memory; nitrogen is at -196 degC."""
    verdict = wall_verdict(material=material, coolant=coolant)
    assert verdict.tolerance is Tolerance.TOLERATES
    assert verdict.status is Status.MEMORY


@pytest.mark.parametrize("material", STEELS)
@pytest.mark.parametrize(
    ("ratio", "expected"),
    [(0.0, Tolerance.TOLERATES), (0.3, Tolerance.TOLERATES), (0.31, Tolerance.ASK)],
)
def test_carbon_steel_by_stress_ratio(
    material: Material, ratio: float, expected: Tolerance
) -> None:
    """ASME B31.3-2016 Fig 323.2.2B (read): to -104 degC; the 0.3 for carbon steel from memory."""
    verdict = wall_verdict(material=material, coolant=CO2, stress_ratio=ratio)
    assert verdict.tolerance is expected
    assert "Fig 323.2.2B" in verdict.clause
    # -155 degF, the other unit the clause gives
    assert LOW_STRESS_TEMPERATURE.value * 9.0 / 5.0 - 459.67 == pytest.approx(-155.0, abs=0.5)


@pytest.mark.parametrize("material", STEELS)
def test_nitrogen_on_carbon_steel_asks_at_any_stress(material: Material) -> None:
    verdict = wall_verdict(material=material, coolant=LN2, stress_ratio=0.0)
    assert verdict.tolerance is Tolerance.ASK


@pytest.mark.parametrize("material", PLASTICS)
def test_plastics_need_a_specialist(material: Material) -> None:
    assert "specialist" in wall_verdict(material=material, coolant=CO2).missing


def test_an_acceptance_decides_what_no_source_decides() -> None:
    verdict = wall_verdict(
        material=Material.CAST_IRON, coolant=LN2, accepted_by="A. Invented, invented engineer"
    )
    assert verdict.tolerance is Tolerance.TOLERATES
    assert "A. Invented" in verdict.reason
    assert verdict.missing == ""


def test_an_empty_name_accepts_nothing() -> None:
    verdict = wall_verdict(material=Material.PVC, coolant=CO2, accepted_by="  ")
    assert verdict.tolerance is Tolerance.ASK


def test_a_stated_minimum_decides_first() -> None:
    warm, cold = 244.15, 100.0
    refused = wall_verdict(
        material=Material.COPPER, coolant=CO2, stated_minimum=warm, accepted_by="A. Invented"
    )
    assert refused.tolerance is Tolerance.DOES_NOT
    covered = wall_verdict(material=Material.HDPE, coolant=CO2, stated_minimum=cold)
    assert covered.tolerance is Tolerance.TOLERATES


def test_stress_ratio_by_hand() -> None:
    """100 psi in 2 in schedule 40: 100 x 2.375 / (2 x 0.154) = 771 psi; over 17,000 it is 0.045."""
    ratio = stress_ratio(
        pressure=100 * 6894.757, bore=0.0525018, wall=0.0039116, allowable=17_000 * 6894.757
    )
    assert ratio == pytest.approx(0.0454, abs=0.0002)


@given(
    material=st.sampled_from(Material),
    coolant=st.sampled_from(Coolant),
    ratio=st.floats(min_value=0.0, max_value=2.0),
    more=st.floats(min_value=0.0, max_value=2.0),
)
def test_more_stress_never_helps(
    material: Material, coolant: Coolant, ratio: float, more: float
) -> None:
    less = wall_verdict(material=material, coolant=coolant, stress_ratio=ratio)
    higher = wall_verdict(material=material, coolant=coolant, stress_ratio=ratio + more)
    assert not (less.tolerance is Tolerance.ASK and higher.tolerance is Tolerance.TOLERATES)


@given(material=st.sampled_from(Material), ratio=st.floats(min_value=0.0, max_value=2.0))
def test_colder_never_helps(material: Material, ratio: float) -> None:
    warm = wall_verdict(material=material, coolant=CO2, stress_ratio=ratio)
    cold = wall_verdict(material=material, coolant=LN2, stress_ratio=ratio)
    assert not (warm.tolerance is Tolerance.ASK and cold.tolerance is Tolerance.TOLERATES)
