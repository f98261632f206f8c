"""A rule's manual as data, and the manuals of the built-in figures as they are kept.

Reading what is kept takes no rule: `explain` answers before graph and physics would be loaded.
"""

from __future__ import annotations

from layoutcheck.kept import kept
from layoutcheck.report.model import Part
from layoutcheck.rules.outcome import Gravity, Severity
from layoutcheck.rules.pack import Tighter


class FigureManual(Part):
    """A figure that a company may set in its pack.

    built_in and in_force: as written in a pack, with the unit. value: in_force in SI, in unit.
    tighter: whether more or less of it makes the rule stricter.
    """

    key: str
    built_in: str
    in_force: str
    value: float | str
    unit: str
    tighter: Tighter
    choices: tuple[str, ...]
    source: str
    meaning: str


class ManualPart(Part):
    """A headed part of a rule's manual."""

    heading: str
    text: str


class RuleManual(Part):
    """What a rule asks, why, where its figures come from, and what it can not see."""

    name: str
    severity: Severity
    gravity: Gravity
    gravity_reason: str
    waivable: bool
    summary: str
    reason: str
    source: str
    parts: tuple[ManualPart, ...]
    figures: tuple[FigureManual, ...]


class Manuals(Part):
    """The manual of every rule, in the order of names.

    measuring: the figures that belong to no single rule: how every distance is measured.
    """

    rules: tuple[RuleManual, ...]
    measuring: tuple[FigureManual, ...]

    def to_json(self) -> str:
        """Write them as they are kept."""
        return self.model_dump_json(indent=2) + "\n"


KEPT = "manuals.json"


def kept_manuals() -> Manuals:
    """Read the manuals with the built-in figures, as they were made from the rules."""
    return Manuals.model_validate_json(kept(KEPT).read_bytes())
