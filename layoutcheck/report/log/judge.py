"""Hold a filled log to the schedule: one stored outcome for each rule and subject.

Clocks are read to the minute, so a wait or a gap may differ by a minute before it counts: an own
choice, no published source.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from layoutcheck import __version__
from layoutcheck.quantities import UnitSystem
from layoutcheck.report.cautions import DEFERENCE
from layoutcheck.report.log.course import judge_course
from layoutcheck.report.log.model import FreezeLog, Line, LogReport
from layoutcheck.report.log.plausible import judge_order, judge_plausible, judge_strangers
from layoutcheck.report.log.plug import PlugLog, judge_plug
from layoutcheck.report.log.saying import Saying, saying
from layoutcheck.report.log.template import sheet_mark
from layoutcheck.report.log.when import Timeline
from layoutcheck.report.model import Finding, Report, SubjectPart, Verdict
from layoutcheck.report.parts import finding_id, measure
from layoutcheck.report.run import counts_of, verdict_of
from layoutcheck.rules.outcome import Dimension, Gravity, Outcome, Severity, Subject, estimated


def judge_log(log: FreezeLog, report: Report) -> LogReport:
    """Judge a log against the schedule of a report. The same log and report give the same bytes."""
    units = UnitSystem(report.units)
    findings = tuple(_finding(s, units) for s in _sayings(log, report))
    return LogReport(
        version=__version__,
        verdict=verdict_of(f.outcome for f in findings),
        layout=report.layout,
        pack=report.pack,
        sheet=sheet_mark(report),
        units=report.units,
        counts=counts_of(findings),
        findings=findings,
        cautions=report.cautions,
        deference=DEFERENCE,
    )


def _finding(said: Saying, units: UnitSystem) -> Finding:
    return Finding(
        id=finding_id(said),
        rule=said.rule,
        severity=Severity.VIOLATION,
        gravity=Gravity.FLOOD,  # a plug that is not fed or watched as planned may let go
        subject=SubjectPart(kind=said.subject.kind, id=said.subject.id),
        outcome=said.outcome,
        reason=said.reason,
        says=said.says,
        measured=None if said.measured is None else measure(said.measured, units),
        required=None if said.required is None else measure(said.required, units),
        missing=said.missing,
        todo=said.todo,
    )


def _sayings(log: FreezeLog, report: Report) -> Iterator[Saying]:
    yield _sheet(log, report)
    yield _leave(report)
    timeline = Timeline(log)
    logs = [PlugLog(p, log, timeline) for p in report.plugs]
    for one in logs:
        yield from judge_plug(one)
        yield judge_course(one)
        yield from judge_plausible(one)
    yield from judge_strangers(log, (p.id for p in report.plugs))
    yield from _coolant(logs)
    yield _opened(logs, timeline)
    yield judge_order(timeline)


def _sheet(log: FreezeLog, report: Report) -> Saying:
    subject, mark = Subject("log", "sheet"), sheet_mark(report)
    if log.sheet.lower() == mark:
        return saying("log-sheet", subject, Outcome.HOLDS, "same", f"Log of sheet {mark}.")
    return saying(
        "log-sheet",
        subject,
        Outcome.BROKEN,
        "another sheet",
        f"The log is of sheet {log.sheet or '(none)'}, this layout's is {mark}: layout or figures "
        "were changed after the sheet was printed, or it is another job's.",
        todo="Find the layout and the figures that the sheet was made from.",
    )


def _leave(report: Report) -> Saying:
    fine = report.verdict is Verdict.COMPLIANT
    return saying(
        "log-leave",
        Subject("layout", report.layout.name),
        Outcome.HOLDS if fine else Outcome.BROKEN,
        "compliant" if fine else "not compliant",
        "The layout is compliant."
        if fine
        else "The layout is not compliant: nothing in it was to be frozen.",
    )


@dataclass(frozen=True)
class _Used:
    mass: float
    budget: float
    unwritten: tuple[str, ...]


def _coolant(logs: Iterable[PlugLog]) -> Iterator[Saying]:
    by_kind: dict[str, list[PlugLog]] = {}
    for one in logs:
        by_kind.setdefault(one.part.coolant, []).append(one)
    for coolant, group in sorted(by_kind.items()):
        unwritten = tuple(f"coolant of {name}" for one in group for name in one.unweighed)
        budget = [one.part.freeze.coolant.on_hand.value for one in group if one.part.freeze.coolant]
        used = _Used(sum(one.used for one in group), sum(budget), unwritten)
        subject = Subject("stock", coolant)
        if len(budget) < len(group):
            missing = ("a schedule of each plug",)
            yield saying(
                "log-coolant",
                subject,
                Outcome.UNDECIDED,
                "no budget",
                "There is no budget to hold the coolant to.",
                missing=missing,
            )
        else:
            yield _used(subject, used)


def _used(subject: Subject, used: _Used) -> Saying:
    measured = estimated(used.mass, Dimension.MASS)
    required = estimated(used.budget, Dimension.MASS)
    over = used.mass > used.budget * (1.0 + 1e-9)
    unknown = not over and (bool(used.unwritten) or used.mass == 0.0)
    outcome = Outcome.BROKEN if over else Outcome.UNDECIDED if unknown else Outcome.HOLDS
    reason = "over budget" if over else "not written" if unknown else "within budget"
    says = {
        Outcome.BROKEN: "More coolant was used than the budget with its reserve.",
        Outcome.UNDECIDED: "Not every line says how much coolant went in.",
        Outcome.HOLDS: "The coolant used is within the budget.",
    }[outcome]
    made = saying(
        "log-coolant",
        subject,
        outcome,
        reason,
        says,
        missing=(used.unwritten[:12] or ("coolant of each line",)) if unknown else (),
    )
    return replace(made, measured=measured, required=required)


def _opened(logs: list[PlugLog], timeline: Timeline) -> Saying:
    subject = Subject("work", "line opened")
    opened = timeline.of(Line.OPENED)
    if opened is None:
        return saying(
            "log-opened",
            subject,
            Outcome.UNDECIDED,
            "not written",
            "When the line was opened is not written.",
            missing=("clock at which the line was opened",),
        )
    early = [o.part.id for o in logs if o.due is not None and opened < o.due]
    unproven = [o.part.id for o in logs if o.proven is None or opened < o.proven]
    if not early and not unproven:
        return saying(
            "log-opened",
            subject,
            Outcome.HOLDS,
            "after due and proof",
            "The line was opened after every plug was due and proven.",
        )
    parts = []
    if early:
        parts.append(f"before {', '.join(early)} was due")
    if unproven:
        parts.append(f"with no proof of {', '.join(unproven)} written before")
    return saying(
        "log-opened",
        subject,
        Outcome.BROKEN,
        "opened too soon",
        f"The line was opened {' and '.join(parts)}.",
        todo="Tell the person in charge; find out why before the next job.",
    )
