"""What lies on the two sides of a plug: the work's side, and the side it holds back."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from layoutcheck.document.models import Moment, OutletState, ValveState
from layoutcheck.network.metric import Metric
from layoutcheck.network.model import PieceKind
from layoutcheck.planning.order import SELF_ACTING, inside_work
from layoutcheck.report.sheet.model import PlugCard
from layoutcheck.rules.case import Case
from layoutcheck.rules.sections import Section, sections_of


class Sides:
    """The sections that the ice shuts, seen from the work."""

    def __init__(self, case: Case) -> None:
        """Find the sections and what stays connected with the opened line, once."""
        self.case = case
        self.sections = sections_of(case)
        self.inside: np.ndarray = (
            inside_work(case) if case.network.work else np.zeros(case.network.node_count, bool)
        )

    def _faces_work(self, section: Section) -> bool:
        return any(bool(self.inside[n]) for n in section.nodes)

    def _outlets(self, sections: Iterable[Section]) -> list[str]:
        nodes = {n for s in sections for n in s.nodes}
        return sorted(
            name for n, names in self.case.network.outlets.items() if n in nodes for name in names
        )

    def let_off(self, plug: str) -> list[str]:
        """Give the outlets on the work's side of a plug; first those that the job opens."""
        own = [s for s in self.sections if plug in s.plugs and self._faces_work(s)]
        states = {o.id: o.at(Moment.FREEZING) for o in self.case.layout.outlets}
        used = {OutletState.BLEED, OutletState.KEPT_OPEN}
        way = self._way_to(plug)
        return sorted(
            self._outlets(own), key=lambda name: (states[name] not in used, way[name], name)
        )

    def inside_outlets(self) -> list[str]:
        """Give the outlets that stay connected with the opened line."""
        network = self.case.network
        return sorted(
            name for n, names in network.outlets.items() if self.inside[n] for name in names
        )

    def beyond(self, plug: str) -> list[Section]:
        """Give the sections that a plug shuts on the side which it holds back."""
        return [s for s in self.sections if plug in s.plugs and not self._faces_work(s)]

    def cut_off(self, plug: str) -> list[Section]:
        """Give the sections behind a plug that no source presses on, as all valves there hold."""
        valves = self.case.network.valves
        return [
            s
            for s in self.beyond(plug)
            if not self.passing(s)
            and not self.supplied(s)
            and all(valves[v].at(Moment.FREEZING) is ValveState.CLOSED for v in s.valves)
        ]

    def supplied(self, section: Section) -> list[str]:
        """Give the sources and tanks in a section, and the one-way valves that feed it.

        A bleed there runs on for as long as the supply lasts, whatever the ice does.
        """
        network = self.case.network
        feeds = {
            name
            for held in (network.sources, network.tanks)
            for node in section.nodes
            for name in held.get(node, ())
        }
        feeds |= {v for v in section.valves if network.valves[v].kind in SELF_ACTING}
        return sorted(feeds)

    def outlets_beyond(self, plug: str) -> list[str]:
        """Give the outlets on the side that a plug holds back; first the bleeds, then by way."""
        bleeds = set(bleeds_of(self.case))
        way = self._way_to(plug)
        return sorted(
            self._outlets(self.beyond(plug)), key=lambda name: (name not in bleeds, way[name], name)
        )

    def _way_to(self, plug: str) -> dict[str, float]:
        """Give the way by pipe (m) from a plug to each outlet."""
        network = self.case.network
        connects = np.ones(len(network.pieces), dtype=bool)
        field = Metric(network, connects).from_spot(self.case.plug(plug).spot)
        return {
            name: float(field.distance[n]) for n, names in network.outlets.items() for name in names
        }

    def holding_outlet(self, outlet: str) -> list[Section]:
        """Give the sections that an outlet stands in."""
        return [s for s in self.sections if outlet in self._outlets([s])]

    def bleeds_beyond(self, plug: str) -> list[str]:
        """Give the bleeds on the side that a plug holds back, where a valve there lets water by."""
        leaky = [s for s in self.beyond(plug) if self.passing(s)]
        return self.bleeds_in(leaky)

    def bleeds_in(self, sections: Iterable[Section]) -> list[str]:
        """Give the bleeds of some sections."""
        bleeds = set(bleeds_of(self.case))
        return [name for name in self._outlets(sections) if name in bleeds]

    def passing(self, section: Section) -> list[str]:
        """Give the valves at a section's edge that let water by though shut."""
        network, nodes = self.case.network, set(section.nodes)
        return sorted(
            piece.element
            for piece in network.pieces
            if piece.kind is PieceKind.VALVE
            and (piece.u in nodes or piece.v in nodes)
            and network.valves[piece.element].at(Moment.FREEZING) is ValveState.PASSING
        )

    def pressed_by(self, valve: str) -> list[Section]:
        """Give the sections that come under pressure when a shut valve is opened."""
        return [s for s in self.sections if valve in s.valves and not self._faces_work(s)]

    def shut_behind(self, plug: str) -> list[str]:
        """Give the valves behind a plug that are shut while it freezes and opened for the work."""
        return [v for v in opened_for_work(self.case) if plug in self.plugs_to_prove_again(v)]

    def plugs_to_prove_again(self, valve: str) -> list[str]:
        """Give the plugs on which pressure first stands once a valve is opened.

        Where no section has the valve at its edge it is not known which: then all of them.
        """
        pressed = {p for s in self.pressed_by(valve) for p in s.plugs}
        return sorted(pressed or {p.id for p in self.case.plugs})


def opened_for_work(case: Case) -> list[str]:
    """Give the valves that are shut while freezing and open for the work."""
    return sorted(
        v.id
        for v in case.layout.valves
        if v.at(Moment.FREEZING) in {ValveState.CLOSED, ValveState.PASSING}
        and v.at(Moment.WORKING) is ValveState.OPEN
    )


def bleeds_of(case: Case) -> list[str]:
    """Give the outlets that are bleeds while freezing."""
    return sorted(o.id for o in case.layout.outlets if o.at(Moment.FREEZING) is OutletState.BLEED)


def soonest_closing(cards: Iterable[PlugCard], plugs: Iterable[str]) -> str:
    """Say when the ice of some plugs has closed at the earliest; empty where it is not known.

    While one plug of a section is still open, pushed water gets out through it: the last counts.
    """
    beside = set(plugs)
    necks = [
        c.freeze.time_to_neck_closed.low
        for c in cards
        if c.id in beside and c.freeze.time_to_neck_closed
    ]
    last = max(necks, key=lambda m: m.value, default=None)
    return "" if last is None else last.shown
