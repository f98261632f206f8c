"""The pressure in shut sections of whole layouts, by Korteweg's form, worked out by hand.

    dP = e V / sum V_i (1/K + D_i / (w_i E))       P = P0 + dP

e: ice takes 999.84/917 - 1 = 0.09034 more room than its water (handbook densities, from memory).
V: half of the plug's ice, for each face of a plug that looks into the section. K = 2.18 GPa, water
at 20 degC (CoolProp). E = 207 GPa steel, 125 GPa copper (from memory). Pipes: ASME B36.10M metric,
2 in sch 40 is 60.3 x 3.91 mm, 4 in 114.3 x 6.02; ASTM B88, 2 in type L is 2.125 x 0.070 in.

The volume of ice is taken from the project's own model: it is not what these tests are about.
A report gives four digits, so answers agree to 0.06 %. Sites are invented.
"""

from __future__ import annotations

import math
from typing import Any

import pytest

from layoutcheck.document.read import parse_layout
from layoutcheck.report import check_document
from layoutcheck.rules.case import Case
from layoutcheck.rules.estimates import freeze_of
from layoutcheck.rules.registry import default_pack
from tests.rules.test_cases import document

FOOT = 0.3048
PSI = 0.45359237 * 9.80665 / 0.0254**2
WEIGHT = 9806.65
EXPANSION = 999.84 / 917.0 - 1.0
WATER = 2.18e9
STEEL, COPPER = 207e9, 125e9
TWO_INCH = (0.0603 - 2 * 0.00391, 0.00391, STEEL)
FOUR_INCH = (0.1143 - 2 * 0.00602, 0.00602, STEEL)
TWO_COPPER = (2.125 * 0.0254 - 2 * 0.07 * 0.0254, 0.07 * 0.0254, COPPER)
WORK = {"open": [{"junction": "W"}], "duration": "2 h"}

Pipe = tuple[float, float, float]


def rise(ice: float, stretches: list[tuple[Pipe, float]]) -> float:
    """Work out Korteweg's form: stretches are (pipe, feet)."""
    give = 0.0
    for (bore, wall, modulus), feet in stretches:
        volume = math.pi / 4 * bore**2 * feet * FOOT
        give += volume * (1 / WATER + bore / (wall * modulus))
    return EXPANSION * ice / give


def judged(section: str, **layout: Any) -> tuple[str, float, dict[str, float]]:
    """Give the outcome and pressure of a section, and the model's ice at each plug."""
    written = document({"name": "trapped", "layout": {"work": WORK, **layout}})
    report = check_document(written)
    found = [f for f in report.findings if (f.rule, f.subject.id) == ("trapped-water", section)]
    names = [f.subject.id for f in report.findings if f.rule == "trapped-water"]
    assert len(found) == 1, names
    assert found[0].measured is not None
    case = Case.of(parse_layout(written), default_pack())
    ice = {}
    for plug in case.plugs:
        answer = freeze_of(case, plug).answer
        assert answer is not None
        assert answer.ice_volume_in_hold is not None
        ice[plug.id] = answer.ice_volume_in_hold.high
    return found[0].outcome, found[0].measured.value, ice


CLOSE = 6e-4
TWO_PIPES = {"one": "S to W, 2 in, 60 ft", "two": "W to T, 2 in, 60 ft"}


def test_between_a_plug_and_a_closed_valve() -> None:
    """30 ft - 6 in of jacket to W, and 30 ft to the valve: 59.5 ft. From 60 psi."""
    outcome, pressure, ice = judged(
        "plug A + valve V",
        pipes=TWO_PIPES,
        sources={"main": "S"},
        plugs={"A": "one at 30 ft, jacket 12 in"},
        valves={"V": {"pipe": "two", "station": "30 ft", "state": "closed", "tightness": "proven"}},
    )
    wanted = 60 * PSI + rise(ice["A"] / 2, [(TWO_INCH, 59.5)])
    assert pressure == pytest.approx(wanted, rel=CLOSE)
    assert wanted > 200 * PSI
    assert outcome == "broken"


def test_between_two_plugs_both_push() -> None:
    """29.5 ft on either side of W; half of each plug's ice."""
    outcome, pressure, ice = judged(
        "plug A + plug B",
        pipes=TWO_PIPES,
        sources={"main": "S", "other": {"junction": "T", "pressure": "40 psi"}},
        plugs={"A": "one at 30 ft, jacket 12 in", "B": "two at 30 ft, jacket 12 in"},
    )
    wanted = 60 * PSI + rise((ice["A"] + ice["B"]) / 2, [(TWO_INCH, 59.0)])
    assert pressure == pytest.approx(wanted, rel=CLOSE)
    assert outcome == "broken"


def test_two_plugs_on_one_pipe_with_nothing_between_them() -> None:
    """20 ft from centre to centre, less two half jackets: 19 ft."""
    outcome, pressure, ice = judged(
        "plug A + plug B",
        pipes=TWO_PIPES,
        sources={"main": "S"},
        plugs={"A": "one at 20 ft, jacket 12 in", "B": "one at 40 ft, jacket 12 in"},
    )
    wanted = 60 * PSI + rise((ice["A"] + ice["B"]) / 2, [(TWO_INCH, 19.0)])
    assert pressure == pytest.approx(wanted, rel=CLOSE)
    assert outcome == "broken"


def test_both_faces_of_one_plug_on_a_ring() -> None:
    """A ring without any outlet: all of the plug's ice pushes into 119 ft of pipe."""
    outcome, pressure, ice = judged(
        "plug A",
        pipes={"half": "J to W, 2 in, 60 ft", "other": "J to W, 2 in, 60 ft"},
        plugs={"A": "half at 30 ft, jacket 12 in"},
    )
    assert pressure == pytest.approx(rise(ice["A"], [(TWO_INCH, 119.0)]), rel=CLOSE)
    assert outcome == "broken"


