"""Hand-worked cases: each has its sketch, its arithmetic and its answer in tests/rules/cases/.

The files are written for a pipefitter to read and to correct. What a case leaves out is filled in
from `USUAL`, so that rules which the case is not about can be decided too. All sites are invented.

Lengths in the answers are turned into metres here, by exact fractions of an inch of 0.0254 m
(international yard, 1959), not by the project's own reader. They must agree to 2e-9 m: a report
rounds to 1e-9 m, and the sums of a case are of some ten binary fractions of a metre.
"""

import copy
import re
from datetime import date
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml

from layoutcheck.report import Report, check_document
from layoutcheck.rules.registry import all_rules, company_pack

HERE = Path(__file__).parent / "cases"
AGREE = 2e-9

# What goes without saying in a case: cold water, room to work, fit cylinders, a big airy room.
USUAL: dict[str, Any] = {
    "water_temperature": "60 degF",
    "air_temperature": "68 degF",
    "clear_space": "12 in",
    "room": "plant room",
    "rooms": [
        {
            "id": "plant room",
            "volume": "60000 ft3",
            "floor_area": "4000 ft2",
            "height": "15 ft",
            "air_changes": "10 per hour",
            "below_ground": False,
            "carbon_dioxide_meter": True,
            "oxygen_meter": True,
            "flood_depth": "4 in",
        }
    ],
    "stock": [
        {
            "coolant": "carbon dioxide",
            "cylinders": 40,
            "mass_each": "50 lb",
            "storage_temperature": "68 degF",
            "dip_tube": True,
            "high_pressure": True,
            "upright": True,
        }
    ],
}
PIPE = {
    "material": "carbon steel",
    "wall": "sch 40",
    "low_temperature_accepted_by": "invented engineer of this test, for this test",
}


@cache
def cases() -> dict[str, dict[str, Any]]:
    found: dict[str, dict[str, Any]] = {}
    for file in sorted(HERE.glob("*.yaml")):
        book = yaml.safe_load(file.read_text(encoding="utf-8"))
        for case in book["cases"]:
            name = f"{file.stem}: {case['name']}"
            assert name not in found, f"two cases are named {name}"
            found[name] = {"provenance": book["provenance"], **case}
    return found


# --- from a case's shorthand to a document ------------------------------------------------------


def document(case: dict[str, Any]) -> dict[str, Any]:
    """Fill a case's shorthand out into a layout document."""
    short = copy.deepcopy(case["layout"])
    pipes = [pipe(name, text) for name, text in short.pop("pipes").items()]
    named = short.pop("junctions", {})
    ids = dict.fromkeys(j for p in pipes for j in (p["from"], p["to"]))
    whole: dict[str, Any] = {
        "format": "layoutcheck layout 1",
        "name": f"Invented: {case['name']}",
        "junctions": [{"id": j, "elevation": "0 ft", **named.get(j, {})} for j in ids],
        "pipes": pipes,
        "plugs": [plug(name, text) for name, text in short.pop("plugs", {}).items()],
        "sources": [source(n, x) for n, x in short.pop("sources", {}).items()],
        "outlets": [at_junction(n, x) for n, x in short.pop("outlets", {}).items()],
        "site": {**USUAL, **short.pop("site", {})},
    }
    for name in ("valves", "pumps", "fittings", "equipment"):
        whole[name] = [{"id": n, **x} for n, x in short.pop(name, {}).items()]
    whole.update(short)
    return without_nothing(whole)


def pipe(name: str, given: str | dict[str, Any]) -> dict[str, Any]:
    """Read 'S to T, 2 in, 20 ft', or the same under 'run' with more fields beside it."""
    rest = {} if isinstance(given, str) else dict(given)
    text = given if isinstance(given, str) else rest.pop("run")
    ends, size, *length = [part.strip() for part in text.split(",")]
    start, _, stop = ends.partition(" to ")
    made = {"id": name, "from": start, "to": stop, "size": size, **PIPE, **rest}
    return {**made, "length": length[0]} if length else made


def plug(name: str, given: str | dict[str, Any]) -> dict[str, Any]:
    """Read 'branch at 30 in, jacket 12 in', or the document's own fields."""
    if not isinstance(given, str):
        return {"id": name, **given}
    found = re.fullmatch(r"(.+) at (.+), jacket (.+)", given)
    assert found is not None, given
    return {"id": name, "pipe": found[1], "station": found[2], "jacket": found[3]}


def at_junction(name: str, given: str | dict[str, Any]) -> dict[str, Any]:
    return {"id": name, **({"junction": given} if isinstance(given, str) else given)}


def source(name: str, given: str | dict[str, Any]) -> dict[str, Any]:
    return {"kind": "main", "pressure": "60 psi", **at_junction(name, given)}


def without_nothing(value: Any) -> Any:
    """Leave out what a case sets to null: that is how it takes a usual statement away."""
    if isinstance(value, dict):
        return {k: without_nothing(v) for k, v in value.items() if v is not None}
    return [without_nothing(v) for v in value] if isinstance(value, list) else value


# --- the answers ---------------------------------------------------------------------------------


def si(text: str) -> float:
    """Turn an answer into SI by the definitions of the units."""
    found = re.fullmatch(r"(-?[\d ./]+) ?(in|ft|mm|m|degF|m3|psi|kPa|Pa|s|min|kg)", text.strip())
    assert found is not None, text
    number = float(sum(Fraction(part) for part in found[1].split()))
    if found[2] == "degF":
        return (number - 32) * 5 / 9 + 273.15
    return number * _UNITS[found[2]]


