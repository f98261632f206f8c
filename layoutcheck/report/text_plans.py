"""Plans as plain text for a person on site: what to close, where to freeze, what it costs."""

from __future__ import annotations

from collections.abc import Iterable

from layoutcheck.planning.elements import Kind
from layoutcheck.quantities import UnitSystem
from layoutcheck.report.figures import coarse, in_both
from layoutcheck.report.in_model import lines_of
from layoutcheck.report.model import Measure
from layoutcheck.report.plans import (
    CostPart,
    NearMissPart,
    PlanActionPart,
    PlanPart,
    PlanPlugPart,
    PlanReport,
)
from layoutcheck.report.text_first import both, said
from layoutcheck.report.wrap import bulleted, counted, wrapped

_MOST_OUTLETS = 6


def plans_text(report: PlanReport) -> str:
    """Write plans as plain text; the steps of the first alone, for brevity."""
    units = UnitSystem(report.units)
    blocks = [
        _head(report),
        *(_plan(p, units) for p in report.plans),
        _to_add(report),
        _near_miss(report.near_miss),
        bulleted("TO SETTLE: state or prove, then ask again", report.to_settle),
        bulleted("IN THE MODEL: its own names and ids", lines_of(report.in_model)),
        bulleted("CAUTIONS: this work can kill", report.cautions),
        _foot(report),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"


def _head(report: PlanReport) -> list[str]:
    number = len(report.plans)
    plans = "1 plan" if number == 1 else f"{number} plans"
    lines = wrapped(f"{report.status.upper()}: {plans}. {report.says}")
    lines += wrapped(report.layout.name) + wrapped(report.layout.note)
    if report.pack.loosened:
        lines += wrapped(f"Looser figures than the built-in ones: {len(report.pack.loosened)}.")
    if report.left_out:
        lines += wrapped(
            f"Plans left out, as they did not pass when checked again: {report.left_out}."
        )
    return lines


def _plan(plan: PlanPart, units: UnitSystem) -> list[str]:
    lines = [f"PLAN {plan.rank}: {plan.cost.points:.1f} points"]
    for sentence in plan.says:
        lines += wrapped(sentence, indent="  ", first="  ")
    lines += _done(plan.actions, plan.plugs)
    lines += _cost(plan.cost, units)
    for condition in plan.conditions:
        lines += wrapped(condition, indent="    ", first="  ! ")
    return lines + (_steps(plan) if plan.rank == 1 else [])


def _done(actions: Iterable[PlanActionPart], plugs: Iterable[PlanPlugPart]) -> list[str]:
    rows = [_action(action) for action in actions]
    rows += [
        f"freeze {plug.id} on {plug.pipe} ({plug.size}) at {plug.station.shown}, jacket "
        f"{plug.jacket.shown}, {plug.coolant}"
        for plug in plugs
    ]
    return [line for row in rows for line in wrapped(row, indent="      ", first="  - ")]


def _action(action: PlanActionPart) -> str:
    if action.kind == Kind.BLEED_OUTLET:
        return f"make outlet {action.id} a bleed"
    return f"{action.kind} {action.id}"


def _near_miss(found: NearMissPart | None) -> list[str]:
    if found is None:
        return []
    lines = ["WHAT CAME NEAREST, and why it is no plan", *_done(found.actions, found.plugs)]
    for one in found.lacking:
        text = f"{said(one.outcome)} {one.rule}: {one.says}"
        if one.missing:
            text += f" Not known yet: {', '.join(one.missing)}."
        lines += wrapped(text, indent="    ", first="  ")
    return lines


def _cost(cost: CostPart, units: UnitSystem) -> list[str]:
    sizes = ", ".join(f"{s.plugs} of {s.size}" for s in cost.plugs_by_size) or "none"
    coolant = (
        "not known"
        if cost.coolant is None
        else ", ".join(f"about {in_both(c.mass, units, 'up')} {c.coolant}" for c in cost.coolant)
        or "none"
    )
    until = "not known" if cost.until_open is None else _until(cost.until_open, units)
    drains = "not known" if cost.drained is None else both(cost.drained, units)
    rows = [
        f"plugs: {sizes}; coolant on hand: {coolant}",
        f"until the line may be opened: {until}",
        f"drains at the work: {drains}",
        f"out of service: {counted(cost.out_of_service, _MOST_OUTLETS, 'outlets') or 'no outlet'}",
    ]
    if cost.worst_margin is not None:
        worst = cost.worst_margin
        rows.append(f"least to spare: {worst.spare.shown} ({worst.rule}, {worst.subject})")
    if cost.missing:
        rows.append(f"not known yet: {', '.join(cost.missing)}")
    return [line for row in rows for line in wrapped(row, indent="      ", first="    ")]


def _until(wait: Measure, units: UnitSystem) -> str:
    return f"about {coarse(wait, units, 'up')}" if wait.value else "no wait for ice"


def _steps(plan: PlanPart) -> list[str]:
    lines = ["  In this order:"]
    phase = ""
    for step in plan.steps:
        if step.phase != phase:
            phase = step.phase
            lines.append(f"    {phase.upper()}")
        lines += wrapped(f"{step.do} ({step.why})", indent="        ", first="      - ")
    return lines


def _to_add(report: PlanReport) -> list[str]:
    return [] if report.plans else bulleted("WHAT TO ADD OR CHANGE, and ask again", report.to_add)


def _foot(report: PlanReport) -> list[str]:
    made = (
        f"layoutcheck {report.version}; layout {report.layout.digest[:19]}; {report.tried} tried."
    )
    return [*wrapped(report.deference), *wrapped(made)]
