"""In what order to close, freeze, open and restore: steps with reasons.

Computed from the sections that the ice shuts, and from the head at each plug. All jackets may be
started together (the times of a report say so); where a crew starts them one after the other,
this is the order.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from layoutcheck.document.models import Moment, OutletState, ValveKind, ValveState
from layoutcheck.document.named import Named
from layoutcheck.network import Trust
from layoutcheck.network.cut import reached
from layoutcheck.network.metric import Metric
from layoutcheck.network.model import PieceKind
from layoutcheck.placement import Reading
from layoutcheck.quantities.rough import PRESSURE, rough
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.heads import heads_of
from layoutcheck.rules.sections import Section, sections_of


class Phase(StrEnum):
    """The parts of a job, in their order."""

    CLOSE = "close and prove"
    VENT = "set vents and drains"
    FREEZE = "freeze"
    PROVE = "prove the plugs"
    WORK = "open the line"
    FILL = "fill and vent"
    THAW = "thaw"
    REOPEN = "open again"


@dataclass(frozen=True)
class Step:
    """One step: what to do, and why. concerns: the elements it is about."""

    phase: Phase
    do: str
    why: str
    concerns: tuple[Named, ...]


def steps_of(case: Case, stations: Mapping[str, Reading]) -> tuple[Step, ...]:
    """Give the steps of the job that a layout describes, plugs and closures in place.

    stations: those of the plugs, as a tape reads them.
    """
    after = (_proving, _working, _filling, _thawing, _reopening)
    return (
        *(step for part in (_closing, _venting) for step in part(case)),
        *_freezing(case, stations),
        *(step for part in after for step in part(case)),
    )


def _named(kind: str, ids: Iterable[str | None]) -> tuple[Named, ...]:
    return tuple(Named(kind, name) for name in ids if name)


def freeze_order(case: Case) -> list[tuple[PlacedPlug, str]]:
    """Give the plugs in the order to freeze them, each with the reason.

    First those whose water surely gets away on both sides; of these the one under the greatest
    head, since it is the hardest to hold and a failure then shows before more is frozen. Last those
    that shut a section, so that its way out is watched for the shortest time.
    """
    sections = sections_of(case)
    ranked = [(len(_watched(sections, p)), -_head(case, p), p.id, p) for p in case.plugs]
    return [
        (plug, _reason(case, sections, plug)) for *_, plug in sorted(ranked, key=lambda r: r[:3])
    ]


def _watched(sections: Sequence[Section], plug: PlacedPlug) -> list[Section]:
    """Give a plug's sections whose water gets out by no source or tank of itself."""
    own = [s for s in sections if plug.id in s.plugs]
    return [s for s in own if not any(r.kind in {"source", "tank"} for r in s.reliefs)]


def _head(case: Case, plug: PlacedPlug) -> float:
    pressure = heads_of(case).at(plug.spot).pressure
    return math.inf if pressure is None else pressure


def _reason(case: Case, sections: Sequence[Section], plug: PlacedPlug) -> str:
    pressure = heads_of(case).at(plug.spot).pressure
    head = (
        "The head on it is not known"
        if pressure is None
        else f"It stands under about {rough(pressure, PRESSURE, case.layout.units, 'up')}"
    )
    shut = _watched(sections, plug)
    if not shut:
        return f"{head}, and the water it pushes goes back to a source or tank on either side."
    ways = sorted({r for s in shut for r in s.reliefs})
    if ways:
        return f"{head}; the water it pushes gets out at {', '.join(ways)}, which must be watched."
    return f"{head}; it shuts {shut[0].name}, and the pipe there stands the rise in pressure."


def _closing(case: Case) -> Iterator[Step]:
    layout = case.layout
    for pump in sorted(layout.pumps, key=lambda p: p.id):
        if pump.is_locked(Moment.FREEZING):
            why = "A pump that starts moves water through the plug and adds to its head."
            yield Step(
                Phase.CLOSE, f"Lock off pump {pump.id} and tag it.", why, (Named("pump", pump.id),)
            )
    for gear in sorted(layout.equipment, key=lambda g: g.id):
        if gear.is_locked(Moment.FREEZING):
            why = "Heat makes water circulate by itself; let it cool before freezing."
            yield Step(
                Phase.CLOSE,
                f"Shut down {gear.kind} {gear.id} and lock it.",
                why,
                (Named(gear.kind, gear.id),),
            )
    for name in _closed_valves(case):
        valve = case.network.valves[name]
        proof = valve.tightness == "proven"
        do = f"Close valve {name} and tag it"
        do += (
            "; prove it tight: drain behind it and watch for as long as a freeze takes."
            if (proof)
            else "."
        )
        why = (
            "The plan counts on it to keep water from the work or to stop flow at a plug. Do not "
            "open a cylinder before it is proven."
            if proof
            else "It is stated as closed; nothing counts on it alone."
        )
        yield Step(Phase.CLOSE, do, why, (Named("valve", name),))


