"""The demo sites in fixtures/: fresh, of real size, broken and mended as they say."""

from __future__ import annotations

import functools
import json
from itertools import combinations
from pathlib import Path
from typing import Any

import pytest
import shapely

from layoutcheck.document import LayoutFaults, parse_layout, read_text
from layoutcheck.report.model import Report
from layoutcheck.report.run import check_document
from layoutcheck.rules.case import Case
from layoutcheck.rules.judge import placing_rules
from layoutcheck.rules.outcome import Outcome
from layoutcheck.rules.registry import default_pack
from tests.sites import broken, refresh
from tests.sites.builder import Demo, Document
from tests.sites.every import DEMOS

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"
BROKEN = {b.name: b for b in broken.all_broken()}
KINDS = ("sketch", "mended")
demo_sites = pytest.mark.parametrize("demo", DEMOS, ids=[d.name for d in DEMOS])

# What makes an outcome one that a contractor may not pass over.
BAD = {Outcome.BROKEN, Outcome.UNDECIDED, Outcome.FAULT}


def read(name: str) -> Document:
    data: Any = read_text((FIXTURES / name).read_bytes())
    assert isinstance(data, dict)
    return data


@functools.cache
def report(name: str) -> Report:
    return check_document(read(name))


def bad_rules(found: Report) -> set[str]:
    return {f.rule for f in found.findings if f.outcome in BAD}


def test_every_file_is_fresh() -> None:
    for name, text in refresh.texts().items():
        path = FIXTURES / name
        assert path.is_file(), f"{name}: run python tests/sites/refresh.py"
        assert path.read_text(encoding="utf-8") == text, f"{name} is stale: refresh it"


def test_no_file_is_left_over() -> None:
    there = {str(p.relative_to(FIXTURES)) for p in FIXTURES.rglob("*.json")}
    assert there == set(refresh.texts())


def test_there_are_at_least_eight_sites() -> None:
    assert len({d.name for d in DEMOS}) >= 8


@demo_sites
@pytest.mark.parametrize("kind", KINDS)
def test_a_site_is_of_real_size_and_says_that_it_is_invented(demo: Demo, kind: str) -> None:
    document = read(f"{demo.name}-{kind}.json")
    assert 60 <= len(document["pipes"]) <= 400
    assert "(invented)" in document["name"]
    assert "Invented site" in document["note"]
    plugs = document["plugs"]
    assert 1 <= len(plugs) <= 3
    assert document["work"]["open"]


@demo_sites
def test_a_sketch_breaks_the_rules_it_is_meant_to_break(demo: Demo) -> None:
    found = report(f"{demo.name}-sketch.json")
    certain = {f.rule for f in found.findings if f.outcome is Outcome.BROKEN}
    assert demo.breaks <= certain
    assert len(demo.breaks) >= 3
    assert found.exit_code == 1


@demo_sites
def test_a_mended_site_passes_every_rule(demo: Demo) -> None:
    found = report(f"{demo.name}-mended.json")
    assert bad_rules(found) == set()
    assert found.exit_code == 0


def test_the_sketches_break_most_rules_between_them() -> None:
    """A demo shows what the tool sees: together the sketches break at least these rules."""
    broken_rules = {
        f.rule
        for demo in DEMOS
        for f in report(f"{demo.name}-sketch.json").findings
        if f.outcome is Outcome.BROKEN
    }
    assert broken_rules >= {
        "barrier-in-doubt",
        "closed-end-setback",
        "closed-valve-setback",
        "coolant-on-hand",
        "cylinder-temperature",
        "flowing-line-setback",
        "isolation",
        "jacket-clearance",
        "natural-circulation",
        "no-flow-at-plug",
        "plug-spacing",
        "room-air",
        "start-temperature",
        "straight-run",
        "trapped-water",
    }


@demo_sites
def test_a_proposed_place_passes_every_rule_of_place_when_judged_afresh(demo: Demo) -> None:
    document = read(f"{demo.name}-sketch.json")
    for part in report(f"{demo.name}-sketch.json").plugs:
        if part.nearest is None:
            continue
        for station in (part.nearest.station.value, part.nearest.tape.value):
            case = Case.of(
                parse_layout(_moved(document, part.id, part.nearest.pipe, station)), default_pack()
            )
            plug = case.plug(part.id)
            for name, rule in placing_rules().items():
                outcome = rule.judge_plug(case, plug).outcome if _applies(name, case) else None
                # What is not known wherever the plug goes does not steer it, and is told beside it.
                open_there = name in {r.rule for r in part.nearest.remaining}
                known = outcome is not Outcome.UNDECIDED or not open_there
                assert not known or outcome not in BAD, f"{part.id} at {part.nearest.pipe}: {name}"


def _applies(name: str, case: Case) -> bool:
    return name != "plug-spacing" or len(case.plugs) > 1


def _moved(document: Document, plug_id: str, pipe: str, station: float) -> Document:
    """Give the document with one plug at another place."""
    moved: Document = json.loads(json.dumps(document))
    for plug in moved["plugs"]:
        if plug["id"] == plug_id:
            plug.pop("point", None)
            plug.update(pipe=pipe, station=f"{station!r} m")
    return moved


@demo_sites
def test_drawn_pipes_meet_only_at_their_joints(demo: Demo) -> None:
    """A drawing in which pipes cross or cover each other can not be read."""
    document = read(f"{demo.name}-mended.json")
    spots = {j["id"]: j.get("at") for j in document["junctions"]}
    if None in spots.values():
        return
    lines = []
    for pipe in document["pipes"]:
        ends = (pipe["from"], pipe["to"])
        corners = [spots[ends[0]], *pipe.get("via", []), spots[ends[1]]]
        line = shapely.LineString(corners)
        # On a plan an upright pipe is a point.
        if line.length > 0:
            lines.append((pipe["id"], line, ends))
    for (one, first, ends), (two, second, others) in combinations(lines, 2):
        joints = [spots[j] for j in (*ends, *others)]
        common = shapely.difference(first.intersection(second), shapely.MultiPoint(joints))
        assert common.is_empty, f"{one} and {two}"


def test_most_sketches_have_a_place_to_move_to() -> None:
    """Only where the whole line moves is there nothing to propose until the flow is stopped."""
    without = {
        demo.name
        for demo in DEMOS
        if all(p.nearest is None for p in report(f"{demo.name}-sketch.json").plugs)
    }
    assert without == {"cold-riser", "no-drawing"}


def test_the_document_that_the_broken_ones_are_made_from_is_sound() -> None:
    parse_layout(broken.sound())


@pytest.mark.parametrize("name", sorted(BROKEN))
def test_a_broken_document_is_told_its_fault_and_where_it_is(name: str) -> None:
    table = json.loads((FIXTURES / "broken" / "expected.json").read_text(encoding="utf-8"))
    wanted = table[f"{name}.json"]
    with pytest.raises(LayoutFaults) as caught:
        parse_layout(read_text((FIXTURES / "broken" / f"{name}.json").read_bytes()))
    told = {f.pointer: f for f in caught.value.faults}
    assert wanted["pointer"] in told
    fault = told[wanted["pointer"]]
    assert wanted["phrase"] in fault.problem
    assert fault.example
    assert fault.found
