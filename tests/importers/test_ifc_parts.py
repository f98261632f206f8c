"""Single matters of models, each in a small hand-made one: fittings, tees, systems, units, rooms.

Expected numbers are worked by hand beside each check.
"""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from layoutcheck.document import LayoutFaults, parse_layout
from layoutcheck.importers.todo import to_fill_in
from tests.importers.small_models import Small, Spot, asked, by_id, metres, said


def test_a_bend_is_crossed_straight_and_is_no_pipe(tmp_path: Path) -> None:
    small = Small()
    small.pipe("A", (0, 0, 0), (2, 0, 0))
    small.add("IfcPipeFitting", "E", (2, 0, 0), (2.1, 0.1, 0), PredefinedType="BEND")
    small.pipe("B", (2.1, 0.1, 0), (2.1, 3, 0))
    small.join("A", 1, "E", 0)
    small.join("E", 1, "B", 0)
    imported = small.read(tmp_path)
    pipes, joints = by_id(imported, "pipes"), by_id(imported, "junctions")
    arm = math.hypot(0.1, 0.1) / 2  # half the straight way across, by hand
    assert metres(pipes["A"]["length"]) == pytest.approx(2, abs=1e-6)
    assert metres(pipes["A"]["to_body"]) == pytest.approx(arm, abs=1e-6)
    assert metres(pipes["B"]["length"]) == pytest.approx(2.9, abs=1e-6)
    assert metres(pipes["B"]["from_body"]) == pytest.approx(arm, abs=1e-6)
    assert joints["E"]["at"] == [pytest.approx(2.05), pytest.approx(0.05)]
    assert joints["E"]["fitting"] == "elbow"
    assert [corner["at"] for corner in pipes["A"]["via"]] == [[2.0, 0.0]]


def test_a_tee_counts_its_arms_from_the_centre(tmp_path: Path) -> None:
    small = Small()
    small.pipe("A", (0, 0, 0), (2, 0, 0))
    small.pipe("B", (2.2, 0, 0), (4, 0, 0))
    small.pipe("C", (2.1, 0.1, 0), (2.1, 0.1, 3))
    spots: tuple[Spot, ...] = ((2.1, 0.1, 0), (2, 0, 0), (2.2, 0, 0))
    small.add("IfcPipeFitting", "T", *spots, PredefinedType="JUNCTION")
    for port, pipe, end in ((1, "A", 1), (2, "B", 0), (0, "C", 0)):
        small.join("T", port, pipe, end)
    imported = small.read(tmp_path)
    assert by_id(imported, "junctions")["T"]["fitting"] == "tee"
    # The centre is at (2.1, 0, 0): each arm is 0.1 m, by hand.
    pipes = by_id(imported, "pipes")
    lengths = {k: metres(p["length"]) for k, p in pipes.items()}
    assert lengths == pytest.approx({"A": 2.0, "B": 1.8, "C": 3.0}, abs=1e-6)
    arms = (pipes["A"]["to_body"], pipes["B"]["from_body"], pipes["C"]["from_body"])
    assert [metres(a) for a in arms] == pytest.approx([0.1] * 3, abs=1e-6)


def test_a_branch_on_the_run_of_a_pipe_splits_it(tmp_path: Path) -> None:
    small = Small()
    small.pipe("MAIN", (0, 0, 0), (4, 0, 0))
    small.pipe("TAP", (1, 0, 0), (1, 2, 0))
    small.pipe("OVER", (3, -1, 0.5), (3, 1, 0.5))  # passes over the main, half a metre up
    imported = small.read(tmp_path)
    pipes = by_id(imported, "pipes")
    assert metres(pipes["MAIN/1"]["length"]) == pytest.approx(1.0)
    assert metres(pipes["MAIN/2"]["length"]) == pytest.approx(3.0)
    assert "OVER" in pipes
    assert said(imported, "run of another pipe") == ("TAP on MAIN",)


def test_ends_that_nearly_meet_are_told_and_not_joined(tmp_path: Path) -> None:
    small = Small()
    small.pipe("A", (0, 0, 0), (2, 0, 0))
    small.pipe("B", (2.05, 0, 0), (4, 0, 0))
    imported = small.read(tmp_path)
    assert said(imported, "nearly meet") == ("A and B",)
    assert len(asked(imported)) == 4  # each open end is asked about


def test_only_the_system_that_is_asked_for_is_read(tmp_path: Path) -> None:
    small = Small()
    wanted = small.pipe("A", (0, 0, 0), (2, 0, 0))
    small.pipe("B", (2, 0, 0), (4, 0, 0))
    small.join("A", 1, "B", 0)
    system = small.root("IfcDistributionSystem", Name="CHW")
    small.root("IfcRelAssignsToGroup", RelatedObjects=[wanted], RelatingGroup=system)
    imported = small.read(tmp_path, systems=["CHW"])
    assert set(by_id(imported, "pipes")) == {"A"}
    assert said(imported, "Goes on beyond what was read") == ("A",)
    assert any("of another system" in n.says for n in imported.notes)
    with pytest.raises(LayoutFaults):
        small.read(tmp_path, systems=["HHW"])


