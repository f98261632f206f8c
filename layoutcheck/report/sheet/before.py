"""What has to be in order before a cylinder is opened: permits, air, gear, cylinders, valves."""

from __future__ import annotations

import math
from collections.abc import Iterable

from layoutcheck.document.models import (
    Covering,
    Moment,
    OutletState,
    Tightness,
    ValveState,
)
from layoutcheck.network.model import PieceKind
from layoutcheck.physics.coolant import Coolant
from layoutcheck.placement import away_from
from layoutcheck.planning.order import inside_work
from layoutcheck.quantities import short_length, short_temperature
from layoutcheck.quantities.spoken import CoolantName
from layoutcheck.report.containers import containers
from layoutcheck.report.model import Report
from layoutcheck.report.sheet.job import plugs_named
from layoutcheck.report.sheet.model import Group, Tick
from layoutcheck.report.sheet.sides import Sides, bleeds_of
from layoutcheck.report.sheet.signs import ALARM, CONDENSED_AIR
from layoutcheck.report.sheet.water import water_ticks
from layoutcheck.report.wrap import with_and
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.declared import Role
from layoutcheck.rules.estimates import mass_each, water_temperature
from layoutcheck.rules.registry import rule_of
from layoutcheck.rules.room_air import room_of
from layoutcheck.rules.sections import sections_of


def before_of(case: Case, report: Report) -> tuple[Group, ...]:
    """List what must be in order before the first injection, under headings."""
    groups = (
        Group("If a plug goes: settled before anything else", _shut_off(case)),
        Group("Permits", _permits(case)),
        Group("People, each by name", _people(case)),
        Group("Air and meters", _air(case, report)),
        Group("Gloves, eyes, coolant", _gear(case)),
        Group("Valves: shut and prove, each today", _valves(case)),
        Group("Lock off and tag", _locks(case)),
        Group("Drains, vents and bleeds", _outlets(case)),
        Group("Gauges for the proof", _gauges(case)),
        Group("The pipe itself", _pipe(case)),
    )
    return tuple(g for g in groups if g.ticks)


def _shut_off(case: Case) -> tuple[Tick, ...]:
    stated = case.layout.work.if_a_plug_goes if case.layout.work else None
    return (
        *((Tick(f"Stated: {stated}"),) if stated else ()),
        Tick(
            "The water is shut off at valve or pump: ____________________ Where it is: "
            "____________________ By whom: ____________________",
            "It stops what a lost plug lets out, and is reached without passing the open line.",
        ),
        Tick(
            "Tried today: it shuts, its tool or key lies there, and all at the work can call the "
            "one who stands there. Tried at ______ by ______"
        ),
    )


def _people(case: Case) -> tuple[Tick, ...]:
    """List who is needed, by what each does. Common practice, no published source."""
    kept = [
        o.id
        for o in sorted(case.layout.outlets, key=lambda o: o.id)
        if o.at(Moment.FREEZING) is OutletState.KEPT_OPEN
    ]
    name = "____________________"
    return (
        Tick(f"In charge of the freeze: {name} Nobody works alone."),
        *(
            Tick(
                f"Plug {p.id}, two from the first injection until it has thawed. Feeds it: {name} "
                f"Watches frost and meters: {name}"
            )
            for p in case.plugs
        ),
        *(Tick(f"At outlet {o}: {name}") for o in [*bleeds_of(case), *kept]),
        Tick(f"At the place to shut the water off: {name}"),
        Tick(f"Does the work on the line: {name}"),
    )


def _gauges(case: Case) -> tuple[Tick, ...]:
    """Say where gauges are needed to prove each plug. Common practice, no published source."""
    sides = Sides(case)
    ticks = []
    for plug in case.plugs:
        places = sides.let_off(plug.id)
        near = outlet_name(case, places[0]) if places else "a tapping or joint of the work"
        beyond = sides.outlets_beyond(plug.id)
        far = (
            outlet_name(case, beyond[0])
            if beyond
            else "the nearest tapping on that side (which: ____________)"
        )
        ticks.append(
            Tick(
                f"Plug {plug.id}: a gauge on the work's side, with a cock to let off, at {near}; a "
                f"gauge on its far side, at {far}, or nearer. They read now: ______ and ______"
            )
        )
    return tuple(ticks)


