"""The judged log on paper says what the judged log as text says."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

from layoutcheck.document import parse_layout
from layoutcheck.report import check
from layoutcheck.report.log import judge_log, log_template, read_log
from layoutcheck.report.log.model import row_data
from layoutcheck.report.log.pages import log_pdf

FIXTURES = Path(__file__).parents[2] / "fixtures"


def test_a_judged_log_prints_with_its_findings_and_its_lines(require: Any) -> None:
    pypdf = require.module("pypdf")
    layout = parse_layout(json.loads((FIXTURES / "plant-room-mended.json").read_text()))
    report = check(layout)
    empty = log_template(report)
    rows: list[dict[str, Any]] = [row_data(r) for r in empty.rows]
    rows[0] |= {"began": "2026-11-25 08:05:10", "ended": "2026-11-25 08:09:40", "by": "<b>A. Reed"}
    log = read_log(json.dumps({**empty.model_dump(mode="json"), "rows": rows}).encode())
    judged = judge_log(log, report)
    pages = log_pdf(log, judged)
    text = " ".join(p.extract_text() for p in pypdf.PdfReader(io.BytesIO(pages)).pages)
    text = " ".join(text.split())
    assert "NOT AS PLANNED" in text
    assert all(f.rule in text for f in judged.findings)
    assert "2026-11-25 08:05:10" in text
    assert "<b>A. Reed" in text  # a name is text, never markup
    assert pages == log_pdf(log, judged)
