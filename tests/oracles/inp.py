"""Water networks that the WNTR package ships, as layouts.

Lengths, diameters, elevations, tanks, reservoirs, pumps and valves are the network's own. These
are ours, since an EPANET file does not have them: the nearest nominal size, steel of STD wall,
2 m for pumps and valves (EPANET gives them no length), and what is opened and frozen. A pipe that
is shorter than the rise between its ends gets the rise as its length.
"""

from __future__ import annotations

import random
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from layoutcheck.document.models import Layout
from layoutcheck.document.read import parse_layout
from layoutcheck.quantities.sizes import NPS_TO_DN
from tests.oracles.strategies import SITE, Document

DEVICE_LENGTH = 2.0
_KINDS = {"PRV": "pressure reducing"}


@dataclass(frozen=True)
class Isolator:
    """A closed valve that is put at one end of a link, beside a node."""

    link: str
    node: str


@dataclass(frozen=True)
class Setting:
    """What is added to a network: isolators, outlets locked off, the work, plugs.

    own: how the network's own valves stand; empty for as the file says.
    """

    isolators: tuple[Isolator, ...] = ()
    own: str = ""
    locked: frozenset[str] = frozenset()
    work: str = ""
    plugs: tuple[tuple[str, float], ...] = ()


@dataclass
class Inp:
    """A WNTR network and how it reads as a layout."""

    model: Any
    lengths: dict[str, float] = field(default_factory=dict)
    steep: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Settle the length of every link."""
        for name, link in self.model.links():
            rise = self._rise(link)
            own = float(link.length) if link.link_type == "Pipe" else DEVICE_LENGTH
            if own < rise:
                self.steep.append(name)
            self.lengths[name] = max(own, rise)

    def _rise(self, link: Any) -> float:
        ends = (self.elevation(link.start_node_name), self.elevation(link.end_node_name))
        return 0.0 if ends[0] is None or ends[1] is None else abs(ends[0] - ends[1])

    def elevation(self, node: str) -> float | None:
        """Give a node's height (m); a reservoir has none but its head."""
        found = getattr(self.model.get_node(node), "elevation", None)
        return None if found is None else float(found)

    def is_shut(self, link: Any) -> bool:
        """Tell whether a link is closed to begin with."""
        return str(link.initial_status).lower().endswith("closed")

    def draws(self) -> list[str]:
        """Give the junctions with a demand."""
        return [
            n
            for n, j in self.model.junctions()
            if any(d.base_value for d in j.demand_timeseries_list)
        ]

    def layout(self, setting: Setting) -> Layout:
        """Write the network as a layout and read it."""
        return parse_layout(self.document(setting))

    def document(self, setting: Setting) -> Document:
        """Write the network as a layout document."""
        model = self.model
        junctions = []
        for name in model.node_name_list:
            height = self.elevation(name)
            junctions.append(
                {"id": name} | ({} if height is None else {"elevation": f"{height!r} m"})
            )
        document: Document = {
            "format": "layoutcheck layout 1",
            "name": "A water network that WNTR ships, with invented work and plugs",
            "units": "metric",
            "junctions": junctions,
            "pipes": [self._pipe(name, link) for name, link in model.links()],
            "valves": [*self._valves(setting.own), *self._isolators(setting.isolators)],
            "pumps": [
                {
                    "id": n,
                    "pipe": n,
                    "station": f"{self.lengths[n] / 2!r} m",
                    "shutoff_head": "3 bar",
                }
                for n, _ in model.pumps()
            ],
            "sources": [
                {
                    "id": n,
                    "junction": n,
                    "kind": "raised tank",
                    "level": f"{float(r.base_head)!r} m",
                }
                for n, r in model.reservoirs()
            ],
            "equipment": [
                {
                    "id": n,
                    "junction": n,
                    "kind": "tank",
                    "level": f"{t.elevation + t.max_level!r} m",
                }
                for n, t in model.tanks()
            ],
            "outlets": [
                {
                    "id": n,
                    "junction": n,
                    "state": "locked off" if n in setting.locked else "may draw",
                }
                for n in self.draws()
            ],
            "plugs": [
                {"id": f"K{i}", "pipe": p, "station": f"{s!r} m", "jacket": "0.6 m"}
                for i, (p, s) in enumerate(setting.plugs)
            ],
            "site": SITE,
        }
        if setting.work:
            document["work"] = {"open": [{"junction": setting.work}], "duration": "2 h"}
        return document

    def _pipe(self, name: str, link: Any) -> Document:
        # Pumps have no diameter, and some pipes are left at 0 to be chosen: 0.1 m stands in.
        bore = float(getattr(link, "diameter", 0.0) or 0.1)
        nominal = min(NPS_TO_DN.values(), key=lambda dn: abs(dn - bore * 1000))
        return {
            "id": name,
            "from": link.start_node_name,
            "to": link.end_node_name,
            "size": f"DN {nominal}",
            "material": "carbon steel",
            "wall": "STD",
            "length": f"{self.lengths[name]!r} m",
        }

    def _valves(self, own: str) -> Iterable[Document]:
        for name, link in self.model.valves():
            kind = _KINDS.get(link.valve_type, "control")
            yield self._valve(name, link, kind, own or ("closed" if self.is_shut(link) else "open"))
        for name, pipe in self.model.pipes():
            if pipe.check_valve:
                yield self._valve(name, pipe, "check", "open")
            elif self.is_shut(pipe):
                yield self._valve(name, pipe, "gate", own or "closed")

    def _valve(self, name: str, link: Any, kind: str, state: str) -> Document:
        middle = f"{self.lengths[link.name] / 2!r} m"
        place = {"id": f"own {name}", "pipe": name, "station": middle}
        return place | {"kind": kind, "state": state, "tightness": "proven"}

    def _isolators(self, rows: tuple[Isolator, ...]) -> Iterable[Document]:
        for row in rows:
            link = self.model.get_link(row.link)
            station = 0.0 if link.start_node_name == row.node else self.lengths[row.link]
            place = {
                "id": f"{row.link} at {row.node}",
                "pipe": row.link,
                "station": f"{station!r} m",
            }
            yield place | {"state": "closed", "tightness": "proven"}


def setting_of(inp: Inp, seed: int, *, isolators: tuple[Isolator, ...] = ()) -> Setting:
    """Draw invented work, plugs round it, and outlets locked off, from a seed."""
    draw = random.Random(seed)
    model = inp.model
    work = draw.choice(model.node_name_list)
    around = list(model.get_links_for_node(work))
    dropped = draw.choice([0, 0, 1])
    plugs = [(n, inp.lengths[n] * draw.choice((0.25, 0.75))) for n in around[dropped:][:5]]
    if not plugs:
        name = draw.choice(model.link_name_list)
        plugs = [(name, inp.lengths[name] / 4)]
    draws = inp.draws()
    locked = frozenset(draw.sample(draws, (len(draws) * 9) // 10))
    return Setting(isolators=isolators, locked=locked, work=work, plugs=tuple(plugs))
