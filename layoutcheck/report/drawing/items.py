"""The elements of a layout as things to draw: where, with which symbol, under which name."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from layoutcheck.document.models import (
    Moment,
    Outlet,
    OutletState,
    Placed,
    Tightness,
    Valve,
    ValveState,
)
from layoutcheck.report.drawing.facts import Facts
from layoutcheck.report.drawing.symbols import (
    fitting_form,
    gear_form,
    outlet_form,
    pump_form,
    source_form,
    valve_form,
)


@dataclass(frozen=True)
class Item:
    """One element: its symbol, its place, and what its label says.

    ends: True for what stands at the end of a pipe and points away from it. tier: how much its
    label is wanted (low first). scale: size of the symbol against a valve's.
    """

    id: str
    form: str
    junction: str | None
    pipe: str | None
    station: float | None
    lines: tuple[str, ...]
    note: str
    tier: int
    ends: bool = False
    scale: float = 1.0


def items_of(facts: Facts) -> tuple[Item, ...]:
    """List every element that has a symbol, in the order of kind and id."""
    rows = [*_inline(facts), *_terminals(facts), *_fittings(facts)]
    return tuple(rows)


def _at(thing: Placed) -> tuple[str | None, str | None, float | None]:
    return thing.junction, thing.pipe, thing.station


def _inline(facts: Facts) -> Iterator[Item]:
    layout = facts.layout
    for valve in sorted(layout.valves, key=lambda v: v.id):
        words = valve_words(valve)
        lines = (valve.id,) if words == "open" else (valve.id, words)
        note = f"{valve.kind.value} valve {valve.id}: {words}"
        yield Item(
            valve.id, valve_form(valve), *_at(valve), lines, note, 1 if len(lines) > 1 else 2
        )
    for pump in sorted(layout.pumps, key=lambda p: p.id):
        locked = pump.is_locked(Moment.FREEZING)
        words = "locked off" if locked else "may run"
        note = f"pump {pump.id}: {words}"
        yield Item(pump.id, pump_form(pump), *_at(pump), (pump.id, words), note, 1, scale=1.3)
    for gear in sorted(layout.equipment, key=lambda g: g.id):
        note = f"{gear.kind.value} {gear.id}"
        yield Item(gear.id, gear_form(gear), *_at(gear), (gear.id,), note, 1, scale=1.5)


def _terminals(facts: Facts) -> Iterator[Item]:
    for source in sorted(facts.layout.ways_in, key=lambda s: s.id):
        place = (source.junction, None, None)
        lines = (source.id, source.kind.value) if source.id != source.kind.value else (source.id,)
        note = f"source {source.id}: {source.kind.value}"
        yield Item(source.id, source_form(source), *place, lines, note, 1, ends=True, scale=1.2)
    for outlet in sorted(facts.layout.outlets, key=lambda o: o.id):
        words = outlet_words(outlet)
        place = (outlet.junction, None, None)
        quiet = words == OutletState.MAY_DRAW.value
        lines = (outlet.id,) if quiet else (outlet.id, words)
        note = f"outlet {outlet.id}: {words}"
        yield Item(
            outlet.id, outlet_form(outlet), *place, lines, note, 3 if quiet else 2, ends=True
        )


def _fittings(facts: Facts) -> Iterator[Item]:
    for fitting in sorted(facts.layout.fittings, key=lambda f: f.id):
        note = f"{fitting.kind.value} {fitting.id}" + (" (defective)" if fitting.defective else "")
        form, names = fitting_form(fitting.kind), (fitting.id,)
        place = None, fitting.pipe, fitting.station
        yield Item(fitting.id, form, *place, names, note, 4, scale=0.8)
    layout = facts.layout
    taken = {x.junction for x in layout.valves} | {x.junction for x in layout.pumps}
    taken |= {x.junction for x in layout.equipment}
    ends = {x.junction for x in layout.ways_in} | {x.junction for x in layout.outlets}
    for junction in sorted(facts.layout.junctions, key=lambda j: j.id):
        if junction.id in taken:
            continue
        meeting = len(facts.neighbours[junction.id])
        form, note = "", f"junction {junction.id}"
        if junction.fitting is not None:
            form, note = fitting_form(junction.fitting), f"{junction.fitting.value} {junction.id}"
        elif meeting > 2:
            form = "fitting tee"
        elif meeting == 1 and junction.id not in ends:
            form, note = "dead end", f"closed end {junction.id}"
        small = 0.45 if meeting > 2 else 0.8
        names = (junction.id,)
        yield Item(junction.id, form, junction.id, None, None, names, note, 5, scale=small)


def valve_words(valve: Valve) -> str:
    """Say how a valve stands, at both moments where they differ."""
    states = [valve.at(m) for m in (Moment.FREEZING, Moment.WORKING)]
    words = [_state_words(valve, s) for s in states]
    return words[0] if words[0] == words[1] else f"{words[0]}; at work {words[1]}"


def _state_words(valve: Valve, state: ValveState | None) -> str:
    if state is None:
        return "state not stated"
    if state is ValveState.CLOSED and valve.tightness is Tightness.PROVEN:
        return "closed, proven tight"
    if state is ValveState.CLOSED:
        return "closed, not proven"
    return state.value


def outlet_words(outlet: Outlet) -> str:
    """Say how an outlet stands, at both moments where they differ."""
    words = [
        (outlet.at(m) or OutletState.MAY_DRAW).value for m in (Moment.FREEZING, Moment.WORKING)
    ]
    return words[0] if words[0] == words[1] else f"{words[0]}; at work {words[1]}"
