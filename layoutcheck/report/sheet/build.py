"""Gather what the crew's sheet says from a layout and its report."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace

from layoutcheck.document.models import Layout
from layoutcheck.network.stretches import Interval
from layoutcheck.physics.coolant import Coolant
from layoutcheck.physics.schedule import StepKind
from layoutcheck.placement import read_into
from layoutcheck.placement.together import windows
from layoutcheck.quantities import short_length, short_mass
from layoutcheck.quantities.shown import show_duration
from layoutcheck.report.containers import CONTAINER, container
from layoutcheck.report.freeze_text import clock
from layoutcheck.report.model import CoolantPart, PlugPart, Report, StepPart, Verdict
from layoutcheck.report.sheet.before import before_of, outlet_name, strip_of
from layoutcheck.report.sheet.landmarks import landmarks_of
from layoutcheck.report.sheet.model import Budget, PlugCard, Sheet, Tick
from layoutcheck.report.sheet.order import order_of
from layoutcheck.report.sheet.schedule import times_of
from layoutcheck.report.sheet.sides import Sides, bleeds_of, soonest_closing
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.declared import Role
from layoutcheck.rules.estimates import mass_each, orientation_of
from layoutcheck.rules.outcome import Outcome
from layoutcheck.rules.pack import Pack
from layoutcheck.rules.registry import default_pack, rule_of
from layoutcheck.rules.room_air import room_of

_HEADLINES = {
    Verdict.COMPLIANT: "Every rule that applies holds, as the sketch states things.",
    Verdict.NOT_COMPLIANT: "This sketch breaks rules.",
    Verdict.UNDECIDED: "Something that decides is not known.",
    Verdict.FAULT: "A fault inside the checker: nothing here may be relied on.",
}


def build_sheet(layout: Layout, report: Report, *, pack: Pack | None = None) -> Sheet:
    """Gather the sheet of a layout. report: that of the same layout, with the same pack.

    Only a compliant report gives a schedule and an order of work; any other says what is wrong.
    """
    case = Case.of(layout, pack or default_pack())
    # A layout without work or plugs may break no rule; there is still nothing to freeze to.
    ready = bool(layout.work and report.plugs and all(p.freeze.coolant for p in report.plugs))
    may_freeze = report.verdict is Verdict.COMPLIANT and ready
    spans = windows(case)
    cards = tuple(_card(case, report, p, spans[p.id], may_freeze=may_freeze) for p in report.plugs)
    if may_freeze:
        cards = _with_bleeds(case, cards)
    work = layout.work
    dues = [p.freeze.due.value for p in report.plugs if p.freeze.due is not None]
    ends = [step.start.value for p in report.plugs for step in _hold_ends(p)]
    loss = "" if work is None else work.if_a_plug_goes or ""
    return Sheet(
        report=report,
        may_freeze=may_freeze,
        headline=_HEADLINES[report.verdict],
        work=() if work is None else tuple(_work_lines(layout)),
        duration="" if work is None else show_duration(work.duration),
        before=before_of(case, report) if may_freeze else (),
        plugs=cards,
        order=order_of(case, report, cards) if may_freeze else (),
        budget=_budget(case, report) if may_freeze else (),
        if_a_plug_goes=loss,
        not_before=clock(max(dues)) if may_freeze else "",
        closed_by=clock(min(ends)) if may_freeze else "",
        granted=tuple(Tick(line) for line in report.assumptions),
        waived=tuple(f for f in report.findings if f.outcome is Outcome.WAIVED),
    )


def _hold_ends(part: PlugPart) -> list[StepPart]:
    steps = part.freeze.coolant.steps if part.freeze.coolant is not None else ()
    return [s for s in steps if s.kind == StepKind.HOLD_ENDS.value]


def _work_lines(layout: Layout) -> list[str]:
    work = layout.work
    assert work is not None, "only asked where there is work"
    lines = [work.name] if work.name else []
    for item in work.open:
        text = item.label
        if item.pipe is not None and item.start is not None and item.end is not None:
            start = next(p.tape_from for p in layout.pipes if p.id == item.pipe)
            span = (item.start, item.end)
            low, high = (read_into(x, span, layout.units).texts[0] for x in span)
            text += f", from {low} to {high} off {start}"
        lines.append(f"The line is opened to air at {text}")
    return lines


def _card(
    case: Case, report: Report, part: PlugPart, span: Interval, *, may_freeze: bool
) -> PlugCard:
    plug = case.plug(part.id)
    pipe, dimensions = case.pipe_of(plug), case.dimensions_of(plug)
    stated = next(p for p in case.layout.plugs if p.id == part.id)
    room = room_of(case, plug)
    outside = short_length(dimensions.outside_diameter, case.layout.units)
    return PlugCard(
        id=part.id,
        name=stated.name or "",
        pipe=plug.pipe,
        pipe_facts=f"{part.size} {pipe.material.value}, {dimensions.wall_name}, outside {outside}",
        room=room or "not stated",
        lies=_lies(case, plug),
        jacket=part.jacket.shown,
        landmarks=landmarks_of(case, plug, span),
        strip=strip_of(case, plug),
        clear_by=part.clear_by.shown if part.clear_by is not None else "",
        holds_back=_says(report, Role.HOLDS_BACK, part.id),
        loss=_says(report, Role.IF_LOST, part.id),
        bleeds=(),
        freeze=part.freeze,
        coolant=part.freeze.coolant,
        times=times_of(part.freeze, case.layout.units) if may_freeze else None,
        of=part.coolant,
    )


def _with_bleeds(case: Case, cards: tuple[PlugCard, ...]) -> tuple[PlugCard, ...]:
    """Write on each plug's card the bleeds that its ice makes needed, and from when."""
    sides = Sides(case)
    lines: dict[str, list[str]] = {c.id: [] for c in cards}
    for name in bleeds_of(case):
        plugs = sorted({p for s in sides.holding_outlet(name) for p in s.plugs})
        soonest = soonest_closing(cards, plugs)
        closing = f", {soonest} after the first injection at the earliest" if soonest else ""
        others = f" (both plugs {' and '.join(plugs)})" if len(plugs) > 1 else ""
        for plug in plugs:
            lines[plug].append(
                f"{outlet_name(case, name)}: as soon as the ice has closed{others}{closing}"
            )
    return tuple(replace(c, bleeds=tuple(lines[c.id])) for c in cards)


