"""What is to be done besides, once plugs stand: the vents and proofs that other rules ask for.

Where a plug stands does not settle everything. What still fails there is looked at finding by
finding: each thing that could mend it is tried, cheapest first, and kept if the finding is gone
and every plug passes as before.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from layoutcheck.planning.combinations import is_isolated
from layoutcheck.planning.conflict import Explainer, without_rivals
from layoutcheck.planning.elements import Chosen, Element, Kind
from layoutcheck.planning.ground import Ground
from layoutcheck.rules.case import Case
from layoutcheck.rules.judge import judge_case, placing_rules
from layoutcheck.rules.outcome import Outcome
from layoutcheck.rules.registry import all_rules

_BAD = {Outcome.BROKEN, Outcome.UNDECIDED, Outcome.FAULT}
_MOST_TRIED = 6  # things, for each finding
# What is done for the sake of a finding alone, and puts nothing out of service.
_KINDS = {Kind.PROVE, Kind.BLEED_OUTLET, Kind.LOCK_PUMP, Kind.SHUT_DOWN}


def followed(ground: Ground, there: Case, done: Chosen) -> Chosen:
    """Give what more is done for findings that are left once plugs stand, thing by thing."""
    more: Chosen = frozenset()
    explain = Explainer(ground)
    for judgement in judge_case(there):
        if judgement.outcome not in _BAD or not _number_left(there, judgement.rule):
            continue
        base = ground.under(done | more)
        wanted = explain.judged(base, judgement, there.plugs)
        for element in _tried(wanted, done | more) if wanted != explain.everything else ():
            case = replace(ground.under(done | more | {element}), plugs=there.plugs)
            rule = judgement.rule
            if _number_left(case, rule) < _number_left(there, rule) and _stands(case):
                more |= {element}
                there = case
                break
    return more


def _tried(wanted: Chosen, done: Chosen) -> Iterator[Element]:
    found = (e for e in without_rivals(wanted, done) if e.kind in _KINDS)
    yield from sorted(found, key=lambda e: (e.cost, e))[:_MOST_TRIED]


def _number_left(case: Case, rule: str) -> int:
    """Count what a rule finds that does not hold."""
    return sum(j.outcome in _BAD for j in all_rules()[rule].judge(case))


def _stands(case: Case) -> bool:
    """Tell whether the plugs still pass every rule of place, and cut the work off."""
    rules = placing_rules().values()
    held = all(
        rule.judge_plug(case, plug).outcome is not Outcome.BROKEN
        for rule in rules
        for plug in case.plugs
    )
    return held and is_isolated(case, case.plugged)
