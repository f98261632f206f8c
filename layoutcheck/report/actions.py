"""What to do before the layout is checked again: findings turned into numbered actions.

Several findings that one action settles make one action. Which action a finding comes to is read
from data: its outcome and changes, its rule's properties, and the joint mending. The words are made
in `action_words`.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple

from layoutcheck.report.action_words import what_of, why_of
from layoutcheck.report.model import (
    ActionPart,
    Finding,
    MendingPart,
    NamedPart,
    Report,
    SubjectPart,
    speaks_of,
)
from layoutcheck.report.refs import DONE_TO
from layoutcheck.rules.base import PlacingRule
from layoutcheck.rules.doubts import proof_of
from layoutcheck.rules.outcome import Gravity, Outcome, Severity
from layoutcheck.rules.registry import all_rules

OPEN = frozenset({Outcome.FAULT, Outcome.BROKEN, Outcome.UNDECIDED})

MOVE, FREEZE, STATE, DO, ASK, REPORT = (
    "move plug",
    "freeze plug",
    "state",
    "do",
    "correct the sketch",
    "report a fault",
)
_PROVE = "prove valve"
_TO_PLACES = {MOVE, FREEZE}
# What is done by hand comes before places, and those before stock and questions about the sketch.
_PLACES, _STOCK, _ASKED = 1, 2, 3


class Step(NamedTuple):
    """What is done, and to what: what makes two findings one action."""

    kind: str
    on: tuple[str, ...]


def numbered(report: Report) -> Report:
    """Give a report its actions, and each finding the number of the first that settles it."""
    actions = tuple(_actions(report))
    first: dict[str, int] = {}
    for action in actions:
        for finding in action.settles:
            first.setdefault(finding, action.number)
    told = tuple(f.model_copy(update={"action": first.get(f.id)}) for f in report.findings)
    return report.model_copy(update={"actions": actions, "findings": told})


def _actions(report: Report) -> Iterator[ActionPart]:
    found = _Settled(report).steps()
    ordered = sorted(found.items(), key=lambda item: _order(item[0], item[1], found))
    for number, (step, settled) in enumerate(ordered, 1):
        findings = sorted(settled, key=_worst_first)
        fields = _fields(step, findings) if step.kind == STATE else ()
        yield ActionPart(
            number=number,
            gravity=min((f.gravity for f in findings), key=list(Gravity).index),
            kind=step.kind,
            on=step.on,
            elements=_elements(step, findings, report),
            known=findings[0].outcome is not Outcome.UNDECIDED,
            what=what_of(step.kind, step.on, findings, report, fields),
            why=why_of(step.kind, findings, report),
            settles=tuple(f.id for f in findings),
            not_stated=fields,
        )


def _elements(step: Step, findings: Sequence[Finding], report: Report) -> tuple[NamedPart, ...]:
    """Give what a step is done to; for what is no doing, what is wrong with what it settles."""
    if step.kind in _TO_PLACES:
        refs = {p.id: p.ref for p in report.plugs}
        return (NamedPart(kind="plug", id=step.on[0], ref=refs.get(step.on[0])),)
    changes = [c for f in report.findings for c in f.changes]
    changes += report.mending.actions if report.mending is not None else ()
    for change in changes:
        if (change.kind, change.id) == (step.kind, *step.on):
            return (NamedPart(kind=DONE_TO[change.kind], id=change.id, ref=change.ref),)
    subjects = (f.subject for f in findings)
    found = (e for s in subjects for e in s.elements or (NamedPart(**_own(s)),))
    return tuple(dict.fromkeys(found))


def _own(subject: SubjectPart) -> dict[str, str | None]:
    return {"kind": subject.kind, "id": subject.id, "ref": subject.ref}


def _fields(step: Step, findings: Sequence[Finding]) -> tuple[str, ...]:
    """Give the fields of the layout that state the facts of a step, each once."""
    stated_at = {
        fact: place
        for finding in findings
        for fact, place in zip(finding.missing, finding.stated_at, strict=False)
    }
    return tuple(dict.fromkeys(stated_at[f] for f in step.on if stated_at.get(f)))


def _worst_first(finding: Finding) -> tuple[bool, int, str, str]:
    """What is known or has a figure to show comes before what is not known."""
    bare = finding.outcome is Outcome.UNDECIDED and finding.measured is None
    return bare, _weight(finding), finding.rule, finding.id


def _weight(finding: Finding) -> int:
    """Weigh a finding, the gravest least.

    A caution counts one step less than a violation, and so does what only waits for a fact: it may
    turn out well, and what is known to be as grave comes before it.
    """
    weight = list(Gravity).index(finding.gravity) + list(Severity).index(finding.severity)
    return weight + bool(finding.missing and not finding.changes)


def _order(
    step: Step, findings: list[Finding], found: dict[Step, list[Finding]]
) -> tuple[int, int, bool, Step]:
    """Give an action's place among all: by gravity, then by hand, by place, by stock and time."""
    weighed = findings
    if step.kind in _TO_PLACES:  # moves are proposed together, and told together
        weighed = [f for s, of in found.items() if s.kind in _TO_PLACES for f in of]
    unknown = all(f.outcome is Outcome.UNDECIDED for f in findings)
    return min(_weight(f) for f in weighed), _rank(step, findings), unknown, step


