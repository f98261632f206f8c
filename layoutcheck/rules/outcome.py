"""What a rule says of a subject. One outcome is stored for each rule and subject."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from layoutcheck.document.named import Named


class Outcome(StrEnum):
    """The outcome of one rule on one subject; stored, never derived."""

    HOLDS = "holds"
    BROKEN = "broken"
    DOES_NOT_APPLY = "does not apply"
    UNDECIDED = "undecided"
    WAIVED = "waived"
    FAULT = "fault"

    @property
    def is_fine(self) -> bool:
        """Tell whether nothing is to be done for it."""
        return self in {Outcome.HOLDS, Outcome.DOES_NOT_APPLY}


class Severity(StrEnum):
    """How grave a broken rule is. Whatever the severity, a broken rule is not compliant."""

    VIOLATION = "violation"
    CAUTION = "caution"
    ADVICE = "advice"


class Gravity(StrEnum):
    """What comes of it on site if a rule is not kept, the gravest first."""

    LIFE = "life"
    FLOOD = "flood"
    DAMAGE = "damage"
    DELAY = "delay"


class Dimension(StrEnum):
    """What a number measures; its value is the SI unit that reports print."""

    LENGTH = "m"
    PRESSURE = "Pa"
    TEMPERATURE = "K"
    DURATION = "s"
    MASS = "kg"
    VOLUME = "m3"
    FLOW = "m3/s"
    FRACTION = "1"
    COUNT = ""


@dataclass(frozen=True)
class Amount:
    """A number in SI with what it measures."""

    value: float
    dimension: Dimension


def estimated(value: float, dimension: Dimension) -> Amount:
    """Give an estimate as an amount: four digits, since no more of an estimate means anything.

    It also keeps the last bits of one machine's arithmetic out of a report's bytes.
    """
    return Amount(float(f"{value:.4g}"), dimension)


def metres(value: float) -> Amount:
    """Give a length (m) as an amount."""
    return Amount(value, Dimension.LENGTH)


@dataclass(frozen=True)
class Subject:
    """The thing judged: its kind ('plug', 'work', 'pipe', 'stock', …) and its id.

    parts: the elements that it is, or is made of, where it is no single element of that kind.
    """

    kind: str
    id: str
    parts: tuple[Named, ...] = field(default=(), compare=False)


@dataclass(frozen=True)
class Change:
    """One thing that could be done: its kind ('prove valve', …) and the id of what it is done to.

    Kinds are those that a plan is made of, and 'leave valve open'.
    """

    kind: str
    id: str


@dataclass(frozen=True)
class Judgement:
    """One rule on one subject.

    reason: a short code for why, which a finding's id is made from; never a number or a place.
    says: one sentence for people. measured and required: what was compared, in SI.
    where: node or spot concerned. way: nodes walked from the subject to what it speaks of.
    missing: what must be stated or proven for an answer. assumed: what was taken for granted.
    todo: what to do next, one sentence.
    concerns: other elements that it speaks of.
    changes: what could be done to things that are there, each of which alone would mend it.
    gives: what others miss only for as long as this does not hold, in the words they miss it by.
    """

    rule: str
    subject: Subject
    outcome: Outcome
    reason: str
    says: str
    measured: Amount | None = None
    required: Amount | None = None
    where: int | None = None
    way: tuple[int, ...] = ()
    missing: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()
    todo: str = ""
    concerns: tuple[Named, ...] = ()
    changes: tuple[Change, ...] = ()
    gives: tuple[str, ...] = ()
