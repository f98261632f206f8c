"""mixed-units: a few values in units of the other system among many of one are meant so."""

from __future__ import annotations

from collections.abc import Iterator

from layoutcheck.document.models import Asked
from layoutcheck.rules.base import Rule
from layoutcheck.rules.case import Case
from layoutcheck.rules.facts import Fact, meant_field
from layoutcheck.rules.outcome import Gravity, Judgement, Outcome, Severity, Subject

_MOST_NAMED = 8


class MixedUnits(Rule):
    """A few values in units of the other system among many of one are meant so.

    Reason: '10 bar' among psi, or '20 m' among feet, is more often a slip than a measurement.
    Figure: One of at least five values, or up to one in ten; nominal sizes are names, and do not
        count. What was read of a model, and what was written beside it, are each counted on
        their own.
    Source: common practice, no published source.
    Does not apply: To documents with fewer values, or with many of both systems.
    Undecided: Where there are such values. Correct them, or write "meant": "units" at the top of
        the document.
    Does not see: Units that are one off within their own system.
    """

    name = "mixed-units"
    cures = frozenset()
    severity = Severity.ADVICE
    gravity = Gravity.DELAY
    gravity_reason = "A length in the wrong unit puts its places out"
    reason = "A lone metre among feet is more often a slip than a measurement."
    as_stated = True

    def asks(self, case: Case) -> Iterator[tuple[Asked, str]]:
        """Ask of the document where units stand out."""
        if case.layout.odd_units:
            yield case.layout, "units"

    def judge(self, case: Case) -> Iterator[Judgement]:
        """Judge the document as a whole."""
        subject, odd = Subject("layout", "units"), case.layout.odd_units
        if not odd:
            yield self.says(subject, Outcome.HOLDS, "one system", "No unit stands out.")
            return
        named = ", ".join(odd[:_MOST_NAMED])
        named += f" and {len(odd) - _MOST_NAMED} more" if len(odd) > _MOST_NAMED else ""
        sentence = f"In units of the other system: {named}."
        if case.layout.means("units"):
            sentence += " The document says that this is meant."
            yield self.says(subject, Outcome.HOLDS, "meant", sentence)
            return
        yield self.says(
            subject,
            Outcome.UNDECIDED,
            "a few of the other system",
            sentence,
            missing=(Fact("whether these units are meant", meant_field(subject)),),
            todo='Correct them, or write "meant": "units" at the top of the document.',
        )
