"""The three users' ways through the page, in a real browser, on the invented sites."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from layoutcheck.document import parse_layout
from layoutcheck.quantities import parse_length
from layoutcheck.report import check
from tests.page.conftest import DESK, FIXTURES, PHONE, Service
from tests.page.steps import (
    centre,
    choose,
    handle,
    kept,
    open_demo,
    open_file,
    plug_of,
    saved,
    settled,
    tab,
    verdict,
)
from tests.survey.made_buildings import building

pytestmark = [pytest.mark.browser, pytest.mark.slow]
Open = Callable[..., Any]


def judged(layout: dict[str, Any]) -> str:
    """Judge a layout with the library: what the page says must be the same."""
    return str(check(parse_layout(layout)).verdict.value).capitalize()


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_a_designer_drags_reads_why_and_moves_to_the_nearest(open_page: Open, size: Any) -> None:
    page = open_page(size)
    open_demo(page, "Heating riser")
    assert settled(page) == judged(kept(page)) == "Not compliant"
    # 20 ft 6 in is shut out, up to 1 ft back from there: dragged into the clear, and out again.
    _drag(page, "F1", 60, until="clear")
    assert plug_of(page, "F1")["pipe"] == "R-MAIN"  # it keeps to its pipe
    assert parse_length(plug_of(page, "F1")["station"]) <= parse_length("19 ft 6 in")
    _drag(page, "F1", -60, until="shut")
    assert "Ruled out by flowing-line-setback" in page.locator(".readout").inner_text()
    # Why: the finding, and what its rule asks.
    tab(page, "Findings")
    row = page.locator(".finding", has_text="flowing-line-setback").filter(has_text="plug F1")
    row.locator(".tell").click()
    assert page.locator(".lit circle").count() > 0
    row.locator(".rule").click()
    page.locator("dialog dt", has_text="Reason").wait_for()
    page.keyboard.press("Escape")
    # One press to the nearest place.
    choose(page, "plug F1")
    page.get_by_role("button", name="to the nearest place").first.click()
    settled(page)
    assert "In a clear stretch" in page.locator(".readout").inner_text()
    part = next(p for p in check(parse_layout(kept(page))).plugs if p.id == "F1")
    assert part.well_placed


def test_while_a_plug_is_dragged_only_plugs_are_sent(open_page: Open) -> None:
    page = open_page(DESK)
    open_demo(page, "Heating riser")
    settled(page)
    sent: list[tuple[str, int]] = []
    page.on("request", lambda r: sent.append((r.url, len(r.post_data or ""))))
    for across in (60, -60, 60, -60):
        _drag(page, "F1", across, until="clear" if across > 0 else "shut")
        assert settled(page) == judged(kept(page))
    short = [size for url, size in sent if "/v1/bases/" in url]
    whole = [size for url, size in sent if url.endswith("/v1/bases")]
    assert len(whole) == 1
    assert len(short) >= 2
    assert max(short) < min(whole) / 10


def _drag(page: Any, name: str, across: float, *, until: str) -> None:
    """Drag a plug sideways, and wait for what is said of its place."""
    x, y = centre(handle(page, name))
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + across, y, steps=12)
    assert f"Plug {name}" in page.locator(".readout").inner_text()
    page.mouse.up()
    settled(page)
    page.locator(f".readout.{until}").wait_for()


def test_a_designer_mends_all_undoes_and_reloads(open_page: Open) -> None:
    page = open_page()
    open_demo(page, "Heating riser")
    before = kept(page)
    tab(page, "Plugs")
    page.get_by_role("button", name="Mend all plugs").click()
    # What would change is shown first; nothing is moved before it is asked for.
    move = page.get_by_role("button", name="Move them all")
    move.wait_for(timeout=90_000)
    assert kept(page) == before
    move.click()
    page.locator(".said", has_text="moved together").wait_for(timeout=90_000)
    settled(page)
    report = check(parse_layout(kept(page)))
    assert all(p.well_placed for p in report.plugs)
    page.get_by_role("button", name="Undo", exact=True).click()
    assert kept(page) == before
    page.get_by_role("button", name="Redo", exact=True).click()
    after = kept(page)
    assert after != before
    page.reload()
    settled(page)
    assert kept(page) == after
    page.get_by_role("button", name="Undo", exact=True).click()  # the history survives too
    assert kept(page) == before


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_without_a_plan_it_tells_what_is_missing_and_what_came_nearest(
    open_page: Open, size: Any, tmp_path: Path
) -> None:
    data = building(3)
    data |= {"plugs": [], "work": {"duration": "3 h", "open": [{"valve": "V0"}]}}
    data["site"] = {k: v for k, v in data["site"].items() if k not in {"room", "rooms"}}
    file = tmp_path / "no-rooms.json"
    file.write_text(json.dumps(data), encoding="utf-8")
    page = open_page(size)
    open_file(page, file)
    settled(page)
    tab(page, "Plans")
    # What is told once all is tried: a slow machine may take longer over it than the page asks for.
    page.route("**/v1/plans", _unhurried)
    with page.expect_response("**/v1/plans", timeout=120_000):
        page.get_by_role("button", name="Propose plans").click()
    page.get_by_text("it leaves open what may decide otherwise").wait_for()
    settle, nearest = page.locator(".instead").all()
    assert "the room of the pipes" in settle.inner_text()
    assert "room-air, not known yet: Whether the air stays fit to breathe" in nearest.inner_text()
    panel = page.locator(".panel").bounding_box()
    for item in page.locator(".instead li").all():
        box = item.bounding_box()
        assert panel["x"] + 15 <= box["x"]
        assert box["x"] + box["width"] <= panel["x"] + panel["width"]


def _unhurried(route: Any) -> None:
    asked = json.loads(route.request.post_data)
    route.continue_(post_data=json.dumps(asked | {"time_limit": 60}))


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_a_contractor_has_a_plan_made_and_takes_the_sheet_along(open_page: Open, size: Any) -> None:
    page = open_page(size)
    open_demo(page, "Plant room")
    tab(page, "Plans")
    page.get_by_role("button", name="Propose plans").click()
    page.get_by_role("button", name="Take plan 1").click(timeout=120_000)
    assert settled(page) == judged(kept(page)) == "Compliant"
    sheet = saved(page, "Sheet for the crew (PDF)")
    assert sheet.read_bytes().startswith(b"%PDF")
    layout = json.loads(saved(page, "Layout document").read_text(encoding="utf-8"))
    assert layout == kept(page)
    page.reload()
    assert verdict(page) == "Compliant"
    # What the plan hangs on stays in sight until somebody says that it is done.
    notice = page.locator(".notice", has_text="holds only if")
    notice.get_by_role("button", name="done on site").click()
    assert notice.count() == 0


def test_a_contractor_changes_how_the_site_stands(open_page: Open) -> None:
    page = open_page()
    open_demo(page, "Cold riser")
    choose(page, "valve V-TANK")
    page.get_by_label("While freezing").select_option("closed")
    page.get_by_label("At work").select_option("closed")
    page.get_by_label("Tightness when closed").select_option("proven")
    choose(page, "outlet TAP-1W-K")
    page.get_by_label("While freezing").select_option("bleed")
    tab(page, "Site")
    page.locator("summary", has_text="Coolant").click()
    page.get_by_label("Standing upright").check()
    page.get_by_label("Open for").fill("1 h 45 min")
    page.get_by_label("Open for").press("Enter")
    assert settled(page) == judged(kept(page))
    layout = kept(page)
    valve = next(v for v in layout["valves"] if v["id"] == "V-TANK")
    assert (valve["state"], valve["tightness"]) == ("closed", "proven")
    assert layout["site"]["stock"][0]["upright"] is True
    assert layout["work"]["duration"] == "1 h 45 min"
    tap = next(o for o in layout["outlets"] if o["id"] == "TAP-1W-K")
    assert tap["state"] == {"freezing": "bleed", "working": None}
    broken = {f.rule for f in check(parse_layout(layout)).findings if f.outcome == "broken"}
    assert "cylinder-temperature" not in broken
    assert "no-flow-at-plug" not in broken


def test_a_plug_is_put_on_a_pipe_by_hand_and_taken_off(open_page: Open) -> None:
    page = open_page()
    open_demo(page, "Cold riser")
    count = len(kept(page)["plugs"])
    choose(page, "pipe R-8")
    page.get_by_role("button", name="Put a plug here").click()
    settled(page)
    assert len(kept(page)["plugs"]) == count + 1
    new = kept(page)["plugs"][-1]
    assert new["pipe"] == "R-8"
    page.get_by_role("button", name=f"Take plug {new['id']} off").click()
    settled(page)
    assert len(kept(page)["plugs"]) == count


def test_an_integrator_opens_files_and_is_told_what_is_wrong(
    open_page: Open, tmp_path: Path
) -> None:
    page = open_page()
    open_file(page, FIXTURES / "broken" / "bare-number.json")
    beside = page.locator(".text-desk .notes li")
    beside.first.wait_for()
    assert "Not judged" in page.locator(".verdict").inner_text()
    no_json = tmp_path / "torn.json"
    no_json.write_text('{"format": ')
    open_file(page, no_json)
    beside.filter(has_text="can not be read").first.wait_for()
    as_yaml = tmp_path / "small.yaml"
    # JSON is YAML, but for the test to mean something the first lines are YAML of their own.
    layout = json.loads((FIXTURES / "plant-room-mended.json").read_text())
    name = layout.pop("name")
    as_yaml.write_text(f"name: {json.dumps(name)}\n" + _as_yaml(layout))
    open_file(page, as_yaml)
    assert verdict(page) == "Compliant"
    assert kept(page) == {"name": name, **layout}
    bcf = saved(page, "Issues (BCF 3.0)")
    assert bcf.read_bytes().startswith(b"PK")
    assert saved(page, "Take-off (CSV)").read_bytes()


def _as_yaml(layout: dict[str, Any]) -> str:
    return "".join(f"{key}: {json.dumps(value)}\n" for key, value in layout.items())


def test_text_never_becomes_markup(open_page: Open, tmp_path: Path) -> None:
    page = open_page()
    layout = json.loads((FIXTURES / "plant-room-sketch.json").read_text())
    trap = "<img src=x onerror=\"document.title='caught'\"><b>x</b>"
    layout["name"] = trap
    layout["plugs"][0]["name"] = trap
    layout["plugs"][0]["id"] = trap
    file = tmp_path / "trap.json"
    file.write_text(json.dumps(layout))
    open_file(page, file)
    verdict(page)
    choose(page, f"plug {trap}")
    tab(page, "Plugs")
    assert page.locator("#page img, #page b").count() == 0
    assert trap in page.locator(".inspector h2").inner_text()
    assert "caught" not in page.title().replace(trap, "")


def test_with_the_keyboard_alone(open_page: Open) -> None:
    page = open_page()
    keys = page.keyboard
    page.locator(".sites button").first.wait_for()
    _tab_to(page, "Sketch of Cold riser")
    keys.press("Enter")
    settled(page)
    start = parse_length(plug_of(page, "LOW")["station"])
    _tab_to(page, "Plug LOW, place along pipe R-8")
    for _ in range(3):
        keys.press("ArrowRight")
    settled(page)
    moved = parse_length(plug_of(page, "LOW")["station"])
    assert moved - start == pytest.approx(3 * 0.0254, abs=1e-4)
    _tab_to(page, "Station")
    keys.press("Control+a")
    keys.type("2 ft 3 1/2 in")
    keys.press("Enter")
    assert plug_of(page, "LOW")["station"] == "2 ft 3 1/2 in"
    settled(page)
    _tab_to(page, "Undo")
    keys.press("Enter")
    assert parse_length(plug_of(page, "LOW")["station"]) == pytest.approx(moved, abs=1e-9)
    keys.press("Enter")
    assert parse_length(plug_of(page, "LOW")["station"]) == pytest.approx(start, abs=1e-9)
    _tab_to(page, "Findings")
    keys.press("ArrowRight")
    assert page.get_by_role("tab", name="Plugs").get_attribute("aria-selected") == "true"


def _tab_to(page: Any, label: str) -> None:
    """Press Tab until something of that name has the focus."""
    for _ in range(150):
        page.keyboard.press("Tab")
        found = page.evaluate(
            """() => { const e = document.activeElement; return (e.getAttribute('aria-label')
               ?? e.labels?.[0]?.querySelector('span')?.textContent ?? e.textContent) || ''; }"""
        )
        if found.strip().startswith(label):
            return
    raise AssertionError(f"the keyboard does not reach {label!r}")


@pytest.mark.parametrize(
    "text", ["2 ft", "4'-6 1/2\"", "30 in", "1/2 in", "0.75 m", "910 mm", "3' 4\"", "2 ft 0 3/8 in"]
)
def test_the_page_reads_stations_as_the_library_does(open_page: Open, text: str) -> None:
    page = open_page()
    open_demo(page, "Heating riser")
    choose(page, "plug F1")
    page.get_by_label("Station").fill(text)
    page.get_by_label("Station").press("Enter")
    assert plug_of(page, "F1")["station"] == text
    shown = float(handle(page, "F1").get_attribute("aria-valuenow"))
    assert shown == pytest.approx(parse_length(text), abs=1e-4)


@pytest.mark.parametrize("text", ["12", "2 feet 3 yards", "-4 ft", "", "1e9 m", "900 ft"])
def test_a_station_that_will_not_do_is_refused_in_place(open_page: Open, text: str) -> None:
    page = open_page()
    open_demo(page, "Heating riser")
    choose(page, "plug F1")
    before = plug_of(page, "F1")
    page.get_by_label("Station").fill(text)
    page.get_by_label("Station").press("Enter")
    assert page.locator(".field.faulty [role=alert]").count() == 1
    assert plug_of(page, "F1") == before


def test_the_edit_survives_the_service(browser: Any) -> None:
    service = Service()
    service.start()
    try:
        page = browser.new_context(viewport=DESK).new_page()
        page.goto(service.url)
        open_demo(page, "Plant room")
        name = kept(page)["plugs"][0]["id"]
        service.kill()
        choose(page, f"plug {name}")
        page.get_by_label("Station").fill("1 ft 2 in")
        page.get_by_label("Station").press("Enter")
        notice = page.locator(".notice.bad")
        notice.wait_for()
        assert "does not answer; your marks are kept here" in notice.inner_text()
        assert "Not judged" in page.locator(".verdict").inner_text()
        assert plug_of(page, name)["station"] == "1 ft 2 in"
        service.start()
        assert settled(page) == judged(kept(page))
        assert notice.count() == 0
        page.reload()
        verdict(page)
        assert plug_of(page, name)["station"] == "1 ft 2 in"
    finally:
        service.kill()


def test_requests_never_pile_up_and_the_newest_answer_stands(open_page: Open) -> None:
    page = open_page()
    open_demo(page, "Plant room")
    flying = {"now": 0, "most": 0, "all": 0}

    def slowly(route: Any) -> None:
        flying["now"] += 1
        flying["all"] += 1
        flying["most"] = max(flying["most"], flying["now"])
        page.wait_for_timeout(150)
        flying["now"] -= 1
        route.continue_()

    page.route("**/v1/glances", slowly)
    name = kept(page)["plugs"][0]["id"]
    handle(page, name).focus()
    for _ in range(25):
        page.keyboard.press("ArrowRight")
    settled(page)
    assert flying["most"] == 1
    assert flying["all"] < 25
    layout = kept(page)
    assert verdict(page) == judged(layout)
    shown = handle(page, name).get_attribute("aria-valuetext")
    assert layout["plugs"][0]["station"] in shown


def test_nothing_stale_is_called_clear(browser: Any) -> None:
    """With the service gone, an edit that changes what is judged must not leave a green place."""
    service = Service()
    service.start()
    try:
        page = browser.new_context(viewport=DESK).new_page()
        page.goto(service.url)
        open_demo(page, "Cold riser", twin="Mended")
        choose(page, "plug LOW")
        page.locator(".readout.clear").wait_for()
        service.kill()
        choose(page, "valve V-TANK")
        page.get_by_label("While freezing").select_option("open")
        page.locator(".notice.bad").wait_for()
        choose(page, "plug LOW")
        page.locator(".readout.unknown", has_text="Not judged").wait_for()
        assert page.locator(".plug.clear").count() == 0
        assert "Not judged" in page.locator(".verdict").inner_text()
    finally:
        service.kill()
