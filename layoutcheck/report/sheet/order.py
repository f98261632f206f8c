"""The job in order: freeze, prove, open, hold, close up, thaw, restore; each step with its reason.

Where no source is named the order is common practice, no published source.
"""

from __future__ import annotations

from layoutcheck.planning.order import freeze_order
from layoutcheck.report.model import Report
from layoutcheck.report.sheet.before import outlet_name
from layoutcheck.report.sheet.closing import restore, thaw
from layoutcheck.report.sheet.job import Job, plugs_named, seconds
from layoutcheck.report.sheet.model import Group, PlugCard, Tick
from layoutcheck.report.sheet.proving import changes, proofs
from layoutcheck.report.sheet.sides import Sides, bleeds_of, soonest_closing
from layoutcheck.report.sheet.signs import ALARM, WATER
from layoutcheck.report.sheet.standing import Standing
from layoutcheck.report.text_first import both
from layoutcheck.report.wrap import with_and
from layoutcheck.rules.case import Case


def order_of(case: Case, report: Report, cards: tuple[PlugCard, ...]) -> tuple[Group, ...]:
    """Give the steps of the job under headings, in the order in which they are done."""
    job = Job(case, report, cards, Sides(case), Standing(case))
    # The parts are written in this order, since each begins with what the one before left open.
    return (
        Group("Freeze", _freeze(job)),
        Group("Prove", proofs(job)),
        Group("Open", (*changes(job), *_open(job))),
        Group("Work and hold", _hold(job)),
        Group("Close up and thaw", thaw(job)),
        Group("Put back into service", restore(job)),
    )


def _freeze(job: Job) -> tuple[Tick, ...]:
    ticks = [
        Tick(
            "Everything under 'Before you start' is ticked, and the place to shut the water off, "
            "if a plug goes, is written there. If one box is empty, stop here."
        ),
        _start(job.case),
        Tick(
            "Between injections keep each jacket full of dry ice or liquid. Look at the frost.",
            watch=True,
        ),
    ]
    return (*ticks, *(_bleed(job, name) for name in bleeds_of(job.case)))


def _start(case: Case) -> Tick:
    names = [plug.id for plug, _ in freeze_order(case)]
    if len(names) == 1:
        return Tick(
            f"Start the jacket of plug {names[0]}. This is 0:00:00. Follow its part of the sheet."
        )
    return Tick(
        f"Start all jackets together; the first injection is 0:00:00. With too few hands start in "
        f"this order, one right after the other: {', '.join(names)}. Follow each plug's "
        "part of the sheet.",
        "The times and the coolant of this sheet are for a start together.",
    )


def _bleed(job: Job, name: str) -> Tick:
    sections = job.sides.holding_outlet(name)
    beside = sorted({p for s in sections for p in s.plugs})
    leaky = sorted({v for s in sections for v in job.sides.passing(s)})
    soonest = soonest_closing(job.cards, beside)
    closing = f", {soonest} after the first injection at the earliest" if soonest else ""
    for_plug = f" of {plugs_named(beside)}" if beside else ""
    fed = sorted({f for s in sections for f in job.sides.supplied(s)})
    runs = (
        "once the ice has closed it only drips. If it runs on, shut it again, go on injecting and "
        "try later."
    )
    if leaky:
        runs = (
            f"valve {with_and(leaky)} lets water by, so it may run on even when the ice has "
            "closed. If it runs more than the leak written down before the start, shut it again, "
            "go on injecting and try later. How it runs proves nothing here."
        )
    if fed:
        runs = (
            f"the supply by {with_and(fed)} stands on it, so it runs on, as far as it is opened: a "
            "thin stream, no more. How it runs proves nothing here."
        )
    return job.standing.opening(
        name,
        f"OPEN bleed: {outlet_name(job.case, name)}, as soon as the ice{for_plug} has closed"
        f"{closing}. Crack it open slowly: {runs} Open it at once, slowly, from the side, if a "
        "gauge on that side rises. Then leave it open and watch it.",
        "Growing ice pushes water ahead of it; shut in, it bursts the pipe. Opened too early it "
        "draws water past the plug.",
    )


def _open(job: Job) -> tuple[Tick, ...]:
    due = max((c.times.due for c in job.cards if c.times), key=seconds, default="")
    drain, work = job.report.drain, job.case.layout.work
    drains = both(drain.volume, job.case.layout.units) if drain and drain.volume else "not known"
    ticks = [
        Tick(
            f"OPEN the work: {item.label}. Not before {due}, and not before every plug is proven "
            f"with its pressure on. Calculated to drain here: {drains}, besides what lies in the "
            "open pipe. Have a bucket and a cap or plug ready."
        )
        for item in (work.open if work else ())
    ]
    ticks.append(Tick(f"More water than that, or it does not stop: {WATER}", watch=True))
    return tuple(ticks)


def _hold(job: Job) -> tuple[Tick, ...]:
    ends = {c.times.ends for c in job.cards if c.times}
    last = min(ends, key=seconds, default="")
    return (
        Tick(
            "At each plug one does nothing but top up, and one watches the frost and the meters.",
            watch=True,
        ),
        Tick(
            f"The line is closed up by {last}, counted from the first injection. If the work will "
            "not be done by then, close or cap the line first and talk after.",
            "Coolant and air were calculated to that time.",
        ),
        Tick(
            "A top-up is missed, the last full cylinder is opened, or frost draws back: stop the "
            "work, and close or cap the line while the plugs still hold.",
            watch=True,
        ),
        Tick(f"Water shows at the work: {WATER}", watch=True),
        Tick(f"A meter alarms, or anyone feels unwell: {ALARM}", watch=True),
    )
