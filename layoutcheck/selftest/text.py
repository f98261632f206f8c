"""The self-test's report for people."""

from __future__ import annotations

import itertools
import textwrap

from layoutcheck.selftest.check import Outcome
from layoutcheck.selftest.run import CheckResult, SelftestReport

_WIDTH = 92
_WORD = {Outcome.RIGHT: "right", Outcome.OFF: "OFF", Outcome.FAULT: "FAULT"}
_WHAT_TO_DO = (
    "Do not rely on results from this installation, nor on those it gave before. Install "
    "layoutcheck afresh in a new environment and run this again. If it stays, use another "
    "machine, and send what `layoutcheck selftest --format json` prints to whoever keeps "
    "layoutcheck for you."
)
_WHAT_IT_SHOWS = (
    "This shows that the program works here as it did where it was released. It does not show "
    "that a layout is true to the building. Local codes, the site's permit system and licensed "
    "practice decide."
)


def selftest_text(report: SelftestReport) -> str:
    """Write a self-test's report for people; what is off comes in the first lines."""
    bad = [c for c in report.checks if c.outcome is not Outcome.RIGHT]
    lines = [_headline(report, len(bad))]
    if bad:
        lines += ["", *_wrapped(_WHAT_TO_DO)]
    for group, checks in itertools.groupby(report.checks, key=lambda c: c.group):
        lines += ["", group]
        for check in checks:
            lines += _told(check)
    found = "; ".join(f"{name} {what}" for name, what in report.environment.items())
    lines += ["", *_wrapped(f"With {found}."), "", *_wrapped(_WHAT_IT_SHOWS)]
    return "\n".join([*lines, f"layoutcheck {report.version}"]) + "\n"


def _headline(report: SelftestReport, bad: int) -> str:
    count = len(report.checks)
    if report.verdict == "right":
        return f"ALL RIGHT: {count} checks, {sum(c.compared for c in report.checks)} figures."
    if not count:
        return "OFF: no check was run. Do not rely on results from this installation."
    return f"OFF: {bad} of {count} checks. Do not rely on results from this installation."


def _told(check: CheckResult) -> list[str]:
    head = f"  {_WORD[check.outcome]:<6} {check.name}: {check.proves}"
    lines = _wrapped(head.strip(), indent="         ", first="  ")
    lines += _wrapped(f"[{check.status}] {check.source}", indent="         ")
    for told in check.off:
        lines += _wrapped(told, indent="           ", first="         - ")
    return lines


def _wrapped(text: str, *, indent: str = "", first: str = "") -> list[str]:
    """Break a text into lines. The report's own wrapping would load what may be broken here."""
    return textwrap.wrap(
        text,
        _WIDTH,
        initial_indent=first or indent,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
