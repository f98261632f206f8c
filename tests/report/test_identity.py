"""Findings, plugs, places and steps name elements by kind, id and the caller's own ref."""

from __future__ import annotations

import json
import pickle
from pathlib import Path

from layoutcheck import check, plan
from layoutcheck.document.named import Named
from layoutcheck.planning.elements import Kind
from layoutcheck.report.action_words import DOING
from layoutcheck.report.refs import DONE_TO

# An IFC GlobalId is 22 of 64 characters (ISO 16739-1, IfcGloballyUniqueId); these are invented.
PIPE_REF, PLUG_REF, VALVE_REF = "0pipe000000000000riser", "0plug00000000000000one", "tag HV-7"

SITE = Path(__file__).parents[2] / "fixtures" / "heating-riser-mended.json"
LAYOUT = {
    "format": "layoutcheck layout 1",
    "name": "Invented",
    "junctions": [{"id": "A"}, {"id": "B"}, {"id": "C", "fitting": "cap"}],
    "pipes": [
        {"id": "riser", "from": "A", "to": "B", "size": "2 in", "length": "40 ft", "ref": PIPE_REF},
        {"id": "tail", "from": "B", "to": "C", "size": "2 in", "length": "40 ft"},
    ],
    "valves": [{"id": "V7", "junction": "B", "state": "closed", "ref": VALVE_REF}],
    "sources": [{"id": "main", "kind": "main", "junction": "A", "pressure": "60 psi"}],
    "plugs": [
        {"id": "F1", "pipe": "riser", "station": "38 ft", "jacket": "12 in", "ref": PLUG_REF},
        {"id": "F2", "pipe": "riser", "station": "36 ft", "jacket": "12 in"},
    ],
    "work": {"open": [{"valve": "V7"}], "duration": "2 h"},
}


def test_what_is_judged_of_several_names_each_by_itself() -> None:
    report = check(LAYOUT)
    pair = next(f for f in report.findings if f.rule == "plug-spacing")
    assert [(e.kind, e.id, e.ref) for e in pair.subject.elements] == [
        ("plug", "F1", PLUG_REF),
        ("plug", "F2", None),
    ]
    shut = [f for f in report.findings if f.subject.kind == "section"]
    assert shut
    for finding in shut:
        told = {(e.kind, e.id) for e in finding.subject.elements}
        assert ("plug", "F1") in told or ("plug", "F2") in told
        assert all("+" not in e.id and not e.id.startswith(f"{e.kind} ") for e in finding.concerns)


def test_plugs_places_and_opened_things_carry_the_callers_refs() -> None:
    report = check(LAYOUT)
    first, second = report.plugs
    assert (first.ref, first.at.pipe, first.at.pipe_ref) == (PLUG_REF, "riser", PIPE_REF)
    assert second.ref is None
    opened = next(f for f in report.findings if f.rule == "isolation")
    assert [(e.kind, e.id, e.ref) for e in opened.subject.elements] == [("valve", "V7", VALVE_REF)]
    # What the caller did not give is no field of the answer, so that an answer stays small.
    assert '"ref":null' not in report.model_dump_json()
    moves = [a for a in report.actions if a.kind == "move plug"]
    assert all(e.kind == "plug" for a in moves for e in a.elements)


def test_steps_of_a_plan_name_elements_of_the_layout() -> None:
    layout = json.loads(SITE.read_text(encoding="utf-8"))
    known = {
        (kind, element["id"])
        for kind, listed in (
            ("valve", "valves"),
            ("plug", "plugs"),
            ("outlet", "outlets"),
            ("pump", "pumps"),
            ("pipe", "pipes"),
            ("junction", "junctions"),
        )
        for element in layout.get(listed, [])
    } | {(e["kind"], e["id"]) for e in layout.get("equipment", [])}
    found = plan(layout, top=1, time_limit=60.0).plans[0]
    own = {("plug", p.id) for p in found.plugs}
    steps = [(c.kind, c.id) for s in found.steps for c in s.concerns]
    assert steps
    assert set(steps) <= known | own


def test_each_thing_that_may_be_done_says_to_what() -> None:
    assert set(DOING) | {k.value for k in Kind} == set(DONE_TO)


def test_a_name_is_a_text_and_survives_copying() -> None:
    name = Named("junction", "B", said="cap B")
    again = pickle.loads(pickle.dumps(name))
    assert (again, again.kind, again.id) == ("cap B", "junction", "B")
