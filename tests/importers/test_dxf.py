"""Drawings: what meets and what does not, against a plain count on a grid, and round trips.

Outside source: drawings are written by ezdxf. The expected networks are the random graphs that the
drawings were made of (by hand: a grid, where every end is known).
"""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import pytest
from ezdxf.filemanagement import new, read
from hypothesis import given, settings
from hypothesis import strategies as st

from layoutcheck.document import LayoutFaults, parse_layout
from layoutcheck.importers.dxf.read import read_dxf
from layoutcheck.importers.dxf.write import JACKETS, PLUGS, draw_plugs
from tests.sizes import some

STEP = 10.0
MAP = """
kind = "plan"
scale = "1 m"
units = "metric"
snap = 0.5
text_reach = 2.0
[layers.PIPE]
kind = "pipe"
size = "NPS 2"
material = "copper"
[layers.WORDS]
kind = "text"
[blocks.GATE]
kind = "valve"
valve = "gate"
reach = 1.5
[blocks.TAP]
kind = "outlet"
[blocks.MAIN]
kind = "source"
"""

Edge = tuple[tuple[int, int], tuple[int, int]]


@st.composite
def trees(draw: st.DrawFn) -> list[Edge]:
    """Draw a tree of unit steps on a grid, grown one step at a time."""
    spots = [(0, 0)]
    edges: list[Edge] = []
    for _ in range(draw(st.integers(1, 14))):
        x, y = draw(st.sampled_from(spots))
        dx, dy = draw(st.sampled_from([(1, 0), (-1, 0), (0, 1), (0, -1)]))
        step = (x + dx, y + dy)
        if step not in spots:
            spots.append(step)
            edges.append(((x, y), step))
    return edges or [((0, 0), (1, 0))]


def drawing_of(edges: list[Edge], shake: float = 0.0) -> Any:
    drawing = new("R2018")
    space = drawing.modelspace()
    for number, (a, b) in enumerate(edges):
        off = shake * (-1) ** number
        start = (a[0] * STEP + off, a[1] * STEP)
        end = (b[0] * STEP, b[1] * STEP + off)
        space.add_line(start, end, dxfattribs={"layer": "PIPE"})
    return drawing


def saved(drawing: Any, folder: Path) -> Path:
    path = folder / "drawing.dxf"
    drawing.saveas(str(path))
    return path


@settings(max_examples=some(40))
@given(edges=trees(), shake=st.sampled_from([0.0, 0.1]))
def test_a_drawn_tree_comes_back_as_it_was(
    tmp_path_factory: pytest.TempPathFactory, edges: list[Edge], shake: float
) -> None:
    path = saved(drawing_of(edges, shake), tmp_path_factory.mktemp("drawn"))
    document = read_dxf(path, name="drawing.dxf", mapping=MAP).document
    spots = {j["id"]: tuple(round(c / STEP) for c in j["at"]) for j in document["junctions"]}
    found = {frozenset((spots[p["from"]], spots[p["to"]])) for p in document["pipes"]}
    assert found == {frozenset(e) for e in edges}
    assert len(document["pipes"]) == len(edges)
    layout = parse_layout(document)
    assert len(layout.junctions) == len({s for e in edges for s in e})


def test_an_end_on_a_line_is_a_tee_and_a_crossing_is_not(tmp_path: Path) -> None:
    drawing = new("R2018")
    space = drawing.modelspace()
    space.add_line((0, 0), (40, 0), dxfattribs={"layer": "PIPE"})
    space.add_line((10, 0.2), (10, 20), dxfattribs={"layer": "PIPE"})  # ends on the first
    space.add_line((30, -20), (30, 20), dxfattribs={"layer": "PIPE"})  # passes over it
    space.add_line((42, 0), (60, 0), dxfattribs={"layer": "PIPE"})  # nearly meets it
    imported = read_dxf(saved(drawing, tmp_path), name="d.dxf", mapping=MAP)
    assert len(imported.document["pipes"]) == 5
    said = {n.says: n.elements for n in imported.notes}
    assert said["Lines that cross with no end there are not joined"] == ("(30, 0)",)
    gaps = said["An end that nearly meets another line, and was not joined"]
    assert set(gaps) == {"(40, 0)", "(42, 0)"}


