"""Small models, each with a fault of the wild, and the graph that must come out of each.

Outside source: the graph of the model's own ports (port_graph.py, on networkx), and the bodies that
ifcopenshell's geometry engine makes of the model. Other numbers are worked by hand beside each.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from math import cos, sin
from pathlib import Path
from typing import Any

import ifcopenshell
import ifcopenshell.geom
import numpy as np
import pytest

from layoutcheck.document import parse_layout
from layoutcheck.document.overlay import laid_over
from layoutcheck.importers.draft import Imported
from layoutcheck.importers.ifc.read import read_ifc
from layoutcheck.importers.ifc.write import write_plugs
from layoutcheck.report import check_document
from layoutcheck.report.plans import plan_layout
from tests.cli.test_three_commands import FACTS, SITE
from tests.importers.made_models import Maker
from tests.importers.port_graph import layout_graph, loops, port_graph, shape_of
from tests.importers.small_models import Small, Spot, by_id, metres, said

FIXTURES = Path(__file__).parents[2] / "fixtures"


def between(one: Spot, two: Spot, share: float) -> Spot:
    x, y, z = (a + share * (b - a) for a, b in zip(one, two, strict=True))
    return (x, y, z)


def square(small: Small, turn: float = 0.0) -> None:
    """Put down a ring of four pipes and four bends, turned by an angle."""

    def at(x: float, y: float) -> Spot:
        return (x * cos(turn) - y * sin(turn), x * sin(turn) + y * cos(turn), 0)

    corners = [at(0, 0), at(4, 0), at(4, 4), at(0, 4)]
    for n, spot in enumerate(corners):
        towards = corners[(n + 1) % 4]
        start, end = (between(spot, towards, share) for share in (0.025, 0.975))
        small.pipe(f"P{n}", start, end)
    befores = [at(0, 0.1), at(3.9, 0), at(4, 3.9), at(0.1, 4)]
    afters = [at(0.1, 0), at(4, 0.1), at(3.9, 4), at(0, 3.9)]
    for n, (before, after) in enumerate(zip(befores, afters, strict=True)):
        small.add("IfcPipeFitting", f"E{n}", before, after, PredefinedType="BEND")
        small.join(f"P{(n - 1) % 4}", 1, f"E{n}", 0)
        small.join(f"E{n}", 1, f"P{n}", 0)


def askew(small: Small) -> None:
    square(small, turn=0.3)


def tree(small: Small, gap: float = 0.0) -> None:
    """Put down a main of two pipes with a tee between them, and a branch."""
    small.pipe("A", (0, 0, 0), (2, 0, 0))
    spots: tuple[Spot, ...] = ((2 + gap, 0, 0), (2.2, 0, 0), (2.1, 0.1, 0))
    small.add("IfcPipeFitting", "T", *spots, PredefinedType="JUNCTION")
    small.pipe("B", (2.2, 0, 0), (4, 0, 0))
    small.pipe("C", (2.1, 0.1, 0), (2.1, 2, 0))


def doubled(small: Small) -> None:
    square(small)
    for n in range(4):
        small.join(f"E{n}", 1, f"P{n}", 0)
        small.join(f"P{n}", 0, f"E{n}", 1)


def unplaced(small: Small) -> None:
    square(small)
    for port in small.model.by_type("IfcDistributionPort"):
        port.ObjectPlacement = None


def with_itself(small: Small) -> None:
    square(small)
    small.join("P0", 0, "P0", 1)


def spare_cap(small: Small) -> None:
    """A cap whose spare port lies 1 mm behind the first, in the pipe that it closes."""
    small.pipe("A", (0, 0, 0), (2, 0, 0))
    small.add("IfcPipeFitting", "end cap", (2, 0, 0), (1.999, 0, 0), PredefinedType="OBSTRUCTION")
    small.join("A", 1, "end cap", 0)


def spare_caps(small: Small) -> None:
    """Three of them on one tree."""
    tree(small)
    for n, (pipe, end) in enumerate((("A", 1), ("B", 0), ("C", 0))):
        small.join(pipe, end, "T", n)
    ends: list[tuple[str, int, Spot, Spot]] = [
        ("A", 0, (0, 0, 0), (0.001, 0, 0)),
        ("B", 1, (4, 0, 0), (3.999, 0, 0)),
        ("C", 1, (2.1, 2, 0), (2.1, 1.999, 0)),
    ]
    for number, (pipe, end, first, second) in enumerate(ends):
        small.add("IfcPipeFitting", f"Kappe {number}", first, second)
        small.join(pipe, end, f"Kappe {number}", 0)


def eccentric(small: Small) -> None:
    small.pipe("A", (0, 0, 0), (2, 0, 0), 0.08)
    small.add("IfcPipeFitting", "R", (2, 0, 0), (2.1, 0, 0.013), PredefinedType="TRANSITION")
    small.pipe("B", (2.1, 0, 0.013), (4, 0, 0.013), 0.05)
    small.join("A", 1, "R", 0)
    small.join("R", 1, "B", 0)


def header(small: Small) -> None:
    """A header 2 m long with two branches at each end of it."""
    at = (0.1, 0.3, 1.7, 1.9)
    spots: list[Spot] = [(x, 0, 0) for x in at]
    small.add("IfcPipeFitting", "H", *spots, PredefinedType="JUNCTION")
    for n, x in enumerate(at):
        small.pipe(f"P{n}", (x, 0, 0), (x, 2, 0))
        small.join("H", n, f"P{n}", 0)


def symbol(small: Small) -> None:
    """A pipe of 3 m that is shown by a sign of 1 m, made of bare faces, in its middle."""
    element = small.pipe("A", (0, 0, 0), (3, 0, 0))
    make = small.model.create_entity
    faces = []
    for low, high in (((1, -0.05, 0.05), (2, -0.05, 0.05)), ((1, 0.05, -0.05), (2, 0.05, -0.05))):
        far = [(x, -y, -z) for x, y, z in (high, low)]
        loop = make("IfcPolyLoop", [small.point(p) for p in (low, high, *far)])
        bound = make("IfcFaceOuterBound", Bound=loop, Orientation=True)
        faces.append(make("IfcFace", [bound]))
    surface = make("IfcShellBasedSurfaceModel", [make("IfcOpenShell", faces)])
    element.Representation = small.shape(surface, "SurfaceModel")


def mirrored(small: Small) -> None:
    """A pipe whose body is a mirrored map of another: the mirror turns its way over."""
    small.pipe("A", (0, 0, 0), (2, 0, 0))
    make = small.model.create_entity
    frame = make("IfcAxis2Placement3D", Location=small.point((0, 0, 0)))
    circle = make("IfcCircleProfileDef", ProfileType="AREA", Radius=0.03)
    along = make("IfcDirection", (0.0, 1.0, 0.0))
    flat = make(
        "IfcAxis2Placement3D",
        Location=small.point((0, 0, 0)),
        Axis=along,
        RefDirection=make("IfcDirection", (1.0, 0.0, 0.0)),
    )
    solid = make("IfcExtrudedAreaSolid", circle, flat, make("IfcDirection", (0.0, 0.0, 1.0)), 3.0)
    whole = make("IfcShapeRepresentation", small.context, "Body", "SweptSolid", [solid])
    mirror = make(
        "IfcCartesianTransformationOperator3D",
        Axis1=make("IfcDirection", (1.0, 0.0, 0.0)),
        Axis2=make("IfcDirection", (0.0, -1.0, 0.0)),
        Axis3=make("IfcDirection", (0.0, 0.0, 1.0)),
        LocalOrigin=small.point((0, 0, 0)),
        Scale=1.0,
    )
    item = make("IfcMappedItem", make("IfcRepresentationMap", frame, whole), mirror)
    element = small.root(
        "IfcPipeSegment",
        Name="B",
        ObjectPlacement=small.placement((2, 0, 0)),
        Representation=small.shape(item, "MappedRepresentation"),
    )
    small.property(element, "NominalDiameter", "IfcPositiveLengthMeasure", 0.05)


CASES: dict[str, tuple[Callable[[Small], None], dict[str, int]]] = {
    "a sound ring": (square, {"parts": 1, "rings": 1, "ends": 0, "branches": 0}),
    "a ring set askew": (askew, {"parts": 1, "rings": 1, "ends": 0, "branches": 0}),
    "doubled relations": (doubled, {"parts": 1, "rings": 1, "ends": 0, "branches": 0}),
    "ports without placement": (unplaced, {"parts": 1, "rings": 1, "ends": 0, "branches": 0}),
    "a pipe joined with itself": (with_itself, {"parts": 1, "rings": 1, "ends": 0, "branches": 0}),
    "a cap with a spare port": (spare_cap, {"parts": 1, "rings": 0, "ends": 2, "branches": 0}),
    "three such caps": (spare_caps, {"parts": 1, "rings": 0, "ends": 3, "branches": 1}),
    "an eccentric reducer": (eccentric, {"parts": 1, "rings": 0, "ends": 2, "branches": 0}),
    "a long header": (header, {"parts": 1, "rings": 0, "ends": 4, "branches": 2}),
    "a sign for a body": (symbol, {"parts": 1, "rings": 0, "ends": 2, "branches": 0}),
    "a mirrored body": (mirrored, {"parts": 1, "rings": 0, "ends": 2, "branches": 0}),
}


@pytest.mark.parametrize("name", CASES)
def test_the_graph_is_that_of_the_ports(name: str, tmp_path: Path) -> None:
    build, wanted = CASES[name]
    small = Small()
    build(small)
    found = shape_of(small.read(tmp_path).document)
    assert found == wanted
    assert found["rings"] == loops(port_graph(small.model))


@pytest.mark.parametrize("path", sorted(FIXTURES.glob("*-mended.json")), ids=lambda p: p.stem)
def test_a_building_s_loops_are_those_of_its_ports(path: Path, tmp_path: Path) -> None:
    model = Maker(parse_layout(json.loads(path.read_text()))).make().model
    model.write(str(tmp_path / "model.ifc"))
    imported = read_ifc(tmp_path / "model.ifc", name="model.ifc")
    assert loops(layout_graph(imported.document)) == loops(port_graph(model))


@pytest.mark.parametrize("prefix", [None, "MILLI"])
def test_metres_and_millimetres_are_the_same_site(prefix: str | None, tmp_path: Path) -> None:
    small = Small(prefix=prefix)
    square(small)
    document = small.read(tmp_path).document
    assert [p["length"] for p in document["pipes"]] == ["3.8 m"] * 4
    assert {p["size"] for p in document["pipes"]} == {"DN 50"}


@pytest.mark.parametrize(("gap", "parts"), [(0.005, 1), (0.05, 2)])
def test_a_missing_connection_is_made_within_the_stated_tolerance(
    gap: float, parts: int, tmp_path: Path
) -> None:
    small = Small()
    tree(small, gap=gap - 1e-6)
    small.join("B", 0, "T", 1)
    small.join("C", 0, "T", 2)
    imported = small.read(tmp_path)
    assert shape_of(imported.document)["parts"] == parts
    words = "joined within 0.005 m" if parts == 1 else "nearly meet, and were not joined"
    assert said(imported, words)


def test_a_system_within_a_system_is_read_with_it(tmp_path: Path) -> None:
    small = Small()
    square(small)
    small.pipe("other", (0, 0, 9), (4, 0, 9))
    pipes = [e for e in small.model.by_type("IfcPipeSegment") if e.Name != "other"]
    bends = list(small.model.by_type("IfcPipeFitting"))
    flow, back, whole = (
        small.root("IfcDistributionSystem", Name=name) for name in ("flow", "return", "heating")
    )
    groups = ((flow, pipes[:2] + bends[:2]), (back, pipes[2:] + bends[2:]), (whole, [flow, back]))
    for group, things in groups:
        small.root("IfcRelAssignsToGroup", RelatedObjects=things, RelatingGroup=group)
    one = {"parts": 1, "rings": 1, "ends": 0, "branches": 0}
    assert shape_of(small.read(tmp_path, systems=["heating"]).document) == one
    assert shape_of(small.read(tmp_path, systems=["flow", "return"]).document) == one
    assert shape_of(small.read(tmp_path, systems=["flow"]).document)["rings"] == 0


def test_a_cap_is_a_closed_end_whatever_ports_it_has(tmp_path: Path) -> None:
    small = Small()
    spare_caps(small)
    imported = small.read(tmp_path)
    joints = by_id(imported, "junctions")
    assert {joints[f"Kappe {n}"]["fitting"] for n in range(3)} == {"cap"}
    assert not by_id(imported, "sources")


def test_closed_end_setback_is_judged_beside_a_capped_end(tmp_path: Path) -> None:
    small = Small()
    spare_cap(small)
    document = small.read(tmp_path).document
    # The jacket's end is 2 - 1.7 - 0.15 = 0.15 m from the cap; 24 in are asked for.
    document["plugs"] = [{"id": "F", "pipe": "A", "station": "1.7 m", "jacket": "0.3 m"}]
    report = check_document(document)
    found = next(f for f in report.findings if f.rule == "closed-end-setback")
    assert found.outcome.value == "broken"
    assert found.measured is not None
    assert found.measured.value == pytest.approx(0.15, abs=1e-6)


def test_what_the_model_says_of_fittings_is_not_asked_about_as_a_slip(tmp_path: Path) -> None:
    """A header is no cross, and an elbow from one size to another is a reducer too."""
    small = Small()
    header(small)
    small.pipe("thick", (0, 5, 0), (2, 5, 0), 0.05)
    small.add("IfcPipeFitting", "E", (2, 5, 0), (2.1, 5.1, 0), PredefinedType="BEND")
    small.pipe("thin", (2.1, 5.1, 0), (2.1, 8, 0), 0.025)
    small.join("thick", 1, "E", 0)
    small.join("E", 1, "thin", 0)
    findings = check_document(small.read(tmp_path).document).findings
    asked = [f.subject.id for f in findings if f.rule == "parts-fit"]
    assert asked == ["parts"]


def test_the_way_between_two_ports_of_a_header_runs_along_it(tmp_path: Path) -> None:
    small = Small()
    header(small)
    document = small.read(tmp_path).document
    bodies = {
        p["id"]: metres(p.get("from_body", "0 m")) + metres(p.get("to_body", "0 m"))
        for p in document["pipes"]
    }
    # Ports at 0.1, 0.3, 1.7 and 1.9 m: 0.2 m from the first to the second, by hand; not by way of
    # the middle of the header, which would be 0.9 + 0.7 m.
    assert bodies["P0"] + bodies["P1"] == pytest.approx(0.2)
    spine = next(v for k, v in bodies.items() if k.startswith("H"))
    assert bodies["P0"] + spine + bodies["P3"] == pytest.approx(1.8)


def test_a_three_way_valve_is_a_valve_in_each_of_its_ways(tmp_path: Path) -> None:
    small = Small()
    small.pipe("A", (0, 0, 0), (2, 0, 0))
    spots: tuple[Spot, ...] = ((2, 0, 0), (2.2, 0, 0), (2.1, 0.1, 0))
    valve = small.add("IfcValve", "V", *spots, PredefinedType="MIXING")
    small.pipe("B", (2.2, 0, 0), (4, 0, 0))
    small.pipe("C", (2.1, 0.1, 0), (2.1, 2, 0))
    for port, (pipe, end) in enumerate((("A", 1), ("B", 0), ("C", 0))):
        small.join("V", port, pipe, end)
    imported = small.read(tmp_path)
    valves = by_id(imported, "valves")
    assert {(v["pipe"], metres(v["station"])) for v in valves.values()} == {
        ("A", 2.0),
        ("B", 0.0),
        ("C", 0.0),
    }
    assert {v["ref"] for v in valves.values()} == {valve.GlobalId}
    # What closes one way of such a valve opens another: no plan may count on shutting all of them.
    assert {v["kind"] for v in valves.values()} == {"control"}
    assert "fitting" not in by_id(imported, "junctions")["V"]


def test_pipe_is_what_the_segments_are_to_the_millimetre(tmp_path: Path) -> None:
    for build, _ in CASES.values():
        small = Small()
        build(small)
        imported = small.read(tmp_path)
        made = sum(metres(p["length"]) for p in imported.document["pipes"])
        assert made == pytest.approx(segments(small.model), abs=1e-3)


def test_pipe_is_what_lies_in_the_body_where_ports_stick_out(tmp_path: Path) -> None:
    small = Small()
    element = small.pipe("A", (0, 0, 0), (2, 0, 0))
    element.ObjectPlacement = small.placement((0.3, 0, 0))
    element.Representation = small.round_bar((0.3, 0, 0), (1.8, 0, 0), 0.03)
    pipe = by_id(small.read(tmp_path), "pipes")["A"]
    got = [metres(pipe[k]) for k in ("from_body", "length", "to_body")]
    assert got == pytest.approx([0.3, 1.5, 0.2])


# --- jackets against the bodies that another program makes ---------------------------------------


def corners_of(model: Any) -> dict[str, np.ndarray]:
    """Give the corners of each body (m), as ifcopenshell's geometry engine makes it."""
    settings = ifcopenshell.geom.settings()
    settings.set("use-world-coords", True)
    found = {}
    for element in model.by_type("IfcProduct"):
        if element.Representation is not None:
            shape: Any = ifcopenshell.geom.create_shape(settings, element)
            spots = np.array(shape.geometry.verts).reshape(-1, 3)
            found[element.GlobalId] = spots
    return found


