"""The report on a log as plain text."""

from __future__ import annotations

from layoutcheck.report.log.model import LogReport
from layoutcheck.report.model import Finding, Verdict
from layoutcheck.report.text_first import said
from layoutcheck.report.wrap import wrapped
from layoutcheck.rules.outcome import Outcome

HEADS = {
    Verdict.COMPLIANT: "AS PLANNED: the log keeps to the schedule.",
    Verdict.NOT_COMPLIANT: "NOT AS PLANNED: the log departs from the schedule.",
    Verdict.UNDECIDED: "UNDECIDED: the log does not say enough.",
    Verdict.FAULT: "FAULT.",
}
_ORDER = (Outcome.BROKEN, Outcome.UNDECIDED, Outcome.HOLDS, Outcome.DOES_NOT_APPLY)


def ordered(report: LogReport) -> list[Finding]:
    """Give the findings in the order in which they are read: what departs from the plan first."""
    return sorted(report.findings, key=lambda f: _ORDER.index(f.outcome))


def log_text(report: LogReport) -> str:
    """Write the report as plain text: what departs from the plan first."""
    lines = [*wrapped(HEADS[report.verdict]), *wrapped(report.layout.name), ""]
    for finding in ordered(report):
        name = f"{finding.subject.kind} {finding.subject.id}"
        lines += wrapped(
            f"{said(finding.outcome)} {finding.rule}, {name}: {finding.says}",
            indent="    ",
            first="  ",
        )
        if finding.measured is not None and finding.required is not None:
            told = f"{finding.measured.shown}; planned {finding.required.shown}."
            lines += wrapped(told, indent="    ")
        if finding.missing:
            lines += wrapped(f"Not known yet: {'; '.join(finding.missing)}.", indent="    ")
        if finding.todo:
            lines += wrapped(f"Next: {finding.todo}", indent="    ")
    lines += ["", *wrapped(report.deference)]
    lines += wrapped(f"Sheet {report.sheet}; layoutcheck {report.version}.")
    return "\n".join(lines) + "\n"
