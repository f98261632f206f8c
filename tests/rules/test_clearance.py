"""Free space round a jacket, against points set close together along the pipe.

The free space to an obstruction is that to its box: at each point of the axis the larger of the
distance in plan and the distance in height, less half the outside diameter. Derived by hand.
"""

import math
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from layoutcheck.document import parse_layout
from layoutcheck.rules.case import Case
from layoutcheck.rules.jacket_clearance import JacketClearance
from layoutcheck.rules.outcome import Outcome
from layoutcheck.rules.registry import default_pack
from tests.sizes import some

RADIUS = 0.03
REQUIRED = 6 * 0.0254
STEPS = 2001
small = st.integers(-12, 12).map(lambda n: n / 4)
size = st.integers(1, 12).map(lambda n: n / 8)


@st.composite
def boxes(draw: st.DrawFn) -> dict[str, Any]:
    x, y, z = draw(small), draw(small), draw(small)
    across, along, up = draw(size), draw(size), draw(size)
    corners = [[x, y], [x + across, y], [x + across, y + along], [x, y + along]]
    box: dict[str, Any] = {"id": f"B{draw(st.integers(0, 10**6))}", "outline": corners}
    if draw(st.integers(0, 3)):
        box["bottom"], box["top"] = f"{z} m", f"{z + up} m"
    return box


@st.composite
def sites(draw: st.DrawFn) -> dict[str, Any]:
    end = draw(st.sampled_from([(2.0, 0.0), (2.0, 1.0), (0.0, 0.0), (3.0, -2.0)]))
    rise = draw(st.sampled_from([0.0, 0.5, 2.0])) if end != (0.0, 0.0) else 2.0
    length = math.hypot(*end, rise)
    obstructions = draw(st.lists(boxes(), min_size=1, max_size=3, unique_by=lambda b: b["id"]))
    return {
        "format": "layoutcheck layout 1",
        "name": "An invented pipe among invented boxes",
        "drawing": {"kind": "plan", "scale": "1 m"},
        "junctions": [
            {"id": "S", "at": [0, 0], "elevation": "0 m"},
            {"id": "E", "at": list(end), "elevation": f"{rise} m"},
        ],
        "pipes": [
            {
                "id": "P",
                "from": "S",
                "to": "E",
                "size": "2 in",
                "material": "copper",
                "outside_diameter": f"{2 * RADIUS} m",
                "wall_thickness": "0.002 m",
            }
        ],
        "plugs": [
            {
                "id": "A",
                "pipe": "P",
                "station": f"{length * draw(st.integers(1, 9)) / 10} m",
                "jacket": "0.25 m",
            }
        ],
        "site": {"obstructions": obstructions},
    }


def sampled(site: dict[str, Any], station: float) -> float:
    """Give the least free space (m) along the jacket, by points set close together."""
    (x, y), rise = site["junctions"][1]["at"], float(site["junctions"][1]["elevation"][:-2])
    length = math.hypot(x, y, rise)
    low, high = max(0.0, station - 0.125), min(length, station + 0.125)
    shares = np.linspace(low, high, STEPS) / length
    points = shapely.points(shares * x, shares * y)
    least = np.inf
    for box in site["site"]["obstructions"]:
        aside = shapely.distance(points, shapely.Polygon(box["outline"]))
        over = np.zeros(STEPS)
        if "bottom" in box:
            bottom, top = (float(box[k][:-2]) for k in ("bottom", "top"))
            over = np.maximum(0.0, np.maximum(bottom - shares * rise, shares * rise - top))
        least = min(least, float(np.maximum(aside, over).min()))
    return least - RADIUS


# Points lie 0.125 mm apart at most, and no distance changes faster than the pipe runs; a round
# corner is drawn outside its circle by up to 0.03 % of a reach of some metres.
NEAR = 0.0002


@settings(max_examples=some(80))
@given(sites())
def test_free_space_is_that_of_the_nearest_of_many_points(site: dict[str, Any]) -> None:
    case = Case.of(parse_layout(site), default_pack())
    plug = case.plugs[0]
    found = JacketClearance().judge_plug(case, plug)
    expected = sampled(site, plug.station)
    assert found.measured is not None
    slack = NEAR + 0.0004 * (expected + RADIUS)
    assert found.measured.value == pytest.approx(max(0.0, expected), abs=slack)


@settings(max_examples=some(50))
@given(sites(), st.integers(0, 20))
def test_a_place_that_is_offered_holds_when_the_plug_stands_there(
    site: dict[str, Any], twentieth: int
) -> None:
    case = Case.of(parse_layout(site), default_pack())
    rule, plug = JacketClearance(), case.plugs[0]
    for piece in range(len(case.network.pieces)):
        for low, high in rule.allows(case, plug).of(piece):
            spot = type(plug.spot)(piece, low + (high - low) * twentieth / 20)
            moved = case.moved(plug, spot)
            assert rule.judge_plug(moved, moved.plug("A")).outcome is Outcome.HOLDS


def test_a_riser_that_the_plan_shows_as_a_point_is_held_against_what_stands_beside_it() -> None:
    """Its outside is 0.10 - 0.03 = 0.07 m from the box all the way up; 6 in are asked for."""
    site: dict[str, Any] = {
        "format": "layoutcheck layout 1",
        "name": "An invented riser beside an invented column",
        "drawing": {"kind": "plan", "scale": "1 m"},
        "junctions": [
            {"id": "S", "at": [0, 0], "elevation": "0 m"},
            {"id": "E", "at": [0, 0], "elevation": "3 m"},
        ],
        "pipes": [
            {
                "id": "P",
                "from": "S",
                "to": "E",
                "size": "2 in",
                "length": "3 m",
                "material": "copper",
                "outside_diameter": f"{2 * RADIUS} m",
                "wall_thickness": "0.002 m",
            }
        ],
        "plugs": [{"id": "A", "pipe": "P", "station": "1.5 m", "jacket": "0.25 m"}],
        "site": {
            "obstructions": [{"id": "B", "outline": [[0.1, -1], [0.5, -1], [0.5, 1], [0.1, 1]]}]
        },
    }
    case = Case.of(parse_layout(site), default_pack())
    rule, plug = JacketClearance(), case.plugs[0]
    found = rule.judge_plug(case, plug)
    assert found.outcome is Outcome.BROKEN
    assert found.measured is not None
    assert found.measured.value == pytest.approx(0.07, abs=1e-9)
    assert rule.allows(case, plug).pieces() == []
