"""The ground that plans are searched on: the network under any set of closures, quickly.

The network is built once. Closing a valve changes what connects, never where things are, so a
set of closures is the same network with other states; nothing is parsed or cut anew.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from functools import cached_property, reduce
from typing import Generic

import numpy as np

from layoutcheck.network import Spot, Trust
from layoutcheck.network.columns import LOCKED_OFF, outlet_columns, stated_flowing
from layoutcheck.network.cut import reached
from layoutcheck.network.model import PieceKind
from layoutcheck.network.once import Latest
from layoutcheck.network.stretches import Interval, Stretches, meet
from layoutcheck.placement.allowed import all_over
from layoutcheck.planning.elements import Chosen, Element, Kind, Options, Row, apply, plug_elements
from layoutcheck.planning.settings import Settings
from layoutcheck.rules.case import Case, PlacedPlug, Worlds
from layoutcheck.rules.declared import CLOSURES
from layoutcheck.rules.judge import spot_rules

# Sets of closures whose worlds are kept at a time.
_KEPT_CASES = 256


class _OnAsking(Generic[Row]):
    """What can be done to each thing of a kind, worked out when it is asked for and kept.

    A plan touches a few valves and outlets out of thousands.
    """

    def __init__(
        self, rows: Mapping[str, Row], options: Callable[[Row], Iterable[Element]]
    ) -> None:
        self._rows: Mapping[str, Row] = rows
        self._options: Callable[[Row], Iterable[Element]] = options
        self._known: dict[str, tuple[Element, ...]] = {}

    def of(self, name: str) -> tuple[Element, ...]:
        """Give the elements of a thing by its id; none where there is no such thing."""
        if name not in self._known:
            row = self._rows.get(name)
            self._known[name] = () if row is None else tuple(self._options(row))
        return self._known[name]


class Ground:
    """A layout's network, what can be done to it, and what follows from a set of closures."""

    def __init__(self, case: Case) -> None:
        """Lay out the elements of a plan. Marked plugs become wishes; waivers are left out."""
        self.settings = Settings.of(case)
        layout = case.layout.model_copy(update={"plugs": (), "waivers": ()})
        self.case = replace(case, layout=layout, plugs=())
        self.network = case.network
        self.options = Options.of(self.case, self.settings)
        outlets = {o.id: o for o in layout.outlets}
        gear = {g.id: g for g in layout.equipment}
        self.of_valve = _OnAsking(self.network.valves, self.options.valve)
        self.of_outlet = _OnAsking(outlets, self.options.outlet)
        self.of_pump = _OnAsking(self.network.pumps, self.options.pump)
        self.of_gear = _OnAsking(gear, self.options.gear)
        self.work_nodes = list(self.network.work_nodes)
        self._plugs: dict[float, dict[int, Element]] = {}
        self._cases = Latest(_KEPT_CASES)

    @cached_property
    def actions(self) -> tuple[Element, ...]:
        """Give everything that can be done, but for plugs."""
        return self.options.everything(self.case.layout)

    @cached_property
    def valve_pieces(self) -> Mapping[str, tuple[int, ...]]:
        """Give the pieces that are the body of each valve."""
        found: dict[str, list[int]] = defaultdict(list)
        for index in self.network.valve_pieces.tolist():
            found[self.network.pieces.elements[index]].append(index)
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
        for rule in spot_rules().values():
            if rule.cures & CLOSURES:
                continue  # what is done to a valve may change what it says
            some = np.zeros_like(fits)
            some[rule.allows(self.case, probe).pieces()] = True
            fits &= some
        return np.asarray(fits & ~stated_flowing(network))

    @cached_property
    def sizes(self) -> tuple[float, ...]:
        """Give the nominal sizes (inches) there are."""
        return tuple(sorted({float(x) for x in self.network.inches if x > 0.0}))

    def under(self, chosen: Iterable[Element]) -> Case:
        """Give the case, without plugs, once the chosen actions are done."""
        actions = frozenset(e for e in chosen if e.kind is not Kind.PLUG)
        return self._cases(actions, lambda: self._changed(actions) if actions else self.case)

    def _changed(self, actions: Chosen) -> Case:
        network = apply(self.network, actions)
        # What a document leaves out of its pipes is read one way in a network, and stays unstated.
        layout = network.layout.model_copy(update={"pipes": self.case.layout.pipes})
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

    def kept(self, case: Case, piece: int) -> Mapping[str, tuple[Interval, ...]]:
        """Give what each rule leaves of a piece, once for each set of closures."""
        return case.worlds.once(f"plan keeps {piece}", lambda: self._kept(case, piece))

    def _kept(self, case: Case, piece: int) -> Mapping[str, tuple[Interval, ...]]:
        probe, found = self.probe(piece), {}
        for name, allowed in self._allowed_freezing(
            case, float(self.network.inches[piece])
        ).items():
            held = spot_rules()[name].allows_held(case, probe)
            here = allowed.of(piece)
            found[name] = here if held is None else meet(here, held)
        return found

    def _allowed_freezing(self, case: Case, inches: float) -> Mapping[str, Stretches]:
        """Give what each rule allows a plug on pipe of a size, while it freezes."""
        return case.worlds.once(f"plan allows {inches}", lambda: self._allowed(case, inches))

    def _allowed(self, case: Case, inches: float) -> Mapping[str, Stretches]:
        piece = int(np.flatnonzero(self.network.inches == inches)[0])
        probe = self.probe(piece)
        return {name: rule.allows_freezing(case, probe) for name, rule in spot_rules().items()}

    def clear(self, case: Case, piece: int) -> tuple[tuple[float, float], ...]:
        """Give the closed intervals (m) on a piece where a plug passes each rule of its own."""
        everywhere = all_over(case).of(piece)
        return reduce(meet, self.kept(case, piece).values(), everywhere)

    def out_of_service(self, case: Case, plugged: Iterable[int]) -> tuple[str, ...]:
        """Name the outlets that have water today and none while the work is open."""
        before, now = self._served, self._fed(case, plugged)
        taps = outlet_columns(case.network)
        out = before & (~now | (taps.working == LOCKED_OFF))
        return tuple(sorted(taps.names[i] for i in np.flatnonzero(out).tolist()))

    @property
    def served(self) -> frozenset[str]:
        """Name the outlets that a source reaches today, but for those that are locked off."""
        names = outlet_columns(self.network).names
        return frozenset(names[i] for i in np.flatnonzero(self._served).tolist())

    @cached_property
    def _served(self) -> np.ndarray:
        taps = outlet_columns(self.network)
        return np.asarray(self._fed(self.case, ()) & (taps.working != LOCKED_OFF))

    def _fed(self, case: Case, plugged: Iterable[int]) -> np.ndarray:
        """Tell which outlets a source reaches while the work is open (a boolean array)."""
        taps = outlet_columns(case.network)
        if not case.network.sources:
            return np.zeros(len(taps.nodes), dtype=bool)
        world = case.worlds.working(Trust.STATED)
        fed: np.ndarray = reached(world, list(plugged), sorted(case.network.sources))[taps.nodes]
        return fed