def boxes(model: Any) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """Give the box round each body (m)."""
    return {k: (v.min(axis=0), v.max(axis=0)) for k, v in corners_of(model).items()}


def segments(model: Any) -> float:
    """Sum up the length of the pipe segments' bodies (m), as that engine makes them."""
    own = {e.GlobalId for e in model.by_type("IfcPipeSegment")}
    total = 0.0
    for spots in (v for k, v in corners_of(model).items() if k in own):
        _, _, ways = np.linalg.svd(spots - spots.mean(axis=0), full_matrices=False)
        along = spots @ ways[0]
        total += float(along.max() - along.min())
    return total


def fitted(imported: Imported, jacket: float) -> dict[str, Any]:
    """Put plugs on each pipe that is long enough: at both ends of it, and between them."""
    document = json.loads(json.dumps(imported.document))
    plugs = []
    for pipe in document["pipes"]:
        length = metres(pipe["length"])
        for share in (0.0, 0.37, 1.0) if length > jacket and "ref" in pipe else ():
            at = jacket / 2 + share * (length - jacket)
            own = {"id": f"{share} {pipe['id']}", "pipe": pipe["id"], "station": f"{at} m"}
            plugs.append({**own, "jacket": f"{jacket} m"})
    document["plugs"] = plugs
    return document