def test_blocks_texts_and_broken_lines_are_read(tmp_path: Path) -> None:
    drawing = new("R2018")
    space = drawing.modelspace()
    for name in ("GATE", "TAP", "MAIN", "TREE"):
        block = drawing.blocks.new(name)
        block.add_circle((0, 0), 1)
        block.add_attdef("TAG", (0, 0), "")
    space.add_line((0, 0), (19, 0), dxfattribs={"layer": "PIPE"})
    space.add_line((21, 0), (50, 0), dxfattribs={"layer": "PIPE"})  # broken for the valve at 20
    for name, at, tag in (("GATE", (20, 0), "V7"), ("TAP", (50, 0), "T1"), ("MAIN", (0, 0), "M")):
        space.add_blockref(name, at).add_attrib("TAG", tag, at)
    space.add_blockref("TREE", (5, 5))
    for words, at in (("NPS 3", (10, 1)), ("L=30 m", (30, 1)), ("CW-4", (35, 1))):
        space.add_text(words, dxfattribs={"layer": "WORDS", "insert": at})
    document = read_dxf(saved(drawing, tmp_path), name="d.dxf", mapping=MAP).document
    layout = parse_layout(document)
    first, second = sorted(layout.pipes, key=lambda p: p.size.inches, reverse=True)
    assert (first.size.text, second.id) == ("NPS 3", "CW-4")
    assert second.length == pytest.approx(30)
    assert layout.valves[0].id == "V7" and layout.valves[0].junction in (first.from_, first.to)
    assert [s.id for s in layout.sources] == ["M"] and [o.id for o in layout.outlets] == ["T1"]


def test_a_valve_at_the_end_of_a_line_does_not_close_it(tmp_path: Path) -> None:
    drawing = drawing_of([((0, 0), (1, 0))])
    drawing.blocks.new("GATE")
    drawing.modelspace().add_blockref("GATE", (10, 0))
    imported = read_dxf(saved(drawing, tmp_path), name="d.dxf", mapping=MAP)
    layout = parse_layout(imported.document)
    assert layout.sources == ()  # what is behind it is asked, for each end alike
    asked = next(n for n in imported.notes if "what ends it" in n.says)
    assert layout.valves[0].junction in asked.elements
    assert len(asked.elements) == 2


def test_plugs_are_drawn_on_layers_of_their_own(tmp_path: Path) -> None:
    path = saved(drawing_of([((0, 0), (1, 0)), ((1, 0), (1, 1))]), tmp_path)
    document = read_dxf(path, name="drawing.dxf", mapping=MAP).document
    pipe = next(p for p in document["pipes"] if p["from"] == "J1" or p["to"] == "J1")
    document["plugs"] = [{"id": "A", "pipe": pipe["id"], "station": "4 m", "jacket": "0.5 m"}]
    layout = parse_layout(document)
    written = draw_plugs(layout, path)
    again = read(io.StringIO(written.decode()))
    by_layer = {e.dxf.layer for e in again.modelspace()}
    assert {PLUGS, JACKETS, "PIPE"} <= by_layer
    jacket: Any = next(e for e in again.modelspace() if e.dxf.layer == JACKETS)
    points = [tuple(p[:2]) for p in jacket.get_points()]
    across = abs(points[0][0] - points[-1][0]) + abs(points[0][1] - points[-1][1])
    assert across == pytest.approx(0.5)
    assert len(list(again.modelspace().query("LINE"))) == 2
    assert not again.audit().has_errors


@pytest.mark.parametrize(
    ("mapping", "says"),
    [
        ("kind = ", "is not TOML"),
        ('[layers.PIPE]\nkind = "pip"', "must be one of"),
        ('[layers.DUCT]\nkind = "pipe"\nsize = "NPS 2"', "holds no line on a layer"),
    ],
)
def test_a_map_that_can_not_be_used_is_one_clear_error(
    mapping: str, says: str, tmp_path: Path
) -> None:
    path = saved(drawing_of([((0, 0), (1, 0))]), tmp_path)
    with pytest.raises(LayoutFaults) as raised:
        read_dxf(path, name="d.dxf", mapping=mapping)
    assert [says in f.problem for f in raised.value.faults] == [True]


@pytest.mark.parametrize("data", [b"", b"nothing", b"  0\nSECTION\n  2\nENT", b"\0" * 4096])
def test_a_file_that_is_no_drawing_is_one_clear_error(data: bytes, tmp_path: Path) -> None:
    path = tmp_path / "d.dxf"
    path.write_bytes(data)
    with pytest.raises(LayoutFaults) as raised:
        read_dxf(path, name="d.dxf", mapping=MAP)
    assert len(raised.value.faults) == 1
