"""The report as one HTML page that stands alone: nothing is fetched, everything is escaped."""

from __future__ import annotations

import math

from layoutcheck.document.models import Layout
from layoutcheck.report.drawing import Page, build_scene
from layoutcheck.report.model import Finding, Report
from layoutcheck.report.printing import environment, inline
from layoutcheck.report.text_first import drains, opened, stands
from layoutcheck.rules.outcome import Outcome

_ORDER = (
    Outcome.FAULT,
    Outcome.BROKEN,
    Outcome.UNDECIDED,
    Outcome.WAIVED,
    Outcome.HOLDS,
    Outcome.DOES_NOT_APPLY,
)
_TOLD = frozenset(_ORDER[:4])
# Shape as well as colour: each outcome has a mark of its own.
MARKS = {
    Outcome.FAULT: "\u203c",
    Outcome.BROKEN: "\u2716",
    Outcome.UNDECIDED: "?",
    Outcome.WAIVED: "\u2690",
    Outcome.HOLDS: "\u2714",
    Outcome.DOES_NOT_APPLY: "\u2013",
}


def report_html(layout: Layout, report: Report) -> str:
    """Write a report as HTML: the same text for the same layout and report."""
    ranked = sorted(report.findings, key=_rank)
    return (
        environment()
        .get_template("report.html.j2")
        .render(
            report=report,
            opened=opened(report),
            drains=drains(report),
            stands=stands(report),
            short_cautions=", ".join(c.partition(":")[0].lower() for c in report.cautions),
            told=[f for f in ranked if f.outcome in _TOLD],
            quiet=[f for f in ranked if f.outcome not in _TOLD],
            marks=MARKS,
            drawings=inline(build_scene(layout, report), "paper"),
            phone=inline(build_scene(layout, report, page=Page.PHONE), "phone"),
        )
    )


def _rank(finding: Finding) -> tuple[float, int, str, str]:
    number = math.inf if finding.action is None else finding.action
    return number, _ORDER.index(finding.outcome), finding.rule, finding.subject.id
