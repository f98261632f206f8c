"""The steps that prove the plugs, each with the pressure on it that it will hold.

A plug that was proven while a valve behind it stood shut has held nothing yet: it is proven again
once that valve is open. Common practice, no published source.
"""

from __future__ import annotations

from layoutcheck.document.models import Moment, OutletState, Valve, ValveState
from layoutcheck.report.sheet.before import outlet_name, valve_name
from layoutcheck.report.sheet.job import Job, plugs_named
from layoutcheck.report.sheet.model import PlugCard, Tick
from layoutcheck.report.sheet.sides import opened_for_work
from layoutcheck.report.wrap import with_and


def proofs(job: Job) -> tuple[Tick, ...]:
    """Prove each plug, from what is behind it as it was frozen."""
    ticks = [
        Tick(
            "How to prove a plug: the pressure that it will hold stands on its far side, read at a "
            "gauge. Let the pressure off slowly on the work's side. The flow falls to nothing and "
            "stays there while you watch, for at least as long as the site asks; the gauge on the "
            "work's side stays at nothing and the one on the far side does not fall.",
            "Time alone proves nothing, and a plug with no pressure on it proves nothing.",
            watch=True,
        )
    ]
    for card in job.cards:
        if card.times:
            ticks += _proof(job, card, card.times.due)
    return tuple(ticks)


def _proof(job: Job, card: PlugCard, due: str) -> list[Tick]:
    # A bleed takes the pressure off the plug, where a leaking valve would put it on.
    bleeds = [b for b in job.sides.bleeds_beyond(card.id) if job.standing.is_open(b)]
    leaky = sorted({v for s in job.sides.beyond(card.id) for v in job.sides.passing(s)})
    ticks = [
        job.standing.shutting(
            b,
            f"SHUT {outlet_name(job.case, b)} for the proof of plug {card.id}, with a hand on it. "
            f"What valve {with_and(leaky)} lets by brings the pressure up. Open it again at once, "
            "slowly, if the gauge goes over the pressure of the supply.",
            "With that bleed open the plug holds nothing, and shows nothing. Own choice, no "
            "published source.",
        )
        for b in bleeds
    ]
    text = f"Plug {card.id}, prove by {due}. Pressure let off at {let_off(job, card.id)}. "
    text += f"Gauge on its far side: ______, on the work's side: ______. {_stands(job, card)}"
    ticks.append(Tick(text))
    ticks += [
        job.standing.opening(b, f"OPEN again: {outlet_name(job.case, b)}, slowly, and watch it.")
        for b in bleeds
    ]
    return ticks


# More valves than this are counted, not named: the list of valves names them.
_MANY = 5


def _stands(job: Job, card: PlugCard) -> str:
    """Say what a first proof is worth."""
    if shut := job.sides.shut_behind(card.id):
        return (
            f"Signs good. NOT YET PROVEN: valve {with_and(shut)} is still shut behind it; its "
            "second proof follows below."
        )
    stays = sorted({v for s in job.sides.cut_off(card.id) for v in s.valves})
    if stays:
        which = f"valve {with_and(stays)}" if len(stays) < _MANY else f"{len(stays)} valves"
        return (
            f"Signs good, PROVEN for what stands behind it. Shut behind it: {which}; nobody opens "
            "them until the line is closed up, for against the supply it is not proven."
        )
    return "Signs good, PROVEN."


def let_off(job: Job, plug: str) -> str:
    """Say where the pressure on a plug's work side is let off."""
    places = job.sides.let_off(plug)
    if not places:
        return "a joint of the work, loosened slowly (which: ____________)"
    opened = ", open already" if job.standing.is_open(places[0]) else ""
    return f"{outlet_name(job.case, places[0])}{opened}"


