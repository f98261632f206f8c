"""The joint mending stands whole in text and page; what comes of it is on the sheet too."""

from __future__ import annotations

import html
import json
from pathlib import Path

from layoutcheck.document import parse_layout
from layoutcheck.report.html import report_html
from layoutcheck.report.run import check
from layoutcheck.report.sheet.pages import sheet_html
from layoutcheck.report.text import full_text
from layoutcheck.report.text_mending import goes_to, to_do

SITE = Path(__file__).parents[2] / "fixtures" / "heating-riser-sketch.json"


def test_what_is_done_besides_is_told_wherever_the_moves_are() -> None:
    layout = parse_layout(json.loads(SITE.read_text()))
    report = check(layout)
    mending = report.mending
    assert mending is not None
    assert mending.actions
    assert mending.moves
    told = [to_do(a) for a in mending.actions] + [goes_to(m) for m in mending.moves]
    for text in (full_text(report), report_html(layout, report)):
        flat = " ".join(html.unescape(text).split())
        assert [line for line in (*told, *mending.why) if line not in flat] == []
    sheet = " ".join(html.unescape(sheet_html(layout, report)).split())
    assert [a.what for a in report.actions if a.what not in sheet] == []
