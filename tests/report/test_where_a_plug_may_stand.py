"""Where a plug may stand is a word of its own, and 'impossible' is said only when it is proven.

By hand: a line of 10 ft from a main at S to a cap at E, with the work at its end. A plug (jacket
12 in, 2 in pipe: 24 in to the cap) may stand from 12 in (6 in of jacket, 6 in of margin) to
10 ft - 24 in - 6 in = 90 in. All sites are invented.
"""

from __future__ import annotations

from typing import Any

import pytest

from layoutcheck.document import parse_layout
from layoutcheck.report.model import PlaceStatus
from layoutcheck.report.run import check
from tests.plan.small_sites import FACTS


def line(station: str, **more: Any) -> dict[str, Any]:
    """Give the line with a plug at a station."""
    pipe = {"id": "line", "from": "S", "to": "E", "length": "10 ft", "size": "NPS 2"}
    made: dict[str, Any] = {
        "format": "layoutcheck layout 1",
        "name": "An invented line",
        "site": FACTS | {"material": "carbon steel", "wall": "40"},
        "junctions": [
            {"id": "S", "elevation": "0 ft"},
            {"id": "E", "elevation": "0 ft", "fitting": "cap"},
        ],
        "pipes": [pipe],
        "sources": [{"id": "main", "junction": "S", "kind": "main", "pressure": "40 psi"}],
        "plugs": [{"id": "A", "pipe": "line", "station": station, "jacket": "12 in"}],
        "work": {"open": [{"junction": "E"}], "duration": "2 h"},
    }
    return made | more


@pytest.mark.parametrize(
    ("station", "place"),
    [("30 in", PlaceStatus.STAYS), ("90 in", PlaceStatus.STAYS), ("100 in", PlaceStatus.MOVES)],
)
def test_a_plug_stays_or_moves(station: str, place: PlaceStatus) -> None:
    (plug,) = check(parse_layout(line(station))).plugs
    assert plug.place is place
    assert (plug.nearest is None) is (place is PlaceStatus.STAYS)


def test_no_place_is_not_the_same_as_well_placed() -> None:
    """On a line of 3 ft, 12 in to 36 - 30 = 6 in: there is none."""
    short = line("18 in")
    short["pipes"][0]["length"] = "3 ft"
    (plug,) = check(parse_layout(short)).plugs
    assert plug.nearest is None
    assert plug.place is PlaceStatus.NONE


def test_nothing_is_impossible_while_a_fact_is_open() -> None:
    """Two such lines of 3 ft hold no plug; that is proven only once every fact is stated."""
    short = line("18 in")
    short["pipes"][0]["length"] = "3 ft"
    whole = check(parse_layout(short)).mending
    assert whole is not None
    assert whole.status == "impossible"
    short["site"] = {k: v for k, v in short["site"].items() if k != "clear_space"}
    open_ = check(parse_layout(short)).mending
    assert open_ is not None
    assert open_.status == "not settled"
    assert "free space" in open_.says
