"""What a plan can be made of: valves to close or prove, outlets and machines to see to, plugs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, TypeVar

import numpy as np

from layoutcheck.document.models import (
    Equipment,
    EquipmentKind,
    Layout,
    Moment,
    Outlet,
    OutletState,
    OutletStates,
    Pump,
    Tightness,
    Valve,
    ValveKind,
    ValveState,
)
from layoutcheck.network.columns import (
    CLOSED,
    NOT_FOR_SHUTTING,
    PASSING,
    PROVEN,
    restated,
    valve_columns,
)
from layoutcheck.network.cut import opened_pieces
from layoutcheck.network.model import Network, PieceKind
from layoutcheck.planning.settings import Settings
from layoutcheck.rules.case import Case

Row = TypeVar("Row", Valve, Outlet, Pump, Equipment)


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


@dataclass(frozen=True)
class Options:
    """What can be done to one thing or another, worked out when it is asked for.

    settings: what plans cost. no_valves: valves that are opened themselves, and so no barriers.
    """

    settings: Settings
    no_valves: frozenset[str]

    @classmethod
    def of(cls, case: Case, settings: Settings) -> Options:
        """Give the options of a case."""
        pieces = [case.network.pieces[i] for i in opened_pieces(case.network)]
        opened = frozenset(p.element for p in pieces if p.kind is PieceKind.VALVE)
        return cls(settings, opened)

    def valve(self, valve: Valve) -> Iterator[Element]:
        """Give what can be done to a valve; valve_prices must say the same."""
        states = {valve.at(m) for m in Moment}
        leaks = ValveState.PASSING in states or valve.kind is ValveKind.CHECK
        if valve.id in self.no_valves or leaks:
            return
        unproven = valve.tightness is not Tightness.PROVEN
        if unproven and not self.settings.trust_unproven:
            return
        weights = self.settings.weights
        trust = weights.trusted_valve if unproven else 0.0
        if states != {ValveState.CLOSED} and valve.kind not in NOT_FOR_SHUTTING:
            yield Element(Kind.CLOSE, valve.id, weights.valve + trust, unproven=unproven)
        if ValveState.CLOSED in states and unproven:
            yield Element(Kind.PROVE, valve.id, trust, unproven=True)

    def outlet(self, outlet: Outlet) -> Iterator[Element]:
        """Give what can be done to an outlet."""
        if outlet.leaks or outlet.id in self.settings.keep_in_service:
            return
        now = outlet.at(Moment.FREEZING)
        out = self.settings.weights.outlet_action
        if now is not OutletState.LOCKED_OFF:
            yield Element(Kind.LOCK_OUTLET, outlet.id, out)
        if now is not OutletState.BLEED:
            # Somebody has to stand by it, so it costs a little more than locking off.
            yield Element(Kind.BLEED_OUTLET, outlet.id, 1.5 * out)
        if now is not OutletState.KEPT_OPEN:
            yield Element(Kind.KEEP_OPEN, outlet.id, 1.25 * out)

    def pump(self, pump: Pump) -> Iterator[Element]:
        """Give what can be done to a pump."""
        if not all(pump.is_locked(m) for m in Moment):
            yield Element(Kind.LOCK_PUMP, pump.id, self.settings.weights.machine)

    def gear(self, gear: Equipment) -> Iterator[Element]:
        """Give what can be done to a heater or cooler."""
        live = not all(gear.is_locked(m) for m in Moment)
        if live and gear.kind is not EquipmentKind.TANK:
            yield Element(Kind.SHUT_DOWN, gear.id, self.settings.weights.machine)

    def everything(self, layout: Layout) -> tuple[Element, ...]:
        """Give every element that is not a plug, in the order of kinds and ids."""
        found = [
            *(e for v in layout.valves for e in self.valve(v)),
            *(e for o in layout.outlets for e in self.outlet(o)),
            *(e for p in layout.pumps for e in self.pump(p)),
            *(e for g in layout.equipment for e in self.gear(g)),
        ]
        return tuple(sorted(found, key=lambda e: (e.kind.value, e.id)))

    def valve_prices(self, network: Network) -> np.ndarray:
        """Give the points of the cheapest thing to do to each valve's body; inf where none helps.

        One entry for each valve piece of the network: as valve says, for all of them at once.
        """
        valves, weights = valve_columns(network), self.settings.weights
        states = (valves.freezing, valves.working)
        unproven = valves.tightness != PROVEN
        barred = valves.check | np.isin(valves.pieces, list(opened_pieces(network)))
        barred |= (states[0] == PASSING) | (states[1] == PASSING)
        if not self.settings.trust_unproven:
            barred |= unproven
        trust = np.where(unproven, weights.trusted_valve, 0.0)
        shut = [state == CLOSED for state in states]
        close = np.where(valves.shuttable & ~(shut[0] & shut[1]), weights.valve + trust, np.inf)
        prove = np.where(unproven & (shut[0] | shut[1]), trust, np.inf)
        return np.asarray(np.where(barred, np.inf, np.minimum(close, prove)))


def plug_elements(case: Case, settings: Settings, fits: np.ndarray) -> dict[int, Element]:
    """Give an element for each piece on which a plug fits (a boolean array over pieces)."""
    weights = settings.weights
    marked = {case.network.pieces[p.spot.piece].element for p in settings.marks}
    found = {}
    for index in map(int, np.flatnonzero(fits)):
        pipe = case.network.pieces.elements[index]
        cost = weights.plug + weights.plug_inch * float(case.network.inches[index])
        if marked and pipe not in marked:
            cost += weights.off_mark
        found[index] = Element(Kind.PLUG, pipe, cost, piece=index)
    return found


def apply(network: Network, chosen: Iterable[Element]) -> Network:
    """Give the network with the states that a plan's actions bring about; plugs are left alone."""
    todo: dict[str, dict[str, set[Kind]]] = defaultdict(lambda: defaultdict(set))
    for element in chosen:
        if element.kind is not Kind.PLUG:
            todo[_list_of(element.kind)][element.id].add(element.kind)
    layout = network.layout
    valves = [_valve(network.valves[i], kinds) for i, kinds in todo["valves"].items()]
    taps = todo["outlets"]
    outlets = [_outlet(o, taps[o.id]) for o in layout.outlets if o.id in taps] if taps else []
    lists: dict[str, tuple[Any, ...]] = {
        "valves": _swapped(layout.valves, valves),
        "outlets": _swapped(layout.outlets, outlets),
    }
    for name in ("pumps", "equipment"):
        rows = [m for m in getattr(layout, name) if m.id in todo[name]]
        locked = [m.model_copy(update={"locked_off": True}) for m in rows]
        lists[name] = _swapped(getattr(layout, name), locked)
    return restated(network, layout.model_copy(update=lists), valves, outlets)