def _permits(case: Case) -> tuple[Tick, ...]:
    rooms = [r for r in case.layout.site.rooms if r.below_ground]
    ticks = [
        Tick("Site's permit for this isolation is open. Number: ______________________"),
        Tick("Everybody whose water, heat or cooling stops has been told."),
        Tick("Way out is clear and lit. Someone outside can call for help. Who: ______________"),
    ]
    if rooms:
        names = ", ".join(r.id for r in rooms)
        ticks.append(
            Tick(f"Below ground: {names}. Cold gas gathers here. Entry rules of the site kept.")
        )
    return tuple(ticks)


def _air(case: Case, report: Report) -> tuple[Tick, ...]:
    coolants = {p.coolant for p in case.plugs}
    used = rooms_of(case)
    ticks: list[Tick] = []
    for room in case.layout.site.rooms:
        if room.id in used:
            called = f" ({room.name})" if room.name else ""
            ticks.append(Tick(f"Fans of room {room.id}{called} run, and keep running."))
    if CoolantName.CARBON_DIOXIDE in coolants:
        ticks.append(
            Tick(
                "Carbon dioxide meter on, alarm tested, at the floor beside the jackets. An oxygen "
                "meter alone does not warn of carbon dioxide in time."
            )
        )
    if coolants:
        ticks.append(Tick(f"Oxygen meter on, alarm tested. At any alarm: {ALARM}"))
    if CoolantName.NITROGEN in coolants:
        ticks += CONDENSED_AIR
    for finding in report.findings:
        if finding.rule == rule_of(Role.AIR).name:
            ticks.append(Tick(f"Calculated for room {finding.subject.id}: {finding.says}"))
    return tuple(ticks)


def rooms_of(case: Case) -> set[str]:
    """Give the rooms that the plugs stand in."""
    return {room for p in case.plugs if (room := room_of(case, p)) is not None}


def _gear(case: Case) -> tuple[Tick, ...]:
    units = case.layout.units
    ticks = [
        Tick("Dry insulated gloves, eye protection, long sleeves, closed shoes: on."),
    ]
    for stock in case.layout.site.stock:
        if not any(p.coolant is stock.coolant for p in case.plugs):
            continue
        kind = Coolant(stock.coolant.value)
        says = f"{containers(kind, stock.cylinders, mass_each(stock), units)} on site"
        if stock.storage_temperature is not None:
            says += f", stated as stored at {short_temperature(stock.storage_temperature, units)}"
        ticks.append(Tick(f"{stock.coolant.value.capitalize()}: {says}. Counted: ________"))
        if stock.coolant is CoolantName.CARBON_DIOXIDE:
            limit = case.pack.number(rule_of(Role.STORED_COLD).name, "warmest")
            ticks.append(
                Tick(
                    f"Each cylinder is below {short_temperature(limit, units)}, high-pressure, "
                    "with dip tube, stands upright and is tied. Measured: ________",
                    "Warmer than that it holds no liquid, and nothing freezes.",
                )
            )
    return tuple(ticks)


def _valves(case: Case) -> tuple[Tick, ...]:
    ticks: list[Tick] = []
    relied, others = _closed_valves(case)
    if relied:
        ticks.append(
            Tick(
                "Shut and tag each valve below. Prove it today, even if it was proven before: "
                "drain behind it, and watch that nothing follows for as long as a freeze takes."
            )
        )
    for valve_id in relied:
        proven = case.network.valves[valve_id].tightness is Tightness.PROVEN
        word = "" if proven else " NOT PROVEN YET."
        ticks.append(
            Tick(f"SHUT {valve_name(case, valve_id)}.{word} Proven tight at ______ by ______")
        )
    if others:
        ticks.append(Tick(f"Also shut, and stay shut; no barrier of this job: {_list(others)}."))
    opened = [i.valve for i in case.layout.work.open if i.valve] if case.layout.work else []
    if opened:
        ticks.append(
            Tick(f"Taken out or opened up by this job, so no barrier: {_standing(case, opened)}.")
        )
    ticks += _leaky(case)
    unsaid = [v.id for v in case.layout.valves if v.at(Moment.FREEZING) is None]
    if unsaid:
        ticks.append(Tick(f"The sketch does not say how these stand; find out: {_list(unsaid)}."))
    ticks.append(Tick("Every other valve is open as drawn, and stays so."))
    return tuple(ticks)


