"""What a lost plug lets out, in whole layouts, by Torricelli's law, worked out by hand.

    from a source:       v = sqrt(2 g h), Q = A v, time = floor x depth / Q
    from standing water: dh/dt = -(a / A) sqrt(2 g h), so the time to fall from h1 to h2 in a
                         column of area A over an opening a is (A/a) sqrt(2/g) (sqrt h1 - sqrt h2)

The soonest time counts: discharge 1, no friction (handbook range 0.6 to 1, from memory). Pipes:
ASME B36.10M metric, 2 in sch 40 has a bore of 52.48 mm, 4 in 102.26 mm. Sites are invented.
"""

from __future__ import annotations

import math
from typing import Any

import pytest

from layoutcheck.report import check_document
from layoutcheck.report.model import Finding
from tests.rules.test_cases import document

FOOT = 0.3048
INCH = 0.0254
PSI = 0.45359237 * 9.80665 / INCH**2
GRAVITY = 9.80665
WEIGHT = 1000 * GRAVITY
TWO = math.pi / 4 * 0.05248**2
FOUR = math.pi / 4 * 0.10226**2
CLOSET = {
    "id": "closet",
    "volume": "1500 ft3",
    "floor_area": "100 ft2",
    "height": "15 ft",
    "air_changes": "10 per hour",
    "below_ground": False,
    "carbon_dioxide_meter": True,
    "flood_depth": "1 in",
}
FLOOD = 100 * FOOT**2 * INCH  # m3


def loss(
    *, plug: str = "A", flood: str = "1 in", ready: str | None = None, **layout: Any
) -> Finding:
    """Judge plug-loss of a plug in a closet of 100 ft2 that an inch of water harms."""
    work = {"open": [{"junction": "W"}], "duration": "2 h", "if_a_plug_goes": ready}
    site = {"room": "closet", "rooms": [{**CLOSET, "flood_depth": flood}]}
    whole = {"work": work, "site": site, **layout}
    report = check_document(document({"name": "loss", "layout": whole}))
    found = [f for f in report.findings if (f.rule, f.subject.id) == ("plug-loss", plug)]
    assert len(found) == 1
    return found[0]


def seconds(finding: Finding) -> float:
    assert finding.measured is not None, finding.says
    return finding.measured.value


MAIN: dict[str, Any] = {
    "pipes": {"line": "S to W, 2 in, 60 ft"},
    "sources": {"main": "S"},
    "plugs": {"A": "line at 30 ft, jacket 12 in"},
}


def test_from_the_main() -> None:
    """60 psi is 42.2 m of water, 28.8 m/s, 62 L/s through 2 in: an inch on 100 ft2 in 4 s."""
    found = loss(**MAIN)
    flow = TWO * math.sqrt(2 * 60 * PSI / 1000)
    assert FLOOD / flow < 5
    assert seconds(found) == pytest.approx(FLOOD / flow, rel=1e-6)
    assert found.outcome == "undecided"
    assert found.missing == ("who stops the water, where and how, if plug A goes",)


def test_somebody_is_named_who_stops_it() -> None:
    found = loss(**MAIN, ready="Invented fitter stands at the main's valve and shuts it.")
    assert found.outcome == "holds"
    assert "Invented fitter" in found.says


def test_time_enough_in_a_deep_space() -> None:
    """The same flow takes more than 5 min to fill 100 ft2 to 80 in (80 x 3.8 s)."""
    found = loss(**MAIN, flood="80 in")
    assert seconds(found) == pytest.approx(80 * FLOOD / (TWO * math.sqrt(2 * 60 * PSI / 1000)))
    assert seconds(found) > 300
    assert found.outcome == "holds"


def test_standing_water_in_the_plugs_own_riser() -> None:
    """A riser of 400 ft, closed on top; the plug 10 ft up. 390 ft of 2 in pipe hold 257 L.

    An inch on 100 ft2 is 236 L. The water falls from 390 ft to what is left of it: A = a, so
    the time is sqrt(2/g) (sqrt h1 - sqrt h2).
    """
    found = loss(
        pipes={"riser": "W to E, 2 in, 400 ft"},
        junctions={"E": {"elevation": "400 ft"}},
        plugs={"A": "riser at 10 ft, jacket 12 in"},
    )
    top = 390 * FOOT
    left = top - FLOOD / TWO
    assert 0 < left < top
    wanted = math.sqrt(2 / GRAVITY) * (math.sqrt(top) - math.sqrt(left))
    assert seconds(found) == pytest.approx(wanted, rel=1e-6)
    assert found.outcome == "undecided"


