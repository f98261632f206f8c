"""The drawing of an imported model: no two elements on one spot, work and plugs always labelled.

The model is invented: two risers over each other's plan, a three-way valve on the upper floor whose
third way is an open end, and valves on each riser.
"""

from __future__ import annotations

from collections import Counter
from typing import Any

import pytest

from layoutcheck.document import parse_layout
from layoutcheck.document.overlay import laid_over
from layoutcheck.report import check
from layoutcheck.report.drawing import build_scene
from layoutcheck.report.drawing.scene import Glyph, Panel, Role, Words
from tests.importers.small_models import Small


@pytest.fixture(scope="module")
def panel(tmp_path_factory: pytest.TempPathFactory) -> Panel:
    """The main view of it, with a valve to be opened and a plug beside it."""
    small = Small()
    small.pipe("low", (0, 0, 0), (0, 0, 4))
    small.add("IfcValve", "V1", (0, 0, 4), (0, 0, 4.2))
    small.pipe("high", (0, 0, 4.2), (0, 0, 9))
    small.add("IfcValve", "V3", (0, 0, 9), (0, 0, 9.3), (0.1, 0, 9.15), PredefinedType="MIXING")
    small.add("IfcPipeFitting", "bend", (0.1, 0, 9.15), (0.2, 0, 9.05), PredefinedType="BEND")
    small.pipe("down", (0.2, 0, 9.05), (0.2, 0, 2))
    for one, end, two, other in (
        ("low", 1, "V1", 0),
        ("V1", 1, "high", 0),
        ("high", 1, "V3", 0),
        ("V3", 2, "bend", 0),
        ("bend", 1, "down", 0),
    ):
        small.join(one, end, two, other)
    document: dict[str, Any] = small.read(tmp_path_factory.mktemp("model")).document
    stated = {
        "plugs": {"F1": {"pipe": "low", "station": "2 m", "jacket": "0.3 m"}},
        "work": {"open": [{"valve": "V1"}], "duration": "2 h"},
    }
    layout = parse_layout(laid_over(document, [stated]))
    return build_scene(layout, check(layout)).sheets[0].panels[0]


def test_no_two_elements_stand_on_one_spot(panel: Panel) -> None:
    spots = Counter(
        (round(m.at[0], 1), round(m.at[1], 1))
        for m in panel.marks
        if isinstance(m, Glyph) and m.role is Role.ELEMENT
    )
    assert len(spots) >= 6  # two valves, three ways of the third, a bend
    assert [at for at, number in spots.items() if number > 1] == []


def test_the_work_and_the_plug_are_labelled(panel: Panel) -> None:
    said = " ".join(m.text for m in panel.marks if isinstance(m, Words))
    assert "Plug F1" in said
    assert "Work" in said


def test_risers_are_seen_upright(panel: Panel) -> None:
    """Both risers lie on one spot in plan: here they are 4 m and more of height on the sheet."""
    for pipe in ("low", "high", "down"):
        ys = [p[1] for m in panel.marks if m.kind == "stroke" and m.pipe == pipe for p in m.points]
        assert max(ys) - min(ys) > 20