def _says(report: Report, role: Role, plug: str) -> str:
    rule = rule_of(role).name
    found = [
        f.says
        for f in report.findings
        if f.rule == rule and f.subject.id == plug and f.outcome is not Outcome.DOES_NOT_APPLY
    ]
    return found[0] if found else ""


def _lies(case: Case, plug: PlacedPlug) -> str:
    """Say how the pipe lies and how high the plug is."""
    height = case.network.elevation_at(plug.spot)
    way = orientation_of(case, plug).value
    if math.isnan(height):
        return way
    return f"{way}, at elevation {short_length(height, case.layout.units)}"


def _comes_in(kind: Coolant, parts: list[CoolantPart]) -> str:
    number = sum(p.cylinders for p in parts)
    noun = CONTAINER[kind] + ("" if number == 1 else "s")
    return f"{number} {noun} of {parts[0].cylinder.shown}" if parts else ""


def _budget(case: Case, report: Report) -> tuple[Budget, ...]:
    rows = []
    for coolant in sorted({p.coolant for p in report.plugs}):
        parts = [
            p.freeze.coolant for p in report.plugs if p.coolant == coolant and p.freeze.coolant
        ]
        stock = [s for s in case.layout.site.stock if s.coolant.value == coolant]
        kind, units = Coolant(coolant), case.layout.units
        held = Counter[str]()
        for item in stock:
            held[container(kind, mass_each(item), units)] += item.cylinders
        rows.append(
            Budget(
                coolant=coolant,
                on_hand=short_mass(math.fsum(p.on_hand.value for p in parts), case.layout.units),
                comes_in=_comes_in(kind, parts),
                stock=", ".join(f"{n} of {size}" for size, n in sorted(held.items())),
            )
        )
    return tuple(rows)
