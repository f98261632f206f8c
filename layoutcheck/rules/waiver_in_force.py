"""waiver-in-force: each waiver names a finding, may be given, has not run out, and still covers."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from layoutcheck.document.models import Layout, Waiver
from layoutcheck.quantities import UnitSystem
from layoutcheck.rules.amounts import read_amount, typed_amount
from layoutcheck.rules.base import Rule
from layoutcheck.rules.case import Case
from layoutcheck.rules.outcome import Amount, Gravity, Judgement, Outcome, Severity, Subject
from layoutcheck.rules.pack import Tighter

LONGEST_YEARS = 2


class WaiverInForce(Rule):
    """Each waiver names a finding that there is, may be waived, still covers it, and is in time.

    Reason: A waiver nobody remembers hides the next fault of its kind, or the same grown worse.
    Figure: An end no more than 2 years ahead.
    Source: common practice, no published source.
    Does not apply: Where the document holds no waivers.
    Undecided: Where the day of judgement is not given, where the end is further off than two years,
        or where the waiver does not say what was found, measured and required when it was agreed.
    Does not see: Whether the one who waived had the right to.
    """

    name = "waiver-in-force"
    cures = frozenset()
    severity = Severity.ADVICE
    gravity = Gravity.DELAY
    gravity_reason = "What nobody answers for any more counts again"
    reason = "A waiver nobody remembers hides the next fault of its kind, or the same grown worse."
    waivable = False

    def judge(self, case: Case) -> Iterator[Judgement]:
        """Give nothing by itself: waivers are reviewed once all else is judged."""
        del case
        yield from ()

    def review(
        self,
        layout: Layout,
        judgements: Sequence[Judgement],
        rules: Mapping[str, Rule],
        on: date | None,
    ) -> list[Judgement]:
        """Apply the waivers of a layout, and judge each waiver itself."""
        result = list(judgements)
        for waiver in sorted(layout.waivers, key=lambda w: (w.rule, w.subject, w.until)):
            hits = [i for i, j in enumerate(result) if _matches(waiver, j)]
            flaw = _of_itself(waiver, rules, on)
            flaw = flaw or (None if hits else _Flaw("matches nothing", "matches no finding"))
            agreed = _Agreed(waiver, layout.units, rules)
            flaw = flaw or next((f for i in hits if (f := agreed.lacks(result[i]))), None)
            if flaw is None:
                for index in hits:
                    result[index] = replace(result[index], outcome=Outcome.WAIVED)
            result.append(self._verdict(waiver, flaw))
        return result

    def _verdict(self, waiver: Waiver, flaw: _Flaw | None) -> Judgement:
        subject = Subject("waiver", f"{waiver.rule} / {waiver.subject}")
        if flaw is None:
            sentence = f"Waived by {waiver.by} until {waiver.until.isoformat()}: {waiver.reason}"
            return self.says(subject, Outcome.HOLDS, "in force", sentence)
        return self.says(
            subject,
            Outcome.UNDECIDED if flaw.missing else Outcome.BROKEN,
            flaw.reason,
            f"The waiver {flaw.says}.",
            todo=flaw.todo,
            missing=flaw.missing,
        )


@dataclass(frozen=True)
class _Flaw:
    """Why a waiver covers nothing. missing: what would settle it, where that may be stated."""

    reason: str
    says: str
    missing: tuple[str, ...] = ()
    todo: str = "Take the waiver out, or renew it."


def _of_itself(waiver: Waiver, rules: Mapping[str, Rule], on: date | None) -> _Flaw | None:
    """Look at a waiver alone: its rule and its dates."""
    if waiver.rule not in rules:
        return _Flaw("no such rule", "names no rule of layoutcheck")
    if not rules[waiver.rule].waivable:
        return _Flaw("can not be waived", f"is of {waiver.rule}, which can not be waived")
    if on is None:
        says = "can not be dated: no day of judgement was given"
        return _Flaw("no day given", says, ("the day of judgement",))
    until = waiver.until
    if on > until:
        return _Flaw("ran out", f"ran out on {until.isoformat()}")
    if (until.year, until.month, until.day) > (on.year + LONGEST_YEARS, on.month, on.day):
        says = f"runs until {until.isoformat()}, more than {LONGEST_YEARS} years ahead"
        missing = (f"an end no more than {LONGEST_YEARS} years ahead",)
        return _Flaw("too far ahead", says, missing, "Give it a nearer end, and renew it then.")
    return None


@dataclass(frozen=True)
class _Agreed:
    """What a waiver was agreed on, held against what is found now."""

    waiver: Waiver
    units: UnitSystem
    rules: Mapping[str, Rule]

    def lacks(self, found: Judgement) -> _Flaw | None:
        """Say why the waiver does not cover a finding; None where it does."""
        waiver, now = self.waiver, self._now(found)
        stated = {k: v for k in ("finding", *_SIDES) if (v := getattr(waiver, k)) is not None}
        unsaid = {k: v for k, v in now.items() if k not in stated}
        if unsaid:
            text = ", ".join(f'"{k}": "{v}"' for k, v in unsaid.items())
            return _Flaw(
                "agreed on what",
                f"does not say what it was agreed on ({', '.join(unsaid)})",
                (f"what was agreed: {', '.join(unsaid)}",),
                f"If today's finding is what was agreed, write into the waiver: {text}",
            )
        if stated["finding"] != now["finding"]:
            says = f"was agreed on '{stated['finding']}'; now it is '{now['finding']}'"
            return _Flaw("another finding", says, todo=_ANEW)
        for side in _SIDES:
            if (flaw := self._worse(side, getattr(found, side))) is not None:
                return flaw
        return None

    def _now(self, found: Judgement) -> dict[str, str]:
        """Give what a waiver of a finding has to state, as it is today."""
        sides = {side: getattr(found, side) for side in _SIDES}
        told = {k: typed_amount(v, self.units) for k, v in sides.items() if v is not None}
        return {
            "finding": ": ".join(x for x in (found.reason, ", ".join(found.concerns)) if x),
            **told,
        }

    def _worse(self, side: str, now: Amount | None) -> _Flaw | None:
        """Compare one side with what was agreed; what is printed alike is alike."""
        text = getattr(self.waiver, side)
        if text is None:
            return None
        if now is None:
            return _Flaw(
                f"no {side} now", f"was agreed at {text}; now nothing is {side}", todo=_ANEW
            )
        agreed = read_amount(text, now.dimension)
        if agreed is None:
            shown = typed_amount(now, self.units)
            says = f"says {side} '{text}', which is no such value; {shown} is one"
            return _Flaw(f"{side} unread", says, todo=f'Write "{side}" as in "{shown}".')
        if typed_amount(agreed, self.units) == typed_amount(now, self.units):
            return None
        safer = self.rules[self.waiver.rule].safer
        less = now.value < agreed.value
        # Less measured is worse where more is safer; more required is worse there.
        fine = {Tighter.MORE: not less, Tighter.LESS: less, Tighter.NEITHER: False}[safer]
        if side == "required":
            fine = {Tighter.MORE: less, Tighter.LESS: not less, Tighter.NEITHER: False}[safer]
        if fine:
            return None
        says = (
            f"was agreed with {text} {side}; it is {typed_amount(now, self.units)} now, and worse"
        )
        return _Flaw(f"worse {side}", says, todo=_ANEW)


_SIDES = ("measured", "required")
_ANEW = "Mend it, or have it agreed again as it is now."


def _matches(waiver: Waiver, judgement: Judgement) -> bool:
    live = judgement.outcome in {Outcome.BROKEN, Outcome.UNDECIDED, Outcome.WAIVED}
    return live and judgement.rule == waiver.rule and judgement.subject.id == waiver.subject
