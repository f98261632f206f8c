"""What is said of pipes and valves, as arrays: a large network is asked about all of it at once.

One pass over the objects makes the columns of a network; every question after that is arithmetic
on arrays. They are kept with the network: what follows from where things are is shared by all
networks that differ in the states of valves and machines alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from layoutcheck.document.models import (
    Layout,
    Moment,
    Outlet,
    OutletState,
    PipeFlow,
    Tightness,
    Valve,
    ValveKind,
    ValveState,
)
from layoutcheck.network.model import Network

# Codes of what is stated of a valve; 0 is 'not stated'.
STATE_CODES = {None: 0, ValveState.OPEN: 1, ValveState.CLOSED: 2, ValveState.PASSING: 3}
TIGHTNESS_CODES = {None: 0, Tightness.PROVEN: 1, Tightness.NOT_PROVEN: 2}
NOT_STATED, OPEN, CLOSED, PASSING = 0, 1, 2, 3
PROVEN, NOT_PROVEN = 1, 2

# These close against water that is pushed back at them, whatever their state: a reducing valve
# shuts as soon as the pressure behind it rises.
ONE_WAY = frozenset({ValveKind.CHECK, ValveKind.REDUCING})


# No isolating valves: nobody shuts them to cut water off.
NOT_FOR_SHUTTING = frozenset({ValveKind.CHECK, ValveKind.CONTROL, ValveKind.REDUCING})

# Codes of what is stated of an outlet; 0 is 'not stated', which is taken as 'may draw'. Water may
# leave by a leak as it may where it is drawn.
OUTLET_CODES = {
    None: 0,
    OutletState.MAY_DRAW: 0,
    OutletState.LEAKING: 0,
    OutletState.LOCKED_OFF: 1,
    OutletState.BLEED: 2,
    OutletState.KEPT_OPEN: 3,
}
MAY_DRAW, LOCKED_OFF, BLEED, KEPT_OPEN = 0, 1, 2, 3


@dataclass(frozen=True)
class OutletColumns:
    """The outlets of a network, by node and name.

    nodes: (n,) node numbers. names: the id of each. freezing, working: (n,) codes of the states.
    """

    nodes: np.ndarray
    names: tuple[str, ...]
    freezing: np.ndarray
    working: np.ndarray

    def state(self, moment: Moment) -> np.ndarray:
        """Give the codes of the states at a moment."""
        return self.freezing if moment is Moment.FREEZING else self.working

    def draws(self, moment: Moment) -> np.ndarray:
        """Tell at which outlets water may leave at a moment (a boolean array)."""
        state = self.state(moment)
        return np.asarray((state == MAY_DRAW) | (state == KEPT_OPEN))


@dataclass(frozen=True)
class ValveColumns:
    """The valves of a network, one entry for each piece that is a valve's body.

    pieces: (n,) piece numbers. names: the valve of each. freezing, working: (n,) codes of the
    states. tightness: (n,) codes. check, one_way, shuttable: (n,) what kind of valve it is.
    """

    pieces: np.ndarray
    names: tuple[str, ...]
    freezing: np.ndarray
    working: np.ndarray
    tightness: np.ndarray
    check: np.ndarray
    one_way: np.ndarray
    shuttable: np.ndarray

    def state(self, moment: Moment) -> np.ndarray:
        """Give the codes of the states at a moment."""
        return self.freezing if moment is Moment.FREEZING else self.working


def valve_columns(network: Network) -> ValveColumns:
    """Give the valves of a network as arrays, made once."""
    return network.own("valve columns", lambda: _valve_columns(network))


def _valve_columns(network: Network) -> ValveColumns:
    pieces = network.valve_pieces
    names = tuple(network.pieces.elements[i] for i in pieces.tolist())
    valves = [network.valves[n] for n in names]
    return ValveColumns(
        pieces=pieces,
        names=names,
        freezing=_codes(STATE_CODES[v.at(Moment.FREEZING)] for v in valves),
        working=_codes(STATE_CODES[v.at(Moment.WORKING)] for v in valves),
        tightness=_codes(TIGHTNESS_CODES[v.tightness] for v in valves),
        check=np.array([v.kind is ValveKind.CHECK for v in valves], dtype=bool),
        one_way=np.array([v.kind in ONE_WAY for v in valves], dtype=bool),
        shuttable=np.array([v.kind not in NOT_FOR_SHUTTING for v in valves], dtype=bool),
    )


def outlet_columns(network: Network) -> OutletColumns:
    """Give the outlets of a network as arrays, made once."""
    return network.own("outlet columns", lambda: _outlet_columns(network))


def _outlet_columns(network: Network) -> OutletColumns:
    taps = {o.id: o for o in network.layout.outlets}
    rows = [(node, taps[name]) for node, names in network.outlets.items() for name in names]
    return OutletColumns(
        nodes=np.array([node for node, _ in rows], dtype=np.int64),
        names=tuple(tap.id for _, tap in rows),
        freezing=_codes(OUTLET_CODES[tap.at(Moment.FREEZING)] for _, tap in rows),
        working=_codes(OUTLET_CODES[tap.at(Moment.WORKING)] for _, tap in rows),
    )


def _codes(values: Iterable[int]) -> np.ndarray:
    return np.fromiter(values, dtype=np.int8)


def restated(
    network: Network, layout: Layout, valves: Iterable[Valve], outlets: Iterable[Outlet]
) -> Network:
    """Give a network under a layout that differs in states alone.

    valves, outlets: those whose states differ, as they are in that layout.
    """
    new = {v.id: v for v in valves}
    made = replace(
        network,
        layout=layout,
        valves={**network.valves, **new} if new else network.valves,
        pumps={p.id: p for p in layout.pumps},
    )
    valves_now = _with_valves(network, new)
    outlets_now = _with_outlets(network, outlets)
    made.own("valve columns", lambda: valves_now)
    made.own("outlet columns", lambda: outlets_now)
    return made


def _with_valves(network: Network, new: Mapping[str, Valve]) -> ValveColumns:
    columns = valve_columns(network)
    places = network.geometry("valve places", lambda: _places(columns.names))
    state = {m: columns.state(m).copy() for m in Moment}
    tightness = columns.tightness.copy()
    for name, valve in new.items():
        for place in places.get(name, ()):
            tightness[place] = TIGHTNESS_CODES[valve.tightness]
            for moment in Moment:
                state[moment][place] = STATE_CODES[valve.at(moment)]
    freezing, working = state[Moment.FREEZING], state[Moment.WORKING]
    return replace(columns, freezing=freezing, working=working, tightness=tightness)


def _with_outlets(network: Network, outlets: Iterable[Outlet]) -> OutletColumns:
    columns = outlet_columns(network)
    places = network.geometry("outlet places", lambda: _places(columns.names))
    state = {m: columns.state(m).copy() for m in Moment}
    for outlet in outlets:
        for place in places.get(outlet.id, ()):
            for moment in Moment:
                state[moment][place] = OUTLET_CODES[outlet.at(moment)]
    freezing, working = state[Moment.FREEZING], state[Moment.WORKING]
    return replace(columns, freezing=freezing, working=working)


def _places(names: tuple[str, ...]) -> dict[str, list[int]]:
    found: dict[str, list[int]] = {}
    for place, name in enumerate(names):
        found.setdefault(name, []).append(place)
    return found


def stated_flowing(network: Network) -> np.ndarray:
    """Tell for each piece whether its pipe is stated to flow (a boolean array), made once."""
    return network.geometry("stated flowing", lambda: _stated_flowing(network))


def _stated_flowing(network: Network) -> np.ndarray:
    found = np.zeros(len(network.pieces), dtype=bool)
    for name, pipe in network.pipes.items():
        if pipe.flow is PipeFlow.FLOWING:
            found[list(network.pieces_of[name])] = True
    return found


def bore_area(network: Network) -> np.ndarray:
    """Give the bore (m2) of each piece of pipe; 0 for valves and pumps. Made once."""
    return network.geometry("bore area", lambda: _bore_area(network))


def _bore_area(network: Network) -> np.ndarray:
    bores = [network.dimensions[name].inside_diameter for name in network.pipes]
    return np.asarray(np.pi * network.of_pipes(bores, 0.0) ** 2 / 4)
