"""The report as plain text for a person on site."""

from __future__ import annotations

from collections.abc import Sequence

from layoutcheck.document import Fault
from layoutcheck.report.model import Report


def faults_text(given: str, faults: Sequence[Fault]) -> str:
    """Write why something given can not be used: every fault, its place and a right example."""
    lines = [f"{given} can not be used: {len(faults)} fault(s)."]
    for fault in faults:
        lines += [f"{fault.pointer or '(the whole)'}: {fault.problem}", f"  found {fault.found}"]
        lines += [f"  right: {fault.example}"]
    return "\n".join(lines)


def report_text(report: Report) -> str:
    """Write a report as plain text, verdict first."""
    lines = [report.verdict.upper()]
    for finding in report.findings:
        lines.append(f"{finding.subject.id} {finding.rule} {finding.outcome}: {finding.says}")
    return "\n".join([*lines, report.deference]) + "\n"
