"""Every fact that is missing says where it goes, and stating it there ends the question.

The sites are invented. Each leaves out something that rules ask for.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from layoutcheck.document import parse_layout, read_text
from layoutcheck.document.overlay import laid_over, statement
from layoutcheck.report import Report, check
from layoutcheck.rules.outcome import Outcome

ROOT = Path(__file__).parents[2]
BARE = """
name: Invented, with nothing known
pipes:
  rise: A to B, 2 in, 20 ft
  run: B to C, 2 in
  far: B to D, ?, 30 ft
  feed: T to B, 2 in, 15 ft
valves: {V1: rise at 4 ft, V2: "far at 5 ft, closed"}
pumps: {P1: rise at 12 ft}
equipment: {roof: "T, tank"}
sources: {main: A}
work: valve V2 for 2 h
plugs: {F1: "rise at 16 ft, jacket 12 in", F2: "feed at 8 ft, jacket 12 in"}
"""
ROOMS = """
name: Invented, with a room and cylinders of which little is known
pipes: {rise: "A to B, 2 in, 30 ft", run: "B to C, 2 in, 30 ft"}
junctions: {A: 0 ft, B: 30 ft, C: 30 ft}
valves: {V2: "run at 24 ft, gate, open"}
sources: {main: "A, 60 psi"}
outlets: {tap: "C, bleed"}
work: valve V2 for 2 h
plugs: {F1: "rise at 16 ft, jacket 12 in", F2: "run at 6 ft, jacket 12 in, nitrogen"}
site:
  material: carbon steel
  wall: sch 40
  water_temperature: 60 degF
  room: plant
  rooms: {plant: {below_ground: true}}
  stock: [{coolant: dry ice, cylinders: 4, mass_each: 50 lb}]
"""
# A right value for each field that a fact may go to, by its last name.
VALUES = {
    "fitting": "cap",
    "tightness": "proven",
    "state": "closed",
    "pressure": "60 psi",
    "shutoff_head": "30 psi",
    "level": "40 ft",
    "elevation": "14 ft",
    "length": "20 ft",
    "size": "2 in",
    "material": "carbon steel",
    "water_temperature": "60 degF",
    "clear_space": "12 in",
    "room": "plant",
    "rooms": "{plant: {floor_area: 200 ft2, height: 10 ft}}",
    "floor_area": "200 ft2",
    "volume": "2000 ft3",
    "flood_depth": "4 in",
    "ventilation": "200 cfm",
    "carbon_dioxide_meter": "true",
    "oxygen_meter": "true",
    "if_a_plug_goes": "The invented foreman shuts the main",
    "duration": "2 h",
    "stock": "[{coolant: dry ice, cylinders: 4, mass_each: 50 lb, storage_temperature: 60 degF}, "
    "{coolant: nitrogen, cylinders: 2, volume_each: 40 gal, storage_temperature: 60 degF}]",
    "storage_temperature": "60 degF",
    "dip_tube": "true",
    "high_pressure": "true",
    "upright": "true",
    "low_temperature_accepted_by": "An invented engineer, for this test",
    "pressure_rating": "300 psi",
    "meant": "[place]",
    "work": "{open: [{junction: B}], duration: 2 h}",
}
# What is proven on site and stated in no field of its own.
PROVEN = {
    "trapped-water",
    "holding-pressure",
    "pipe-full",
    "fluid-freezes",
    "coolant-on-hand",
    "room-air",
}


def facts(report: Report) -> dict[str, str]:
    """Give the field of each fact that is missing, empty where it has to be proven."""
    found: dict[str, str] = {}
    for finding in report.findings:
        if finding.outcome is Outcome.UNDECIDED and finding.missing:
            fields = finding.stated_at or ("",) * len(finding.missing)
            found.update(zip(finding.missing, fields, strict=True))
    return found


def stated(document: Any, field: str) -> tuple[dict[str, Any], str]:
    """State a field. A room that pipes are in is one of the site's rooms."""
    value = VALUES[field.rpartition(".")[2]]
    value = "locked off" if field.startswith("outlets.") else value
    room = ["site.rooms.plant={height: 10 ft}"] if field == "site.room" else []
    return laid_over(document, list(map(statement, [*room, f"{field}={value}"]))), value


@pytest.mark.parametrize("name", ["bare", "rooms"])
def test_stated_where_it_is_said_to_go_a_fact_is_missing_no_more(name: str) -> None:
    document: Any = read_text({"bare": BARE, "rooms": ROOMS}[name], suffix=".yaml")
    asked: set[str] = set()
    for _ in range(30):
        missing = facts(check(parse_layout(document)))
        there = {fact: field for fact, field in missing.items() if field and fact not in asked}
        if not there:
            break
        fact, field = sorted(there.items())[0]
        asked.add(fact)
        document, value = stated(document, field)
        left = facts(check(parse_layout(document)))
        assert fact not in left, f"{field}={value} does not settle: {fact}"
    assert len(asked) >= 8
    assert not [f for f in facts(check(parse_layout(document))).values() if f]


@pytest.mark.parametrize("name", ["bare", "rooms"])
def test_what_has_no_field_has_to_be_proven_on_site(name: str) -> None:
    document: Any = read_text({"bare": BARE, "rooms": ROOMS}[name], suffix=".yaml")
    for finding in check(parse_layout(document)).findings:
        if finding.outcome is Outcome.UNDECIDED and finding.missing:
            fields = finding.stated_at or ("",) * len(finding.missing)
            bare = [m for m, f in zip(finding.missing, fields, strict=True) if not f]
            assert not bare or finding.rule in PROVEN, (finding.rule, bare)


def test_one_field_is_asked_for_once() -> None:
    document: Any = read_text(BARE, suffix=".yaml")
    report = check(parse_layout(document))
    asked = [field for action in report.actions for field in action.not_stated]
    assert len(asked) == len(set(asked)), asked


@pytest.mark.parametrize("path", sorted(ROOT.glob("fixtures/*-sketch.json")), ids=lambda p: p.stem)
def test_each_field_of_a_sketch_is_one_of_the_layout(path: Path) -> None:
    document = json.loads(path.read_text())
    for pipe in document["pipes"]:
        pipe.pop("material", None)
        pipe.pop("wall", None)
    document["site"] = {}
    document.pop("planning", None)
    for pipe in document["pipes"]:
        pipe.pop("room", None)
    for field in facts(check(parse_layout(document))).values():
        if field:
            parse_layout(stated(document, field)[0])  # a fault is told with the place