def test_too_little_water_to_do_harm() -> None:
    """A riser of 40 ft: 30 ft of 2 in pipe hold 20 L, never the 236 L of an inch."""
    found = loss(
        pipes={"riser": "W to E, 2 in, 40 ft"},
        junctions={"E": {"elevation": "40 ft"}},
        plugs={"A": "riser at 10 ft, jacket 12 in"},
    )
    assert found.outcome == "holds"
    assert found.measured is None
    assert "too little" in found.says
    assert "(20 L)" in found.says
    assert math.isclose(30 * FOOT * TWO, 0.0198, abs_tol=5e-5)


def test_standing_water_in_two_sizes() -> None:
    """2 in from the plug at 10 ft to J at 20 ft, 4 in from there to 120 ft.

    The 236 L come out of the 4 in pipe alone: 100 ft of it hold 250 L.
    """
    found = loss(
        pipes={"low": "W to J, 2 in, 20 ft", "high": "J to E, 4 in, 100 ft"},
        junctions={"J": {"elevation": "20 ft"}, "E": {"elevation": "120 ft"}},
        plugs={"A": "low at 10 ft, jacket 12 in"},
    )
    top = 110 * FOOT
    left = top - FLOOD / FOUR
    assert left > 10 * FOOT
    wanted = FOUR / TWO * math.sqrt(2 / GRAVITY) * (math.sqrt(top) - math.sqrt(left))
    assert seconds(found) == pytest.approx(wanted, rel=1e-6)


def test_water_beyond_a_valve_that_is_proven_does_not_come() -> None:
    """As before, a valve 10 ft into the 4 in pipe: 10 ft of either size are left."""
    found = loss(
        pipes={"low": "W to J, 2 in, 20 ft", "high": "J to E, 4 in, 100 ft"},
        junctions={"J": {"elevation": "20 ft"}, "E": {"elevation": "120 ft"}},
        valves={
            "V": {"pipe": "high", "station": "10 ft", "state": "closed", "tightness": "proven"}
        },
        plugs={"A": "low at 10 ft, jacket 12 in"},
    )
    assert 10 * FOOT * (TWO + FOUR) < FLOOD
    assert found.outcome == "holds"
    assert "too little" in found.says


def test_water_beyond_a_valve_that_nobody_proved_may_come() -> None:
    found = loss(
        pipes={"low": "W to J, 2 in, 20 ft", "high": "J to E, 4 in, 100 ft"},
        junctions={"J": {"elevation": "20 ft"}, "E": {"elevation": "120 ft"}},
        valves={"V": {"pipe": "high", "station": "10 ft", "state": "closed"}},
        plugs={"A": "low at 10 ft, jacket 12 in"},
    )
    assert found.outcome == "undecided"


def test_a_weak_source_under_standing_water_goes_on_for_ever() -> None:
    """A vessel at 2 psi below a riser of 30 ft: what stands above governs, and it is fed."""
    found = loss(
        pipes={"riser": "X to J, 2 in, 30 ft", "drop": "J to W, 2 in, 30 ft"},
        junctions={"J": {"elevation": "30 ft"}},
        sources={"vessel": {"junction": "X", "kind": "expansion vessel", "pressure": "2 psi"}},
        plugs={"A": "drop at 20 ft, jacket 12 in"},
    )
    flow = TWO * math.sqrt(2 * GRAVITY * 20 * FOOT)
    assert seconds(found) == pytest.approx(FLOOD / flow, rel=1e-6)
    assert "for as long as the source is on" in found.says


def test_of_two_plugs_each_is_lost_alone() -> None:
    """B stands further up the same riser: if A goes, only the 9 ft or so between them drain."""
    found = loss(
        pipes={"riser": "W to E, 2 in, 400 ft"},
        junctions={"E": {"elevation": "400 ft"}},
        plugs={"A": "riser at 10 ft, jacket 12 in", "B": "riser at 20 ft, jacket 12 in"},
    )
    assert found.outcome == "holds"
    assert "too little" in found.says


def test_a_plug_that_holds_nothing_back() -> None:
    """Nothing stands over the plug: all pipe lies at one height and no source is there."""
    found = loss(
        pipes={"line": "E to W, 2 in, 60 ft"},
        plugs={"A": "line at 30 ft, jacket 12 in"},
    )
    assert found.outcome == "does not apply"


@pytest.mark.parametrize(
    ("gone", "missing"),
    [
        ("floor_area", "floor area of room closet"),
        ("flood_depth", "depth of water that does harm in room closet"),
    ],
)
def test_what_is_not_known_of_the_room_is_missing(gone: str, missing: str) -> None:
    room = {k: v for k, v in CLOSET.items() if k != gone}
    report = check_document(
        document(
            {
                "name": "loss",
                "layout": {
                    **MAIN,
                    "work": {"open": [{"junction": "W"}], "duration": "2 h"},
                    "site": {"room": "closet", "rooms": [room]},
                },
            }
        )
    )
    found = next(f for f in report.findings if f.rule == "plug-loss")
    assert found.outcome == "undecided"
    assert found.missing == (missing,)
