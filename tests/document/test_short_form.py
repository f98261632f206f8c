"""The short form is the same document as the long one; faults are told where they were typed."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest
import yaml

from layoutcheck.document import LayoutFaults, parse_layout, read_text
from layoutcheck.document.models import ELEMENT_LISTS
from layoutcheck.document.short import long_form
from layoutcheck.document.short.words import KINDS
from layoutcheck.document.text_places import with_lines
from tests.rules.test_cases import cases, document

ROOT = Path(__file__).parents[2]
SITES = sorted((ROOT / "fixtures").glob("*.json"))

SITE = """
name: "Two branches (invented)"
pipes:
  riser: A to B, 2 in, 20 ft
  branch: B to C, 2 in, 20 ft, copper, type L
  up: {run: "B to D, 2 in, 15 ft, insulation", clear_space: 12 in}
junctions: {A: 0 ft, B: "20 ft, tee"}
valves: {V1: "branch at 10 ft, gate, open while freezing, closed while working, proven, body 6 in"}
pumps: {P1: "riser at 2 ft, locked off, 30 psi"}
equipment: {store: "D, tank, level 45 ft, volume 80 gal"}
sources: {main: "A, 60 psi"}
outlets: {tap: C, top: "at D, locked off"}
plugs: {F1: "riser at 8 ft, jacket 12 in, dry ice"}
work: valve V1, pipe up from 3 ft to 4 ft 6 in for 3 h
site:
  material: carbon steel
  wall: sch 40
  water_temperature: 60 degF
  rooms: {plant: "4000 ft2, 15 ft, 10 per hour, above ground, oxygen meter"}
  room: plant
  stock: 8 x 50 lb dry ice, 68 degF, upright, dip tube
