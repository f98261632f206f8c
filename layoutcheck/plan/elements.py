"""What a plan can be made of: valves to close or prove, outlets and machines to see to, plugs."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from layoutcheck.document.models import (
    EquipmentKind,
    Layout,
    Moment,
    OutletState,
    OutletStates,
    Tightness,
    Valve,
    ValveKind,
    ValveState,
)
from layoutcheck.network.cut import opened_pieces
from layoutcheck.network.model import PieceKind
from layoutcheck.plan.settings import Settings
from layoutcheck.rules.case import Case

# Valves that are no isolating valves: a plan closes none of these.
_NOT_FOR_SHUTTING = {ValveKind.CHECK, ValveKind.CONTROL, ValveKind.REDUCING}


class Kind(StrEnum):
    """What an element of a plan does."""

    CLOSE = "close valve"
    PROVE = "prove valve"
    LOCK_OUTLET = "lock off outlet"
    BLEED_OUTLET = "make outlet a bleed"
    KEEP_OPEN = "keep outlet open"
    LOCK_PUMP = "lock off pump"
    SHUT_DOWN = "shut down"
    PLUG = "freeze plug"


OUTLET_KINDS = {Kind.LOCK_OUTLET, Kind.BLEED_OUTLET, Kind.KEEP_OPEN}


@dataclass(frozen=True, order=True)
class Element:
    """One thing a plan does. id: the valve, outlet or machine; for a plug the pipe's id.

    cost: points. piece: where a plug is frozen. unproven: True if a valve's proof is to be made.
    """

    kind: Kind
    id: str
    cost: float
    piece: int = -1
    unproven: bool = False

    @property
    def rivals(self) -> frozenset[tuple[Kind, str]]:
        """Give the (kind, id) that can not be done together with this one."""
        if self.kind in OUTLET_KINDS:
            return frozenset((k, self.id) for k in OUTLET_KINDS - {self.kind})
        return frozenset()


Chosen = frozenset[Element]


def actions_of(case: Case, settings: Settings) -> tuple[Element, ...]:
    """Give every element that is not a plug, in the order of kinds and ids."""
    found = [*_valves(case, settings), *_outlets(case, settings), *_machines(case, settings)]
    return tuple(sorted(found, key=lambda e: (e.kind.value, e.id)))


def _valves(case: Case, settings: Settings) -> Iterable[Element]:
    opened = opened_pieces(case.network)
    bodies = {
        case.network.pieces[i].element
        for i in opened
        if case.network.pieces[i].kind is PieceKind.VALVE
    }
    weights = settings.weights
    for valve in case.layout.valves:
        states = {valve.at(m) for m in Moment}
        leaks = ValveState.PASSING in states or valve.kind is ValveKind.CHECK
        if valve.id in bodies or leaks:
            continue
        unproven = valve.tightness is not Tightness.PROVEN
        if unproven and not settings.trust_unproven:
            continue
        trust = weights.trusted_valve if unproven else 0.0
        if ValveState.CLOSED in states and unproven:
            yield Element(Kind.PROVE, valve.id, trust, unproven=True)
        if states != {ValveState.CLOSED} and valve.kind not in _NOT_FOR_SHUTTING:
            yield Element(Kind.CLOSE, valve.id, weights.valve + trust, unproven=unproven)


def _outlets(case: Case, settings: Settings) -> Iterable[Element]:
    weights = settings.weights
    for outlet in case.layout.outlets:
        if outlet.id in settings.keep_in_service:
            continue
        now = outlet.at(Moment.FREEZING)
        out = weights.outlet_action
        if now is not OutletState.LOCKED_OFF:
            yield Element(Kind.LOCK_OUTLET, outlet.id, out)
        if now is not OutletState.BLEED:
            # Somebody has to stand by it, so it costs a little more than locking off.
            yield Element(Kind.BLEED_OUTLET, outlet.id, 1.5 * out)
        if now is not OutletState.KEPT_OPEN:
            yield Element(Kind.KEEP_OPEN, outlet.id, 1.25 * out)


def _machines(case: Case, settings: Settings) -> Iterable[Element]:
    points = settings.weights.machine
    for pump in case.layout.pumps:
        if not all(pump.is_locked(m) for m in Moment):
            yield Element(Kind.LOCK_PUMP, pump.id, points)
    for gear in case.layout.equipment:
        live = not all(gear.is_locked(m) for m in Moment)
        if live and gear.kind is not EquipmentKind.TANK:
            yield Element(Kind.SHUT_DOWN, gear.id, points)


def plug_elements(case: Case, settings: Settings, fits: np.ndarray) -> dict[int, Element]:
    """Give an element for each piece on which a plug fits (a boolean array over pieces)."""
    weights = settings.weights
    marked = {case.network.pieces[p.spot.piece].element for p in settings.marks}
    found = {}
    for index in map(int, np.flatnonzero(fits)):
        piece = case.network.pieces[index]
        cost = weights.plug + weights.plug_inch * float(case.network.inches[index])
        if marked and piece.element not in marked:
            cost += weights.off_mark
        found[index] = Element(Kind.PLUG, piece.element, cost, piece=index)
    return found


def apply(layout: Layout, chosen: Iterable[Element]) -> Layout:
    """Give the layout with the states that a plan's actions bring about; plugs are left alone."""
    todo: dict[str, set[Kind]] = {}
    for element in chosen:
        if element.kind is not Kind.PLUG:
            todo.setdefault(f"{_list_of(element.kind)} {element.id}", set()).add(element.kind)
    if not todo:
        return layout
    outlets = tuple(
        o.model_copy(update={"state": _outlet_state(next(iter(kinds)), o.at(Moment.WORKING))})
        if (kinds := todo.get(f"outlets {o.id}"))
        else o
        for o in layout.outlets
    )
    return layout.model_copy(
        update={
            "valves": tuple(_valve(v, todo.get(f"valves {v.id}", set())) for v in layout.valves),
            "outlets": outlets,
            "pumps": tuple(
                p.model_copy(update={"locked_off": True}) if f"pumps {p.id}" in todo else p
                for p in layout.pumps
            ),
            "equipment": tuple(
                g.model_copy(update={"locked_off": True}) if f"equipment {g.id}" in todo else g
                for g in layout.equipment
            ),
        }
    )


def _list_of(kind: Kind) -> str:
    if kind in OUTLET_KINDS:
        return "outlets"
    return {Kind.LOCK_PUMP: "pumps", Kind.SHUT_DOWN: "equipment"}.get(kind, "valves")


def _valve(valve: Valve, kinds: set[Kind]) -> Valve:
    if not kinds:
        return valve
    update: dict[str, object] = {"tightness": Tightness.PROVEN}
    if Kind.CLOSE in kinds:
        update["state"] = ValveState.CLOSED
    return valve.model_copy(update=update)


def _outlet_state(kind: Kind, working: OutletState | None) -> OutletStates:
    """Give an outlet's states: what is locked off stays so at work, a vent is shut again."""
    if kind is Kind.LOCK_OUTLET:
        return OutletStates(freezing=OutletState.LOCKED_OFF, working=OutletState.LOCKED_OFF)
    state = OutletState.BLEED if kind is Kind.BLEED_OUTLET else OutletState.KEPT_OPEN
    return OutletStates(freezing=state, working=working)
