"""The judged log as a page to print: what departs from the plan first."""

from __future__ import annotations

from layoutcheck.report.html import MARKS
from layoutcheck.report.log.model import FreezeLog, LogReport, row_data
from layoutcheck.report.log.text import HEADS, ordered
from layoutcheck.report.printing import CAUTION_LINE, environment, write_pdf


def log_pdf(log: FreezeLog, report: LogReport) -> bytes:
    """Write a judged log as PDF on A4, with the log's own lines: the same bytes each time.

    report: what `judge_log` made of that log.
    """
    html = (
        environment()
        .get_template("log.html.j2")
        .render(
            report=report,
            head=HEADS[report.verdict],
            findings=ordered(report),
            rows=[row_data(r) for r in log.rows if r.began is not None],
            marks=MARKS,
            caution_line=CAUTION_LINE,
        )
    )
    return write_pdf(html)
