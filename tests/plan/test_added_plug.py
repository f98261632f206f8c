"""A plug more, worked by hand: what is proposed can be carried out, and passes as printed.

An invented ring. A main at A feeds tee T by a foot of 2 in pipe; from T two pipes of 20 ft, R1 and
R2, lead to flange W, which is opened. Plug F1 (jacket 12 in) is marked on R1, 10 ft from T:

    A --1 ft-- T ==== R1: 20 ft, F1 at 10 ft ==== W (opened, with drain cock DC)
               T ==== R2: 20 ft ================= W

- F1 alone can not do. On R1 the way by R2 is left, on R2 that by R1. On the foot of pipe before T
  one plug would shut both, but a jacket of 12 in and a straight margin of 6 in at each end take
  24 in: there are 12 in.
- There is no valve to close. So one plug more is frozen, on R2, as F1 is: of carbon dioxide, with a
  jacket of 12 in, on NPS 2 pipe. It is named F2, the first name that is free.
- On R2 its centre stands from 6 in + 6 in = 12 in after T to 20 ft - 12 in = 19 ft. Nothing flows
  (there is one way in, and DC is shut until the ice has closed), no valve and no cap is near, and
  F1 is farther than 2 in x 12 in/in = 24 in: by way of T 10 ft - 6 in + 6 in at the least.
- At the work nothing drains by gravity: all pipe lies level with it.
"""

from __future__ import annotations

from typing import Any

import pytest

from layoutcheck.document import parse_layout
from layoutcheck.report.model import MendingPart
from layoutcheck.report.run import check
from layoutcheck.report.text import full_text
from layoutcheck.rules.outcome import Outcome
from tests.plan.small_sites import FACTS

INCH = 0.0254
FOOT = 12 * INCH
FINE = {Outcome.HOLDS, Outcome.DOES_NOT_APPLY}


def ring(units: str = "imperial") -> dict[str, Any]:
    """Give the ring as a document."""
    ends = {"F": ("A", "T", "1 ft"), "R1": ("T", "W", "20 ft"), "R2": ("T", "W", "20 ft")}
    return {
        "format": "layoutcheck layout 1",
        "name": "An invented ring with one plug too few",
        "units": units,
        "site": FACTS | {"material": "carbon steel", "wall": "40", "covering": "bare"},
        "junctions": [
            {"id": "A", "elevation": "0 ft"},
            {"id": "T", "elevation": "0 ft", "fitting": "tee"},
            {"id": "W", "elevation": "0 ft"},
        ],
        "pipes": [
            {"id": name, "from": a, "to": b, "length": long, "size": "NPS 2"}
            for name, (a, b, long) in ends.items()
        ],
        "sources": [{"id": "main", "junction": "A", "kind": "main", "pressure": "40 psi"}],
        "outlets": [{"id": "DC", "junction": "W", "state": "bleed", "meant": "place"}],
        "plugs": [{"id": "F1", "pipe": "R1", "station": "10 ft", "jacket": "12 in"}],
        "work": {
            "open": [{"junction": "W"}],
            "duration": "2 h",
            "if_a_plug_goes": "The invented watchman shuts the invented main.",
        },
    }


def proposed(units: str = "imperial") -> MendingPart:
    """Give what is proposed for the ring."""
    mending = check(parse_layout(ring(units))).mending
    assert mending is not None
    return mending


def test_one_plug_more_is_proposed_with_all_that_it_takes() -> None:
    found = proposed()
    assert found.status == "addition"
    assert found.actions == ()
    one, two = sorted(found.moves, key=lambda m: m.plug)
    assert (one.plug, one.added, one.pipe, one.travel.value) == ("F1", False, "R1", 0.0)
    assert (two.plug, two.added, two.pipe, two.from_junction) == ("F2", True, "R2", "T")
    assert (two.size, two.coolant) == ("NPS 2", "carbon dioxide")
    assert two.jacket.value == pytest.approx(12 * INCH, abs=1e-9)
    assert found.drain_after is not None
    assert found.drain_after.value == 0.0
    assert 12 * INCH - 1e-6 <= two.station.value <= 19 * FOOT + 1e-6


@pytest.mark.parametrize("units", ["imperial", "metric"])
def test_it_is_carried_out_and_checked_as_printed(units: str) -> None:
    found = proposed(units)
    for number in (0, 1):
        made = found.document
        assert made is not None
        for row in made["plugs"]:
            move = next(m for m in found.moves if m.plug == row["id"])
            text = [t.removesuffix(")") for t in move.tape.shown.split(" (")][number]
            row |= {"pipe": move.pipe, "station": text}
        after = check(parse_layout(made))
        asked = {f.rule for f in after.findings if f.outcome not in FINE}
        # The second text is of the other system: that is asked about, once, and nothing else.
        assert asked <= ({"mixed-units"} if number else set()), full_text(after)
        assert after.mending is None
    assert {p["id"] for p in (made or {})["plugs"]} == {"F1", "F2"}
