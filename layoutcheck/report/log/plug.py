"""One plug's lines against its schedule: injections, waits, top-ups, hold."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

from layoutcheck.physics.schedule import StepKind
from layoutcheck.report.log.model import FreezeLog, Line, LogRow
from layoutcheck.report.log.saying import Saying, saying
from layoutcheck.report.log.when import MINUTE, Timeline
from layoutcheck.report.model import PlugPart, StepPart
from layoutcheck.rules.outcome import Dimension, Outcome, Subject, estimated

_INJECT = (Line.INJECT, Line.INJECT_FURTHER)


@dataclass(frozen=True)
class Fed:
    """One feeding as it was done: s from the first injection."""

    number: int
    began: float
    ended: float


class PlugLog:
    """A plug's lines, read against the log's clock."""

    def __init__(self, part: PlugPart, log: FreezeLog, timeline: Timeline) -> None:
        """Sort the lines."""
        self.part = part
        self.timeline = timeline
        self.rows = [r for r in log.rows if r.plug == part.id]
        self.steps = part.freeze.coolant.steps if part.freeze.coolant else ()
        self.proven = timeline.of(Line.PROVEN, part.id)
        self.stopped = timeline.of(Line.STOPPED, part.id)
        self.closed = timeline.of(Line.CLOSED)
        self.due = self._moment(StepKind.PLUG_DUE)
        self.ends = self._moment(StepKind.HOLD_ENDS)

    def _moment(self, kind: StepKind) -> float | None:
        return next((s.start.value for s in self.steps if s.kind == kind.value), None)

    def fed(self, *kinds: Line) -> list[Fed]:
        """Give the feedings that are written with both clocks, in order of time."""
        found = []
        for row in self.rows:
            began, ended = self.timeline.at(row.began), self.timeline.at(row.ended)
            if row.what in kinds and began is not None:
                found.append(Fed(row.number, began, began if ended is None else ended))
        return sorted(found, key=lambda f: f.began)

    def planned(self, *kinds: StepKind) -> list[StepPart]:
        """Give the planned steps of some kinds."""
        wanted = {k.value for k in kinds}
        return [s for s in self.steps if s.kind in wanted]

    @property
    def _feedings(self) -> list[LogRow]:
        return [r for r in self.rows if r.what in (*_INJECT, Line.TOP_UP)]

    @property
    def used(self) -> float:
        """Coolant written (kg)."""
        return sum(r.coolant for r in self._feedings if r.coolant is not None)

    @property
    def unweighed(self) -> list[str]:
        """Name the lines that were done and do not say how much went in."""
        return [
            f"{self.part.id}, {r.what.value} {r.number}"
            for r in self._feedings
            if r.began is not None and r.coolant is None
        ]


def judge_plug(log: PlugLog) -> Iterator[Saying]:
    """Judge one plug's lines."""
    subject = Subject("plug", log.part.id)
    if not log.steps or not log.timeline.starts:
        missing = ("a schedule",) if not log.steps else ("clock of the first injection",)
        for rule in ("log-injections", "log-waits", "log-top-ups", "log-hold"):
            yield saying(
                rule,
                subject,
                Outcome.UNDECIDED,
                "not written",
                "There is nothing to hold the log to.",
                missing=missing,
            )
        return
    yield _injections(log, subject)
    yield _waits(log, subject)
    yield _top_ups(log, subject)
    yield _hold(log, subject)


def _injections(log: PlugLog, subject: Subject) -> Saying:
    """Every injection planned before the proof was made, and none was cut short."""
    proven = log.proven
    planned = log.planned(StepKind.INJECT, StepKind.INJECT_FURTHER)
    asked = [
        (number, step)
        for number, step in enumerate(planned, start=1)
        # What begins within a minute of the proof need not have begun.
        if proven is None or step.start.value < proven - MINUTE
    ]
    done = {f.number: f for f in log.fed(*_INJECT)}
    absent = [n for n, _ in asked if n not in done]
    if absent:
        return saying(
            "log-injections",
            subject,
            Outcome.BROKEN,
            "missing",
            f"{len(absent)} of {len(asked)} injections are not written: {_numbers(absent)}.",
            todo="Find out whether they were made.",
        )
    open_ended = [n for n, _ in asked if not _has_end(log, n)]
    if open_ended:
        return saying(
            "log-injections",
            subject,
            Outcome.UNDECIDED,
            "no end",
            f"Injections without the clock of their end: {_numbers(open_ended)}.",
            missing=("clock at which each injection was shut",),
        )
    short = [n for n, s in asked if done[n].ended - done[n].began < s.duration.value - MINUTE]
    if short:
        return saying(
            "log-injections",
            subject,
            Outcome.BROKEN,
            "cut short",
            f"Injections cut short by more than a minute: {_numbers(short)}.",
        )
    return saying(
        "log-injections",
        subject,
        Outcome.HOLDS,
        "made",
        f"All {len(asked)} injections planned before the proof were made.",
    )