def _standing(case: Case, names: Iterable[str]) -> str:
    """Name valves, each with how it stands while freezing."""
    words = {
        ValveState.OPEN: "stands open",
        ValveState.CLOSED: "stands shut",
        ValveState.PASSING: "is turned shut but lets water by",
        None: "find out how it stands",
    }
    states = {v.id: words[v.at(Moment.FREEZING)] for v in case.layout.valves}
    return ", ".join(f"{name} ({states[name]})" for name in names)


def _leaky(case: Case) -> list[Tick]:
    """Say how the valves stand that let water by, and what they do to a plug."""
    sides = Sides(case)
    ticks = []
    for valve in case.layout.valves:
        if valve.at(Moment.FREEZING) is not ValveState.PASSING:
            continue
        text = (
            f"NOT COUNTED ON: {valve_name(case, valve.id)}. It is turned shut as far as it goes, "
            "tagged, and lets water by; nothing here relies on it."
        )
        beside = [s for s in sides.sections if valve.id in sides.passing(s)]
        if plugs := sorted({p for s in beside for p in s.plugs}):
            text += f" What it lets by may bring pressure to {plugs_named(plugs)}."
        if bleeds := sides.bleeds_in(beside):
            text += (
                f" It runs out at {with_and(bleeds)}, once open. Its leak, in a minute: ________ "
                "Not measured: then any steady run there counts as a plug still open."
            )
        ticks.append(Tick(text))
    return ticks


def _closed_valves(case: Case) -> tuple[list[str], list[str]]:
    """Give the valves shut while freezing: those that the job leans on, and the others.

    The job leans on a valve at the edge of the work's part, or of a section that ice grows into.
    """
    network = case.network
    inside = inside_work(case)
    edge = {name for section in sections_of(case) for name in section.valves}
    edge |= {
        piece.element
        for piece in network.pieces
        if piece.kind is PieceKind.VALVE and bool(inside[piece.u] | inside[piece.v])
    }
    opened = {i.valve for i in case.layout.work.open} if case.layout.work else set()
    shut = sorted(
        v.id
        for v in case.layout.valves
        if v.at(Moment.FREEZING) is ValveState.CLOSED and v.id not in opened
    )
    return [v for v in shut if v in edge], [v for v in shut if v not in edge]


def valve_name(case: Case, valve_id: str) -> str:
    """Name a valve with its kind, and where it stands."""
    valve = next(v for v in case.layout.valves if v.id == valve_id)
    called = f" ({valve.name})" if valve.name else ""
    where = f" at {valve.junction}" if valve.junction else f" on {valve.pipe}"
    if valve.pipe is not None and valve.station is not None:
        start = case.network.pipes[valve.pipe].tape_from
        where += f", {short_length(valve.station, case.layout.units)} from {start}"
    return f"valve {valve.id}{called}, {valve.kind.value},{where}"


def _locks(case: Case) -> tuple[Tick, ...]:
    layout = case.layout
    ticks = [
        *(
            Tick(f"Pump {p.id}{_at(p.pipe, p.junction)}: off, locked, tagged. Lock no. ______")
            for p in layout.pumps
            if p.is_locked(Moment.FREEZING)
        ),
        *(
            Tick(
                f"{e.kind.value.capitalize()} {e.id}{_at(e.pipe, e.junction)}: off, locked, "
                "tagged. Lock no. ______"
            )
            for e in layout.equipment
            if e.is_locked(Moment.FREEZING)
        ),
    ]
    ticks += [
        Tick(
            f"To be settled: pump {p.id}{_at(p.pipe, p.junction)}. The layout states no lock for "
            "it. Shown that it can not move water in a pipe with a plug, by ____________; or off, "
            "locked, tagged. Lock no. ______",
            "If nobody can show it, lock it off.",
        )
        for p in layout.pumps
        if not p.is_locked(Moment.FREEZING)
    ]
    return tuple(ticks)