# A pound is 0.45359237 kg and standard gravity 9.80665 m/s2, both by definition.
_UNITS = {
    "in": 0.0254,
    "ft": 0.3048,
    "mm": 0.001,
    "m": 1.0,
    "m3": 1.0,
    "psi": 0.45359237 * 9.80665 / 0.0254**2,
    "kPa": 1000.0,
    "Pa": 1.0,
    "s": 1.0,
    "min": 60.0,
    "kg": 1.0,
}


def agree(wanted: dict[str, Any]) -> dict[str, Any]:
    """Give how close an answer must come: lengths to AGREE, others as the case says."""
    within = wanted.get("within", "")
    if within.endswith("%"):
        return {"rel": float(within[:-1]) / 100}
    return {"abs": si(within) if within else AGREE}


def report_of(case: dict[str, Any]) -> Report:
    pack = company_pack(case["pack"]) if "pack" in case else None
    on = case.get("judged")
    assert on is None or isinstance(on, date)
    return check_document(document(case), pack=pack, on=on)


@pytest.mark.parametrize("name", sorted(cases()))
def test_the_case_is_written_out(name: str) -> None:
    case = cases()[name]
    assert len(case["sketch"].strip().splitlines()) >= 1
    assert len(case["arithmetic"].strip()) >= 10
    assert "derived by hand" in case["provenance"]
    assert case.get("expect") or case.get("nearest"), "a case expects something"


@pytest.mark.parametrize("name", sorted(cases()))
def test_case(name: str) -> None:
    case = cases()[name]
    report = report_of(case)
    for wanted in case.get("expect", []):
        check_finding(report, wanted)
    for plug_id, wanted in case.get("nearest", {}).items():
        check_nearest(report, plug_id, wanted)
    for plug_id, wanted in case.get("stations", {}).items():
        part = next(p for p in report.plugs if p.id == plug_id)
        assert part.at.station is not None
        assert part.at.station.value == pytest.approx(si(wanted), abs=AGREE)
    if "drained" in case:
        assert report.drain is not None
        assert report.drain.volume is not None
        assert report.drain.volume.value == pytest.approx(si(case["drained"]), rel=1e-6)
    if "drains_at_least" in case:
        assert report.drain is not None
        assert report.drain.volume is None
        assert report.drain.at_least is not None
        assert report.drain.at_least.value == pytest.approx(si(case["drains_at_least"]), rel=1e-5)
        assert report.drain.missing
    if "loosened" in case:
        assert [f"{x.rule}.{x.figure}" for x in report.pack.loosened] == case["loosened"]
    assert not any(f.outcome == "fault" for f in report.findings)
    moves = [p.nearest for p in report.plugs if p.nearest is not None]
    assert not any(r.outcome == "fault" for move in moves for r in move.remaining)
    assert all("\0" not in text for f in report.findings for text in (f.says, f.todo))


def check_finding(report: Report, wanted: dict[str, Any]) -> None:
    rule, subject = wanted["rule"], wanted["of"]
    found = [f for f in report.findings if (f.rule, f.subject.id) == (rule, subject)]
    if wanted["outcome"] == "not judged":
        assert not found
        return
    assert len(found) == 1, f"{rule} of {subject}: {[f.subject.id for f in report.findings]}"
    finding = found[0]
    assert finding.outcome == wanted["outcome"], f"{rule} of {subject}: {finding.says}"
    for key in ("measured", "required"):
        amount = getattr(finding, key)
        if key in wanted:
            assert amount is not None, finding.says
            assert amount.value == pytest.approx(si(wanted[key]), **agree(wanted)), finding.says
    if finding.outcome == "undecided":
        assert finding.missing, f"{rule} of {subject} does not say what is missing"
    if "missing" in wanted:
        assert list(finding.missing) == wanted["missing"]
    if "way" in wanted:
        assert [p.junction or p.element for p in finding.way] == wanted["way"]
    for text in wanted.get("says", []):
        assert text in finding.says
    for text in wanted.get("todo", []):
        assert text in finding.todo


def check_nearest(report: Report, plug_id: str, wanted: dict[str, str] | str) -> None:
    part = next(p for p in report.plugs if p.id == plug_id)
    stretches = {s.pipe: s.rules for s in part.shut_out}
    if wanted == "well placed":
        assert part.well_placed, stretches
        return
    assert not part.well_placed
    if wanted == "no place":
        assert part.no_place
        assert part.nearest is None
        assert stretches, "the report says what shuts out each stretch"
        return
    assert isinstance(wanted, dict)
    assert part.nearest is not None, stretches
    assert part.nearest.pipe == wanted["pipe"]
    for key in ("station", "travel", "room"):
        if key in wanted:
            found = getattr(part.nearest, key).value
            assert found == pytest.approx(si(wanted[key]), **agree(wanted))


def test_there_are_enough_cases_and_each_rule_that_measures_pipe_has_its_limit_tried() -> None:
    """Each length that a rule asks for is met exactly once, and once missed by a sixteenth."""
    assert len(cases()) >= 40
    exact, short = set(), set()
    for case in cases().values():
        for wanted in case.get("expect", []):
            if "measured" not in wanted or not wanted["measured"].endswith("in"):
                continue
            left = si(wanted["required"]) - si(wanted["measured"])
            if abs(left) < 1e-12:
                exact.add((wanted["rule"], wanted["outcome"]))
            if abs(left - 0.0254 / 16) < 1e-12:
                short.add((wanted["rule"], wanted["outcome"]))
    rules = {n for n in all_rules() if n.endswith("-setback")}
    rules |= {"plug-spacing", "straight-run", "jacket-clearance"}
    assert exact >= {(n, "holds") for n in rules}
    assert short >= {(n, "broken") for n in rules}
