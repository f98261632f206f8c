"""Actions in words: one line of what to do, one of why with its figures."""

from __future__ import annotations

from collections.abc import Sequence

from layoutcheck.quantities import UnitSystem
from layoutcheck.report.figures import against
from layoutcheck.report.model import Finding, Move, Report, TogetherMove
from layoutcheck.report.wrap import some_of
from layoutcheck.rules.base import PlacingRule
from layoutcheck.rules.outcome import Outcome
from layoutcheck.rules.pack import Tighter
from layoutcheck.rules.registry import all_rules

# What is done to a thing that is there.
DOING = {
    "close valve": "Close valve {} and prove it tight before any cylinder is opened.",
    "prove valve": "Prove valve {} tight before any cylinder is opened.",
    "leave valve open": "Leave valve {} open until the plugs are proven, or fit a bleed there.",
    "lock off outlet": "Lock off outlet {} before any cylinder is opened.",
    "make outlet a bleed": "Station somebody at outlet {} to bleed it as soon as the ice closes.",
    "keep outlet open": "Keep outlet {} open.",
    "lock off pump": "Lock off pump {} before any cylinder is opened.",
    "shut down": "Shut down {} and let it cool before any cylinder is opened.",
}
_MOST_FACTS = 3
_MOST_DONE = 2
_MOST_RULES = 5
_LIMIT = {
    Tighter.LESS: "at most {} allowed",
    Tighter.MORE: "at least {} needed",
    Tighter.NEITHER: "{} needed",
}


def what_of(
    kind: str,
    on: Sequence[str],
    findings: Sequence[Finding],
    report: Report,
    fields: Sequence[str] = (),
) -> str:
    """Say what to do. findings: what it settles, the gravest first. fields: what is not stated."""
    if kind in DOING:
        return DOING[kind].format(on[0])
    if kind in {"move plug", "freeze plug"}:
        return _move(on[0], report)
    if kind == "state":
        told = f"Not known yet: {some_of(on, _MOST_FACTS, between='; ')}."
        return f"{told} Not stated: {some_of(fields, _MOST_FACTS)}." if fields else told
    if kind == "report a fault":
        return f"Rule {on[0]} gave no answer: do not rely on this check, and report the fault."
    if kind == "correct the sketch":
        return _asked(findings)
    own = [f for f in findings if (f.rule, f.reason) == tuple(on)]
    todo = list(dict.fromkeys(f.todo for f in own if f.todo))
    if not todo:
        return own[0].says
    more = len(todo) - _MOST_DONE
    told = " ".join(todo[:_MOST_DONE]) + (f" The same at {more} more." if more > 0 else "")
    plugs = [f.subject.id for f in own if f.subject.kind == "plug"]
    return f"Plug {some_of(plugs, _MOST_FACTS)}: {told}" if len(plugs) == len(own) else told


def _asked(findings: Sequence[Finding]) -> str:
    first, *others = findings
    names = some_of([f.subject.id for f in others], _MOST_FACTS)
    told = f"{first.subject.kind} {first.subject.id}: {first.says} {first.todo}"
    return f"{told[0].upper()}{told[1:]}" + (f" The same for: {names}." if others else "")


def _move(plug_id: str, report: Report) -> str:
    plug = next((p for p in report.plugs if p.id == plug_id), None)
    found: Move | TogetherMove | None = None if plug is None else plug.nearest
    if report.mending is not None:
        found = next((m for m in report.mending.moves if m.plug == plug_id), found)
    if found is None:
        return f"Move plug {plug_id}."
    place = f"{found.tape.shown} from {found.from_junction} to the jacket's centre"
    if plug is None:
        return f"Freeze one more plug, {plug_id}, on {found.pipe}, {place}."
    return f"Move plug {plug_id} to {found.pipe}, {place}."


def why_of(kind: str, findings: Sequence[Finding], report: Report) -> str:
    """Say what comes of it if it is not done, with the figures of the gravest finding."""
    first = findings[0]
    reason = all_rules()[first.rule].gravity_reason
    if first.outcome is Outcome.UNDECIDED:
        reason = f"Not ruled out: {reason[0].lower()}{reason[1:]}"
    figures = _figures(first, report)
    if not figures and kind == "do" and first.outcome is not Outcome.UNDECIDED:
        figures = f": {first.says.rstrip('.')}"
    return f"{reason}{figures} [{_rules(findings)}]"


def _rules(findings: Sequence[Finding]) -> str:
    """Name the rules of an action's findings, apart those of which nothing is known yet."""
    names = list(dict.fromkeys(f.rule for f in findings))
    known = {f.rule for f in findings if f.outcome is not Outcome.UNDECIDED}
    open_yet = [n for n in names if n not in known]
    if not known or not open_yet:
        return some_of(names, _MOST_RULES)
    told = some_of([n for n in names if n in known], _MOST_RULES)
    return f"{told}; not known yet: {some_of(open_yet, _MOST_RULES)}"


def _wrong(finding: Finding) -> bool:
    """Tell whether what was measured is what is wrong; else its figure says nothing."""
    assert finding.measured is not None
    assert finding.required is not None
    got, limit = finding.measured.value, finding.required.value
    match all_rules()[finding.rule].safer:
        case Tighter.LESS:
            return got >= limit
        case Tighter.MORE:
            return got < limit
    return got != limit


def _figures(finding: Finding, report: Report) -> str:
    if finding.measured is None or finding.required is None:
        return ""
    if not _wrong(finding):
        return ""
    got, limit = against(finding.measured, finding.required, UnitSystem(report.units))
    now = " now" if isinstance(all_rules()[finding.rule], PlacingRule) else ""
    return f": {got}{now}, {_LIMIT[all_rules()[finding.rule].safer].format(limit)}"
