"""The report as a page, on a phone: measured in a browser, not in its own style sheet."""

from pathlib import Path
from typing import Any

import pytest

from tests.report.handout_sites import handout, report_on

pytestmark = pytest.mark.browser
# A common phone's screen, in CSS pixels. Common practice, no published source.
WIDE, HIGH = 390, 844


@pytest.mark.parametrize("name", ["heating-riser-sketch", "plant-room-sketch", "ring-main-sketch"])
def test_nine_findings_take_at_most_three_screens_of_a_phone(
    name: str, browser: Any, tmp_path: Path
) -> None:
    report = report_on(name)
    path = tmp_path / "report.html"
    path.write_bytes(handout(name, "report.html"))
    page = browser.new_page(viewport={"width": WIDE, "height": HIGH})
    page.goto(path.as_uri())
    high = page.evaluate("document.documentElement.scrollHeight")
    wide = page.evaluate("document.documentElement.scrollWidth")
    assert wide <= WIDE
    assert high <= 3 * HIGH
    # What is to be done stands in sight, in order; the findings are one touch away.
    shown = page.locator("ol.actions li")
    assert shown.count() == len(report.actions)
    open_ones = [f for f in report.findings if f.action is not None]
    assert not page.locator("#findings article").first.is_visible()
    page.locator("#findings summary").click()
    heads = page.locator("#findings article h3 a").all_inner_texts()
    assert heads == [str(n) for n in sorted(f.action or 0 for f in open_ones)]
    page.close()