def _rank(step: Step, findings: list[Finding]) -> int:
    if step.kind in _TO_PLACES:
        return _PLACES
    if step.kind in {STATE, ASK}:
        return _ASKED
    own = [f for f in findings if step == _by_itself(f)]
    late = all(f.subject.kind == "stock" or f.gravity is Gravity.DELAY for f in own)
    return _STOCK if own and late else 0


@dataclass
class _Settled:
    """Finds the steps that settle each open finding of a report."""

    report: Report
    proposal: tuple[Step, ...] = field(init=False)

    def __post_init__(self) -> None:
        mending = self.report.mending
        self.proposal = tuple(_proposed(mending)) if mending is not None else ()

    def steps(self) -> dict[Step, list[Finding]]:
        """Give each step with what it settles."""
        found: dict[Step, list[Finding]] = defaultdict(list)
        together: list[Finding] = []
        for finding in self.report.findings:
            if finding.outcome not in OPEN:
                continue
            own = self._of(finding)
            together += [] if own else [finding]
            for step in own:
                found[step].append(finding)
        # What the joint proposal settles as a whole goes with those of its steps that nothing else
        # asks for: it is why they are there.
        steps = [s for s in self.proposal if s not in found] or self.proposal
        for step in steps if together else ():
            found[step] += together
        return _facts_together(found)

    def _of(self, finding: Finding) -> list[Step]:
        """Give the steps that settle a finding; none where the proposal does so as a whole."""
        if finding.outcome is Outcome.FAULT:
            return [Step(REPORT, (finding.rule,))]
        changes = [Step(c.kind, (c.id,)) for c in finding.changes]
        own = [c for c in changes if c in self.proposal] or self._move(finding)
        if own:
            return own[:1]
        sure = finding.outcome is Outcome.BROKEN or changes
        if sure and finding.id in self._mended and self.proposal:
            return []
        if changes:
            return changes[:1]
        if all_rules()[finding.rule].as_stated:
            return [Step(ASK, (finding.rule, finding.reason))]
        if finding.outcome is Outcome.UNDECIDED and finding.missing:
            return [self._had_by.get(m) or Step(STATE, (m,)) for m in finding.missing]
        return [_by_itself(finding)]

    def _move(self, finding: Finding) -> list[Step]:
        """Give the move of a plug that settles what is wrong with its place."""
        if not isinstance(all_rules()[finding.rule], PlacingRule):
            return []
        for plug in _plugs_of(finding, self.report):
            settled = finding.id in self._moved.get(plug, frozenset())
            if settled and (finding.outcome is Outcome.BROKEN or plug in self._must_move):
                return [Step(MOVE, (plug,))]
        return []

    @cached_property
    def _mended(self) -> frozenset[str]:
        """Findings that do not hold now, and do once the joint proposal is done."""
        mending = self.report.mending
        if mending is None or not mending.moves:
            return frozenset()
        left = {r.id for r in mending.remaining}
        # A section goes by its ends, so that with moved plugs it has another id.
        rules = {r.rule for r in mending.remaining}
        return frozenset(
            f.id
            for f in self.report.findings
            if f.outcome in OPEN
            and f.id not in left
            and (f.subject.kind == "plug" or f.rule not in rules)
        )

    @cached_property
    def _moved(self) -> dict[str, frozenset[str]]:
        """For each plug with a place to go to: the findings that do not hold only where it is."""
        if self._mended:
            moves = [s.on[0] for s in self.proposal if s.kind == MOVE]
            return dict.fromkeys(moves, self._mended)
        every = frozenset(f.id for f in self.report.findings)
        return {
            p.id: every - {r.id for r in p.nearest.remaining}
            for p in self.report.plugs
            if p.nearest is not None and p.nearest.travel.value > 0.0
        }

    @cached_property
    def _must_move(self) -> frozenset[str]:
        """Plugs at which something of the place is broken."""
        rules = all_rules()
        return frozenset(
            plug
            for f in self.report.findings
            if f.outcome is Outcome.BROKEN and isinstance(rules[f.rule], PlacingRule)
            for plug in _plugs_of(f, self.report)
            if f.id in self._moved.get(plug, frozenset())
        )

    @cached_property
    def _had_by(self) -> dict[str, Step]:
        """Give the steps by which what is missing is had, by the words by which it is missing."""
        changes = (
            Step(c.kind, (c.id,))
            for f in self.report.findings
            if f.outcome in OPEN
            for c in f.changes
        )
        steps = (*self.proposal, *changes)
        proofs = {proof_of(step.on[0]): step for step in steps if step.kind == _PROVE}
        given = {
            fact: _by_itself(f)
            for f in self.report.findings
            if f.outcome in OPEN
            for fact in f.gives
        }
        return {**proofs, **given}


