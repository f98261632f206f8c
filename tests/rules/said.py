"""What the rules said of every hand-worked case, kept so that no word or figure changes unnoticed.

said.json is pinned from our own runs: it proves nothing right, the cases do that. It holds each
distinct sentence once, to be read and corrected, and a digest of each case's whole answer.
`python tests/refresh.py` writes it again; read the difference before you keep it.
"""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

from layoutcheck.report import Report

FILE = Path(__file__).parent / "said.json"
# Of the answer but not of the rules: what was asked, and by which release.
NOT_SAID = {"version", "layout", "format"}


def answer(report: Report) -> dict[str, Any]:
    """Give what a report says, without what names the layout and the release."""
    return report.model_dump(mode="json", exclude=NOT_SAID)


def digest(report: Report) -> str:
    """Give a digest of all that a report says."""
    text = json.dumps(answer(report), sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def sentences(report: Report) -> set[str]:
    """Give each finding as one line: rule, outcome, what it says and asks for."""
    found = set()
    for item in report.findings:
        parts = [item.rule, item.outcome.value, item.reason, item.says, item.todo]
        parts += [f"missing: {x}" for x in item.missing]
        found.add(" | ".join(p for p in parts if p))
    return found


def said_bytes(reports: dict[str, Report]) -> bytes:
    """Write the file for the reports of all cases, by name."""
    whole = {
        "note": "Pinned from our own runs by tests/refresh.py. All sites are invented.",
        "sentences": sorted(set().union(*(sentences(r) for r in reports.values()))),
        "cases": {name: digest(report) for name, report in sorted(reports.items())},
    }
    return (json.dumps(whole, indent=1, ensure_ascii=False) + "\n").encode()
