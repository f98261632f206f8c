"""A site begun on the page, by mouse, by finger and by keys, is the document that is typed."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
import yaml

from layoutcheck.document import parse_layout
from layoutcheck.report import check
from tests.page.conftest import DESK, PHONE
from tests.page.sheet import Finger, Keyboard, Mouse, begin
from tests.page.steps import kept, saved, verdict

pytestmark = [pytest.mark.browser, pytest.mark.slow]
Open = Callable[..., Any]

# Invented. Typed by hand from the same description as is drawn below: a riser of 60 ft with a tee
# at each third of it, two branches with a drop each, and a bent pipe on to the roof.
TYPED = """
format: layoutcheck layout 1
name: Kestrel House riser (invented)
drawing: {kind: riser, snap_within: 5}
junctions:
  - {id: J1, elevation: 0 ft}
  - {id: J2, elevation: 60 ft}
  - {id: J3, fitting: tee}
  - {id: J4}
  - {id: J5, fitting: tee}
  - {id: J6}
  - {id: J7, fitting: tee}
  - {id: J8}
  - {id: J9, fitting: tee}
  - {id: J10, fitting: cap}
  - {id: J11}
pipes:
  - {id: P1, from: J1, to: J3, size: 2 in, length: 20 ft}
  - {id: P2, from: J3, to: J5, size: 2 in, length: 20 ft}
  - {id: P4, from: J5, to: J2, size: 2 in, length: 20 ft}
  - {id: P3, from: J3, to: J7, size: 2 in, length: 20 ft}
  - {id: P6, from: J7, to: J4, size: 2 in, length: 20 ft}
  - {id: P5, from: J5, to: J9, size: 2 in, length: 15 ft}
  - {id: P8, from: J9, to: J6, size: 2 in, length: 15 ft}
  - {id: P7, from: J7, to: J8, size: 2 in, length: 6 ft}
  - {id: P9, from: J9, to: J10, size: 2 in, length: 4 ft}
  - {id: P10, from: J2, to: J11, size: 2 in, length: 12 ft}
sources: [{id: S1, junction: J1, kind: main, pressure: 60 psi}]
outlets:
  - {id: O1, junction: J4, state: locked off}
  - {id: O2, junction: J6}
  - {id: O3, junction: J8}
  - {id: O4, junction: J11}
valves: [{id: V1, pipe: P6, station: 10 ft, kind: gate}]
work: {open: [{valve: V1}], duration: 2 h}
plugs:
  - {id: A, pipe: P3, station: 10 ft, jacket: 12 in}
  - {id: B, pipe: P6, station: 15 ft, jacket: 12 in}
site: {material: carbon steel, clear_space: 12 in, water_temperature: 60 degF}
"""
ENDS = [(80, 40), (80, 80), (40, 10), (60, 140)]


def _draw(hand: Mouse) -> None:
    """Draw what is typed above: pipes of 2 in all, each with the length that is told of it."""
    hand.tool("Pipe")
    hand.put(hand.page.get_by_label("Next pipes: size"), "2 in")
    hand.run((0, 0), (0, 120), length="60 ft")
    hand.run((0, 40), (80, 40), length="40 ft")
    hand.run((0, 80), (80, 80), length="30 ft")
    hand.run((40, 40), (40, 10), length="6 ft")
    hand.run((40, 80), (40, 60), length="4 ft")
    hand.run((0, 120), (60, 120), (60, 140), length="12 ft")
    hand.tool("Source")
    hand.point(0, 0)
    hand.state("pressure", "60 psi")
    hand.tool("Outlet")
    for end in ENDS:
        hand.point(*end)
    hand.tool("Cap")
    hand.point(40, 60)
    hand.tool("Valve")
    hand.point(60, 40)
    hand.state("kind", "gate")
    hand.tool("Work")
    hand.point(60, 40)
    hand.tool("Plug")
    hand.point(20, 40)
    hand.point(70, 40)
    hand.state("elevation", "0 ft", of="junction J1")
    hand.state("elevation", "60 ft", of="junction J2")
    hand.choose("outlet O1")
    for moment in ("While freezing", "At work"):
        hand.put(hand.page.get_by_label(moment), "locked off")
    hand.for_site("site.material", "carbon steel")
    hand.for_site("site.clear_space", "12 in")
    hand.for_site("site.water_temperature", "60 degF")


def _unplaced(layout: dict[str, Any]) -> dict[str, Any]:
    """Leave out where things lie on the sheet: what is typed says nothing of that."""
    junctions = [{k: v for k, v in j.items() if k != "at"} for j in layout["junctions"]]
    pipes = [{k: v for k, v in p.items() if k != "via"} for p in layout["pipes"]]
    return {**layout, "junctions": junctions, "pipes": pipes}


def _in_order(layout: dict[str, Any]) -> dict[str, Any]:
    return {
        k: sorted(v, key=lambda x: x["id"]) if isinstance(v, list) else v for k, v in layout.items()
    }


@pytest.mark.parametrize(
    ("hand", "size"),
    [(Mouse, DESK), (Finger, PHONE), (Keyboard, DESK)],
    ids=["mouse", "finger at 390 px", "keyboard alone"],
)
def test_a_riser_of_ten_pipes_is_drawn_and_is_the_typed_document(
    open_page: Open, hand: type[Mouse], size: Any
) -> None:
    page = open_page(size)
    begin(page, "Kestrel House riser (invented)")
    page.get_by_role("button", name="Farther").click()
    _draw(hand(page))
    drawn, typed = kept(page), yaml.safe_load(TYPED)
    typed["units"] = "imperial"
    assert _in_order(_unplaced(drawn)) == _in_order(typed)
    # What is judged is the typed site: no rule asks where things lie on the sheet.
    mine, theirs = check(parse_layout(_unplaced(drawn))), check(parse_layout(typed))
    told = [(f.rule, f.subject, f.outcome, f.says) for f in mine.findings]
    assert told == [(f.rule, f.subject, f.outcome, f.says) for f in theirs.findings]
    assert verdict(page).lower() == check(parse_layout(drawn)).verdict.value
    sheet = saved(page, "Sheet for the crew (HTML)").read_text()
    assert "Kestrel House riser (invented)" in sheet
    assert json.loads(saved(page, "Layout document").read_text()) == drawn
