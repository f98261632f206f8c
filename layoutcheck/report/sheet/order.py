"""The job in order: freeze, prove, open, hold, close up, thaw, restore; each step with its reason.

Where no source is named the order is common practice, no published source.
"""

from __future__ import annotations

from layoutcheck.document.models import Layout, Moment, OutletState, ValveState
from layoutcheck.plan.order import Phase, freeze_order, steps_of
from layoutcheck.report.model import Report, Span
from layoutcheck.report.sheet.before import outlet_name, valve_name
from layoutcheck.report.sheet.model import Group, PlugCard, Tick
from layoutcheck.rules.case import Case
from layoutcheck.rules.sections import sections_of


def order_of(case: Case, report: Report, cards: tuple[PlugCard, ...]) -> tuple[Group, ...]:
    """Give the steps of the job under headings, in the order in which they are done."""
    return (
        Group("Freeze", _freeze(case, cards)),
        Group("Prove, then open", _open(case, report, cards)),
        Group("Work and hold", _hold(case, cards)),
        Group("Close up and thaw", _thaw(case, cards)),
        Group("Put back into service", _restore(case)),
    )


def _freeze(case: Case, cards: tuple[PlugCard, ...]) -> tuple[Tick, ...]:
    ticks = [
        Tick("Everything under 'Before you start' is ticked. If one box is empty, stop here."),
        _start(case),
        Tick("Between injections keep each jacket full of dry ice or liquid. Look at the frost."),
    ]
    return (*ticks, *(_bleed(case, cards, name) for name in _bleeds(case)))


def _start(case: Case) -> Tick:
    names = [plug.id for plug, _ in freeze_order(case)]
    if len(names) == 1:
        return Tick(f"Start the jacket of plug {names[0]}. This is 0:00:00. Follow its own page.")
    return Tick(
        f"Start all jackets together; the first injection is 0:00:00. With too few hands start in "
        f"this order, one right after the other: {', '.join(names)}. Follow each plug's own page.",
        "The times and the coolant of this sheet are for a start together.",
    )


def _bleed(case: Case, cards: tuple[PlugCard, ...], name: str) -> Tick:
    beside = {p for s in sections_of(case) for p in s.plugs if f"outlet {name}" in s.reliefs}
    necks = [
        c.freeze.time_to_neck_closed.low
        for c in cards
        if c.id in beside and c.freeze.time_to_neck_closed
    ]
    # While one plug of a section is still open, pushed water gets out through it.
    soonest = max(necks, key=lambda m: m.value, default=None)
    closing = "" if soonest is None else f", perhaps from {soonest.shown} on"
    which = " and ".join(sorted(beside))
    for_plug = f" of plug{'s' if len(beside) > 1 else ''} {which}" if which else ""
    return Tick(
        f"OPEN bleed: {outlet_name(case, name)}, as soon as the ice{for_plug} has closed{closing}. "
        "Crack it open slowly: once the ice has closed it only drips. If it runs on, shut it "
        "again, go on injecting and try later. Open it at once, slowly, from the side, if a gauge "
        "on that side rises. Then leave it open and watch it.",
        "Growing ice pushes water ahead of it; shut in, it bursts the pipe. Opened too early it "
        "draws water past the plug.",
    )


def _bleeds(case: Case) -> list[str]:
    return _outlets(case.layout, OutletState.BLEED, Moment.FREEZING)


def _outlets(layout: Layout, state: OutletState, moment: Moment) -> list[str]:
    return sorted(o.id for o in layout.outlets if o.at(moment) is state)


def _open(case: Case, report: Report, cards: tuple[PlugCard, ...]) -> tuple[Tick, ...]:
    due = max((c.times.due for c in cards if c.times), key=_seconds, default="")
    ticks = [
        Tick(
            "Prove the plugs: from the work's side let the pressure off slowly at a drain, bleed "
            "or loosened joint. The flow must fall to nothing and stay there while you watch. "
            "Gauge beyond each plug unchanged.",
            "Time alone proves nothing.",
        ),
        *(
            Tick(f"Plug {c.id}, due at {c.times.due}: signs good, PROVEN.")
            for c in cards
            if c.times
        ),
        *_changes(case),
    ]
    drains = report.drain.volume.shown if report.drain and report.drain.volume else "unknown"
    work = case.layout.work
    for item in work.open if work else ():
        ticks.append(
            Tick(
                f"OPEN the work: {item.label}. Not before {due} and not before every plug is "
                f"proven. Reckoned to drain here: {drains}, besides what lies in the open pipe. "
                "Have a bucket and a cap or plug ready."
            )
        )
    ticks.append(Tick("If water keeps coming: close up again at once, and find out why."))
    return tuple(ticks)


def _seconds(clock: str) -> int:
    hours, minutes, seconds = (int(part) for part in clock.split(":"))
    return 3600 * hours + 60 * minutes + seconds


_VALVE_WORDS = {
    ValveState.OPEN: "OPEN",
    ValveState.CLOSED: "SHUT",
    ValveState.PASSING: "SHUT (it lets water by)",
}
_OUTLET_WORDS = {
    OutletState.KEPT_OPEN: "OPEN and keep open",
    OutletState.LOCKED_OFF: "SHUT and lock",
    OutletState.MAY_DRAW: "BACK IN USE",
    OutletState.BLEED: "SHUT, ready as a bleed",
}


