"""Files of other kinds on the page, and fingers on the drawing."""

from __future__ import annotations

import base64
import io
import json
import zipfile
from collections.abc import Callable
from typing import Any

import pytest

from layoutcheck.document import parse_layout
from layoutcheck.importers.sheets import write_sheets
from tests.page.conftest import FIXTURES, PHONE
from tests.page.steps import centre, handle, kept, open_demo, open_file, plug_of, settled, verdict

pytestmark = [pytest.mark.browser, pytest.mark.slow]
Open = Callable[..., Any]


def _sheets() -> bytes:
    layout = parse_layout(json.loads((FIXTURES / "plant-room-mended.json").read_text()))
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for name, data in write_sheets(layout).items():
            archive.writestr(f"{name.removesuffix('.csv')}.csv", data)
    return packed.getvalue()


def test_sheets_are_read_and_what_is_missing_is_told(open_page: Open, tmp_path: Any) -> None:
    page = open_page()
    file = tmp_path / "plant.zip"
    file.write_bytes(_sheets())
    open_file(page, file)
    page.locator(".notice", has_text="Fill in").wait_for()
    assert verdict(page) in {"Undecided", "Not compliant"}  # sheets do not tell everything
    assert len(kept(page)["pipes"]) == 75


@pytest.mark.parametrize("name", ["model.ifc", "drawing.dxf", "net.inp", "sheets.zip", "x.bin"])
def test_a_file_that_is_not_what_it_says_is_refused_in_words(
    open_page: Open, tmp_path: Any, name: str
) -> None:
    page = open_page()
    file = tmp_path / name
    file.write_bytes(b"\x00\x01 not a file of that kind <b>")
    open_file(page, file)
    notice = page.locator(".notice")
    notice.wait_for(timeout=60_000)
    assert page.locator(".bar .name").inner_text() == "Nothing is open"
    assert page.locator("#page b").count() == 0


def test_a_file_can_be_dropped(open_page: Open) -> None:
    page = open_page()
    open_demo(page, "Cold riser")
    text = base64.b64encode((FIXTURES / "ring-main-sketch.json").read_bytes()).decode()
    page.evaluate(
        """text => {
            const carried = new DataTransfer();
            const bytes = Uint8Array.from(atob(text), c => c.charCodeAt(0));
            carried.items.add(new File([bytes], 'ring.json'));
            document.body.dispatchEvent(
                new DragEvent('drop', {dataTransfer: carried, bubbles: true, cancelable: true}));
        }""",
        text,
    )
    page.locator(".bar .name", has_text="Ring main").wait_for()
    assert kept(page)["name"] == "Ring main, Pellow Rise (invented)"


def test_fingers_drag_a_plug_and_pinch_the_drawing(open_page: Open) -> None:
    page = open_page(PHONE)
    open_demo(page, "Heating riser")
    fingers = page.context.new_cdp_session(page)

    def touch(kind: str, *points: tuple[float, float]) -> None:
        listed = [{"x": x, "y": y, "id": i} for i, (x, y) in enumerate(points)]
        fingers.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": listed})

    before = plug_of(page, "F1")["station"]
    x, y = centre(handle(page, "F1"))
    touch("touchStart", (x, y))
    for step in range(1, 8):
        touch("touchMove", (x + 6 * step, y))
    touch("touchEnd")
    settled(page)
    assert plug_of(page, "F1")["station"] != before

    camera = "document.querySelector('.paper > g').transform.baseVal.consolidate().matrix.a"
    scale = page.evaluate(camera)
    box = page.locator(".paper").bounding_box()
    cx, cy = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    touch("touchStart", (cx - 30, cy), (cx + 30, cy))
    for step in range(1, 8):
        touch("touchMove", (cx - 30 - 8 * step, cy), (cx + 30 + 8 * step, cy))
    touch("touchEnd")
    page.wait_for_timeout(100)
    # The fingers end 172 px apart and began 60 px apart; the first move only tells the two apart.
    assert page.evaluate(camera) / scale == pytest.approx(172 / 60, rel=0.2)


def test_on_a_phone_a_finding_brings_the_drawing_into_view(open_page: Open) -> None:
    page = open_page(PHONE)
    open_demo(page, "Heating riser")
    page.locator(".finding .tell").nth(3).click()
    page.wait_for_timeout(300)
    box = page.locator(".canvas").bounding_box()
    assert 0 <= box["y"] < PHONE["height"] / 2
    assert page.locator(".readout").is_visible()
