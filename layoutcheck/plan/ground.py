"""The ground that plans are searched on: the network under any set of closures, quickly.

The network is built once. Closing a valve changes what connects, never where things are, so a
set of closures is the same network with other states; nothing is parsed or cut anew.
"""

from __future__ import annotations

from collections import OrderedDict, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import replace
from functools import cached_property

import numpy as np

from layoutcheck.document.models import Moment, OutletState, PipeFlow
from layoutcheck.network import Spot, Trust
from layoutcheck.network.cut import reached
from layoutcheck.network.model import PieceKind
from layoutcheck.network.stretches import Stretches
from layoutcheck.plan.elements import Chosen, Element, Kind, actions_of, apply, plug_elements
from layoutcheck.plan.settings import Settings
from layoutcheck.rules.base import PlacingRule
from layoutcheck.rules.case import Case, PlacedPlug, Worlds
from layoutcheck.rules.judge import placing_rules

SPACING = "plug-spacing"

# Rules that look at the pipe itself: no valve, outlet or machine changes what they say.
OF_THE_PIPE = frozenset({"straight-run", "jacket-clearance"})

# Sets of closures whose worlds are kept at a time.
_KEPT_CASES = 256


class Ground:
    """A layout's network, what can be done to it, and what follows from a set of closures."""

    def __init__(self, case: Case) -> None:
        """Lay out the elements of a plan. Marked plugs become wishes; waivers are left out."""
        self.settings = Settings.of(case)
        layout = case.layout.model_copy(update={"plugs": (), "waivers": ()})
        self.case = replace(case, layout=layout, plugs=())
        self.network = case.network
        self.actions = actions_of(self.case, self.settings)
        self.of_valve = self._by_id(Kind.CLOSE, Kind.PROVE)
        self.of_outlet = self._by_id(Kind.LOCK_OUTLET, Kind.BLEED_OUTLET, Kind.KEEP_OPEN)
        self.of_pump = self._by_id(Kind.LOCK_PUMP)
        self.of_gear = self._by_id(Kind.SHUT_DOWN)
        self.work_nodes = list(self.network.work_nodes)
        self._plugs: dict[float, dict[int, Element]] = {}
        self._cases: OrderedDict[Chosen, Case] = OrderedDict()

    def _by_id(self, *kinds: Kind) -> Mapping[str, tuple[Element, ...]]:
        found: dict[str, list[Element]] = defaultdict(list)
        for element in self.actions:
            if element.kind in kinds:
                found[element.id].append(element)
        return {key: tuple(value) for key, value in found.items()}

    @cached_property
    def valve_pieces(self) -> Mapping[str, tuple[int, ...]]:
        """Give the pieces that are the body of each valve."""
        found: dict[str, list[int]] = defaultdict(list)
        for index in map(int, np.flatnonzero(self.network.kind == PieceKind.VALVE)):
            found[self.network.pieces[index].element].append(index)
        return {name: tuple(pieces) for name, pieces in found.items()}

    def plug_on(self, piece: int) -> Element | None:
        """Give the plug of a piece of pipe; None where its jacket does not fit, or water is led."""
        inches = float(self.network.inches[piece])
        if inches <= 0.0:
            return None
        if inches not in self._plugs:
            self._plugs[inches] = plug_elements(self.case, self.settings, self._fits(inches))
        return self._plugs[inches].get(piece)

    @cached_property
    def plugs(self) -> Mapping[int, Element]:
        """Give the plug of each piece of pipe on which its jacket fits."""
        pieces = map(int, np.flatnonzero(self.network.kind == PieceKind.PIPE))
        found = ((p, self.plug_on(p)) for p in pieces)
        return {p: e for p, e in found if e is not None}

    def _fits(self, inches: float) -> np.ndarray:
        """Tell for each piece whether it is pipe of a size on which a jacket fits."""
        network = self.network
        fits = (network.inches == inches) & (network.kind == PieceKind.PIPE)
        probe = self.probe(int(np.flatnonzero(fits)[0]))
        for name in sorted(OF_THE_PIPE):
            some = np.zeros_like(fits)
            some[spot_rules()[name].allows(self.case, probe).pieces()] = True
            fits &= some
        for index in map(int, np.flatnonzero(fits)):
            pipe = network.pipes[network.pieces[index].element]
            fits[index] = pipe.flow is not PipeFlow.FLOWING
        return np.asarray(fits)

    @cached_property
    def sizes(self) -> tuple[float, ...]:
        """Give the nominal sizes (inches) there are."""
        return tuple(sorted({float(x) for x in self.network.inches if x > 0.0}))

    def under(self, chosen: Iterable[Element]) -> Case:
        """Give the case, without plugs, once the chosen actions are done."""
        actions = frozenset(e for e in chosen if e.kind is not Kind.PLUG)
        if actions in self._cases:
            self._cases.move_to_end(actions)
            return self._cases[actions]
        case = self.case if not actions else self._changed(actions)
        self._cases[actions] = case
        if len(self._cases) > _KEPT_CASES:
            self._cases.popitem(last=False)
        return case

    def _changed(self, actions: Chosen) -> Case:
        layout = apply(self.case.layout, actions)
        network = replace(
            self.network,
            layout=layout,
            valves={v.id: v for v in layout.valves},
            pumps={p.id: p for p in layout.pumps},
        )
        return replace(self.case, layout=layout, network=network, worlds=Worlds(network))

    def probe(self, piece: int, offset: float | None = None, name: str = "") -> PlacedPlug:
        """Give a plan's plug on a piece at an offset (m); in its middle if None."""
        item = self.network.pieces[piece]
        spot = Spot(piece, item.length / 2 if offset is None else offset)
        pipe, station = self.network.station(spot)
        inches = float(self.network.inches[piece])
        jacket = self.settings.jacket_for(inches)
        coolant = self.settings.coolant
        return PlacedPlug(name or f"probe {piece}", spot, pipe, station, jacket, coolant, inches)

    def allowed(self, case: Case, inches: float) -> Mapping[str, Stretches]:
        """Give what each rule allows a plug on pipe of a size, once for each set of closures."""
        return case.worlds.once(f"plan allows {inches}", lambda: self._allowed(case, inches))

    def _allowed(self, case: Case, inches: float) -> Mapping[str, Stretches]:
        piece = int(np.flatnonzero(self.network.inches == inches)[0])
        probe = self.probe(piece)
        return {name: rule.allows(case, probe) for name, rule in spot_rules().items()}

    def clear(self, case: Case, piece: int) -> tuple[tuple[float, float], ...]:
        """Give the closed intervals (m) on a piece where a plug passes each rule of its own."""
        inches = float(self.network.inches[piece])
        allowed = self.allowed(case, inches)
        met = case.worlds.once(f"plan clear {inches}", lambda: _meet(case, allowed))
        return met.of(piece)

    def out_of_service(self, case: Case, plugged: Iterable[int]) -> tuple[str, ...]:
        """Name the outlets that have water today and none while the work is open."""
        now = self.supplied(self.case, ())
        still = self.supplied(case, plugged)
        locked = {
            o.id for o in case.layout.outlets if o.at(Moment.WORKING) is OutletState.LOCKED_OFF
        }
        return tuple(sorted((now - still) | (now & locked)))

    def supplied(self, case: Case, plugged: Iterable[int]) -> frozenset[str]:
        """Name the outlets that a source reaches while the work is open."""
        world, network = case.worlds.working(Trust.STATED), case.network
        if not network.sources:
            return frozenset()
        fed = reached(world, list(plugged), sorted(network.sources))
        wet = frozenset(i for n, ids in network.outlets.items() if fed[n] for i in ids)
        if case is self.case:
            return wet - {
                o.id for o in case.layout.outlets if o.at(Moment.WORKING) is OutletState.LOCKED_OFF
            }
        return wet


def spot_rules() -> Mapping[str, PlacingRule]:
    """Give the rules that shut out places whatever the other plugs do."""
    return {name: rule for name, rule in placing_rules().items() if name != SPACING}


def _meet(case: Case, allowed: Mapping[str, Stretches]) -> Stretches:
    clear = Stretches.everywhere(case.network.length).only(case.pipes_of_pieces)
    for stretches in allowed.values():
        clear = clear.meet(stretches)
    return clear