def _closed_valves(case: Case) -> list[str]:
    return sorted(v.id for v in case.layout.valves if v.at(Moment.FREEZING) is ValveState.CLOSED)


def _venting(case: Case) -> Iterator[Step]:
    outlets = sorted(case.layout.outlets, key=lambda o: o.id)
    locked = [o.id for o in outlets if o.at(Moment.FREEZING) is OutletState.LOCKED_OFF]
    if locked and case.plugs:
        do = f"Lock off and tag outlet {', '.join(locked)}."
        yield Step(
            Phase.VENT, do, "Water drawn here would move past a plug.", _named("outlet", locked)
        )
    sections = sections_of(case) if case.plugs else []
    for outlet in outlets:
        state = outlet.at(Moment.FREEZING)
        name = Named("outlet", outlet.id)
        beside = sorted({p for s in sections for p in s.plugs if name in s.reliefs})
        if not beside:
            continue
        if state is OutletState.BLEED:
            yield Step(
                Phase.VENT,
                f"Post somebody at {name}: shut until the first of plug {', '.join(beside)} "
                "closes, then open until the line is opened.",
                "Ice pushes water into this section; this is its way out.",
                (name, *_named("plug", beside)),
            )
        elif state is OutletState.KEPT_OPEN:
            yield Step(
                Phase.VENT,
                f"Open {name} and keep it open until the line is opened.",
                f"Water pushed by plug {', '.join(beside)} gets out here.",
                (name, *_named("plug", beside)),
            )


def _freezing(case: Case, stations: Mapping[str, Reading]) -> Iterator[Step]:
    for number, (plug, why) in enumerate(freeze_order(case), 1):
        at = stations[plug.id].shown
        do = f"{number}. Start plug {plug.id} on pipe {plug.pipe} at {at}."
        yield Step(Phase.FREEZE, do, why, (Named("plug", plug.id),))


def _proving(case: Case) -> Iterator[Step]:
    for plug, _ in freeze_order(case):
        yield Step(
            Phase.PROVE,
            f"Wait until plug {plug.id} is to be proven. With the pressure that it will hold "
            "standing on it, let off a little water at the work's side and see that it stops and "
            "the pressure does not come back.",
            "Neither time nor a stop of flow shows that ice holds pressure.",
            (Named("plug", plug.id),),
        )
    yield from _proving_again(case)


def _proving_again(case: Case) -> Iterator[Step]:
    """Prove again whatever first comes under pressure when a valve is opened for the work."""
    for valve in sorted(case.layout.valves, key=lambda v: v.id):
        shut = valve.at(Moment.FREEZING) in {ValveState.CLOSED, ValveState.PASSING}
        if not shut or valve.at(Moment.WORKING) is not ValveState.OPEN:
            continue
        beside = [s for s in sections_of(case) if valve.id in s.valves]
        plugs = sorted({p for s in beside for p in s.plugs} or {p.id for p in case.plugs})
        if not plugs:
            continue
        yield Step(
            Phase.PROVE,
            f"Shut the bleeds between valve {valve.id} and plug {', '.join(plugs)}, open the valve "
            "slowly, then prove that plug again, before the line is opened.",
            "A plug proven with a valve shut behind it has held nothing yet.",
            (Named("valve", valve.id), *_named("plug", plugs)),
        )


def _working(case: Case) -> Iterator[Step]:
    for pump in sorted(case.layout.pumps, key=lambda p: p.id):
        if pump.is_locked(Moment.WORKING) and not pump.is_locked(Moment.FREEZING):
            yield Step(
                Phase.WORK,
                f"Lock off pump {pump.id} and tag it, before anything is opened.",
                "A pump that starts throws water out of the opened line.",
                (Named("pump", pump.id),),
            )
    for place in case.network.work:
        yield Step(
            Phase.WORK,
            f"Drain and open {place.label}; keep every jacket full and attended.",
            "The plugs hold only while they are fed; somebody watches each of them.",
            (place.label,),
        )


@dataclass(frozen=True)
class Filling:
    """How the opened part is filled again: by a valve, or by a plug as it thaws; and its vent."""

    valve: str | None
    vent: str | None


