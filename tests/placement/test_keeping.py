"""Where a plug goes on holding the water back, and plugs that hold nothing back. Invented sites."""

from __future__ import annotations

import math
from typing import Any
from unittest.mock import patch

import pytest
from hypothesis import HealthCheck, assume, given, settings

from layoutcheck.document import parse_layout
from layoutcheck.placement import keeping, nearest, place_plug
from layoutcheck.placement.keeping import drained
from layoutcheck.report.run import check
from layoutcheck.report.text import full_text
from layoutcheck.rules.case import Case
from layoutcheck.rules.registry import default_pack
from tests.oracles.strategies import documents
from tests.oracles.test_nearest_oracles import is_clear, samples_of
from tests.sizes import some

STEEL = {"size": "NPS 4", "material": "carbon steel", "wall": "sch 40"}


def two_risers(plug: dict[str, Any], **more: Any) -> dict[str, Any]:
    """Draw a main, shut at work, to the work at W; behind W a run to T, under two dead risers.

    MAIN -- D, 20 ft, V at 10 ft -- W (work) -- A, 10 ft -- T -- B, 30 ft up (vent)
                                                              \\- C, 30 ft up (vent)
    """
    low, high = "0 ft", "30 ft"
    ends = {"D": ("M", "W", "20 ft"), "A": ("W", "T", "10 ft")}
    ends |= {"B": ("T", "BT", "30 ft"), "C": ("T", "CT", "30 ft")}
    return {
        "format": "layoutcheck layout 1",
        "name": "two dead risers behind the work (invented)",
        "units": "imperial",
        "junctions": [
            *({"id": j, "elevation": low} for j in ("M", "W")),
            {"id": "T", "elevation": low, "fitting": "tee"},
            *({"id": j, "elevation": high} for j in ("BT", "CT")),
        ],
        "pipes": [
            {"id": i, "from": a, "to": b, "length": long} | STEEL
            for i, (a, b, long) in ends.items()
        ],
        "valves": [
            {
                "id": "V",
                "pipe": "D",
                "station": "10 ft",
                "state": {"freezing": "open", "working": "closed"},
                "tightness": "proven",
            }
        ],
        "outlets": [{"id": f"V{j}", "junction": j, "state": "locked off"} for j in ("BT", "CT")],
        "sources": [{"id": "MAIN", "junction": "M", "kind": "main", "pressure": "40 psi"}],
        "site": {"water_temperature": "55 degF", "clear_space": "20 in"},
        "work": {"open": [{"junction": "W"}], "duration": "2 h"},
        "plugs": [{"id": "K", "jacket": "12 in"} | plug],
    } | more


def test_the_nearest_place_lets_a_riser_drain_and_a_farther_one_does_not() -> None:
    # The jacket's centre must keep 6 + 6 in from the tee and from the bad weld at 9 ft. From the
    # mark, 3 in short of the tee, 12 in up B is 15 in away; 8 ft along A is 21 in away.
    # Up in B the plug lets C drain: 30 ft of bore 4.026 in (ASME B36.10M), 8.213e-3 m2 x 9.144 m
    # = 75.1 L, and the first half foot of B.
    weld = {"id": "W1", "kind": "weld", "defective": True, "pipe": "A", "station": "9 ft"}
    site = two_risers({"pipe": "A", "station": "9 ft 9 in"}, fittings=[weld])
    case = Case.of(parse_layout(site), default_pack())
    placing = place_plug(case, case.plugs[0])
    assert placing.nearest is not None
    assert placing.nearest.pipe in {"B", "C"}
    assert placing.nearest.travel == pytest.approx(15 * 0.0254, abs=1e-6)
    kept = placing.keeping
    assert kept is not None
    assert kept.pipe == "A"
    assert kept.station == pytest.approx(8 * 0.3048, abs=1e-6)
    more = drained(case.moved(case.plugs[0], placing.nearest.spot)) - drained(case)
    bore = math.pi * (4.026 * 0.0254) ** 2 / 4
    assert more == pytest.approx(bore * (30 + 0.5) * 0.3048, rel=1e-3)
    text = " ".join(full_text(check(parse_layout(site))).split())
    assert "keeps the water back: A, tape 8 ft (2.438 m) from W" in text
    assert "USELESS" not in text


def test_a_plug_behind_which_there_is_nothing_is_useless() -> None:
    # On D the shut valve is between the plug and the main; the pipe between them lies level.
    site = two_risers({"pipe": "D", "station": "15 ft"})
    report = check(parse_layout(site))
    assert not report.plugs[0].holds_back
    assert "USELESS as marked" in full_text(report)
    between = two_risers({"pipe": "A", "station": "5 ft"})
    assert check(parse_layout(between)).plugs[0].holds_back


@settings(max_examples=some(80), suppress_health_check=list(HealthCheck))
@given(documents(plugs=(1, 2)))
def test_no_nearer_place_keeps_the_water_back(document: dict[str, Any]) -> None:
    case = Case.of(parse_layout(document), default_pack())
    plug, bucket = case.plugs[0], 1e-4
    with patch.object(keeping, "BUCKET", bucket), patch.object(nearest, "BUCKET", bucket):
        placing = place_plug(case, plug)
        kept = placing.keeping
    assume(placing.nearest is not None and placing.nearest.travel > 1e-6)
    assert placing.nearest is not None
    most = drained(case) + bucket
    if drained(case.moved(plug, placing.nearest.spot)) <= most:
        assert kept is None
        return
    travel = math.inf if kept is None else kept.travel
    if kept is not None:
        assert drained(case.moved(plug, kept.spot)) <= most + 1e-8
        assert is_clear(case, placing, kept.spot)
    pieces = set(placing.allowed.pieces.tolist())
    for spot in samples_of(case, placing):
        if spot.piece in pieces and is_clear(case, placing, spot):
            far = case.worlds.along(plug.spot).at(case.network, spot)
            assert far >= travel - 5e-6 or drained(case.moved(plug, spot)) > most - 1e-8
