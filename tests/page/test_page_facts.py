"""What the report tells stands on the page as it is meant: proposals, doubts, coolant."""

from __future__ import annotations

import json
import unicodedata
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from layoutcheck.document import parse_layout
from layoutcheck.report import check
from tests.page.conftest import DESK, FIXTURES, PHONE
from tests.page.steps import (
    centre,
    choose,
    handle,
    kept,
    open_demo,
    open_file,
    plug_of,
    settled,
    tab,
    verdict,
)

pytestmark = [pytest.mark.browser, pytest.mark.slow]
Open = Callable[..., Any]

ALARM = ("rgb(138, 53, 10)", "rgb(168, 67, 15)")  # --short and --short-line of look.css


def _row(rows: list[dict[str, Any]], name: str) -> dict[str, Any]:
    return next(r for r in rows if r["id"] == name)


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_a_proposal_is_shown_whole_before_it_is_taken(open_page: Open, size: Any) -> None:
    page = open_page(size)
    open_demo(page, "Heating riser")
    before = kept(page)
    mending = check(parse_layout(before)).mending
    assert mending is not None
    assert {a.kind for a in mending.actions} == {"make outlet a bleed", "prove valve"}
    tab(page, "Plugs")
    page.get_by_role("button", name="Mend all plugs").click()
    shown = page.locator(".proposal")
    shown.wait_for(timeout=90_000)
    text = " ".join(shown.inner_text().split())
    assert [t for t in (mending.says, *mending.why) if t not in text] == []
    assert mending.drain_before is not None
    assert mending.drain_after is not None
    assert f"{mending.drain_before.shown} with the marks" in text
    assert f"{mending.drain_after.shown} with this" in text
    assert "Cut off besides nothing" in text
    assert "Station somebody at outlet DC-R" in text
    assert "Prove valve V-SHOP-R tight" in text
    assert kept(page) == before
    shown.get_by_role("button", name="Leave all as it is").click()
    assert shown.count() == 0
    assert kept(page) == before


def test_what_a_proposal_asks_for_stays_in_sight_and_is_not_noted_as_done(open_page: Open) -> None:
    page = open_page()
    open_demo(page, "Heating riser")
    before = kept(page)
    tab(page, "Plugs")
    _take(page)
    notice = page.locator(".notice", has_text="holds only if")
    assert "Prove valve V-SHOP-R tight" in notice.inner_text()
    after = kept(page)
    # Only a person at the valve can prove it: the page notes nothing of the kind.
    assert _row(after["valves"], "V-SHOP-R") == _row(before["valves"], "V-SHOP-R")
    state = _row(after["outlets"], "DC-R")["state"]
    assert state == {"freezing": "bleed", "working": "locked off"}
    assert {p.id for p in check(parse_layout(after)).plugs if p.well_placed} == {"F1", "F2"}
    # The conditions go and come with what they belong to.
    page.get_by_role("button", name="Undo", exact=True).click()
    assert notice.count() == 0
    page.get_by_role("button", name="Redo", exact=True).click()
    notice.wait_for()
    choose(page, "plug F1")
    page.get_by_label("Station").fill("19 ft")
    page.get_by_label("Station").press("Enter")
    page.get_by_role("button", name="Undo", exact=True).click()
    assert notice.count() == 1


def _take(page: Any) -> None:
    page.get_by_role("button", name="Mend all plugs").click()
    page.get_by_role("button", name="Move them all").click(timeout=90_000)
    settled(page)


def test_no_estimate_is_shown_where_flow_or_place_is_broken(open_page: Open) -> None:
    page = open_page()
    open_demo(page, "Cold riser")
    parts = check(parse_layout(kept(page))).plugs
    broken = next(p for p in parts if p.freeze.left_out)
    choose(page, f"plug {broken.id}")
    page.locator(".inspector", has_text="No estimate of its freeze: broken").wait_for()
    told = page.locator(".inspector").inner_text()
    assert ", ".join(broken.freeze.left_out) in told
    assert "frozen through after" not in told


def test_a_well_placed_plug_is_never_in_the_alarm_colour(open_page: Open) -> None:
    page = open_page()
    open_demo(page, "Heating riser")
    tab(page, "Plugs")
    _take(page)
    labels = page.locator(".scene text", has_text="well placed")
    assert labels.count() == 2
    for label in labels.all():
        assert label.evaluate("e => getComputedStyle(e).fill") not in ALARM
    assert page.locator(".scene .m-jacket-not-well-placed").count() == 0
    assert page.locator(".scene .m-jacket").count() == 2
    assert page.locator(".plug.clear").count() == 2
    for name in ("F1", "F2"):
        choose(page, f"plug {name}")
        edge = page.locator(".readout").evaluate("e => getComputedStyle(e).borderLeftColor")
        assert edge not in ALARM


