"""By which valve the opened part is filled: one with water behind it, the nearest to a source.

The layout is invented, and the answers are worked out by hand from its lengths.
"""

from __future__ import annotations

from typing import Any

import pytest

from layoutcheck.document import parse_layout
from layoutcheck.planning.order import filling_of
from layoutcheck.rules.case import Case
from layoutcheck.rules.registry import default_pack


def bypassed() -> dict[str, Any]:
    """MAIN A = B, and from B to C: a plugged pipe, a bypass of 20 ft and one of 100 ft.

    From C a closed branch leads to a dead end. Names are such that the alphabet would mislead.
    """
    steel = {"size": "NPS 2", "material": "carbon steel", "wall": "sch 40"}
    lengths = {
        "FEED": ("A", "B", "10 ft"),
        "LINE": ("B", "C", "30 ft"),
        "SHORT": ("B", "C", "20 ft"),
        "LONG": ("B", "C", "100 ft"),
        "DEAD": ("C", "D", "15 ft"),
    }
    at = {"A-DEAD": ("DEAD", "10 ft"), "B-LONG": ("LONG", "90 ft"), "Z-SHORT": ("SHORT", "10 ft")}
    return {
        "format": "layoutcheck layout 1",
        "name": "Invented bypasses",
        "junctions": [{"id": j, "elevation": "0 ft"} for j in "ABCD"],
        "pipes": [
            {"id": i, "from": a, "to": b, "length": n, **steel} for i, (a, b, n) in lengths.items()
        ],
        "sources": [{"id": "MAIN", "junction": "A", "kind": "main", "pressure": "60 psi"}],
        "valves": [
            {
                "id": i,
                "pipe": p,
                "station": s,
                "state": "closed",
                "kind": "gate",
                "tightness": "proven",
            }
            for i, (p, s) in at.items()
        ],
        "work": {"open": [{"junction": "C"}], "duration": "2 h"},
        "plugs": [{"id": "K", "pipe": "LINE", "station": "15 ft", "jacket": "1 ft"}],
    }


@pytest.mark.parametrize(
    ("kinds", "filled_by"),
    [
        ({}, "Z-SHORT"),  # 10 + 10 ft from the main; the other bypass valve 10 + 90 ft
        ({"Z-SHORT": "pressure reducing"}, "B-LONG"),  # a reducing valve can not be cracked open
        (
            {"Z-SHORT": "pressure reducing", "B-LONG": "pressure reducing"},
            None,
        ),  # only the dead branch is left
    ],
)
def test_the_nearest_valve_with_water_behind_it(
    kinds: dict[str, str], filled_by: str | None
) -> None:
    data = bypassed()
    for valve in data["valves"]:
        valve["kind"] = kinds.get(valve["id"], "gate")
    case = Case.of(parse_layout(data), default_pack())
    assert filling_of(case).valve == filled_by
