"""Faults come in one round: what does not fit together is told with what can not be read."""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest

from layoutcheck.document import LayoutFaults, parse_layout, read_text
from layoutcheck.document.models import ELEMENT_LISTS
from tests.document.test_right_examples import ROOT, SITES, Path_, at, faults_of, kinds

# What is wrong between elements: a valve beyond its pipe's end, a plug that leaves its pipe.
LISTS = {*((name,) for name in ELEMENT_LISTS), ("site", "rooms")}
BETWEEN = {"valves": "/valves/0/station", "plugs": "/plugs/0/station"}
SHORT = """
name: Invented
pipes: {riser: "A to B, 2 in, 20 ft", branch: "B to C, 2 in, 40 ft, zebra"}
junctions: {A: 0 ft, B: 20 ft, C: 20 ft}
valves: {V1: "riser at 30 ft, gate"}
heaters: {H1: C}
sources: {main: "A, 60 psi"}
"""


def elements(pointers: set[str]) -> set[tuple[str, ...]]:
    return {tuple(p.split("/")[1:3]) for p in pointers}


def test_nothing_is_told_of_what_was_sound() -> None:
    """One field that can not be read, in sound documents: every fault is of its own element.

    Names of elements, and whole lists of them, are left out: who names what is not there is told.
    """
    seen: set[Path_] = set()
    tried = 0
    for site in SITES:
        document = json.loads((ROOT / "fixtures" / f"{site}.json").read_bytes())
        for path in kinds(document, seen):
            if path[-1] == "id" or path in LISTS:
                continue
            changed = copy.deepcopy(document)
            at(changed, path[:-1])[path[-1]] = {"zebra": 5}
            own = tuple(str(step) for step in path[:2])
            told = faults_of(changed)
            strange = [f for f in told if tuple(f.pointer.split("/")[1:])[: len(own)] != own]
            assert strange == [], path
            tried += 1
    assert tried > 60


@pytest.mark.parametrize("name", BETWEEN)
def test_a_place_beyond_its_pipe_is_told_beside_any_field_of_another(name: str) -> None:
    document = json.loads((ROOT / "fixtures" / "plant-room-sketch.json").read_bytes())
    for item in document[name]:
        if "pipe" in item:
            item["station"] = "9999 ft"
    wrong = {f.pointer for f in faults_of(document)}
    assert wrong
    for where, field in (
        (("pipes", 0), "covering"),
        (("junctions", 0), "name"),
        (("site",), "water_temperature"),
        (("plugs" if name == "valves" else "valves", 0), "name"),
    ):
        changed: dict[str, Any] = copy.deepcopy(document)
        at(changed, where)[field] = {"zebra": 5}
        told = {f.pointer for f in faults_of(changed)}
        place = "/".join(("", *map(str, (*where, field))))
        assert wrong <= told, place
        assert any(pointer.startswith(place) for pointer in told), place


def test_what_is_typed_short_too() -> None:
    with pytest.raises(LayoutFaults) as raised:
        parse_layout(read_text(SHORT, suffix=".yaml"))
    told = {f.pointer: f.example for f in raised.value.faults}
    assert elements(set(told)) == {("pipes", "branch"), ("valves", "V1"), ("heaters",)}
    assert told["/heaters"] == '"equipment"'