def _without_lengths(tmp_path: Path) -> Path:
    layout = json.loads((FIXTURES / "heating-riser-sketch.json").read_text())
    layout["drawing"].pop("scale", None)
    for pipe in layout["pipes"]:
        for field in ("length", "size", "material", "wall"):
            pipe.pop(field, None)
    file = tmp_path / "no-lengths.json"
    file.write_text(json.dumps(layout))
    return file


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_pipes_of_unknown_length_are_shown_and_tell_no_station(
    open_page: Open, size: Any, tmp_path: Path
) -> None:
    page = open_page(size)
    open_file(page, _without_lengths(tmp_path))
    assert settled(page) == "Not compliant"
    before = kept(page)
    # A place on the drawing tells no station here: a drag moves nothing.
    choose(page, "plug F1")
    page.wait_for_timeout(300)
    x, y = centre(handle(page, "F1"))
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 60, y, steps=6)
    page.mouse.up()
    page.locator(".said", has_text="type it").wait_for()
    assert kept(page) == before
    handle(page, "F1").focus()
    page.keyboard.press("End")
    assert kept(page) == before
    # Longer than all that is known of the pipe, and not refused.
    page.get_by_label("Station").fill("40 ft")
    page.get_by_label("Station").press("Enter")
    assert plug_of(page, "F1")["station"] == "40 ft"
    choose(page, "pipe L-1")
    form = page.locator(".inspector")
    assert "size not stated, length not stated" in form.inner_text()
    count = len(kept(page)["plugs"])
    form.get_by_role("button", name="Put a plug here").click()
    assert len(kept(page)["plugs"]) == count
    form.get_by_label("Length").fill("30 ft")
    form.get_by_label("Length").press("Enter")
    form.get_by_label("Size").fill("NPS 3")
    form.get_by_label("Size").press("Enter")
    settled(page)
    assert "30 ft long" in form.inner_text()
    pipe = _row(kept(page)["pipes"], "L-1")
    assert (pipe["length"], pipe["size"]) == ("30 ft", "NPS 3")


def test_nitrogen_is_counted_in_vessels_by_what_they_hold(open_page: Open, tmp_path: Path) -> None:
    layout = json.loads((FIXTURES / "plant-room-mended.json").read_text())
    for plug in layout["plugs"]:
        plug["coolant"] = "nitrogen"
    layout["site"]["stock"] = [{"coolant": "nitrogen", "cylinders": 2, "volume_each": "160 L"}]
    file = tmp_path / "nitrogen.json"
    file.write_text(json.dumps(layout))
    page = open_page()
    open_file(page, file)
    settled(page)
    parts = check(parse_layout(layout)).plugs
    part = next(p for p in parts if p.freeze.coolant is not None and not p.freeze.left_out)
    assert part.freeze.coolant is not None
    choose(page, f"plug {part.id}")
    page.locator(".inspector", has_text=part.freeze.coolant.comes_in).wait_for()
    assert "vessel" in part.freeze.coolant.comes_in
    tab(page, "Site")
    page.locator("summary", has_text="Coolant").click()
    assert page.get_by_label("Liquid in each").input_value() == "160 L"
    page.get_by_label("Vessels").fill("3")
    page.get_by_label("Vessels").press("Enter")
    page.get_by_role("button", name="State the carbon dioxide on hand").click()
    verdict(page)
    stock = kept(page)["site"]["stock"]
    assert stock[0] == {"coolant": "nitrogen", "cylinders": 3, "volume_each": "160 L"}
    assert stock[1]["cylinders"] == 0  # nothing is on hand until somebody says how many


def test_what_to_do_first_is_told_in_order(open_page: Open) -> None:
    page = open_page()
    open_demo(page, "Heating riser")
    actions = check(parse_layout(kept(page))).actions
    assert actions
    page.get_by_role("button", name="What to do first").click()
    shown = page.get_by_label("What to do first")
    shown.locator("li").first.wait_for(timeout=90_000)
    assert [" ".join(t.split()) for t in shown.locator("li").all_inner_texts()] == [
        " ".join(f"{a.what} {a.why}".split()) for a in actions
    ]
    # From then on the findings stand in the same order, each with the number of its action.
    report = check(parse_layout(kept(page)))
    rows = page.locator(".findings .finding")
    told = [rows.nth(i).locator(".head").inner_text().split()[0] for i in range(rows.count())]
    numbers = [int(n) for n in told]
    assert numbers == sorted(f.action for f in report.findings if f.action is not None)
    choose(page, "plug F1")
    page.get_by_label("Station").fill("19 ft")
    page.get_by_label("Station").press("Enter")
    settled(page)
    assert shown.count() == 0  # it was told of another layout


# ISO 216 and ANSI/ASME Y14.1, from memory, in points; Chromium rounds to whole pixels of 0.75.
@pytest.mark.parametrize(("paper", "size"), [("A4", (595.3, 841.9)), ("Letter", (612.0, 792.0))])
def test_the_printer_gets_drawing_and_findings(
    open_page: Open, paper: str, size: tuple[float, float], require: Any, tmp_path: Path
) -> None:
    pypdf = require.module("pypdf")
    page = open_page()
    open_demo(page, "Heating riser")
    tab(page, "Plugs")  # whatever tab is open
    file = tmp_path / "printed.pdf"
    page.pdf(path=str(file), format=paper)
    sheets = pypdf.PdfReader(file).pages
    for sheet in sheets:
        assert (sheet.mediabox.width, sheet.mediabox.height) == pytest.approx(size, abs=1.0)
    text = _flat("".join(s.extract_text() for s in sheets))
    report = check(parse_layout(kept(page)))
    bad = [f for f in report.findings if f.outcome in {"broken", "undecided"}]
    wanted = [*(f.rule for f in bad), *(f.says for f in bad), *report.cautions, report.deference]
    wanted += ["Not compliant", "R-MAIN NPS 3"]  # the last is a label of the drawing
    assert [w for w in wanted if _flat(w) not in text] == []
    assert "Undo" not in text
    assert page.get_by_role("tab", name="Plugs").get_attribute("aria-selected") == "true"
    page.locator(".panel", has_text="Plug F1").wait_for()
    assert page.locator(".panel .findings").count() == 0


def _flat(text: str) -> str:
    """Leave out white space and ligatures: where a line is broken is the printer's business."""
    return "".join(unicodedata.normalize("NFKC", text).split())
