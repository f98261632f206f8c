"""Try slips on a start, and tell what became of each.

A slip is safe where the document is refused, or the site is still not compliant or undecided.
Where it ends in 'compliant' it is 'named' if the report says something that it did not say of the
start (an assumption, an advice, a caution, a waiver used) and that names an element which the slip
touched. Otherwise it is 'left' where `knowable` finds a new mark in the document, and 'another
site' where it does not.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from layoutcheck.document import LayoutFaults, parse_layout
from layoutcheck.report.assumptions import assumptions_of
from layoutcheck.rules.case import Case
from layoutcheck.rules.judge import judge_case
from layoutcheck.rules.outcome import Judgement, Outcome, Severity
from layoutcheck.rules.registry import all_rules, default_pack
from tests.slips.keyboard import REFERENCES, Document, Slip
from tests.slips.knowable import marks_of
from tests.slips.starts import LIVE, Start


class Fate(StrEnum):
    """What became of a slip."""

    REFUSED = "refused"
    NOT_COMPLIANT = "not compliant"
    NAMED = "named"
    ANOTHER_SITE = "another site"
    LEFT = "left"
    CRASHED = "crashed"
    NO_CHANGE = "no change"


@dataclass(frozen=True)
class Tried:
    """A slip and its fate; marks: what could have been known, where it is left."""

    start: str
    slip: Slip
    fate: Fate
    marks: tuple[str, ...] = field(default=())


def try_all(start: Start, slips: Iterable[Slip]) -> Iterator[Tried]:
    """Try slips on one start."""
    known: dict[str, Any] = {}
    for slip in slips:
        try:
            yield _try(start, slip, known)
        except Exception as error:  # it would end in exit code 4
            yield Tried(start.name, slip, Fate.CRASHED, (repr(error)[:200],))


def _try(start: Start, slip: Slip, known: dict[str, Any]) -> Tried:
    document = slip.done_to(start.document)
    try:
        layout = parse_layout(document)
    except LayoutFaults:
        return Tried(start.name, slip, Fate.REFUSED)
    if layout == start.layout:
        return Tried(start.name, slip, Fate.NO_CHANGE)
    case = Case.of(layout, default_pack())
    if not layout.waivers and _still(case, start.live):
        return Tried(start.name, slip, Fate.NOT_COMPLIANT)
    judged = judge_case(case)
    if any(j.outcome in LIVE for j in judged):
        return Tried(start.name, slip, Fate.NOT_COMPLIANT)
    return _compliant(start, slip, (document, case, judged), known)


# Those that let ice grow: a hundred times as slow as the rest.
_SLOW = {"coolant-on-hand", "room-air", "start-temperature", "trapped-water"}


def _still(case: Case, rules: frozenset[str]) -> bool:
    """Ask the quick rules first, and those before that did not hold: nearly always one does not."""
    order = sorted(all_rules(), key=lambda name: (name in _SLOW, name not in rules, name))
    return any(j.outcome in LIVE for name in order for j in all_rules()[name].judge(case))


def _compliant(
    start: Start, slip: Slip, after: tuple[Document, Case, list[Judgement]], known: dict[str, Any]
) -> Tried:
    document, case, judged = after
    if not known:
        known["told"] = told(Case.of(start.layout, default_pack()), start.judged)
        known["marks"] = marks_of(start.document, start.layout)
    new = told(case, judged) - known["told"]
    if any(_names(text, own) for text in new for own in touched(start.document, slip)):
        return Tried(start.name, slip, Fate.NAMED)
    marks = marks_of(document, case.layout) - known["marks"]
    fate = Fate.LEFT if marks else Fate.ANOTHER_SITE
    return Tried(start.name, slip, fate, tuple(sorted({kind for kind, _ in marks})))


def told(case: Case, judged: Iterable[Judgement]) -> frozenset[str]:
    """What a report says beside its outcomes: assumptions, advice, cautions, what was waived."""
    rules = all_rules()
    found = set(assumptions_of(case))
    for one in judged:
        found |= set(one.assumed) | set(one.missing)
        soft = one.rule in rules and rules[one.rule].severity is not Severity.VIOLATION
        if (soft and one.outcome is not Outcome.DOES_NOT_APPLY) or one.outcome is Outcome.WAIVED:
            found.add(f"{one.subject.id}: {one.says}")
    return frozenset(found)


def _names(text: str, own: str) -> bool:
    return re.search(rf"(?<![\w-]){re.escape(own)}(?![\w-])", text) is not None


def touched(document: Document, slip: Slip) -> frozenset[str]:
    """The ids that a slip touches: of its element, and those it refers to, before and after."""
    here: Any = document
    found: set[str] = set()
    for step in slip.path:
        here = here[step] if not isinstance(here, dict) or step in here else None
        if isinstance(here, dict):
            found |= _ids(here)
    found |= _ids(slip.value) if isinstance(slip.value, dict) else set()
    if slip.path[-1] in {*REFERENCES, "id"}:
        found |= {str(here), str(slip.value)}
    return frozenset(found)


def _ids(element: dict[str, Any]) -> set[str]:
    names = ("id", *REFERENCES)
    return {v for k in names if isinstance(v := element.get(k), str)}
