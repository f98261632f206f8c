"""What leaves the phone of a freeze, and what the phone does to be noticed. Invented sites."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from layoutcheck.record import Ledger
from tests.page.conftest import PHONE, Service
from tests.page.watch_steps import ZONE, Crew

pytestmark = [pytest.mark.browser, pytest.mark.slow]
HEARD = """
window.heard = {shakes: 0, awake: 0};
Object.defineProperty(navigator, 'vibrate', {value: () => { heard.shakes += 1; return true; }});
Object.defineProperty(navigator, 'wakeLock',
  {value: {request: async () => { heard.awake += 1; return {}; }}});
"""


@pytest.fixture
def record(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[Service, Path]]:
    """A service of its own that keeps a record of sign-off."""
    kept = tmp_path / "record.sqlite"
    monkeypatch.setenv("LAYOUTCHECK_RECORD", str(kept))
    own = Service()
    own.start()
    yield own, kept
    own.kill()


@pytest.fixture
def crew(browser: Any, record: tuple[Service, Path]) -> Iterator[Crew]:
    context = browser.new_context(
        viewport=PHONE, has_touch=True, is_mobile=True, timezone_id=ZONE, accept_downloads=True
    )
    page = context.new_page()
    page.set_default_timeout(20_000)
    page.add_init_script(HEARD)
    made = Crew(page, record[0].url)
    made.open()
    made.tick_all()
    made.stand_still()
    made.start()
    yield made
    context.close()


def test_the_log_out_and_the_call_for_somebody(
    crew: Crew, record: tuple[Service, Path], tmp_path: Path
) -> None:
    page = crew.page
    assert page.evaluate("heard.awake") >= 1
    before = page.evaluate("heard.shakes")
    crew.wait(300)  # the end of the first injection has passed
    assert page.evaluate("heard.shakes") > before
    # A photo and a note are kept, and stand in the log by name.
    picture = tmp_path / "frost.png"
    picture.write_bytes(b"\x89PNG\r\n\x1a\n")
    leaf = crew.write("NORTH", "NORTH: photo")
    leaf.locator("input[type=file]").set_input_files(picture)
    page.locator(".band", has_text="photo 1 is kept on this phone").wait_for()
    leaf = crew.write("NORTH", "NORTH: note")
    leaf.get_by_label("Note").fill("hose of cylinder 3 changed")
    crew.press("WRITE NOTE", within=leaf)
    text = crew.saved("Log as CSV", "SAVE CSV").read_text("utf-8")
    assert "photo on the phone: photo 1" in text
    assert "hose of cylinder 3 changed" in text
    assert "NOT AS PLANNED" in crew.saved("Judged log, text", "JUDGE, SAVE TEXT").read_text("utf-8")
    assert crew.saved("Judged log, PDF", "JUDGE, SAVE PDF").read_bytes().startswith(b"%PDF")
    # The record: the layout as it was judged, and the log by its digest.
    crew.pressed("NORTH", "The log out", "LOG, SECOND PHONE, RECORD")
    sign = page.locator(".leaf[aria-label='Record of sign-off']")
    crew.press("RECORD", within=sign)
    page.get_by_text(re.compile("Entry 1 is in the record")).wait_for()
    (kept,) = Ledger(str(record[1])).newest(before=None, limit=5)
    assert "A. Reed" in str(kept)
    assert re.search(r"Freeze log of sheet [0-9a-f]{12}: \d+ lines, sha256:[0-9a-f]{64}", str(kept))