def test_the_lowest_place_of_a_section_sees_most() -> None:
    """Plug at 0 ft, the section goes 40 ft down to a cap: 40 ft of water on top of 60 psi."""
    outcome, pressure, ice = judged(
        "cap W + plug A",
        pipes={"level": "S to J, 2 in, 60 ft", "drop": "J to W, 2 in, 40 ft"},
        junctions={"W": {"elevation": "-40 ft", "fitting": "cap"}},
        sources={"main": "S"},
        plugs={"A": "level at 30 ft, jacket 12 in"},
    )
    wanted = 60 * PSI + 40 * FOOT * WEIGHT + rise(ice["A"] / 2, [(TWO_INCH, 69.5)])
    assert pressure == pytest.approx(wanted, rel=CLOSE)
    assert outcome == "broken"


def test_two_sizes_give_together() -> None:
    """29.5 ft of 2 in and 400 ft of 4 in."""
    _, pressure, ice = judged(
        "closed end T + plug A",
        pipes={"one": "S to W, 2 in, 60 ft", "wide": "W to T, 4 in, 400 ft"},
        sources={"main": "S"},
        plugs={"A": "one at 30 ft, jacket 12 in"},
    )
    wanted = 60 * PSI + rise(ice["A"] / 2, [(TWO_INCH, 29.5), (FOUR_INCH, 400.0)])
    assert pressure == pytest.approx(wanted, rel=CLOSE)


def test_copper_gives_more_than_steel() -> None:
    """29.5 ft of copper tube and 60 ft more."""
    copper = {"material": "copper", "wall": "type L"}
    _, pressure, ice = judged(
        "closed end T + plug A",
        pipes={
            "one": {"run": "S to W, 2 in, 60 ft", **copper},
            "two": {"run": "W to T, 2 in, 60 ft", **copper},
        },
        sources={"main": "S"},
        plugs={"A": "one at 30 ft, jacket 12 in"},
    )
    wanted = 60 * PSI + rise(ice["A"] / 2, [(TWO_COPPER, 89.5)])
    assert pressure == pytest.approx(wanted, rel=CLOSE)


@pytest.mark.parametrize(("feet", "outcome"), [(400.0, "holds"), (20.0, "broken")])
def test_a_great_deal_of_water_takes_the_ice_up(feet: float, outcome: str) -> None:
    """Whether the section stays under 200 psi, the limit for light valves and joints."""
    said, pressure, ice = judged(
        "closed end T + plug A",
        pipes={"one": "S to W, 2 in, 60 ft", "wide": f"W to T, 4 in, {feet} ft"},
        sources={"main": "S"},
        plugs={"A": "one at 30 ft, jacket 12 in"},
    )
    wanted = 60 * PSI + rise(ice["A"] / 2, [(TWO_INCH, 29.5), (FOUR_INCH, feet)])
    assert pressure == pytest.approx(wanted, rel=CLOSE)
    assert (wanted <= 200 * PSI) == (outcome == "holds")
    assert said == outcome


def test_the_start_is_the_higher_of_the_two_moments() -> None:
    """The main is shut for the work, but stands at 60 psi while the ice closes."""
    valve = {"state": {"freezing": "open", "working": "closed"}, "tightness": "proven"}
    _, pressure, ice = judged(
        "closed end T + plug A",
        pipes=TWO_PIPES,
        sources={"main": "S"},
        plugs={"A": "one at 30 ft, jacket 12 in"},
        valves={"V": {"pipe": "one", "station": "5 ft", **valve}},
    )
    wanted = 60 * PSI + rise(ice["A"] / 2, [(TWO_INCH, 89.5)])
    assert pressure == pytest.approx(wanted, rel=CLOSE)


def test_a_pipe_rated_lower_than_joints_sets_the_limit() -> None:
    """125 psi stated for the pipe, below the 200 psi of valves and joints."""
    report = check_document(
        document(
            {
                "name": "rated",
                "layout": {
                    "work": WORK,
                    "pipes": {
                        "one": "S to W, 2 in, 60 ft",
                        "two": {"run": "W to T, 2 in, 60 ft", "pressure_rating": "125 psi"},
                    },
                    "sources": {"main": "S"},
                    "plugs": {"A": "one at 30 ft, jacket 12 in"},
                },
            }
        )
    )
    found = next(f for f in report.findings if f.subject.id == "closed end T + plug A")
    assert found.required is not None
    assert found.required.value == pytest.approx(125 * PSI, rel=1e-6)


@pytest.mark.parametrize("air", ["14 degF", "-20 degF", "32 degF"])
def test_in_a_freezing_room_nobody_knows_how_far_the_ice_grows(air: str) -> None:
    """In air at or below freezing bare pipe freezes as far as it goes: no bound on its ice."""
    layout = {
        "pipes": {"one": "S to W, 2 in, 4000 ft", "two": "W to T, 2 in, 4000 ft"},
        "sources": {"main": "S"},
        "plugs": {"A": "one at 2000 ft, jacket 12 in"},
        "valves": {
            "V": {"pipe": "two", "station": "30 ft", "state": "closed", "tightness": "proven"}
        },
        "site": {"air_temperature": air},
    }
    report = check_document(document({"name": "cold", "layout": {"work": WORK, **layout}}))
    (shut,) = [
        f for f in report.findings if f.rule == "trapped-water" and "valve V" in f.subject.id
    ]
    assert shut.outcome == "undecided"
    assert "air warm enough to stop the ice beyond the jacket of A" in shut.missing
    assert report.verdict == "undecided"
