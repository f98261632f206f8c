"""The sheet beside the drawing: facts asked for, a picture under it, faults in the text, sizes."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from layoutcheck.document import parse_layout
from layoutcheck.report import glance
from layoutcheck.report.drawing.facts import Facts
from layoutcheck.report.drawing.key import key_entries
from tests.page.conftest import DESK, FIXTURES, PHONE
from tests.page.sheet import Mouse, begin
from tests.page.steps import kept, open_demo, open_file, saved, settled, tab, verdict

pytestmark = [pytest.mark.browser, pytest.mark.slow]
Open = Callable[..., Any]


def _tee(page: Any) -> Mouse:
    """Draw a riser with a branch: nothing but sizes and lengths is stated of it."""
    begin(page, "Three pipes (invented)")
    hand = Mouse(page)
    hand.tool("Pipe")
    hand.put(page.get_by_label("Next pipes: size"), "2 in")
    hand.run((0, 0), (0, 120), length="30 ft")
    hand.run((0, 60), (120, 60), length="40 ft")
    hand.tool("Source")
    hand.point(0, 0)
    hand.tool("Work")
    hand.point(120, 60)
    hand.tool("Plug")
    hand.point(60, 60)
    return hand


def _drag(page: Any, start: tuple[float, float], end: tuple[float, float]) -> None:
    page.mouse.move(*start)
    page.mouse.down()
    page.mouse.move(*end, steps=6)
    page.mouse.up()


# --- drawing -------------------------------------------------------------------------------------


def test_everything_is_chosen_moved_named_taken_off_and_undone(open_page: Open) -> None:
    page = open_page()
    hand = _tee(page)
    steps = [kept(page)]
    hand.tool("Choose")
    _drag(page, hand.at(0, 120), hand.at(30, 120))
    steps.append(kept(page))
    assert next(j for j in steps[-1]["junctions"] if j["id"] == "J2")["at"] == [30, 120]
    _drag(page, hand.at(60, 60), hand.at(90, 62))
    steps.append(kept(page))
    assert steps[-1]["plugs"][0]["station"] == "30 ft"  # 90 of 120 units of 40 ft
    hand.state("id", "branch", of="pipe P3")
    steps.append(kept(page))
    assert steps[-1]["plugs"][0]["pipe"] == "branch"
    hand.choose("pipe branch")
    _drag(page, hand.at(30, 60), hand.at(30, 80))  # a chosen pipe moves with its ends
    steps.append(kept(page))
    heights = {j["id"]: j["at"][1] for j in steps[-1]["junctions"]}
    assert heights == {"J1": 0, "J2": 120, "J3": 80, "J4": 80}
    page.locator(".board svg").focus()
    page.keyboard.press("Delete")
    steps.append(kept(page))
    assert [p["id"] for p in steps[-1]["pipes"]] == ["P1", "P2"]
    assert "plugs" not in steps[-1]
    assert "work" not in steps[-1]
    _same_by_undo_and_redo(page, steps)


def _same_by_undo_and_redo(page: Any, steps: list[dict[str, Any]]) -> None:
    for before in reversed(steps[:-1]):
        page.get_by_role("button", name="Undo", exact=True).click()
        assert kept(page) == before
    for after in steps[1:]:
        page.get_by_role("button", name="Redo", exact=True).click()
        assert kept(page) == after


def test_what_can_not_be_done_says_what_is_needed_first_and_shows_the_field(
    open_page: Open,
) -> None:
    page = open_page()
    begin(page, "One pipe (invented)")
    hand = Mouse(page)
    hand.tool("Pipe")
    hand.point(0, 0)
    hand.point(80, 0)
    hand.point(80, 0)
    page.locator(".inspector [data-field='length']:focus").wait_for()
    before = kept(page)
    hand.tool("Valve")
    hand.point(40, 0)
    assert "State the length of pipe P1 first" in page.locator(".said").inner_text()
    page.locator(".inspector [data-field='length']:focus").wait_for()
    assert kept(page) == before


def test_rooms_obstructions_and_what_is_asked_for_are_entered_where_it_is_asked(
    open_page: Open,
) -> None:
    page = open_page()
    hand = _tee(page)
    settled_sheet(page)
    asked = page.locator(".finding", has_text="jacket-clearance").locator(".tells button").first
    asked.click()
    field = page.locator(".panel [data-field='site.clear_space']:focus")
    field.wait_for()
    field.fill("12 in")
    field.press("Enter")
    tab(page, "Findings")
    settled_sheet(page)
    assert page.locator(".finding", has_text="jacket-clearance").count() == 0
    assert kept(page)["site"] == {"clear_space": "12 in"}
    page.locator(".finding", has_text="open-end").locator(".tells button").first.click()
    page.locator(".inspector [data-field='goes_on']:focus").wait_for()
    page.get_by_role("tab", name="Findings").click()
    page.locator(".finding", has_text="room-air").locator(".tells button").first.click()
    page.locator(".panel [data-field='site.rooms']").wait_for()
    page.get_by_role("button", name="Add a room").click()
    for name, value in {"floor_area": "200 ft2", "height": "10 ft"}.items():
        hand.put(page.locator(f".panel [data-field='site.rooms.{name}']"), value)
    site = kept(page)["site"]
    assert site["rooms"] == [{"id": "room 1", "floor_area": "200 ft2", "height": "10 ft"}]
    assert site["room"] == "room 1"
    hand.tool("Obstruction")
    for corner in ((40, 20), (80, 20), (80, 40), (40, 40), (40, 20)):
        hand.point(*corner)
    hand.state("bottom", "8 ft")
    assert kept(page)["site"]["obstructions"] == [
        {"id": "B1", "outline": [[40, 20], [80, 20], [80, 40], [40, 40]], "bottom": "8 ft"}
    ]


def settled_sheet(page: Any) -> str:
    """Wait for the verdict, and for what the drawing tells is not stated."""
    verdict(page)
    page.locator(".board").get_by_role("button", name="See it judged").and_(
        page.locator(":enabled")
    ).wait_for()
    page.wait_for_timeout(600)
    return verdict(page)


# --- a picture under it --------------------------------------------------------------------------


def _picture(kind: str) -> bytes:
    """Draw two lines as a picture, by ourselves: 200 by 100, a level one and an upright one."""
    if kind == "pdf":
        stream = b"2 w 20 30 m 180 30 l S 100 30 m 100 90 l S"
        parts = [
            b"<< /Type /Catalog /Pages 2 0 R >>",
            b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
            b"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 200 100] /Contents 4 0 R >>",
            b"<< /Length %d >>\nstream\n%s\nendstream" % (len(stream), stream),
        ]
        body, places = b"%PDF-1.4\n", []
        for number, part in enumerate(parts, 1):
            places.append(len(body))
            body += b"%d 0 obj\n%s\nendobj\n" % (number, part)
        table = b"".join(b"%010d 00000 n \n" % p for p in places)
        end = b"trailer << /Size 5 /Root 1 0 R >>\nstartxref\n%d\n%%%%EOF" % len(body)
        return body + b"xref\n0 5\n0000000000 65535 f \n" + table + end
    image = pytest.importorskip("PIL.Image")
    draw = pytest.importorskip("PIL.ImageDraw")
    made = image.new("RGB", (200, 100), "white")
    lines = draw.Draw(made)
    lines.line((20, 70, 180, 70), fill="black", width=2)
    lines.line((100, 70, 100, 10), fill="black", width=2)
    out = io.BytesIO()
    made.save(out, kind)
    return out.getvalue()


@pytest.mark.parametrize("kind", ["png", "jpeg", "pdf"])
def test_a_picture_lies_under_the_sheet_and_goes_nowhere_unasked(
    open_page: Open, tmp_path: Path, kind: str
) -> None:
    page = open_page()
    sent: list[str] = []
    page.on("request", lambda r: sent.append(r.post_data or "") if r.method == "POST" else None)
    begin(page, f"Traced from {kind} (invented)")
    file = tmp_path / f"riser.{kind}"
    file.write_bytes(_picture(kind))
    hand = Mouse(page)
    hand.tool("Picture")
    page.locator(".of-backing input[type=file]").first.set_input_files(str(file))
    image = page.locator("image.backing")
    image.wait_for(timeout=60_000)
    # 200 by 100 fills a sheet of 300 by 300: 1.5 units of the sheet for each of the file.
    before = image.bounding_box()
    k = float(page.locator(".board svg").get_attribute("data-camera").split()[0])
    assert before["width"] == pytest.approx(300 * k, rel=0.01)
    page.locator(".of-backing input[type=range]").fill("0.3")
    assert image.get_attribute("opacity") == "0.3"
    hand.point(30, 105)
    hand.point(270, 105)
    distance = page.get_by_label("Between the two points")
    distance.fill("48 ft")
    distance.press("Enter")
    # 240 units are 48 ft, so that one is 2.4 in; a pipe without a typed length is measured so.
    assert kept(page)["drawing"]["scale"] == "2.4 in"
    hand.tool("Pipe")
    for at in ((30, 110), (280, 110), (280, 110)):
        hand.point(*at)
    settled_sheet(page)
    assert "50 ft" in page.locator(".inspector .note").first.inner_text()
    _saves_it_only_when_asked(page, tmp_path, sent)


def _saves_it_only_when_asked(page: Any, tmp_path: Path, sent: list[str]) -> None:
    plain = saved(page, "Layout document").read_text()
    assert json.loads(plain) == kept(page)
    assert "base64" not in "".join(sent) + plain
    whole = tmp_path / "whole.json"
    whole.write_bytes(saved(page, "Layout with its picture").read_bytes())
    assert json.loads(whole.read_text())["layout"] == kept(page)
    page.evaluate("indexedDB.deleteDatabase('layoutcheck page')")
    page.reload()
    page.get_by_role("button", name="Open", exact=True).click()
    page.set_input_files("dialog input[type=file]", str(whole))
    page.locator("dialog").wait_for(state="detached")
    page.get_by_role("button", name="Draw on it").click()
    image = page.locator("image.backing")
    image.wait_for()
    assert image.get_attribute("opacity") == "0.3"


def test_a_photo_may_be_taken_and_what_is_no_picture_is_refused(
    open_page: Open, tmp_path: Path
) -> None:
    page = open_page(PHONE)
    begin(page, "Nothing yet (invented)")
    Mouse(page).tool("Picture")
    inputs = page.locator(".of-backing input[type=file]")
    assert inputs.nth(1).get_attribute("capture") == "environment"
    file = tmp_path / "no.pdf"
    file.write_bytes(b"no picture at all")
    inputs.first.set_input_files(str(file))
    page.locator(".said", has_text="no PDF that can be read").wait_for()
    assert page.locator("image.backing").count() == 0


# --- a faulty file -------------------------------------------------------------------------------


def test_a_faulty_file_opens_with_its_faults_beside_their_lines_and_is_mended_there(
    open_page: Open, tmp_path: Path
) -> None:
    page = open_page()
    layout = json.loads((FIXTURES / "plant-room-mended.json").read_text())
    text = json.dumps(layout, indent=1)
    lines = text.split("\n")
    file = tmp_path / "faulty.json"
    file.write_text(text.replace('"junctions": [', '"junktions": [', 1))
    wrong = next(i for i, line in enumerate(lines, 1) if '"junctions": [' in line)
    open_file(page, file)
    desk = page.locator(".text-desk")
    desk.locator(".notes li").first.wait_for(timeout=60_000)
    assert f"Line {wrong}" in desk.locator(".notes").inner_text()
    assert desk.locator(".numbers .faulty", has_text=str(wrong)).count() >= 1
    assert page.locator(".verdict").inner_text().startswith("Not judged")
    assert desk.get_by_role("button", name="Open it").is_disabled()
    desk.locator("textarea").fill(text.rstrip()[:-1])
    desk.locator(".notes li", has_text="can not be read").first.wait_for()
    desk.locator("textarea").fill(text)
    desk.get_by_role("button", name="Open it").click(timeout=60_000)
    settled(page)
    assert kept(page) == layout


# --- sizes ---------------------------------------------------------------------------------------


def test_on_a_phone_the_verdict_and_the_first_thing_are_in_sight(open_page: Open) -> None:
    page = open_page(PHONE)
    open_demo(page, "Heating riser")
    for mode in ("check", "draw"):
        if mode == "draw":
            page.get_by_role("button", name="Draw on it").tap()
        edges = [page.locator(s).bounding_box()["height"] for s in (".bar", "footer")]
        assert sum(edges) <= PHONE["height"] / 5
        for part in (".verdict", ".first"):
            box = page.locator(part).bounding_box()
            assert box["y"] >= 0
            assert box["y"] + box["height"] <= PHONE["height"] - edges[1]
        assert "First:" in page.locator(".first").inner_text()
        assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    for name in ("Plugs", "Site", "Plans", "Findings"):
        page.get_by_role("tab", name=name).tap()
        page.wait_for_timeout(200)
        strip, foot = page.locator(".tabs").bounding_box(), page.locator("footer").bounding_box()
        assert strip["y"] + strip["height"] + 200 <= foot["y"]  # its content shows under it


def test_on_a_phone_no_read_out_lies_over_the_plug_under_the_finger(open_page: Open) -> None:
    page = open_page(PHONE)
    open_demo(page, "Heating riser")
    for name in ("F1", "F2"):
        spot = page.locator(f"[data-plug='{name}'] .grab")
        page.touchscreen.tap(*_middle(spot))
        page.locator(".readout", has_text=f"Plug {name}").wait_for()
        told, plug = page.locator(".readout").bounding_box(), _middle(spot)
        assert not told["y"] <= plug[1] <= told["y"] + told["height"]


def _middle(thing: Any) -> tuple[float, float]:
    box = thing.bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


_LETTERS = """() => [...document.querySelectorAll('.paper text')].map(e =>
    parseFloat(getComputedStyle(e).fontSize) * e.getScreenCTM().a)"""


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_no_label_is_under_nine_pixels_from_afar_there_are_fewer(
    open_page: Open, size: Any
) -> None:
    page = open_page(size)
    open_demo(page, "Heating riser")
    for _ in range(3):
        page.get_by_role("button", name="Closer").click()
    near = page.evaluate(_LETTERS)
    page.get_by_role("button", name="All", exact=True).click()
    page.wait_for_timeout(200)
    far = page.evaluate(_LETTERS)
    assert min(near + far) >= 8.99
    assert 0 < len(far) < len(near)
    page.get_by_role("button", name="Draw on it").click()
    page.wait_for_timeout(300)
    assert min(page.evaluate(_LETTERS)) >= 8.99


def test_the_key_is_that_of_the_print(open_page: Open) -> None:
    page = open_page()
    open_demo(page, "Cold riser")
    page.locator(".legend summary").click()
    layout = parse_layout(kept(page))
    facts = Facts.of(layout, glance(layout))
    words = [w for _, _, w in key_entries(facts)]
    assert [t.strip() for t in page.locator(".legend li").all_inner_texts()] == words
    assert page.locator(".legend li svg *").count() >= len(words)


def test_looking_for_plans_shows_how_far_it_is_and_can_be_given_up(open_page: Open) -> None:
    page = open_page()
    open_demo(page, "Heating riser")
    tab(page, "Plans")
    page.route("**/v1/plans", lambda route: None)  # an answer that does not come
    page.get_by_role("button", name="Propose plans").click()
    page.locator(".looking progress").wait_for()
    before = kept(page)
    page.get_by_role("button", name="Give up").click()
    page.locator(".note", has_text="Given up").wait_for()
    assert kept(page) == before
    assert page.get_by_role("button", name="Propose plans").is_enabled()


def test_on_a_large_site_the_verdict_alone_comes_first(open_page: Open) -> None:
    """The live verdict on 400 pipes, as a ratio: it costs a part of what places cost."""
    page = open_page()
    open_demo(page, "Cold riser", twin="Mended")  # 150 pipes
    page.get_by_role("button", name="Draw on it").click()
    asked: list[tuple[str, float]] = []
    page.on("requestfinished", lambda r: _noted(r, asked))
    Mouse(page).state("size", "1 in", of="pipe R-8")
    settled_sheet(page)
    page.get_by_role("button", name="Undo", exact=True).click()
    settled_sheet(page)
    names = [name for name, _ in asked]
    assert names.index("verdicts") < names.index("glances")
    own = {n: min(t for name, t in asked if name == n) for n in ("verdicts", "glances")}
    assert own["verdicts"] <= 0.75 * own["glances"]


def _noted(request: Any, asked: list[tuple[str, float]]) -> None:
    name = request.url.rsplit("/", 1)[-1]
    if name in {"verdicts", "glances"}:
        told = request.response().headers["server-timing"]
        asked.append((name, float(told.rpartition("=")[2])))
