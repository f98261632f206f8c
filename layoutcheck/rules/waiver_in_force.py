"""waiver-in-force: each waiver names a finding, may be given, and has not run out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date

from layoutcheck.document.models import Waiver
from layoutcheck.rules.base import Rule
from layoutcheck.rules.case import Case
from layoutcheck.rules.outcome import Judgement, Outcome, Severity, Subject


class WaiverInForce(Rule):
    """Each waiver names a finding that there is, may be waived, and has not run out.

    Reason: A waiver nobody remembers hides the next fault of its kind.
    Figure: None.
    Source: common practice, no published source.
    Does not apply: Where the document holds no waivers.
    Undecided: Where the day of judgement is not given.
    Does not see: Whether the one who waived had the right to.
    """

    name = "waiver-in-force"
    severity = Severity.ADVICE
    reason = "A waiver nobody remembers hides the next fault of its kind."
    waivable = False

    def judge(self, case: Case) -> Iterator[Judgement]:
        """Give nothing by itself: waivers are reviewed once all else is judged."""
        del case
        yield from ()

    def review(
        self,
        waivers: Sequence[Waiver],
        judgements: Sequence[Judgement],
        rules: Mapping[str, Rule],
        on: date | None,
    ) -> list[Judgement]:
        """Apply the waivers, and judge each waiver itself."""
        result = list(judgements)
        for waiver in sorted(waivers, key=lambda w: (w.rule, w.subject, w.until)):
            problem, reason = self._problem(waiver, rules, on)
            hits = [i for i, j in enumerate(result) if _matches(waiver, j)]
            if not problem and not hits:
                problem, reason = "matches no finding", "matches nothing"
            if not problem:
                for index in hits:
                    result[index] = replace(result[index], outcome=Outcome.WAIVED)
            result.append(self._verdict(waiver, problem, reason))
        return result

    def _problem(
        self, waiver: Waiver, rules: Mapping[str, Rule], on: date | None
    ) -> tuple[str, str]:
        if waiver.rule not in rules:
            return "names no rule of layoutcheck", "no such rule"
        if not rules[waiver.rule].waivable:
            return f"is of {waiver.rule}, which can not be waived", "can not be waived"
        if on is None:
            return "can not be dated: no day of judgement was given", "no day given"
        if on > waiver.until:
            return f"ran out on {waiver.until.isoformat()}", "ran out"
        return "", ""

    def _verdict(self, waiver: Waiver, problem: str, reason: str) -> Judgement:
        subject = Subject("waiver", f"{waiver.rule} / {waiver.subject}")
        if problem:
            outcome = Outcome.UNDECIDED if reason == "no day given" else Outcome.BROKEN
            sentence = f"The waiver {problem}."
            todo = "Take the waiver out, or renew it."
            missing = ("the day of judgement",) if reason == "no day given" else ()
            return self.says(subject, outcome, reason, sentence, todo=todo, missing=missing)
        sentence = f"Waived by {waiver.by} until {waiver.until.isoformat()}: {waiver.reason}"
        return self.says(subject, Outcome.HOLDS, "in force", sentence)


def _matches(waiver: Waiver, judgement: Judgement) -> bool:
    live = judgement.outcome in {Outcome.BROKEN, Outcome.UNDECIDED, Outcome.WAIVED}
    return live and judgement.rule == waiver.rule and judgement.subject.id == waiver.subject
