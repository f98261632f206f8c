"""What is taken for granted of the water is said: in the report and on the sheet, for each plug."""

from typing import Any

import pytest

from layoutcheck.document import LayoutFaults, parse_layout
from layoutcheck.report import Report, check_document
from layoutcheck.report.sheet.before import before_of
from layoutcheck.rules.case import Case
from layoutcheck.rules.registry import default_pack
from tests.rules.one_line import one_line

TAKEN = "not stated and taken as plain water"


def _ticks(document: dict[str, Any], report: Report) -> str:
    case = Case.of(parse_layout(document), default_pack())
    return " ".join(t.text for g in before_of(case, report) for t in g.ticks)


def test_nothing_stated_is_said_everywhere() -> None:
    document = one_line()
    report = check_document(document)
    said = " ".join(report.assumptions)
    assert f"{TAKEN}: P0." in said
    assert "full of water, with no air, at plugs: F0." in said
    assert any("The pipe holds plain water." in f.assumed for f in report.findings)
    ticks = _ticks(document, report)
    assert "it was taken as plain water" in ticks
    assert "Plug F0: P0 is full" in ticks


def test_plain_water_that_is_stated_is_no_assumption() -> None:
    document = one_line(fluid="plain water")
    report = check_document(document)
    assert TAKEN not in " ".join(report.assumptions)
    assert "Stated: plain water." in _ticks(document, report)


def test_glycol_gives_no_freezing_time_at_all() -> None:
    report = check_document(one_line(fluid="30 % propylene glycol by volume"))
    (part,) = report.plugs
    assert report.exit_code == 3
    assert part.freeze.time_to_plug is None
    assert "proof that 30 % propylene glycol by volume" in " ".join(part.freeze.missing)


def test_two_fluids_in_one_water_are_a_contradiction() -> None:
    document = one_line(("carbon dioxide", "carbon dioxide"))
    document["pipes"][0]["fluid"] = "plain water"
    document["pipes"][1]["fluid"] = "brine"
    with pytest.raises(LayoutFaults) as caught:
        parse_layout(document)
    (fault,) = caught.value.faults
    assert fault.pointer == "/pipes/1/fluid"
    assert "P0" in fault.problem
    document["pipes"][1]["fluid"] = fault.example.strip('"')
    parse_layout(document)


@pytest.mark.parametrize(
    "valve", [{"kind": "check"}, {"kind": "pressure reducing"}, {"state": "closed"}]
)
def test_a_valve_that_parts_them_makes_two_waters(valve: dict[str, Any]) -> None:
    document = one_line(("carbon dioxide", "carbon dioxide", "carbon dioxide"))
    document["pipes"][0]["fluid"] = "plain water"
    document["pipes"][2]["fluid"] = "brine"
    document["valves"] = [{"id": "V", "pipe": "P1", "station": "10 ft", **valve}]
    parse_layout(document)
    document["valves"][0] = {**document["valves"][0], "kind": "gate", "state": "open"}
    with pytest.raises(LayoutFaults):
        parse_layout(document)