"""


def typed(text: str = SITE) -> Any:
    return read_text(text, suffix=".yaml")


def test_each_text_becomes_the_fields_it_says() -> None:
    """Written out by hand from the text above."""
    made = long_form(typed())
    assert made.faults == []
    data = made.data
    assert data["pipes"] == [
        {
            "id": "riser",
            "from": "A",
            "to": "B",
            "size": "2 in",
            "length": "20 ft",
            "material": "carbon steel",
            "wall": "sch 40",
        },
        {
            "id": "branch",
            "from": "B",
            "to": "C",
            "size": "2 in",
            "wall": "type L",
            "length": "20 ft",
            "material": "copper",
        },
        {
            "id": "up",
            "from": "B",
            "to": "D",
            "size": "2 in",
            "length": "15 ft",
            "covering": "insulation",
            "clear_space": "12 in",
            "material": "carbon steel",
            "wall": "sch 40",
        },
    ]
    assert data["junctions"] == [
        {"id": "A", "elevation": "0 ft"},
        {"id": "B", "elevation": "20 ft", "fitting": "tee"},
        {"id": "C"},
        {"id": "D"},
    ]
    assert data["valves"][0] == {
        "id": "V1",
        "pipe": "branch",
        "station": "10 ft",
        "kind": "gate",
        "state": {"freezing": "open", "working": "closed"},
        "tightness": "proven",
        "body": "6 in",
    }
    assert data["pumps"][0] == {
        "id": "P1",
        "pipe": "riser",
        "station": "2 ft",
        "locked_off": True,
        "shutoff_head": "30 psi",
    }
    assert data["equipment"][0] == {
        "id": "store",
        "junction": "D",
        "kind": "tank",
        "level": "45 ft",
        "volume": "80 gal",
    }
    assert data["sources"][0] == {
        "id": "main",
        "junction": "A",
        "pressure": "60 psi",
        "kind": "main",
    }
    assert data["outlets"][1] == {"id": "top", "junction": "D", "state": "locked off"}
    assert data["plugs"][0]["coolant"] == "carbon dioxide"
    assert data["work"] == {
        "open": [{"valve": "V1"}, {"pipe": "up", "start": "3 ft", "end": "4 ft 6 in"}],
        "duration": "3 h",
    }
    assert data["site"]["stock"][0] == {
        "cylinders": 8,
        "mass_each": "50 lb",
        "coolant": "carbon dioxide",
        "storage_temperature": "68 degF",
        "upright": True,
        "dip_tube": True,
    }


def test_the_long_form_comes_back_as_it_is_and_is_read_as_the_same() -> None:
    long = long_form(typed()).data
    again = long_form(long)
    assert again.data == long
    assert parse_layout(again.data) == parse_layout(typed())


def by_id(data: dict[str, Any]) -> dict[str, Any]:
    """Write each list of elements by their ids, as the short form has it."""
    made = copy.deepcopy(data)
    for name in ELEMENT_LISTS:
        if isinstance(made.get(name), list):
            made[name] = {item.pop("id"): item for item in made[name]}
    return made


@pytest.mark.parametrize("path", SITES, ids=lambda p: p.stem)
def test_a_site_by_ids_is_the_same_site(path: Path) -> None:
    data = json.loads(path.read_bytes())
    assert parse_layout(by_id(data)) == parse_layout(data)


@pytest.mark.parametrize("name", sorted(cases()))
def test_the_hand_worked_cases_are_written_in_it(name: str) -> None:
    """Their pipes and plugs are texts of the short form: read by it, they are what the cases'
    own reader makes of them.
    """
    case = cases()[name]
    long = document(case)
    short = by_id(long)
    texts = case["layout"]
    for kind in ("pipes", "plugs"):
        for key, text in texts.get(kind, {}).items():
            run = text.get("run") if isinstance(text, dict) else text
            taken_away = isinstance(text, dict) and None in text.values()
            if run is None or taken_away or key not in short.get(kind, {}):
                continue
            fields = short[kind][key]
            said = {"from", "to", "size", "length", "pipe", "station", "jacket"}
            short[kind][key] = {"run": run, **{k: v for k, v in fields.items() if k not in said}}
    assert parse_layout(short) == parse_layout(long)


def test_the_examples_of_the_short_form_can_be_read() -> None:
    data = typed()
    for name, kind in KINDS.items():
        place = data["site"] if name in {"rooms", "stock"} else data
        text = kind.example.replace("R2", "riser")
        place[name] = [text] if name == "stock" else {**place.get(name, {}), "new": text}
    assert long_form(data).faults == []


# --- faults ---------------------------------------------------------------------------------------


def faults_of(text: str) -> list[Any]:
    with pytest.raises(LayoutFaults) as caught:
        parse_layout(typed(text))
    return list(with_lines(text, caught.value.faults))


@pytest.mark.parametrize(
    ("right", "wrong", "pointer", "line"),
    [
        ("riser: A to B, 2 in, 20 ft", "riser: A to B, 2 inn, 20 ft", "/pipes/riser", 4),
        ("2 in, 20 ft, copper", "2 in, 20 fft, coper", "/pipes/branch", 5),
        ("branch at 10 ft, gate", "brench at 10 ft, gatte", "/valves/V1", 8),
        ("A, 60 psi", "AA, 60 psi", "/sources/main", 11),
        ("A, 60 psi", "A, 60 pssi", "/sources/main", 11),
        ("jacket 12 in", "jacket 12", "/plugs/F1", 13),
        ("jacket 12 in, ", "", "/plugs/F1", 13),
        ("work: valve V1", "work: valv V1", "/work", 14),
        ("for 3 h", "for 3", "/work", 14),
        ("B to C", "B - C", "/pipes/branch", 5),
        ("8 x 50 lb dry ice", "8 x 50 lb dry icee", "/site/stock", 21),
        ("10 per hour", "10 a day", "/site/rooms/plant", 19),
        ("material: carbon steel", "material: steel", "/site/material", 16),
        ("proven, body 6 in", "proven, not proven", "/valves/V1", 8),
    ],
)
def test_a_fault_is_told_where_it_was_typed_and_its_example_ends_it(
    right: str, wrong: str, pointer: str, line: int
) -> None:
    text = SITE.replace(right, wrong)
    assert text != SITE
    found = [f for f in faults_of(text) if f.pointer == pointer]
    assert found, [f.pointer for f in faults_of(text)]
    assert found[0].line == line
    data = typed(text)
    *steps, last = pointer.split("/")[1:]
    place = data
    for step in steps:
        place = place[step]
    place[last] = json.loads(found[0].example)
    try:
        parse_layout(data)
    except LayoutFaults as error:
        left = [f for f in error.faults if f.pointer == pointer]
        assert not any(f.problem == found[0].problem for f in left), left


def test_every_fault_is_told_at_once() -> None:
    text = SITE.replace("2 in, 20 ft, copper", "2 in, 20 fft, copper").replace("60 psi", "60")
    text = text.replace("riser at 8 ft", "risr at 8 ft")
    assert [f.pointer for f in faults_of(text)] == ["/pipes/branch", "/plugs/F1", "/sources/main"]


def test_a_word_that_needs_its_field_is_not_guessed() -> None:
    """'none' could be said of anything; of flow it would hide a line that can flow."""
    assert faults_of(SITE.replace("20 ft, copper", "20 ft, none, copper"))
    pipe = parse_layout(typed(SITE.replace("20 ft, copper", "20 ft, flow none, copper"))).pipes[1]
    assert pipe.flow == "none"


def test_what_is_not_known_is_a_question_mark_and_states_nothing() -> None:
    pipe = long_form(typed(SITE.replace("A to B, 2 in, 20 ft", "A to B, ?, 20 ft"))).data["pipes"][
        0
    ]
    assert "size" not in pipe
    assert pipe["length"] == "20 ft"


def test_a_room_by_its_sides_and_nitrogen_by_its_litres() -> None:
    """20 m by 15 m is 300 m2, by hand."""
    text = SITE.replace("4000 ft2, 15 ft, 10", "20 m x 15 m x 6 m, 10")
    data = long_form(typed(text.replace("8 x 50 lb dry ice", "2 x 160 L liquid nitrogen"))).data
    assert data["site"]["rooms"][0]["floor_area"] == "300 m2"
    assert data["site"]["rooms"][0]["height"] == "6 m"
    stock = data["site"]["stock"][0]
    assert (stock["cylinders"], stock["volume_each"], stock["coolant"]) == (2, "160 L", "nitrogen")


@pytest.mark.parametrize(
    ("sides", "area"), [("60 ft x 8 ft x 9 ft", "480 ft2"), ("18 m x 2.4 m x 2.7 m", "43.2 m2")]
)
def test_a_room_by_its_sides_stays_in_the_units_typed(sides: str, area: str) -> None:
    """60 ft by 8 ft is 480 ft2 and 18 m by 2.4 m is 43.2 m2, by hand."""
    data = long_form(typed(SITE.replace("4000 ft2, 15 ft, 10", f"{sides}, 10"))).data
    assert data["site"]["rooms"][0]["floor_area"] == area


def test_a_name_that_yaml_takes_for_true_or_false_is_told_by_its_line() -> None:
    (fault,) = faults_of("name: x\npipes:\n  on: A to B, 2 in, 20 ft\n")
    assert "line 3 " in fault.problem
    assert "on, off, yes and no as true and false" in fault.problem
    assert fault.example == '"on": …'


def test_a_valve_beside_an_outlet_is_shown_its_place_on_the_pipe() -> None:
    """6 in before the end of 25 ft is 24 ft 6 in, by hand; put there, the fault is gone."""
    text = """
name: Invented
pipes: {run: "A to G, 2 in, 25 ft", behind: "G to B, 2 in, 20 ft"}
valves: {GV: "G, gate, open"}
sources: {main: A}
outlets: {stem: "G, leaking", tap: B}
"""
    (fault,) = faults_of(text)
    assert fault.example == '"run at 24 ft 6 in, gate, open"'
    parse_layout(typed(text.replace('"G, gate, open"', fault.example)))


def test_what_is_meant_is_said_as_often_as_there_is_something() -> None:
    text = SITE.replace("A to B, 2 in, 20 ft", "A to B, 2 in, 2000 ft, meant length, meant size")
    assert long_form(typed(text)).data["pipes"][0]["meant"] == ["length", "size"]


def test_a_wall_of_the_whole_site_goes_with_its_material_alone() -> None:
    text = SITE.replace("20 ft, copper, type L", "20 ft, copper")
    assert long_form(typed(text)).data["pipes"][1].get("wall") is None


def test_yaml_and_json_are_read_alike() -> None:
    text = json.dumps(yaml.safe_load(SITE))
    assert parse_layout(read_text(text)) == parse_layout(typed())
