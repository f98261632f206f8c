"""An element may be named by its id in the source model wherever a document asks for an id."""

from __future__ import annotations

import copy
from typing import Any

import pytest

from layoutcheck.document import LayoutFaults, parse_layout
from layoutcheck.document.by_ref import own_id

PIPE = {"size": "2 in", "material": "copper", "length": "40 ft"}
DOCUMENT: dict[str, Any] = {
    "format": "layoutcheck layout 1",
    "name": "Invented: a line with a valve",
    "junctions": [
        {"id": "J1", "ref": "0aJ1"},
        {"id": "V", "ref": "0aV"},
        {"id": "J2", "ref": "0aJ2", "fitting": "cap"},
    ],
    "pipes": [
        {"id": "P1", "from": "J1", "to": "V", "ref": "0aP1", **PIPE},
        {"id": "P2", "from": "V", "to": "J2", "ref": "0aP2", **PIPE},
    ],
    "valves": [{"id": "V", "junction": "V", "ref": "0aV"}],
    "sources": [{"id": "main", "junction": "J1", "kind": "main", "pressure": "60 psi"}],
    "work": {"open": [{"valve": "V"}], "duration": "1 h"},
    "plugs": [{"id": "A", "pipe": "P1", "station": "20 ft", "jacket": "12 in"}],
    "waivers": [
        {
            "rule": "straight-run",
            "subject": "V",
            "reason": "shown to the engineer",
            "by": "A. Person",
            "until": "2026-12-24",
        }
    ],
}


def test_a_ref_stands_for_the_id_everywhere() -> None:
    named = copy.deepcopy(DOCUMENT)
    named["pipes"][0] |= {"from": "0aJ1", "to": "0aV"}
    named["valves"][0]["junction"] = "0aV"
    named["sources"][0]["junction"] = "0aJ1"
    named["work"]["open"][0]["valve"] = "0aV"
    named["plugs"][0]["pipe"] = "0aP1"
    named["waivers"][0]["subject"] = "0aV"
    assert parse_layout(named) == parse_layout(DOCUMENT)
    assert own_id(parse_layout(DOCUMENT), "0aP2") == "P2"
    assert own_id(parse_layout(DOCUMENT), "P2") == "P2"


def test_a_ref_of_two_elements_is_not_guessed_at() -> None:
    shared = copy.deepcopy(DOCUMENT)
    shared["pipes"][1]["ref"] = "0aP1"
    shared["plugs"][0]["pipe"] = "0aP1"
    with pytest.raises(LayoutFaults) as raised:
        parse_layout(shared)
    (fault,) = raised.value.faults
    assert fault.pointer == "/plugs/0/pipe"


def test_an_id_stands_over_a_ref() -> None:
    crossed = copy.deepcopy(DOCUMENT)
    crossed["pipes"][1]["ref"] = "P1"  # the id of the other
    assert parse_layout(crossed).plugs[0].pipe == "P1"
