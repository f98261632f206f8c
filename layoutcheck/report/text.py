"""The report as plain text for a person on site: the verdict first, then what to do."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from layoutcheck.document import Fault
from layoutcheck.document.faults import shown
from layoutcheck.quantities import UnitSystem
from layoutcheck.report.in_model import lines_of
from layoutcheck.report.model import (
    At,
    Finding,
    InModelPart,
    Move,
    PlugPart,
    Report,
    speaks_of,
)
from layoutcheck.report.text_first import (
    CAN_KILL,
    action_lines,
    both,
    drain_lines,
    every_action,
    head_lines,
    no_places,
    said,
    stand_lines,
)
from layoutcheck.report.text_freeze import freeze_lines
from layoutcheck.report.text_mending import mending_lines
from layoutcheck.report.text_stretches import stretches_lines
from layoutcheck.report.wrap import bulleted, some_of, wrapped
from layoutcheck.rules.outcome import Outcome, Severity

# Findings that ask for something are told in full; the others are listed by name.
_TOLD = (Outcome.FAULT, Outcome.BROKEN, Outcome.UNDECIDED, Outcome.WAIVED)
_FIRST_KINDS = ("plug", "plugs", "work", "stock")
_LONGEST_WAY = 14
_MOST_PARTS = 5
_MOST_MISSING = 4
_MOST_FLOWS = 8
_MOST_NAMES = 12


def report_text(report: Report) -> str:
    """Write the first screen of a report: the same text for the same report.

    What is waived, loosened and dangerous is told too; `full_text` tells the rest.
    """
    granted = len(report.assumptions)
    rest = "Every rule, place and figure is under --full."
    if granted:
        rest = f"The sketch leaves something open: {granted} assumptions were made instead. {rest}"
    return _joined(
        [
            *_first_screen(report),
            in_model_lines(report.in_model, _MOST_NAMES),
            _waived_lines(report),
            _loosened_lines(report),
            bulleted(CAN_KILL, report.cautions),
            [*wrapped(rest), *_foot(report)],
        ]
    )


def full_text(report: Report) -> str:
    """Write a report as plain text, whole, under its first screen."""
    return _joined(
        [
            *_first_screen(report),
            wrapped(report.layout.note),
            in_model_lines(report.in_model),
            every_action(report),
            *(_plug_lines(plug, report) for plug in report.plugs),
            mending_lines(report),
            *_other_subjects(report),
            _missing_lines(report),
            _waived_lines(report),
            _loosened_lines(report),
            _flow_lines(report),
            bulleted("ASSUMED where the sketch says nothing", report.assumptions),
            *(stretches_lines(plug, report.units) for plug in report.plugs),
            bulleted(CAN_KILL, report.cautions),
            _foot(report),
        ]
    )


def _first_screen(report: Report) -> list[list[str]]:
    return [
        head_lines(report),
        action_lines(report),
        wrapped(no_places(report), indent="  ", first=""),
        [*drain_lines(report), *stand_lines(report)],
    ]


def in_model_lines(parts: Sequence[InModelPart], most: int | None = None) -> list[str]:
    """List what the source model calls what is spoken of; the first so many."""
    more = [] if most is None or len(parts) <= most else [f"and {len(parts) - most} more"]
    told = lines_of(parts[:most])
    return bulleted("IN THE MODEL: its own names and ids", [*told, *more])


def _joined(blocks: Iterable[Sequence[str]]) -> str:
    return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"


def faults_text(given: str, faults: Sequence[Fault]) -> str:
    """Write why something given can not be used: every fault, its place and a right example.

    given: what was given, for people ("layout riser.json").
    """
    if len(faults) == 1 and not faults[0].pointer:
        return f"{given}: {faults[0].problem}\n  right: {faults[0].example}"
    number = f"{len(faults)} faults" if len(faults) > 1 else "1 fault"
    lines = [f"{given} can not be used: {number}."]
    for fault in faults:
        place = shown(fault.pointer, 200) or "(the whole)"
        lines += ["", place]
        if fault.line is not None:
            lines.append(f"  typed at: line {fault.line}, column {fault.column}")
        lines += [f"  found: {fault.found}", f"  problem: {fault.problem}"]
        lines.append(f"  right: {fault.example}")
    return "\n".join(lines)


# --- foot ----------------------------------------------------------------------------------------


def _foot(report: Report) -> list[str]:
    on = f"; judged on {report.judged_on.isoformat()}" if report.judged_on else ""
    basis = f"rules measure {report.basis}; places are given to its centre"
    pack = f"Figures: {report.pack.name}, {report.pack.digest[:19]}; {basis}."
    made = f"layoutcheck {report.version}; layout {report.layout.digest[:19]}{on}."
    return [*wrapped(report.deference), *wrapped(pack), *wrapped(made)]


# --- subjects -------------------------------------------------------------------------------------


def _plug_lines(plug: PlugPart, report: Report) -> list[str]:
    title = (
        f"PLUG {plug.id}: {_place(plug.at)}. Jacket {plug.jacket.shown}, {plug.size}, "
        f"{plug.coolant}."
    )
    own = [f for f in report.findings if f.subject.kind == "plug" and f.subject.id == plug.id]
    lines = wrapped(title, indent="  ", first="")
    lines += _told(own, may_move=plug.nearest is not None)
    lines += _told_elsewhere(plug, report)
    lines += _where_to_go(plug, report)
    if not plug.holds_back:
        text = "USELESS as marked: without this plug no more pressure or water reaches the work."
        lines += wrapped(text, indent="    ", first="  ")
    if not plug.isolates:
        text = "No place of this plug alone cuts the work off: the set needs more; see WORK."
        lines += wrapped(text, indent="    ")
    return lines + freeze_lines(plug, UnitSystem(report.units)) + _quiet(own)


def _where_to_go(plug: PlugPart, report: Report) -> list[str]:
    if plug.nearest is not None:
        return _move_lines(plug.nearest, report) + _keeping_lines(plug, UnitSystem(report.units))
    if plug.no_place:
        text = "NO PLACE on these pipes passes every rule; what rules them out is listed below."
        return wrapped(text, indent="    ", first="  ")
    if plug.well_placed and plug.clear_by is not None:
        return wrapped(f"Well placed: clear by {plug.clear_by.shown}.", indent="    ", first="  ")
    return ["  Well placed."] if plug.well_placed else []


def _move_lines(move: Move, report: Report) -> list[str]:
    """Say where a plug goes, what drains then, and what is still open there."""
    known = {f.id: f for f in report.findings}
    if move.travel.value == 0.0:
        text = f"STAYS where it is marked; its clear stretch is {move.room.shown} long."
    else:
        text = (
            f"GO TO {move.pipe}: tape {move.tape.shown} from {move.from_junction} to the jacket's "
            f"centre. That is {move.travel.shown} along the pipe from the mark, in a clear stretch "
            f"{move.room.shown} long."
        )
    lines = wrapped(text, indent="    ", first="  ")
    marked = None if report.drain is None else report.drain.volume
    units = UnitSystem(report.units)
    if move.drain is not None and marked is not None and move.drain.shown != marked.shown:
        text = f"With the plug there {both(move.drain, units)} drains at the work, not "
        lines += wrapped(f"{text}{both(marked, units)}.", indent="    ")
    same = [_of_subject(known[left.id]) for left in move.remaining if left.id in known]
    if same:
        lines += wrapped(f"Still open there, as marked: {', '.join(same)}.", indent="    ")
    for left in move.remaining:
        if left.id in known:
            continue
        told = f"There still {said(left.outcome).lower()}: {left.rule}: {left.says}"
        lines += wrapped(told, indent="      ", first="    ")
    if not move.remaining and move.travel.value:
        lines += wrapped(
            "There it passes every rule. Check again with the plug moved.", indent="    "
        )
    return lines


def _keeping_lines(plug: PlugPart, units: UnitSystem) -> list[str]:
    move = plug.keeping
    if move is None:
        return []
    text = (
        f"The nearest place that keeps the water back: {move.pipe}, tape {move.tape.shown} from "
        f"{move.from_junction}, {move.travel.shown} along the pipe from the mark."
    )
    if move.drain is not None:
        text += f" There {both(move.drain, units)} drains."
    return wrapped(text, indent="    ")


def _told_elsewhere(plug: PlugPart, report: Report) -> list[str]:
    """Point to what is wrong between this plug and another."""
    lines: list[str] = []
    for finding in report.findings:
        concerned = speaks_of(finding, "plug", plug.id) and finding.subject.kind != "plug"
        if concerned and finding.outcome in {Outcome.BROKEN, Outcome.UNDECIDED}:
            number = "" if finding.action is None else f": action {finding.action}"
            text = f"{said(finding.outcome)} {_of_subject(finding)}{number}"
            lines += wrapped(text, indent="    ", first="  ")
    return lines


def _of_subject(finding: Finding) -> str:
    name = _short_name(finding.subject.id)
    return f"{finding.rule} {name}" if name.startswith("of ") else f"{finding.rule} of {name}"


def _short_name(name: str) -> str:
    """Shorten a subject that is made of many parts; plugs are named first."""
    parts = name.split(" + ")
    if len(parts) <= _MOST_PARTS:
        return name
    plugs_first = sorted(parts, key=lambda part: not part.startswith("plug "))
    return some_of(plugs_first, _MOST_PARTS - 1)


def _other_subjects(report: Report) -> list[list[str]]:
    subjects = {(f.subject.kind, f.subject.id) for f in report.findings}
    subjects -= {("plug", plug.id) for plug in report.plugs}
    blocks = []
    for kind, name in sorted(subjects, key=_subject_order):
        own = [f for f in report.findings if (f.subject.kind, f.subject.id) == (kind, name)]
        lines = wrapped(f"{kind.upper()} {_short_name(name)}", indent="  ", first="")
        blocks.append(lines + _told(own, may_move=False) + _quiet(own))
    return blocks


def _subject_order(subject: tuple[str, str]) -> tuple[int, str, str]:
    kind, name = subject
    known = _FIRST_KINDS.index(kind) if kind in _FIRST_KINDS else len(_FIRST_KINDS)
    return known, kind, name


# --- findings -------------------------------------------------------------------------------------


def _told(findings: Iterable[Finding], *, may_move: bool) -> list[str]:
    lines: list[str] = []
    ranked = [f for f in findings if f.outcome in _TOLD]
    for finding in sorted(ranked, key=lambda f: (_TOLD.index(f.outcome), f.rule)):
        grade = "" if finding.severity is Severity.VIOLATION else f" ({finding.severity})"
        number = "" if finding.action is None else f": action {finding.action}"
        lines.append(f"  {said(finding.outcome)} {finding.rule}{grade}{number}")
        lines += wrapped(finding.says, indent="    ")
        lines += _way_lines(finding)
        if finding.missing:
            listed = some_of(finding.missing, _MOST_MISSING, between="; ")
            lines += wrapped(f"Not known yet: {listed}.", indent="    ")
        # Where the place to go to follows, being told to move says nothing more.
        told_below = may_move and finding.todo.startswith("Move ")
        if finding.todo and not told_below and finding.outcome is not Outcome.WAIVED:
            lines += wrapped(f"Next: {finding.todo}", indent="    ")
    return lines


def _quiet(findings: Iterable[Finding]) -> list[str]:
    lines: list[str] = []
    rows = list(findings)
    for outcome, words in ((Outcome.HOLDS, "Holds"), (Outcome.DOES_NOT_APPLY, "Does not apply")):
        names = sorted(f.rule for f in rows if f.outcome is outcome)
        if names:
            lines += wrapped(f"{words}: {', '.join(names)}.", indent="    ", first="  ")
    return lines


def _way_lines(finding: Finding) -> list[str]:
    names = [finding.subject.id] if finding.subject.kind == "plug" else []
    for at in finding.way:
        name = at.junction or at.element
        if name is not None and (not names or names[-1] != name):
            names.append(name)
    if len(names) < 2 or ", ".join(names) in finding.says:
        return []
    if len(names) > _LONGEST_WAY:
        half = _LONGEST_WAY // 2
        names = [*names[:half], f"... {len(names) - 2 * half} more ...", *names[-half:]]
    return wrapped(f"Way: {' -> '.join(names)}", indent="      ", first="    ")


def _place(at: At) -> str:
    if at.pipe is not None and at.station is None:
        return f"{at.pipe}, as drawn (its length is not stated)"
    if at.pipe is None or at.station is None:
        return at.junction or at.element or "place not known"
    return f"{at.pipe}, {at.station.shown} from {at.from_junction}"


# --- the whole ------------------------------------------------------------------------------------


def _missing_lines(report: Report) -> list[str]:
    """List all that is missing, each thing once, with what it would settle."""
    wanted: dict[str, list[str]] = {}
    for finding in report.findings:
        if finding.outcome is Outcome.UNDECIDED:
            for item in finding.missing or (finding.says,):
                wanted.setdefault(item, []).append(_of_subject(finding))
    by_use: dict[tuple[str, ...], list[str]] = {}
    for item, uses in sorted(wanted.items()):
        by_use.setdefault(tuple(uses), []).append(item)
    rows = [f"{'; '.join(items)} (for {some_of(uses, 4)})" for uses, items in by_use.items()]
    return bulleted("TO SETTLE: state or prove, then check again", rows)


def _waived_lines(report: Report) -> list[str]:
    rows = [
        f"{f.rule} of {f.subject.id}: by {f.waiver.by} until {f.waiver.until.isoformat()}: "
        f"{f.waiver.reason}"
        for f in report.findings
        if f.waiver is not None
    ]
    return bulleted("WAIVED: broken or not known yet, and a named person answers for it", rows)


def _loosened_lines(report: Report) -> list[str]:
    rows = [
        f"{x.rule}, {x.figure}: set to {x.set_to}; built in: {x.built_in}"
        for x in report.pack.loosened
    ]
    return bulleted(f"LOOSENED by the pack {report.pack.name}", rows)


def _flow_lines(report: Report) -> list[str]:
    rows = [
        f"{', '.join(part.pipes)}: {part.why or 'no single reason'}"
        + ("" if part.certain else " (not certain)")
        for part in report.flowing[:_MOST_FLOWS]
    ]
    more = len(report.flowing) - _MOST_FLOWS
    if more > 0:
        rows.append(f"and {more} more groups of pipes; the JSON report lists them all")
    return bulleted("MAY FLOW while freezing", rows)
