"""What a log rule says: a judgement like any other."""

from __future__ import annotations

from layoutcheck.rules.outcome import Judgement, Outcome, Subject

Saying = Judgement


def saying(
    rule: str,
    subject: Subject,
    outcome: Outcome,
    reason: str,
    says: str,
    *,
    missing: tuple[str, ...] = (),
    todo: str = "",
) -> Saying:
    """Make a judgement. reason: a short code; it takes part in the finding's id."""
    return Judgement(
        rule=rule,
        subject=subject,
        outcome=outcome,
        reason=reason,
        says=says,
        missing=missing,
        todo=todo,
    )