def _changes(case: Case) -> list[Tick]:
    """List what is worked between freezing and opening."""
    ticks = []
    for valve in sorted(case.layout.valves, key=lambda v: v.id):
        before, after = valve.at(Moment.FREEZING), valve.at(Moment.WORKING)
        if before is not after and after is not None:
            text = f"{_VALVE_WORDS[after]} {valve_name(case, valve.id)}, once the plugs are proven."
            ticks.append(Tick(text))
    for outlet in sorted(case.layout.outlets, key=lambda o: o.id):
        first, then = outlet.at(Moment.FREEZING), outlet.at(Moment.WORKING)
        if first is not then and then is not None:
            name = outlet_name(case, outlet.id)
            ticks.append(Tick(f"{_OUTLET_WORDS[then]}: {name}, once the plugs are proven."))
    return ticks


def _hold(case: Case, cards: tuple[PlugCard, ...]) -> tuple[Tick, ...]:
    ends = {c.times.ends for c in cards if c.times}
    last = min(ends, key=_seconds, default="")
    return (
        Tick("One person does nothing but top up and watch the plugs and meters."),
        Tick(
            f"The line is closed up by {last}, counted from the first injection. If the work will "
            "not be done by then, close or cap the line first and talk after.",
            "Coolant and air were reckoned to that time.",
        ),
        Tick(
            "STOP and close up at once if: a top-up is missed or the last full cylinder is opened; "
            "frost draws back; water shows at the work; a meter alarms; anyone feels unwell."
        ),
    )


def _thaw(case: Case, cards: tuple[PlugCard, ...]) -> tuple[Tick, ...]:
    filling = [Tick(s.do, s.why) for s in steps_of(case) if s.phase is Phase.FILL]
    by_valve = any(
        name in case.network.valves
        for s in steps_of(case)
        if s.phase is Phase.FILL
        for name in s.concerns
    )
    leaks = "Look for leaks at the work before the plugs are let go. A leak: drain, mend, fill."
    # Filled by a valve, the line is whole before a plug is let go; else only a plug can fill it.
    before, after = ([*filling, Tick(leaks)], []) if by_valve else ([], filling)
    ticks = [
        Tick(
            "The line is closed up and every joint checked, while the plugs still hold and are fed."
        ),
        *before,
        Tick(
            "Stop feeding; write down the clock for each plug. From now on a plug may let go at "
            "any time: keep hands and faces away from open ends and vents.",
        ),
        *after,
        *(
            Tick(
                f"Plug {c.id}: may let go from {c.freeze.time_to_release.low.shown} after feeding "
                f"stops; thawed after {_span(c.freeze.time_to_thaw)}."
            )
            for c in cards
            if c.freeze.time_to_release is not None and c.freeze.time_to_thaw is not None
        ),
        Tick("Valves and drains round the job stay as they are until the plugs have thawed."),
        Tick(
            "Take the jackets off with gloves. Let the pipe thaw by itself: no flame, no steam, no "
            "knocking.",
            "Cold pipe is brittle, and ice thaws at the wall first: it can be shot along the pipe.",
        ),
    ]
    ticks += [Tick(f"Somebody stays by {outlet_name(case, name)}.") for name in _bleeds(case)]
    return tuple(ticks)


def _span(span: Span | None) -> str:
    return "" if span is None else f"{span.low.shown} to {span.high.shown}"


def _restore(case: Case) -> tuple[Tick, ...]:
    layout = case.layout
    ticks = [Tick("No ice left: the pipe is above freezing all along, by a contact thermometer.")]
    ends = {
        *_bleeds(case),
        *_outlets(layout, OutletState.KEPT_OPEN, Moment.FREEZING),
        *_outlets(layout, OutletState.KEPT_OPEN, Moment.WORKING),
    }
    ticks += [
        Tick(f"SHUT {outlet_name(case, name)} when it runs without air.") for name in sorted(ends)
    ]
    work = {i.valve for i in layout.work.open} if layout.work else set()
    shut = [v.id for v in layout.valves if v.at(Moment.WORKING) is ValveState.CLOSED]
    if back := sorted(set(shut) - work):
        ticks.append(
            Tick(
                f"Back to how each stood before the job, slowly, one at a time: valves "
                f"{', '.join(back)}.",
                "A valve opened at once hammers.",
            )
        )
    locked = [
        *(f"pump {p.id}" for p in layout.pumps if p.is_locked(Moment.FREEZING)),
        *(f"{e.kind.value} {e.id}" for e in layout.equipment if e.is_locked(Moment.FREEZING)),
    ]
    if locked:
        ticks.append(Tick(f"Unlock and restart, one at a time: {', '.join(locked)}."))
    if taps := _outlets(layout, OutletState.LOCKED_OFF, Moment.FREEZING):
        ticks.append(Tick(f"Locks off: {', '.join(taps)}. Vent where air has gathered."))
    ticks.append(Tick("Look for leaks now, and again the next day. Insulation back on, dry."))
    ticks.append(Tick("Room aired, meters clear at the floor, cylinders shut and counted."))
    return tuple(ticks)
