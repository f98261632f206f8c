"""wall-material in whole layouts: each material with each coolant, at 60 psi, accepted by nobody.

The answers are those of the table in the sources that the rule names: ASME B31.3 Table A-1 minimums
for austenitic stainless steel (-254 degC) and copper (-269 degC), from memory; B31.3-2016 notes to
Table 323.2.2 and Fig 323.2.2A for carbon steel down to -104 degC at low stress, read. Solid CO2 is
at -78.5 degC, liquid nitrogen at -196 degC. Where no source decides, the answer is to ask.
Sites are invented.
"""

from __future__ import annotations

from typing import Any

import pytest

from layoutcheck.document import LayoutFaults
from layoutcheck.quantities import Material
from layoutcheck.report import check_document
from layoutcheck.report.model import Finding
from tests.rules.test_cases import document

OWN_SIZE = {"wall": None, "outside_diameter": "60.3 mm", "wall_thickness": "5 mm"}
SURE = {Material.STAINLESS_STEEL, Material.COPPER}
STEEL = {Material.CARBON_STEEL, Material.GALVANIZED_STEEL}


def judged(material: Material, coolant: str, **pipe: Any) -> Finding:
    """Judge a line of a material, of 60.3 x 5 mm, under 60 psi."""
    line = {
        "run": "S to W, 2 in, 60 ft",
        "material": material.value,
        "low_temperature_accepted_by": None,
        **OWN_SIZE,
        # A copper tube of 2 in is 2.125 in wide (ASTM B88).
        **({"outside_diameter": "54 mm"} if material is Material.COPPER else {}),
        **pipe,
    }
    layout = {
        "pipes": {"line": line},
        "sources": {"main": "S"},
        "plugs": {"A": {"pipe": "line", "station": "30 ft", "jacket": "12 in", "coolant": coolant}},
        "work": {"open": [{"junction": "W"}], "duration": "2 h"},
    }
    report = check_document(document({"name": "wall", "layout": layout}))
    return next(f for f in report.findings if f.rule == "wall-material")


@pytest.mark.parametrize("material", list(Material))
def test_with_solid_carbon_dioxide(material: Material) -> None:
    found = judged(material, "carbon dioxide")
    assert found.outcome == ("holds" if material in SURE | STEEL else "undecided")
    assert found.outcome == "holds" or found.missing


@pytest.mark.parametrize("material", list(Material))
def test_with_liquid_nitrogen(material: Material) -> None:
    """-196 degC lies under the -104 degC of carbon steel."""
    found = judged(material, "nitrogen")
    assert found.outcome == ("holds" if material in SURE else "undecided")


@pytest.mark.parametrize("material", [m for m in Material if m not in SURE])
def test_a_named_engineer_may_accept_what_no_source_decides(material: Material) -> None:
    found = judged(material, "nitrogen", low_temperature_accepted_by="invented engineer")
    assert found.outcome == "holds"
    assert "invented engineer" in found.says


@pytest.mark.parametrize("name", ["", "   ", "?"])
def test_a_name_of_nothing_is_refused(name: str) -> None:
    with pytest.raises(LayoutFaults, match="low_temperature_accepted_by"):
        judged(Material.CAST_IRON, "carbon dioxide", low_temperature_accepted_by=name)


def test_every_answer_shows_its_cautions() -> None:
    for material in (Material.COPPER, Material.CARBON_STEEL):
        assert judged(material, "carbon dioxide").assumed