def _at(pipe: str | None, junction: str | None) -> str:
    return f" on {pipe}" if pipe else f" at {junction}"


def _outlets(case: Case) -> tuple[Tick, ...]:
    by_state: dict[OutletState | None, list[str]] = {}
    for outlet in sorted(case.layout.outlets, key=lambda o: o.id):
        by_state.setdefault(outlet.at(Moment.FREEZING), []).append(outlet.id)
    ticks: list[Tick] = []
    if locked := by_state.get(OutletState.LOCKED_OFF):
        ticks.append(Tick(f"Shut and locked off: {_list(locked)}."))
    for name in by_state.get(OutletState.KEPT_OPEN, []):
        ticks.append(
            Tick(f"OPEN now, and kept open: {outlet_name(case, name)}. Who watches: ______")
        )
    for name in by_state.get(OutletState.BLEED, []):
        ticks.append(
            Tick(
                f"Bleed: {outlet_name(case, name)}. Shut now. A hose is on it, led to a drain. "
                "Who stands by it: ________________",
                "Ice pushes water ahead of it; caught, it bursts pipe. Opened as soon as the ice "
                "has closed.",
            )
        )
    for name in by_state.get(OutletState.LEAKING, []):
        leak = outlet_name(case, name)
        ticks.append(Tick(f"LEAKS, and can not be locked: {leak}. In a minute: ________"))
    draw = [*by_state.get(OutletState.MAY_DRAW, []), *by_state.get(None, [])]
    if draw:
        ticks.append(
            Tick(f"All others are in use and may draw ({len(draw)}); none needs to be shut.")
        )
    return tuple(ticks)


def outlet_name(case: Case, outlet_id: str) -> str:
    """Name an outlet with the junction it stands at."""
    outlet = next(o for o in case.layout.outlets if o.id == outlet_id)
    called = f" ({outlet.name})" if outlet.name else ""
    return f"outlet {outlet.id}{called} at {outlet.junction}"


def _pipe(case: Case) -> tuple[Tick, ...]:
    units = case.layout.units
    warmest = case.pack.number(rule_of(Role.STARTS_COLD).name, "warmest")
    limit = short_temperature(warmest, units)
    ticks = [
        *(
            Tick(
                f"Plug {p.id}: water in {p.pipe} is {limit} or colder, by a contact thermometer."
                f"{_stated_water(case, p)} Measured: ________"
            )
            for p in case.plugs
        ),
        *water_ticks(case),
        Tick(
            "Nothing moves in the pipe at any plug: no sound, both sides come to one temperature."
        ),
        *(Tick(strip_of(case, p)) for p in case.plugs),
        Tick("Pipe is dry, clean and sound under each jacket; supports on both sides are firm."),
        Tick(
            "The job is ready to go: parts, tools and spare on the floor, measured and dry-fitted."
        ),
    ]
    return tuple(ticks)


def _stated_water(case: Case, plug: PlacedPlug) -> str:
    water = water_temperature(case, plug)
    if water is None:
        return ""
    return f" The sketch states {short_temperature(water, case.layout.units)}."


def strip_of(case: Case, plug: PlacedPlug) -> str:
    """Say what to strip from the pipe for a plug's jacket."""
    bare, units = strip_length(case, plug), case.layout.units
    length = away_from(bare, math.inf, units).texts[0]
    covering = case.pipe_of(plug).covering
    if covering is Covering.BARE:
        return f"Plug {plug.id}: {plug.pipe} is bare, as stated, over {length}."
    if covering is None:
        return f"Plug {plug.id}: see that {plug.pipe} is bare over {length}; strip what is there."
    return f"Plug {plug.id}: strip {length} of {plug.pipe}, centred on the jacket."


def strip_length(case: Case, plug: PlacedPlug) -> float:
    """Give the length (m) of bare pipe that a jacket needs: itself and a margin at each end."""
    return plug.jacket + 2 * case.pack.number(rule_of(Role.STRAIGHT_PIPE).name, "margin")


def _list(names: Iterable[str]) -> str:
    return ", ".join(names)