@pytest.mark.parametrize(
    ("fields", "name", "list_", "kind"),
    [
        ({"PredefinedType": "OBSTRUCTION"}, "X", None, None),
        ({"ObjectType": "pipe cap"}, "X", None, None),
        ({"ObjectType": "high capacity head"}, "X", "asked", None),
        ({"PredefinedType": "ENTRY"}, "X", "sources", "main"),
        ({"PredefinedType": "EXIT"}, "X", "outlets", None),
        ({}, "X", "asked", None),
    ],
)
def test_what_ends_a_pipe_is_closed_only_where_it_is_said_so(
    fields: dict[str, str], name: str, list_: str | None, kind: str | None, tmp_path: Path
) -> None:
    small = Small()
    small.pipe("A", (0, 0, 0), (2, 0, 0))
    small.add("IfcPipeFitting", name, (2, 0, 0), **fields)
    small.join("A", 1, name, 0)
    imported = small.read(tmp_path)
    assert (by_id(imported, "junctions")[name].get("fitting") == "cap") == (list_ is None)
    for key in ("sources", "outlets"):
        assert (name in by_id(imported, key)) == (key == list_)
    assert (name in asked(imported)) == (list_ == "asked")
    if list_ is not None and kind is not None:
        assert by_id(imported, list_)[name]["kind"] == kind


@pytest.mark.parametrize(
    ("nominal", "size"), [(0.05, "DN 50"), (0.0508, "NPS 2"), (0.2, "DN 200"), (0.1016, "NPS 4")]
)
def test_nominal_diameters_are_named(nominal: float, size: str, tmp_path: Path) -> None:
    small = Small()
    small.pipe("A", (0, 0, 0), (2, 0, 0), nominal)
    assert by_id(small.read(tmp_path), "pipes")["A"]["size"] == size


def test_a_valve_between_two_pipes_has_its_body_and_no_state(tmp_path: Path) -> None:
    small = Small()
    small.pipe("A", (0, 0, 0), (2, 0, 0))
    small.add("IfcValve", "V", (2, 0, 0), (2.3, 0, 0), PredefinedType="CHECK")
    small.pipe("B", (2.3, 0, 0), (4, 0, 0))
    small.join("A", 1, "V", 0)
    small.join("V", 1, "B", 0)
    small.join("B", 0, "V", 1)  # doubled, the other way round
    imported = small.read(tmp_path)
    valve = by_id(imported, "valves")["V"]
    assert valve["kind"] == "check"
    assert metres(valve["body"]) == pytest.approx(0.3)
    assert "state" not in valve
    # Stations begin at the valve's faces: half its body lies beyond each pipe's end, by hand.
    assert metres(by_id(imported, "pipes")["A"]["length"]) == pytest.approx(2.0)
    assert metres(by_id(imported, "pipes")["A"]["to_body"]) == pytest.approx(0.15)
    assert said(imported, "does not say how the valve stands") == ("V",)


def test_elements_that_meet_without_a_pipe_get_a_short_one(tmp_path: Path) -> None:
    small = Small()
    small.pipe("A", (0, 0, 0), (2, 0, 0))
    small.add("IfcValve", "V", (2, 0, 0), (2.2, 0, 0))
    small.add("IfcPump", "P", (2.2, 0, 0), (2.6, 0, 0))
    small.join("A", 1, "V", 0)
    small.join("V", 1, "P", 0)
    imported = small.read(tmp_path)
    (between,) = said(imported, "short pipe put between elements")
    way = by_id(imported, "pipes")[between]
    assert metres(way["length"]) == 0.0
    assert metres(way["from_body"]) + metres(way["to_body"]) == pytest.approx(0.1 + 0.2)
    assert asked(imported) == {"A open end", "P"}


@pytest.mark.parametrize(
    ("kind", "fields", "list_"),
    [
        ("IfcValve", {"PredefinedType": "FAUCET"}, "outlets"),
        ("IfcValve", {"PredefinedType": "ISOLATING"}, "asked"),
        ("IfcPump", {}, "sources"),
        ("IfcFlowMeter", {}, "asked"),
        ("IfcBoiler", {}, "asked"),
        ("IfcSanitaryTerminal", {}, "outlets"),
        ("IfcTank", {"PredefinedType": "EXPANSION"}, "sources"),
        ("IfcTank", {"PredefinedType": "STORAGE"}, "equipment"),
    ],
)
def test_what_is_met_at_one_end_is_never_taken_as_closed(
    kind: str, fields: dict[str, str], list_: str, tmp_path: Path
) -> None:
    small = Small()
    small.pipe("A", (0, 0, 0), (2, 0, 0))
    small.add(kind, "X", (2, 0, 0), **fields)
    small.join("A", 1, "X", 0)
    imported = small.read(tmp_path)
    if list_ == "asked":
        assert {"X", "X open end"} & asked(imported)
    else:
        assert "X" in by_id(imported, list_)


def test_unused_ports_of_equipment_are_no_ends(tmp_path: Path) -> None:
    """A boiler's gas and drain ports lead to nothing; its water passes between the other two."""
    small = Small()
    small.pipe("A", (0, 0, 0), (2, 0, 0))
    small.add("IfcBoiler", "X", (2, 0, 0), (2.5, 0, 0), (2.2, 0, 1), (2.2, 0, -1))
    small.pipe("B", (2.5, 0, 0), (4, 0, 0))
    small.join("A", 1, "X", 0)
    small.join("X", 1, "B", 0)
    imported = small.read(tmp_path)
    assert not by_id(imported, "sources")
    assert asked(imported) == {"A open end", "B open end"}


def test_open_ends_are_asked_about_once_for_all(tmp_path: Path) -> None:
    small = Small()
    for n in range(5):
        small.pipe(f"P{n}", (0, n, 0), (4, n, 0))
    imported = small.read(tmp_path)
    rows = to_fill_in(parse_layout(imported.document))
    assert [len(row.elements) for row in rows if "open-end" in row.rules] == [10]
