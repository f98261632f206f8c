"""Risers of a building to scale are seen as risers, and no two junctions fall on one spot.

Expected places are worked by hand: a view is a projection of points.
"""

from __future__ import annotations

import itertools
import math
from typing import Any

import pytest

from layoutcheck.document import Layout, parse_layout
from layoutcheck.report.drawing.drawn import drawn_of
from layoutcheck.report.drawing.seen_from import outlook_on

PIPE = {"size": "2 in", "material": "copper"}


def building(*spots: tuple[float, float, float]) -> Layout:
    """Make a row of pipes from spot to spot (m), drawn in plan to scale."""
    joints = [
        {"id": f"J{n}", "at": [x, y], "elevation": f"{z} m"} for n, (x, y, z) in enumerate(spots)
    ]
    pipes = [
        {
            "id": f"P{n}",
            "from": f"J{n}",
            "to": f"J{n + 1}",
            "length": f"{math.dist(a, b)} m",
            **PIPE,
        }
        for n, (a, b) in enumerate(itertools.pairwise(spots))
    ]
    document: dict[str, Any] = {
        "format": "layoutcheck layout 1",
        "name": "Invented building",
        "drawing": {"kind": "plan", "scale": "1 m", "snap_within": 0.1},
        "junctions": joints,
        "pipes": pipes,
    }
    return parse_layout(document)


def places(layout: Layout) -> dict[str, tuple[float, float]]:
    lengths = {p.id: p.length or 0.0 for p in layout.pipes}
    return dict(drawn_of(layout, lengths).points)


def test_a_riser_in_one_plane_is_an_elevation() -> None:
    found = places(building((0, 0, 0), (0, 0, 3), (5, 0, 3)))
    assert found == {"J0": (0.0, 0.0), "J1": (0.0, -3.0), "J2": (5.0, -3.0)}


def test_pipe_on_one_floor_stays_a_plan() -> None:
    layout = building((0, 0, 3), (5, 0, 3), (5, 4, 3))
    assert outlook_on(layout) is None
    assert places(layout)["J2"] == (5.0, -4.0)


@pytest.mark.parametrize("turn", [0.0, 0.4, math.pi / 6, math.pi / 4])
def test_no_two_junctions_fall_on_one_spot(turn: float) -> None:
    """A riser with a branch each way on each floor, however the building lies on the plan."""
    spots: list[tuple[float, float, float]] = []
    for floor in range(4):
        for x, y in ((0, 0), (6, 0), (6, 4), (0, 4), (0, 0)):
            here = (
                x * math.cos(turn) - y * math.sin(turn),
                x * math.sin(turn) + y * math.cos(turn),
            )
            spots.append((*here, 3.0 * floor + (1.5 if (x, y) == (0, 4) else 0.0)))
    rows = list(dict.fromkeys(spots))
    found = places(building(*rows))
    width = max(x for x, _ in found.values()) - min(x for x, _ in found.values())
    nearest = min(math.dist(a, b) for a, b in itertools.combinations(found.values(), 2))
    assert nearest > 1e-3 * width


def test_height_is_up_in_every_view() -> None:
    found = places(building((0, 0, 0), (0, 0, 3), (5, 0, 3), (5, 4, 3)))
    assert found["J1"][0] == pytest.approx(found["J0"][0])
    assert found["J0"][1] - found["J1"][1] == pytest.approx(3.0)
