"""Words of the trade are taken for what they are, in the long form, the short one and commands.

Trade words, common practice, no published source.
"""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest

from layoutcheck.document import LayoutFaults, parse_layout, read_text
from tests.cli.conftest import Run, run  # noqa: F401 - a fixture
from tests.document.test_right_examples import ROOT

LONG: list[tuple[str, str, str, str]] = [
    ("plugs", "coolant", "dry ice", "carbon dioxide"),
    ("plugs", "coolant", "CO2", "carbon dioxide"),
    ("plugs", "coolant", "LN2", "nitrogen"),
    ("valves", "state", "shut", "closed"),
    ("valves", "state", "Open", "open"),
    ("valves", "state", "letting by", "passing"),
    ("valves", "kind", "gate valve", "gate"),
    ("valves", "kind", "non-return", "check"),
    ("outlets", "state", "dripping", "leaking"),
    ("outlets", "state", "tap", "may draw"),
    ("sources", "kind", "roof tank", "raised tank"),
    ("pipes", "covering", "lagging", "insulation"),
]
SHORT = """
name: Invented
pipes: {riser: "A to B, 2 in, 20 ft"}
valves: {V1: "riser at 4 ft, gate valve, shut"}
equipment: {H1: "B, boiler"}
sources: {main: "A, 60 psi"}
outlets: {gland: "B, dripping"}
pumps: {P1: "riser at 9 ft, shut-off head 40 ft"}
work: tee B for 2 h
plugs: {F1: "riser at 12 ft, jacket 12 in, dry ice"}
site: {rooms: {plant: "20 ft x 10 ft x 8 ft, 6 air changes"}, room: plant}
"""


@pytest.mark.parametrize(("name", "field", "word", "means"), LONG)
def test_in_the_long_form(name: str, field: str, word: str, means: str) -> None:
    document = json.loads((ROOT / "fixtures" / "plant-room-sketch.json").read_bytes())
    document[name][0][field] = word
    told = document[name][0]
    if word == "shut":
        told.pop("tightness", None)
    assert getattr(getattr(parse_layout(document), name)[0], field) == means


def test_in_stock_too() -> None:
    document = json.loads((ROOT / "fixtures" / "plant-room-sketch.json").read_bytes())
    for stock in document["site"]["stock"]:
        stock["coolant"] = "dry ice"
    assert {s.coolant for s in parse_layout(document).site.stock} == {"carbon dioxide"}


def test_in_the_short_form() -> None:
    layout = parse_layout(read_text(SHORT, suffix=".yaml"))
    assert (layout.valves[0].state, layout.valves[0].kind) == ("closed", "gate")
    assert layout.equipment[0].kind == "heater"
    assert layout.outlets[0].state == "leaking"
    assert layout.pumps[0].shutoff_head == pytest.approx(40 * 0.3048 * 999.97 * 9.80665, rel=1e-3)
    assert layout.work is not None and layout.work.open[0].junction == "B"
    assert layout.plugs[0].coolant == "carbon dioxide"
    assert layout.site.rooms[0].air_changes == pytest.approx(6 / 3600)


def test_on_the_command_line(run: Run) -> None:  # noqa: F811
    asked = ("freeze", "--size", "2 in", "--material", "carbon steel", "--format", "json")
    one, other = (run(*asked, "--coolant", word) for word in ("dry ice", "carbon dioxide"))
    assert one.code == other.code and one.out == other.out


@pytest.mark.parametrize(
    ("typed", "meant"), [("heaters", "equipment"), ("drains", "outlets"), ("mains", "sources")]
)
def test_a_list_under_another_name_is_told_its_own(typed: str, meant: str) -> None:
    document: dict[str, Any] = copy.deepcopy(
        json.loads((ROOT / "fixtures" / "plant-room-sketch.json").read_bytes())
    )
    document[typed] = []
    with pytest.raises(LayoutFaults) as raised:
        parse_layout(document)
    (fault,) = raised.value.faults
    assert fault.example == f'"{meant}"'
