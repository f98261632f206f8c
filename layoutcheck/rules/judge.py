"""Judge a case by every rule."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from functools import partial

from layoutcheck.rules.base import PlacingRule, Rule
from layoutcheck.rules.both import in_both
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.outcome import Judgement, Outcome
from layoutcheck.rules.registry import all_rules
from layoutcheck.rules.waiver_in_force import WaiverInForce


def judge_case(case: Case, *, on: date | None = None) -> list[Judgement]:
    """Judge a case by every rule and apply its waivers.

    on: the day of judgement, for waivers. One judgement for each rule and subject, in the order
    of subjects and rules. A rule that fails is an outcome of its own, never a silence.
    """
    rules = all_rules()
    found = [j for rule in rules.values() for j in in_both(rule, case, rule.judge)]
    reviewed = WaiverInForce().review(case.layout, found, rules, on)
    return sorted(reviewed, key=_order)


def judge_about(case: Case, plug: PlacedPlug, *, on: date | None = None) -> list[Judgement]:
    """Judge again what concerns one plug or the work, as `judge_case` does.

    A rule that looks at each plug by itself is not asked about the others. One that fails is told
    of whatever it would have looked at.
    """
    rules = all_rules()

    def judge(rule: Rule, read: Case) -> Iterable[Judgement]:
        return rule.judge_about(read, read.plug(plug.id))

    found = [j for rule in rules.values() for j in in_both(rule, case, partial(judge, rule))]
    reviewed = WaiverInForce().review(case.layout, found, rules, on)
    about = (
        j
        for j in reviewed
        if j.subject.id == plug.id
        or f"plug {plug.id}" in j.concerns
        or j.subject.kind == "work"
        or j.outcome is Outcome.FAULT
    )
    return sorted(about, key=_order)


def placing_rules() -> Mapping[str, PlacingRule]:
    """Give the rules that depend on where a plug stands."""
    return {n: r for n, r in all_rules().items() if isinstance(r, PlacingRule)}


def spot_rules() -> Mapping[str, PlacingRule]:
    """Give those of them that shut out places whatever the other plugs do."""
    return {n: r for n, r in placing_rules().items() if not r.between_plugs}


def _order(judgement: Judgement) -> tuple[str, str, str]:
    return judgement.subject.kind, judgement.subject.id, judgement.rule