_VALVE_WORDS = {
    ValveState.OPEN: "OPEN",
    ValveState.CLOSED: "SHUT",
    ValveState.PASSING: "SHUT (it lets water by)",
}
_OUTLET_WORDS = {
    OutletState.KEPT_OPEN: "OPEN and keep open",
    OutletState.LOCKED_OFF: "SHUT and lock",
    OutletState.MAY_DRAW: "BACK IN USE",
    OutletState.BLEED: "Ready as a bleed",
    OutletState.LEAKING: "LEAKS",
}


def changes(job: Job) -> tuple[Tick, ...]:
    """List what is worked between proving and opening: first what is shut, then what is opened."""
    valves = sorted(job.case.layout.valves, key=lambda v: v.id)
    ticks = [t for v in valves if v.id not in opened_for_work(job.case) for t in _turned(job, v)]
    for outlet in sorted(job.case.layout.outlets, key=lambda o: o.id):
        first, then = outlet.at(Moment.FREEZING), outlet.at(Moment.WORKING)
        if first is not then and then is not None:
            ticks.append(_outlet_turned(job, outlet.id, then))
    for pump in sorted(job.case.layout.pumps, key=lambda p: p.id):
        if pump.is_locked(Moment.WORKING) and not pump.is_locked(Moment.FREEZING):
            ticks.append(Tick(f"OFF, locked, tagged: pump {pump.id}. Lock no. ______"))
    for name in opened_for_work(job.case):
        ticks += _opened(job, name)
    return tuple(ticks)


def _turned(job: Job, valve: Valve) -> list[Tick]:
    then = valve.at(Moment.WORKING)
    if then is None or then is valve.at(Moment.FREEZING):
        return []
    text = f"{_VALVE_WORDS[then]} {valve_name(job.case, valve.id)}, once the plugs are proven."
    if job.standing.is_open(valve.id) and then is not ValveState.OPEN:
        return [job.standing.shutting(valve.id, text)]
    if not job.standing.is_open(valve.id) and then is ValveState.OPEN:
        return [job.standing.opening(valve.id, text)]
    return [Tick(text)]


def _outlet_turned(job: Job, name: str, then: OutletState) -> Tick:
    called = outlet_name(job.case, name)
    if then is OutletState.KEPT_OPEN and job.standing.is_open(name):
        return Tick(f"Stays open from now on, and nobody shuts it: {called}.")
    text = f"{_OUTLET_WORDS[then]}: {called}, once the plugs are proven."
    if then is OutletState.KEPT_OPEN:
        return job.standing.opening(name, text)
    if job.standing.is_open(name) and then is not OutletState.BLEED:
        return job.standing.shutting(name, f"SHUT {called}. {text}")
    return Tick(text)


def _opened(job: Job, name: str) -> list[Tick]:
    """Open a valve behind a plug: shut what would spill, open it, prove the plug again."""
    plugs = job.sides.plugs_to_prove_again(name)
    bleeds = job.sides.bleeds_in(job.sides.pressed_by(name))
    ticks = [
        job.standing.shutting(
            b,
            f"SHUT {outlet_name(job.case, b)}, right before valve {name} is opened, and lock it.",
            f"Valve {name} puts the pressure of the supply on it; that way pushed water gets out "
            "from then on.",
        )
        for b in bleeds
        if job.standing.is_open(b)
    ]
    ticks.append(
        job.standing.opening(
            name,
            f"OPEN {valve_name(job.case, name)}, a crack at a time, with everybody clear of the "
            f"pipe and the line still closed. Watch the gauges: {plugs_named(plugs)} now takes "
            "the pressure for the first time.",
        )
    )
    ticks += [
        Tick(
            f"Prove plug {plug} AGAIN, now that valve {name} is open. Pressure let off at "
            f"{let_off(job, plug)}. Gauge on its far side: ______, on the work's side: ______. "
            f"PROVEN with its pressure on. If not: SHUT valve {name} again, do not open the line.",
            f"With valve {name} shut behind it the plug held nothing.",
        )
        for plug in plugs
    ]
    return ticks
