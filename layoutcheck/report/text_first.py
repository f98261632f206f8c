"""The first screen of a report: the verdict, what to do and why, what drains, when plugs stand."""

from __future__ import annotations

from layoutcheck.quantities import UnitSystem
from layoutcheck.report.figures import coarse, in_both
from layoutcheck.report.model import ActionPart, Measure, PlugPart, Report, Verdict
from layoutcheck.report.wrap import some_of, with_and, wrapped
from layoutcheck.rules.outcome import Outcome

DO_THESE = "DO THESE, THEN CHECK AGAIN. Gravest first; it is not the order of work on site."
CAN_KILL = "CAUTIONS: this work can kill"
_MOST_ACTIONS = 24
_MOST_OPENED = 6
_MOST_NAMED = 4
_NOTHING = 1e-5  # m3: two spoons of water


def verdict_line(report: Report) -> str:
    """Say the verdict and the counts behind it."""
    counts = report.counts
    tail = f", {counts.waived} waived" if counts.waived else ""
    match report.verdict:
        case Verdict.COMPLIANT:
            return (
                f"COMPLIANT as stated: {counts.holds} outcomes are in order, none is broken{tail}."
            )
        case Verdict.NOT_COMPLIANT:
            told = (
                f"{counts.broken} broken, {counts.undecided} not known yet, {counts.holds} in order"
            )
            return f"NOT COMPLIANT: {told}{tail}. Do not freeze to this sketch."
        case Verdict.UNDECIDED:
            return (
                f"UNDECIDED: nothing is broken, {counts.undecided} not known yet, "
                f"{counts.holds} in order{tail}. Do not freeze until what is missing is settled."
            )
        case Verdict.FAULT:
            return (
                f"FAULT inside layoutcheck: rules that gave no answer: {counts.fault}. "
                "Nothing below may be relied on."
            )


NOT_YET = "not known yet"


def said(outcome: Outcome) -> str:
    """Say an outcome to a reader: what is undecided is not known yet."""
    return outcome_says(outcome.value).upper()


def outcome_says(outcome: str) -> str:
    """Say an outcome, of a rule or of a freeze, as a reader takes it."""
    return NOT_YET if outcome in {Outcome.UNDECIDED.value, "not known"} else outcome


def head_lines(report: Report) -> list[str]:
    """Say the verdict, and of what: the site, what will be opened and for how long."""
    lines = wrapped(verdict_line(report)) + wrapped(report.layout.name) + wrapped(opened(report))
    if report.pack.loosened:
        number = len(report.pack.loosened)
        text = f"Judged with looser figures than the built-in ones ({number}); see LOOSENED."
        lines += wrapped(text)
    return lines


def opened(report: Report) -> str:
    """Say what will be opened, and for how long."""
    work = report.work
    if work is None:
        return "The work: not stated."
    opened = some_of(work.opened, _MOST_OPENED)
    return f"The work: the line is opened to air at {opened}, for {work.duration.shown}."


def action_lines(report: Report) -> list[str]:
    """List what to do, the gravest first: a line of what, a line of why."""
    if not report.actions:
        return []
    lines = [DO_THESE]
    for action in report.actions[:_MOST_ACTIONS]:
        lines += _action(action)
    more = len(report.actions) - _MOST_ACTIONS
    if more > 0:
        lines.append(f" and {more} more, none graver; --full lists them.")
    return lines


def no_places(report: Report) -> str:
    """Say that no places were found for all plugs together, and why; nothing where there are."""
    mending = report.mending
    if mending is None or mending.moves:
        return ""
    return f"NO PLACES FOUND FOR ALL PLUGS. {mending.says}"


def every_action(report: Report) -> list[str]:
    """List the actions that the first screen leaves out."""
    rest = report.actions[_MOST_ACTIONS:]
    return ["ALSO TO DO", *(line for a in rest for line in _action(a))] if rest else []


def _action(action: ActionPart) -> list[str]:
    what = wrapped(action.what, indent="    ", first=f"{action.number:>2}  ")
    return what + wrapped(action.why, indent="    ")


def drain_lines(report: Report) -> list[str]:
    """Say how much drains at the work, as marked and as proposed."""
    text = drains(report)
    return wrapped(text, indent="  ", first="") if text else []


def drains(report: Report) -> str:
    """Say how much water drains once the work is opened; nothing where there is no work."""
    drain, units = report.drain, UnitSystem(report.units)
    if drain is None:
        return ""
    if drain.volume is None:
        least = (
            "not known"
            if drain.at_least is None
            else f"at least {in_both(drain.at_least, units, 'down')}, how much is not known"
        )
        missing = some_of(drain.missing, _MOST_NAMED)
        return f"WATER that drains at the open line: {least}; not known yet: {missing}."
    text = f"WATER that drains at the open line: {both(drain.volume, units)}"
    after = None if report.mending is None else report.mending.drain_after
    if after is not None and both(after, units) != both(drain.volume, units):
        text += f"; {both(after, units)} once the plugs are moved"
    return f"{text}."


def both(volume: Measure, units: UnitSystem) -> str:
    """Write an estimate in both systems, for the one place where a person needs it."""
    if volume.value < _NOTHING:
        return "none"
    return f"about {in_both(volume, units)}"


def stand_lines(report: Report) -> list[str]:
    """Say when the plugs would stand."""
    text = stands(report)
    return wrapped(text, indent="  ", first="") if text else []


def stands(report: Report) -> str:
    """Say when the plugs would stand that are marked in a place fit for one; else nothing."""
    told = [text for plug in report.plugs if (text := _stands(plug, report))]
    left_out = [plug.id for plug in report.plugs if plug.freeze.left_out]
    if left_out and told:
        told.append(f"{with_and(left_out)}: no estimate until moved")
    return f"PLUGS WOULD STAND, by an estimate for still water: {'; '.join(told)}." if told else ""


def _stands(plug: PlugPart, report: Report) -> str:
    freeze = plug.freeze
    if freeze.left_out or freeze.due is None or freeze.hold is None:
        return ""
    units = UnitSystem(report.units)
    due, hold = coarse(freeze.due, units, "up"), coarse(freeze.hold, units, "down")
    return f"{plug.id} about {due} after the first injection, then held {hold}"
