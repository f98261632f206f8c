"""The steps after the work: close up, fill, thaw, put back into service.

Common practice, no published source.
"""

from __future__ import annotations

from layoutcheck.document.models import Layout, Moment, OutletState, ValveState
from layoutcheck.planning.order import Filling, filling_of
from layoutcheck.report.figures import coarse, span
from layoutcheck.report.sheet.before import outlet_name, valve_name
from layoutcheck.report.sheet.job import Job
from layoutcheck.report.sheet.model import Tick
from layoutcheck.report.wrap import with_and

_AIR = "Air left in the line hammers, and a plug that lets go against air shoots through it."


def thaw(job: Job) -> tuple[Tick, ...]:
    """Close up, fill, stop feeding and let the plugs thaw."""
    filling = filling_of(job.case) if job.case.network.work else Filling(None, None)
    closed = Tick(
        "The line is closed up and every joint checked, while the plugs still hold and are fed."
    )
    stop = Tick(
        "Stop feeding; write down the clock for each plug. From now on a plug may let go at any "
        "time: keep hands and faces away from open ends and vents."
    )
    vent = _vented(job, filling)
    # Filled by a valve, the line is whole before a plug is let go; else only a plug can fill it.
    if filling.valve is not None:
        before = [*vent, _fill_by_valve(job, filling.valve), *_vents_shut(job, filling)]
        before.append(
            Tick("Look for leaks at the work before the plugs are let go. A leak: drain, mend.")
        )
        return (closed, *before, stop, *_letting_go(job), *_far_outlets(job))
    full = [Tick("A plug fills the line as it lets go."), *_vents_shut(job, filling)]
    return (closed, *vent, stop, *_letting_go(job), *full, *_far_outlets(job))


def _vented(job: Job, filling: Filling) -> list[Tick]:
    if filling.vent is None:
        text = "Loosen the highest joint of the new work as a vent, by hand and from the side."
        return [Tick(text, _AIR)]
    called = outlet_name(job.case, filling.vent)
    if job.standing.is_open(filling.vent):
        return [
            Tick(
                f"The vent is {called}, open already, the highest outlet here; it stays open.", _AIR
            )
        ]
    return [job.standing.opening(filling.vent, f"OPEN the vent: {called}.", _AIR)]


def _fill_by_valve(job: Job, name: str) -> Tick:
    text = f"Fill slowly, a crack at a time, by {valve_name(job.case, name)}."
    if job.standing.is_open(name):
        return Tick(text)
    return job.standing.opening(name, f"OPEN. {text}")


def _vents_shut(job: Job, filling: Filling) -> list[Tick]:
    """Shut whatever stands open in the part that is filled, the vent at its top last."""
    still = [n for n in job.sides.inside_outlets() if job.standing.is_open(n)]
    ticks = [
        job.standing.shutting(
            name,
            f"SHUT {outlet_name(job.case, name)} when water comes there without air. Somebody "
            "stays by it until then.",
        )
        for name in sorted(still, key=lambda n: (n == filling.vent, n))
    ]
    if filling.vent is None:
        ticks.append(Tick("Tighten the joint when water comes there without air."))
    return ticks


def _letting_go(job: Job) -> list[Tick]:
    units = job.case.layout.units
    ticks = [
        Tick(
            f"Plug {c.id}: may let go from "
            f"{coarse(c.freeze.time_to_release.low, units, 'down')} after feeding stops; "
            f"thawed after {span(c.freeze.time_to_thaw, units)}."
        )
        for c in job.cards
        if c.freeze.time_to_release is not None and c.freeze.time_to_thaw is not None
    ]
    return [
        *ticks,
        Tick(
            "Take the jackets off with gloves. Let the pipe thaw by itself: no flame, no steam, no "
            "knocking. Valves round the job stay as they are until the plugs have thawed.",
            "Cold pipe is brittle, and ice thaws at the wall first: it can be shot along the pipe.",
        ),
    ]


def _far_outlets(job: Job) -> list[Tick]:
    """Shut what is still open on the plugs' far sides, once it runs as it should."""
    still = [o.id for o in job.case.layout.outlets if job.standing.is_open(o.id)]
    return [
        job.standing.shutting(
            name,
            f"SHUT {outlet_name(job.case, name)} when the plugs have thawed and it runs full and "
            "without air. Somebody stays by it until then.",
        )
        for name in sorted(still)
    ]


def restore(job: Job) -> tuple[Tick, ...]:
    """Put valves, machines and outlets back, once no ice is left."""
    layout = job.case.layout
    ticks = [Tick("No ice left: the pipe is above freezing all along, by a contact thermometer.")]
    if back := _worked_valves(job):
        ticks.append(
            Tick(
                f"Back to how each stood before the job, slowly, one at a time: valve"
                f"{'s' if len(back) > 1 else ''} {with_and(back)}.",
                "A valve opened at once hammers.",
            )
        )
    locked = [
        *(f"pump {p.id}" for p in layout.pumps if any(p.is_locked(m) for m in Moment)),
        *(f"{e.kind.value} {e.id}" for e in layout.equipment if e.is_locked(Moment.FREEZING)),
    ]
    if locked:
        ticks.append(Tick(f"Unlock and restart, one at a time: {', '.join(locked)}."))
    if taps := _locked_outlets(layout):
        ticks.append(Tick(f"Locks off: {', '.join(taps)}. Vent where air has gathered."))
    ticks.append(Tick("Look for leaks now, and again the next day. Insulation back on, dry."))
    ticks.append(Tick("Room aired, meters clear at the floor, cylinders shut and counted."))
    return tuple(ticks)


def _worked_valves(job: Job) -> list[str]:
    """Give the valves that stood shut at some time of the job, but for those it opened up."""
    layout = job.case.layout
    work = {i.valve for i in layout.work.open} if layout.work else set()
    shut = {ValveState.CLOSED, ValveState.PASSING}
    return sorted(
        v.id
        for v in layout.valves
        if v.id not in work and shut & {v.at(Moment.FREEZING), v.at(Moment.WORKING)}
    )


def _locked_outlets(layout: Layout) -> list[str]:
    return sorted(
        o.id
        for o in layout.outlets
        if OutletState.LOCKED_OFF in {o.at(Moment.FREEZING), o.at(Moment.WORKING)}
    )