def _has_end(log: PlugLog, number: int) -> bool:
    return any(r.what in _INJECT and r.number == number and r.ended is not None for r in log.rows)


def _numbers(numbers: list[int]) -> str:
    return ", ".join(f"no. {n}" for n in numbers[:12]) + (" and more" if len(numbers) > 12 else "")


def _waits(log: PlugLog, subject: Subject) -> Saying:
    """No wait between two injections was cut."""
    fed = log.fed(*_INJECT)
    planned = log.planned(StepKind.WAIT, StepKind.WAIT_FURTHER)
    if len(fed) < 2 or not planned:
        return saying(
            "log-waits",
            subject,
            Outcome.DOES_NOT_APPLY,
            "no waits",
            "There are no two injections with a wait between them.",
        )
    wait = planned[0].duration.value
    gaps = [(after.began - before.ended, before.number) for before, after in pairwise(fed)]
    worst, _ = min(gaps)
    cut = [number for gap, number in gaps if gap < wait - MINUTE]
    made = saying(
        "log-waits",
        subject,
        Outcome.BROKEN if cut else Outcome.HOLDS,
        "cut" if cut else "kept",
        f"Waits cut by more than a minute, after injections {_numbers(cut)}."
        if cut
        else "No wait was cut.",
    )
    return _compared(made, worst, wait)


def _top_ups(log: PlugLog, subject: Subject) -> Saying:
    """From the proof until feeding stops the jacket never goes longer than planned without."""
    part = log.part.freeze.coolant
    assert part is not None, "only asked where there is a schedule"
    interval = part.top_up_interval.value
    until = log.stopped
    if until is None:
        return saying(
            "log-top-ups",
            subject,
            Outcome.UNDECIDED,
            "no end",
            "When feeding stopped is not written.",
            missing=(f"clock at which feeding of {subject.id} stopped",),
        )
    waits = log.planned(StepKind.WAIT, StepKind.WAIT_FURTHER)
    wait = waits[0].duration.value if waits else 0.0
    injected = log.fed(*_INJECT)
    begin = max((f.ended for f in injected), default=0.0) + wait
    fed = [begin, *(f.began for f in log.fed(Line.TOP_UP)), until]
    worst = max(after - before for before, after in pairwise(fed))
    late = worst > interval + MINUTE
    made = saying(
        "log-top-ups",
        subject,
        Outcome.BROKEN if late else Outcome.HOLDS,
        "late" if late else "in time",
        "The jacket went longer without coolant than planned."
        if late
        else "Every top-up came in time.",
        todo="Ice may have thinned unseen; tell the person in charge." if late else "",
    )
    return _compared(made, worst, interval)


def _hold(log: PlugLog, subject: Subject) -> Saying:
    """The line was closed up by the planned end of the hold, and fed until then."""
    if log.closed is None or log.ends is None:
        return saying(
            "log-hold",
            subject,
            Outcome.UNDECIDED,
            "not written",
            "When the line was closed up is not written.",
            missing=("clock at which the line was closed up",),
        )
    if log.stopped is None:
        return saying(
            "log-hold",
            subject,
            Outcome.UNDECIDED,
            "no end of feeding",
            "When feeding stopped is not written.",
            missing=(f"clock at which feeding of {subject.id} stopped",),
        )
    if log.stopped < log.closed:
        made = saying(
            "log-hold",
            subject,
            Outcome.BROKEN,
            "stopped early",
            "Feeding stopped before the line was closed up.",
        )
        return _compared(made, log.stopped, log.closed)
    over = log.closed > log.ends + MINUTE
    made = saying(
        "log-hold",
        subject,
        Outcome.BROKEN if over else Outcome.HOLDS,
        "beyond plan" if over else "in time",
        "The line was closed up after the planned hold had ended."
        if over
        else "The line was closed up before the planned hold ended.",
    )
    return _compared(made, log.closed, log.ends)


def _compared(made: Saying, measured: float, required: float) -> Saying:
    return replace(
        made,
        measured=estimated(measured, Dimension.DURATION),
        required=estimated(required, Dimension.DURATION),
    )
