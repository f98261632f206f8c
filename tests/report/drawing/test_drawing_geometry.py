"""The drawing's geometry, read back from the SVG, agrees with the report in metres."""

import itertools
import math
import xml.etree.ElementTree as ET
from collections import defaultdict

import pytest

from layoutcheck.network import build_network
from layoutcheck.report.drawing import Page, draw_svg, scene_svg
from tests.report.drawing.drawing_samples import SITES, checked, riser, site, site_scene

SVG = "{http://www.w3.org/2000/svg}"

# Coordinates are written to a hundredth of a point, so a length of n steps may be off by n
# hundredths; stations are written exactly.
STEP = 0.015


class Read:
    """One line or outline read from an SVG."""

    def __init__(self, element: ET.Element, panel: str) -> None:
        self.role = element.get("data-role", "")
        self.subject = element.get("data-subject")
        self.pipe = element.get("data-pipe")
        self.panel = panel
        self.points = [
            (float(x), float(y))
            for x, y in (pair.split(",") for pair in element.get("points", "").split())
        ]
        self.start = float(element.get("data-start", "nan"))
        self.end = float(element.get("data-end", "nan"))

    @property
    def length(self) -> float:
        return sum(math.dist(a, b) for a, b in zip(self.points, self.points[1:], strict=False))


def read(svg: str) -> list[Read]:
    rows = []
    for group in ET.fromstring(svg).iter(f"{SVG}g"):
        panel = group.get("data-panel")
        if panel is not None:
            for kind in ("polyline", "polygon"):
                rows += [Read(e, panel) for e in group.iter(f"{SVG}{kind}")]
    return rows


def views(rows: list[Read]) -> set[str]:
    return {r.panel for r in rows if r.panel.startswith(("The whole", "Detail"))}


@pytest.mark.parametrize("name", SITES)
def test_each_pipe_is_drawn_whole_and_in_proportion(name: str) -> None:
    layout, _ = site(name)
    lengths = build_network(layout).pipe_length
    rows = read(scene_svg(site_scene(name, Page.PAPER)))
    pipes = {"still pipe", "flowing pipe", "pipe that may flow"}
    for panel in views(rows):
        spans: dict[str, list[Read]] = defaultdict(list)
        for row in rows:
            if row.panel == panel and row.role in pipes and row.pipe:
                spans[row.pipe].append(row)
        assert set(spans) == set(lengths), "no pipe is lost"
        for pipe, found in spans.items():
            found.sort(key=lambda r: r.start)
            assert found[0].start == 0.0
            assert found[-1].end == pytest.approx(lengths[pipe], abs=1e-9)
            for one, two in itertools.pairwise(found):
                assert one.end == two.start
                assert math.dist(one.points[-1], two.points[0]) < STEP
            total = sum(r.length for r in found)
            for row in found:
                share = (row.end - row.start) / lengths[pipe]
                if layout.drawing.kind.value == "riser":
                    slack = STEP * (len(row.points) + len(found) + 4)
                    assert row.length == pytest.approx(share * total, abs=slack)


@pytest.mark.parametrize("name", SITES)
def test_jackets_moves_and_stretches_are_those_of_the_report(name: str) -> None:
    _, report = site(name)
    rows = read(scene_svg(site_scene(name, Page.PAPER)))
    for panel in views(rows):
        here = [r for r in rows if r.panel == panel]
        for plug in report.plugs:
            assert plug.at.station is not None
            half = plug.jacket.value / 2
            own = [r for r in here if r.subject == plug.id]
            role = "jacket" if plug.well_placed else "jacket not well placed"
            (jacket,) = (r for r in own if r.role == role)
            assert jacket.pipe == plug.at.pipe
            assert jacket.start == pytest.approx(plug.at.station.value - half, abs=1e-9)
            assert jacket.end == pytest.approx(plug.at.station.value + half, abs=1e-9)
            ghosts = [r for r in own if r.role == "suggested jacket"]
            assert len(ghosts) == (plug.nearest is not None)
            if plug.nearest is not None:
                assert ghosts[0].pipe == plug.nearest.pipe
                middle = (ghosts[0].start + ghosts[0].end) / 2
                assert middle == pytest.approx(plug.nearest.tape.value, abs=1e-9)
            assert _stretches(own, "clear stretch") == sorted(
                (s.pipe, s.start.value, s.end.value) for s in plug.clear
            )
            assert _stretches(own, "shut-out stretch") == sorted(
                (s.pipe, s.start.value, s.end.value) for s in plug.shut_out
            )


def _stretches(rows: list[Read], role: str) -> list[tuple[str, float, float]]:
    return sorted((r.pipe or "", r.start, r.end) for r in rows if r.role == role)


@pytest.mark.parametrize("name", SITES)
@pytest.mark.parametrize("page", Page)
def test_strips_are_to_scale(name: str, page: Page) -> None:
    rows = read(scene_svg(site_scene(name, page)))
    scaled = {"pipe wall", "clear stretch", "shut-out stretch", "jacket", "suggested jacket",
              "jacket not well placed"}  # fmt: skip
    for panel in {r.panel for r in rows if r.panel.startswith("strip of plug")}:
        here = [r for r in rows if r.panel == panel and r.role in scaled and r.pipe]
        longest = max(here, key=lambda r: abs(r.end - r.start))
        scale = _width(longest) / abs(longest.end - longest.start)
        for row in here:
            # Two ends rounded to a hundredth each, and the same of the scale itself.
            slack = 0.02 + 0.02 * abs(row.end - row.start) / abs(longest.end - longest.start)
            assert _width(row) == pytest.approx(abs(row.end - row.start) * scale, abs=slack)


def _width(row: Read) -> float:
    xs = [x for x, _ in row.points]
    return max(xs) - min(xs)


def test_a_dimension_is_as_long_as_what_it_measures() -> None:
    # By hand: the jacket is 12 in long about 9 in from the tee, so its near end lies 3 in from
    # the tee, and 1 1/4 in pipe asks for 12 in of pipe for each inch of size: 15 in.
    layout, report = checked(riser())
    scene_rows = read(draw_svg(layout, report))
    (strip,) = {r.panel for r in scene_rows if r.panel.startswith("strip")}
    rows = [r for r in scene_rows if r.panel == strip]
    jacket = next(r for r in rows if r.role == "jacket not well placed")
    scale = _width(jacket) / 0.3048
    found = next(f for f in report.findings if f.rule == "flowing-line-setback")
    line = next(r for r in rows if r.subject == found.id)
    assert _width(line) / scale == pytest.approx(3 * 0.0254, abs=0.001)
    assert found.required is not None
    assert found.required.value == pytest.approx(15 * 0.0254)


def test_height_on_the_drawing_follows_the_document() -> None:
    # The document's y grows with height here, and an SVG's y grows downwards.
    layout, report = checked(riser())
    rows = read(draw_svg(layout, report))
    panel = next(p for p in views(rows) if p.startswith("The whole"))
    first, last = (
        next(r for r in rows if r.panel == panel and r.pipe == p and r.role == "flowing pipe")
        for p in ("R1", "R4")
    )
    assert last.points[-1][1] < first.points[0][1]