def filling_of(case: Case) -> Filling:
    """Say by what the opened part is filled, and at which outlet the air goes."""
    inside = inside_work(case)
    return Filling(valve=_edge_valve(case, inside), vent=_highest_outlet(case, inside))


def _filling(case: Case) -> Iterator[Step]:
    """Fill the opened part before the thaw, from the top vent down to a valve at its edge."""
    if not case.network.work:
        return
    filling = filling_of(case)
    vent, edge = filling.vent, filling.valve
    by = f"valve {edge}, a crack at a time" if edge else "a plug as it thaws"
    at = f"outlet {vent}" if vent else "the highest joint of the new work"
    yield Step(
        Phase.FILL,
        f"Close up the work. Have {at} open as the vent and fill slowly by {by}; shut the vent "
        "when water comes without air.",
        "Air left in the line hammers, and a plug that lets go against air shoots through it.",
        (*_named("valve", [edge]), *_named("outlet", [vent])),
    )


def inside_work(case: Case) -> np.ndarray:
    """Tell for each node whether it stays connected with the opened line, plugs in place."""
    work = case.network.work_nodes
    if not work:
        return np.zeros(case.network.node_count, dtype=bool)
    plugged = sorted({p.spot.piece for p in case.plugs})
    return reached(case.worlds.working(Trust.STATED), plugged, work)


def _highest_outlet(case: Case, inside: np.ndarray) -> str | None:
    network = case.network
    found = [
        (-float(np.nan_to_num(network.elevation[n], nan=-np.inf)), name)
        for n, names in network.outlets.items()
        if inside[n]
        for name in names
    ]
    return min(found)[1] if found else None


# These can not be cracked open by hand.
SELF_ACTING = {ValveKind.CHECK, ValveKind.REDUCING}


def _edge_valve(case: Case, inside: np.ndarray) -> str | None:
    """Give a valve between the opened part and the rest, with water behind it to fill by.

    Of several the one nearest a source or tank by pipe, past no plug and not through the work.
    """
    network = case.network
    fed = case.worlds.working(Trust.STATED).connects.copy()
    fed[sorted({p.spot.piece for p in case.plugs})] = False
    fed[inside[network.ends[:, 0]] | inside[network.ends[:, 1]]] = False
    feeds = np.array(sorted({*network.sources, *network.tanks}), dtype=np.int64)
    distance = Metric(network, fed).from_nodes(feeds).distance
    found = [
        (float(distance[p.v if inside[p.u] else p.u]), p.element)
        for p in network.pieces
        if p.kind is PieceKind.VALVE
        and inside[p.u] != inside[p.v]
        and network.valves[p.element].kind not in SELF_ACTING
    ]
    return min(((d, name) for d, name in found if math.isfinite(d)), default=(0.0, None))[1]


def _thawing(case: Case) -> Iterator[Step]:
    for plug, _ in reversed(freeze_order(case)):
        yield Step(
            Phase.THAW,
            f"Let plug {plug.id} thaw by itself with a vent open beside it; no flame, no blow.",
            "The last frozen thaws first. A plug thaws at the wall first and can let go at once.",
            (Named("plug", plug.id),),
        )


def _reopening(case: Case) -> Iterator[Step]:
    settled = {OutletState.LOCKED_OFF, OutletState.BLEED, OutletState.KEPT_OPEN}
    taps = sorted(o.id for o in case.layout.outlets if o.at(Moment.FREEZING) in settled)
    if taps and case.plugs:
        do = f"Let the air out at outlet {', '.join(taps)} and put each back to what it was."
        yield Step(Phase.REOPEN, do, "Air that stays in hammers.", _named("outlet", taps))
    valves = _closed_valves(case)
    if valves:
        do = f"Open valve {', '.join(valves)} a little at a time, if it stood open before the job."
        yield Step(Phase.REOPEN, do, "A quick opening hammers.", _named("valve", valves))
    pumps = sorted(p.id for p in case.layout.pumps if any(p.is_locked(m) for m in Moment))
    if pumps:
        why = "Only once the line is full and free of air and ice."
        yield Step(Phase.REOPEN, f"Release pump {', '.join(pumps)}.", why, _named("pump", pumps))
    gear = sorted(
        (g for g in case.layout.equipment if g.is_locked(Moment.FREEZING)), key=lambda g: g.id
    )
    if gear:
        why = "Only once water moves through it."
        named = tuple(Named(g.kind, g.id) for g in gear)
        yield Step(Phase.REOPEN, f"Release {', '.join(g.id for g in gear)}.", why, named)
