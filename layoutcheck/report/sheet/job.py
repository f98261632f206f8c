"""What the writers of the steps share."""

from __future__ import annotations

from dataclasses import dataclass

from layoutcheck.report.model import Report
from layoutcheck.report.sheet.model import PlugCard
from layoutcheck.report.sheet.sides import Sides
from layoutcheck.report.sheet.standing import Standing
from layoutcheck.report.wrap import with_and
from layoutcheck.rules.case import Case


@dataclass(frozen=True)
class Job:
    """A job whose steps are being written. standing changes with every step."""

    case: Case
    report: Report
    cards: tuple[PlugCard, ...]
    sides: Sides
    standing: Standing


def plugs_named(names: list[str]) -> str:
    """Write 'plug A' or 'plugs A and B'."""
    return f"plug{'s' if len(names) > 1 else ''} {with_and(names)}"


def seconds(clock: str) -> int:
    """Read h:mm:ss."""
    hours, minutes, rest = (int(part) for part in clock.split(":"))
    return 3600 * hours + 60 * minutes + rest