@pytest.mark.parametrize("name", [*CASES, "made of a fixture"])
def test_jackets_lie_inside_the_body_of_their_segment(name: str, tmp_path: Path) -> None:
    """From one end of the bare pipe to the other, a jacket never leaves it lengthwise."""
    path = tmp_path / "model.ifc"
    if name in CASES:
        small = Small()
        CASES[name][0](small)
        model = small.model
    else:
        raw = json.loads((FIXTURES / "metric-block-mended.json").read_text())
        model = Maker(parse_layout(raw)).make().model
    model.write(str(path))
    imported = read_ifc(path, name="model.ifc")
    document = fitted(imported, 0.3)
    assert_jackets_in_bodies(document, path)


def test_jackets_of_a_plan_lie_inside_the_body_of_their_segment(tmp_path: Path) -> None:
    """As the tool places them: the site and its facts are those of the three commands."""
    path = tmp_path / "model.ifc"
    Maker(parse_layout(SITE)).make().model.write(str(path))
    document = read_ifc(path, name="model.ifc").document
    (valve,) = [v["id"] for v in document["valves"]]
    (main,) = [s["id"] for s in document["sources"]]
    stated = {
        **FACTS,
        "work": {**FACTS["work"], "open": [{"valve": valve}]},
        "valves": {valve: {"state": "open"}},
        "sources": {main: {"pressure": "4 bar"}},
    }
    document = laid_over(document, [stated])
    report = plan_layout(parse_layout(document), data=document, top=1)
    assert report.plans[0].plugs
    assert_jackets_in_bodies(report.plans[0].document, path)


def assert_jackets_in_bodies(document: dict[str, Any], path: Path) -> None:
    """Hold jackets, written into a copy of their model, to the bodies of their segments."""
    written = ifcopenshell.file.from_string(write_plugs(parse_layout(document), path).decode())
    bodies = boxes(written)
    pipes = {p["id"]: p["ref"] for p in document["pipes"] if "ref" in p}
    plugs = [e for e in written.by_type("IfcBuildingElementProxy") if e.ObjectType == "FREEZE PLUG"]
    assert len(plugs) == len(document["plugs"]) > 0
    where = {p["id"]: p["pipe"] for p in document["plugs"]}
    for plug in plugs:
        low, high = bodies[plug.GlobalId]
        own = plug.Name.removeprefix("Freeze plug ")
        first, last = bodies[pipes[where[own]]]
        # The plug is thinner than its pipe, so its box lies in the pipe's box if it lies in the
        # pipe; a millimetre for the corners of a round body, which are not the same on both.
        assert bool(np.all(low >= first - 1e-3)), f"{own} begins before its pipe does"
        assert bool(np.all(high <= last + 1e-3)), f"{own} ends after its pipe does"