def _by_itself(finding: Finding) -> Step:
    """Give the step that only what a rule says of itself leads to: one for each reason."""
    return Step(DO, (finding.rule, finding.reason))


def _proposed(mending: MendingPart) -> Iterator[Step]:
    """Give the steps of the joint proposal."""
    for action in mending.actions:
        yield Step(action.kind, (action.id,))
    for move in mending.moves:
        if move.added or move.travel.value > 0.0:
            yield Step(FREEZE if move.added else MOVE, (move.plug,))


def _plugs_of(finding: Finding, report: Report) -> list[str]:
    """Name the plugs that a finding is about."""
    if finding.subject.kind == "plug":
        return [finding.subject.id]
    return [p.id for p in report.plugs if speaks_of(finding, "plug", p.id)]


def _facts_together(found: dict[Step, list[Finding]]) -> dict[Step, list[Finding]]:
    """Ask once for facts that one field states, and for those that the same findings wait for."""
    asked = [(step, findings) for step, findings in found.items() if step.kind == STATE]
    by_field = _merged(asked, lambda step, findings: _fields(step, findings) or step.on)
    by_use = _merged(by_field, lambda _, findings: tuple(sorted(f.id for f in findings)))
    rest = {step: findings for step, findings in found.items() if step.kind != STATE}
    return rest | dict(by_use)


_Asked = tuple[Step, list[Finding]]


def _merged(
    asked: Sequence[_Asked], alike: Callable[[Step, list[Finding]], tuple[str, ...]]
) -> list[_Asked]:
    """Make one of the steps that are alike, with all that they settle."""
    steps: dict[tuple[str, ...], list[str]] = defaultdict(list)
    settled: dict[tuple[str, ...], dict[str, Finding]] = defaultdict(dict)
    for step, findings in asked:
        key = alike(step, findings)
        steps[key] += step.on
        settled[key] |= {f.id: f for f in findings}
    return [(Step(STATE, tuple(on)), list(settled[key].values())) for key, on in steps.items()]