def _swapped(rows: tuple[Row, ...], new: Sequence[Row]) -> tuple[Row, ...]:
    """Give the rows with some of them exchanged for new ones of the same ids."""
    if not new:
        return rows
    by_id = {row.id: row for row in new}
    return tuple([by_id.get(row.id, row) for row in rows])


def _list_of(kind: Kind) -> str:
    if kind in OUTLET_KINDS:
        return "outlets"
    return {Kind.LOCK_PUMP: "pumps", Kind.SHUT_DOWN: "equipment"}.get(kind, "valves")


def _outlet(outlet: Outlet, kinds: set[Kind]) -> Outlet:
    states = _outlet_state(next(iter(kinds)), outlet.at(Moment.WORKING))
    return outlet.model_copy(update={"state": states})


def _valve(valve: Valve, kinds: set[Kind]) -> Valve:
    update: dict[str, object] = {"tightness": Tightness.PROVEN}
    if Kind.CLOSE in kinds:
        update["state"] = ValveState.CLOSED
        # That it stands open and is proven was odd, and may be said to be meant: it is no more.
        update["meant"] = tuple(word for word in valve.meant if word != "tightness")
    return valve.model_copy(update=update)


def _outlet_state(kind: Kind, working: OutletState | None) -> OutletStates:
    """Give an outlet's states: what is locked off stays so at work, a vent is shut again."""
    if kind is Kind.LOCK_OUTLET:
        return OutletStates(freezing=OutletState.LOCKED_OFF, working=OutletState.LOCKED_OFF)
    state = OutletState.BLEED if kind is Kind.BLEED_OUTLET else OutletState.KEPT_OPEN
    return OutletStates(freezing=state, working=working)
