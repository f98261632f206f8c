"""What came of a change: findings that are new, gone or moved since a report of the same site."""

from __future__ import annotations

from layoutcheck.report.model import Changed, Finding, FindingMoved, Report


def changed_since(base: Report, report: Report) -> Changed:
    """Compare two reports of one site, by the ids of findings.

    A finding has moved where the same rule says the same of the same subject with another outcome,
    measure or place. What a rule says anew of a subject is new, and what it said before is gone.
    """
    before = {f.id: f for f in base.findings}
    after = {f.id: f for f in report.findings}
    return Changed(
        verdict_before=base.verdict,
        new=tuple(f for f in report.findings if f.id not in before),
        gone=tuple(f for f in base.findings if f.id not in after),
        moved=tuple(
            FindingMoved(before=before[f.id], after=f)
            for f in report.findings
            if f.id in before and _facts(before[f.id]) != _facts(f)
        ),
    )


def _facts(finding: Finding) -> Finding:
    """Leave out what depends on the rest of a report: the number of its action."""
    return finding.model_copy(update={"action": None})
