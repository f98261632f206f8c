"""Whether what a plug's lines say can be so: amounts, lengths, the order of feeding and proof.

What can not be so is broken. What is odd is undecided until the line's own note says why: somebody
looked at it, and the report then shows the note. The bounds are common practice, no published
source: half to twice the planned coolant, twice the planned length.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from layoutcheck.physics.schedule import StepKind
from layoutcheck.report.log.model import FreezeLog, Line, LogRow
from layoutcheck.report.log.plug import PlugLog
from layoutcheck.report.log.saying import Saying, saying
from layoutcheck.report.log.when import MINUTE, Timeline
from layoutcheck.report.model import StepPart
from layoutcheck.rules.outcome import Outcome, Subject

_LEAST, _MOST, _LONGEST = 0.5, 2.0, 2.0
_FEWEST_LETTERS = 3
_STEPS = {
    Line.INJECT: (StepKind.INJECT, StepKind.INJECT_FURTHER),
    Line.INJECT_FURTHER: (StepKind.INJECT, StepKind.INJECT_FURTHER),
    Line.TOP_UP: (StepKind.TOP_UP,),
}


@dataclass(frozen=True)
class _Feeding:
    """A feeding as it was written, with its times (s) and what was planned for it."""

    row: LogRow
    began: float
    ended: float | None
    planned: StepPart

    @property
    def name(self) -> str:
        return f"{self.row.what.value} no. {self.row.number}"

    @property
    def explained(self) -> bool:
        """Tell whether the line's note says anything."""
        return sum(c.isalpha() for c in self.row.note) >= _FEWEST_LETTERS


def judge_plausible(log: PlugLog) -> Iterator[Saying]:
    """Judge what a plug's lines say by themselves. Nothing where there is no schedule."""
    if not log.steps or not log.timeline.starts:
        return
    fed = sorted(_feedings(log), key=lambda f: f.began)
    yield _amounts(log, fed)
    yield _lengths(log, fed)
    yield _proof(log, fed)


def _feedings(log: PlugLog) -> Iterator[_Feeding]:
    for row in log.rows:
        steps = log.planned(*_STEPS.get(row.what, ()))
        began = log.timeline.at(row.began)
        if began is not None and steps:
            # A feeding more than was planned is held to the first of its kind.
            planned = steps[row.number - 1 if row.number <= len(steps) else 0]
            yield _Feeding(row, began, log.timeline.at(row.ended), planned)


def _amounts(log: PlugLog, fed: Iterable[_Feeding]) -> Saying:
    odd = [
        f
        for f in fed
        if f.row.coolant is not None and not _LEAST <= f.row.coolant / f.planned.mass.value <= _MOST
    ]
    says = "took less than half, or more than twice, of the coolant planned"
    return _asked("log-amounts", log, odd, says, "Each feeding took about what was planned.")


def _lengths(log: PlugLog, fed: list[_Feeding]) -> Saying:
    subject = Subject("plug", log.part.id)
    stops = [t for t in (log.stopped, log.closed) if t is not None]
    bounds = [*(f.began for f in fed[1:]), max(stops, default=float("inf"))]
    backward = [f.name for f in fed if f.ended is not None and f.ended < f.began - MINUTE]
    into = [
        f.name
        for f, bound in zip(fed, bounds, strict=False)
        if f.ended is not None and f.ended > bound + MINUTE
    ]
    for names, reason, says in (
        (backward, "ends before it begins", "end before they begin"),
        (into, "runs into the next", "had not ended when the next line began"),
    ):
        if names:
            told = f"These feedings {says}: {_some(names)}."
            return saying("log-lengths", subject, Outcome.BROKEN, reason, told, todo=_FIND_OUT)
    long = [
        f
        for f in fed
        if f.ended is not None and f.ended - f.began > _LONGEST * f.planned.duration.value + MINUTE
    ]
    says = "lasted more than twice as long as planned"
    return _asked("log-lengths", log, long, says, "No feeding lasted far longer than planned.")


def _proof(log: PlugLog, fed: list[_Feeding]) -> Saying:
    """A plug is proven after its feeding began, and not before ice can have closed."""
    subject, rule = Subject("plug", log.part.id), "log-proof"
    if log.proven is None:
        says = "No proof of the plug is written."
        missing = (f"clock at which plug {subject.id} was proven",)
        return saying(rule, subject, Outcome.UNDECIDED, "not written", says, missing=missing)
    injected = [f.began for f in fed if f.row.what is Line.INJECT]
    if not injected or log.proven <= min(injected):
        says = "The plug is written as proven before its first injection."
        return saying(rule, subject, Outcome.BROKEN, "before ice", says, todo=_FIND_OUT)
    closes = log.part.freeze.time_to_plug
    row = next(r for r in log.rows if r.what is Line.PROVEN and r.began is not None)
    soon = closes is not None and log.proven - min(injected) < closes.low.value - MINUTE
    if soon and sum(c.isalpha() for c in row.note) < _FEWEST_LETTERS:
        says = "The plug is written as proven sooner than ice is likely to close it."
        missing = ("how it was proven, in the note of its line",)
        return saying(rule, subject, Outcome.UNDECIDED, "soon", says, missing=missing)
    says = "The plug was proven after its first injection."
    return saying(rule, subject, Outcome.HOLDS, "after ice", f"{says} {row.note}".strip())


def _asked(rule: str, log: PlugLog, odd: list[_Feeding], says: str, fine: str) -> Saying:
    """Ask about what is odd, and show what the notes say of it."""
    subject = Subject("plug", log.part.id)
    open_still = [f.name for f in odd if not f.explained]
    if open_still:
        missing = tuple(f"why, in the note of {name}" for name in open_still[:12])
        told = f"These feedings {says}: {_some(open_still)}."
        return saying(rule, subject, Outcome.UNDECIDED, "odd", told, missing=missing)
    notes = "".join(f" {f.name} {says}: {f.row.note}" for f in odd)
    return saying(rule, subject, Outcome.HOLDS, "explained" if odd else "as planned", fine + notes)


def _some(names: list[str]) -> str:
    return ", ".join(names[:12]) + (" and more" if len(names) > 12 else "")


_FIND_OUT = "Find out what was done; correct the log, or tell the person in charge."


def judge_order(timeline: Timeline) -> Saying:
    """Judge whether the line was closed up after it was opened."""
    subject, rule = Subject("work", "line closed up"), "log-order"
    opened, closed = timeline.of(Line.OPENED), timeline.of(Line.CLOSED)
    if opened is None or closed is None:
        says = "When the line was opened and closed up is not written."
        missing = ("clocks at which the line was opened and closed up",)
        return saying(rule, subject, Outcome.UNDECIDED, "not written", says, missing=missing)
    if closed <= opened:
        says = "The line is written as closed up before it was opened."
        reason = "closed before opened"
        return saying(rule, subject, Outcome.BROKEN, reason, says, todo=_FIND_OUT)
    says = "The line was closed up after it was opened."
    return saying(rule, subject, Outcome.HOLDS, "in order", says)


def judge_strangers(log: FreezeLog, plugs: Iterable[str]) -> Iterator[Saying]:
    """Name lines of plugs that the layout does not have: what they say would be lost."""
    known = {None, *plugs}
    strange = sorted({row.plug for row in log.rows if row.plug and row.plug not in known})
    for own in strange[:12]:
        says = f"The log has lines of plug {own}; the layout has no such plug."
        subject = Subject("plug", own)
        yield saying("log-plugs", subject, Outcome.BROKEN, "no such plug", says, todo=_FIND_OUT)
