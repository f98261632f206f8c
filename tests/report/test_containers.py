"""Liquid nitrogen is counted in what it comes in: vessels, by litres. Invented site."""

from typing import Any

import pytest
from CoolProp.CoolProp import PropsSI

from layoutcheck.document import LayoutFaults, parse_layout
from layoutcheck.physics.coolant import NITROGEN_LIQUID_DENSITY
from layoutcheck.report import check_document
from layoutcheck.report.freeze import answer_freeze, read_question
from layoutcheck.report.freeze_text import freeze_text
from layoutcheck.report.model import Report
from tests.rules.one_line import one_line


def _report(**each: Any) -> Report:
    stock = [{"coolant": "nitrogen", "cylinders": 3, **each}]
    return check_document(one_line(("nitrogen",), stock=stock))


def test_the_density_is_coolprops() -> None:
    """Saturated liquid at 1 atm; the handbooks' 807 kg/m3 is within 0.2 %."""
    found = PropsSI("D", "P", 101325.0, "Q", 0.0, "Nitrogen")
    assert NITROGEN_LIQUID_DENSITY.value == pytest.approx(found, rel=1e-3)
    assert NITROGEN_LIQUID_DENSITY.value == pytest.approx(807.0, rel=2e-3)


def test_litres_are_the_mass_that_they_weigh() -> None:
    """160 L at 806 kg/m3 is 128.96 kg, of which nine tenths can be drawn."""
    by_volume, by_mass = _report(volume_each="160 L"), _report(mass_each="128.96 kg")
    for report in (by_volume, by_mass):
        (found,) = [f for f in report.findings if f.rule == "coolant-on-hand"]
        assert found.measured is not None
        assert found.measured.value == pytest.approx(3 * 0.9 * 128.96, rel=1e-3)
        (plug,) = report.plugs
        assert plug.freeze.coolant is not None
        assert plug.freeze.coolant.cylinder.unit == "m3"
        assert "vessel" in plug.freeze.coolant.comes_in
        assert "160 L" in plug.freeze.coolant.comes_in


def test_a_freeze_without_a_stock_counts_vessels() -> None:
    asked = {"size": "2 in", "material": "carbon steel", "jacket": "12 in"}
    question = read_question({**asked, "water_temperature": "60 degF", "coolant": "nitrogen"})
    text = " ".join(freeze_text(answer_freeze(question)).split())
    assert "vessel" in text
    assert "160 L" in text
    assert "cylinders of" not in text


@pytest.mark.parametrize(
    "stock",
    [
        {"coolant": "nitrogen", "cylinders": 1},
        {"coolant": "nitrogen", "cylinders": 1, "mass_each": "50 kg", "volume_each": "50 L"},
        {"coolant": "carbon dioxide", "cylinders": 1, "volume_each": "50 L"},
    ],
)
def test_one_size_and_carbon_dioxide_by_mass(stock: dict[str, Any]) -> None:
    with pytest.raises(LayoutFaults) as caught:
        parse_layout(one_line(stock=[stock]))
    (fault,) = caught.value.faults
    assert fault.pointer == "/site/stock/0"
    assert fault.example == '"mass_each": "50 lb"'
