"""Static head: the highest pressure that stands at a place while the work is open.

The head at a plug is the source's pressure and the weight of the water between the two heights;
where a pump may run, its rise at no flow is added (of several pumps the sum, since they may stand
in series). It is taken in the worst reading: valves not proven tight pass, other plugs do not
help. Water that stands higher than the plug presses on it even without a source.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from layoutcheck.document.models import Moment, Source
from layoutcheck.network import Network, Spot, Trust, World
from layoutcheck.network.model import PieceKind
from layoutcheck.network.stretches import Stretches
from layoutcheck.physics.loss import GRAVITY, WATER_DENSITY
from layoutcheck.rules.case import Case
from layoutcheck.rules.facts import Fact

# Pa for each metre of water. A high value is the safe side.
WEIGHT = WATER_DENSITY.value * GRAVITY.value


@dataclass(frozen=True)
class Head:
    """The pressure (Pa gauge) at a place; None where something is missing.

    by: what gives it, for people.
    """

    pressure: float | None
    by: str
    missing: tuple[str, ...] = ()


@dataclass(frozen=True)
class Part:
    """One connected part of the network: its total head (Pa at datum), and what gives it.

    fed: whether a source, a tank or a pump stands in it; otherwise its water only runs down.
    """

    total: float
    by: str
    missing: tuple[str, ...]
    fed: bool


class Heads:
    """The heads of a case, by connected part."""

    def __init__(self, case: Case, moment: Moment) -> None:
        """Work out the head of each connected part at a moment."""
        self.network = case.network
        self.world = case.worlds.at(moment, Trust.PROVEN)
        self.labels = self.world.parts()
        self._order = np.argsort(self.labels, kind="stable")
        self._starts = np.searchsorted(
            self.labels[self._order], np.arange(self.labels.max(initial=-1) + 2)
        )
        self._sources: dict[int, list[_Source]] = defaultdict(list)
        for source in _candidates(self.world):
            self._sources[int(self.labels[source.node])].append(source)
        self._pumps: dict[int, list[str]] = defaultdict(list)
        for index in self.world.running_pumps:
            label = int(self.labels[self.network.ends[index, 0]])
            self._pumps[label].append(self.network.pieces[index].element)
        self._parts: dict[int, Part] = {}

    def at(self, spot: Spot) -> Head:
        """Give the head at a spot."""
        part = self.part(spot)
        height = self.network.elevation_at(spot)
        missing = part.missing
        if math.isnan(height):
            pipe, _ = self.network.station(spot)
            lacking = (*missing, *_lacking_heights(self.network, pipe))
            missing = tuple(dict.fromkeys(lacking))
        if missing:
            return Head(None, part.by, missing)
        return Head(max(0.0, part.total - WEIGHT * height), part.by)

    def part(self, spot: Spot) -> Part:
        """Give the connected part that a spot lies in."""
        return self._part(int(self.labels[self.network.ends[spot.piece, 0]]))

    def _part(self, label: int) -> Part:
        """Give a connected part, worked out when it is first asked for."""
        if label not in self._parts:
            nodes = self._order[self._starts[label] : self._starts[label + 1]]
            pumps = sorted(self._pumps.get(label, ()))
            self._parts[label] = _part(self.network, nodes, self._sources.get(label, []), pumps)
        return self._parts[label]

    def where_at_most(self, limits: np.ndarray) -> Stretches:
        """Give where the head is at most a limit (Pa) that each piece has.

        The head falls linearly with height along a piece, so this is one interval.
        """
        network = self.network
        low = np.full(len(network.pieces), np.inf)
        high = np.full(len(network.pieces), -np.inf)
        asked = np.flatnonzero((network.kind == PieceKind.PIPE) & np.isfinite(limits))
        length = network.length[asked]
        first, last = self._at_ends(asked)
        # A pascal is a tenth of a millimetre of water: far below what any gauge shows.
        slack = limits[asked] + 1.0
        with np.errstate(divide="ignore", invalid="ignore"):
            crossing = length * (slack - first) / (last - first)
        # A pressure that is not known compares as false: nothing is allowed there.
        begins, ends = first <= slack, last <= slack
        known = ~np.isnan(first) & ~np.isnan(last)
        low[asked] = np.where(known & (begins | ends), np.where(begins, 0.0, crossing), np.inf)
        high[asked] = np.where(known & (begins | ends), np.where(ends, length, crossing), -np.inf)
        return Stretches.between(low, high)

    def _at_ends(self, pieces: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Give the pressure (Pa) at both ends of some pieces; nan where it is not known."""
        network = self.network
        labels = self.labels[network.ends[pieces, 0]]
        there, place = np.unique(labels, return_inverse=True)
        parts = [self._part(label) for label in there.tolist()]
        total = np.array([np.nan if p.missing else p.total for p in parts], dtype=float)[place]
        length = network.length[pieces]
        start, end = network.elevation[network.ends[pieces]].T
        with np.errstate(divide="ignore", invalid="ignore"):
            far = np.where(length == 0.0, start, start + (end - start) * length / length)
        # Where one end's height is not known, no place on the piece has one.
        near = np.where((length > 0.0) & np.isnan(end), np.nan, start)
        return np.maximum(0.0, total - WEIGHT * near), np.maximum(0.0, total - WEIGHT * far)


def heads_of(case: Case, moment: Moment = Moment.WORKING) -> Heads:
    """Give the heads of a case at a moment, worked out once for a network."""
    return case.worlds.once(f"heads while {moment}", lambda: Heads(case, moment))


@dataclass(frozen=True)
class _Source:
    node: int
    head: float | None  # total head at datum, Pa
    name: str
    missing: str


def _candidates(world: World) -> list[_Source]:
    """Give every source and tank with its total head."""
    network = world.network
    sources = {s.id: s for s in network.layout.ways_in}
    gear = {g.id: g for g in network.layout.equipment}
    rows = []
    for node, names in network.sources.items():
        for name in names:
            source = sources[name]
            head = _total(network, node, source.pressure, source.level)
            lack = _lacking_of_source(network, source)
            rows.append(_Source(node, head, f"source {name}", lack))
    for node, names in network.tanks.items():
        for name in names:
            head = _total(network, node, None, gear[name].level)
            lack = Fact(f"water level of tank {name}", f"equipment.{name}.level")
            rows.append(_Source(node, head, f"tank {name}", lack))
    return rows


def _lacking_of_source(network: Network, source: Source) -> Fact:
    """Say which of a source's facts its head waits for: the elevation only where the rest is."""
    if source.pressure is None:
        return Fact(f"pressure (or level) of source {source.id}", f"sources.{source.id}.pressure")
    return elevation_of(source.junction)


def _lacking_heights(network: Network, pipe: str) -> tuple[Fact, ...]:
    """Say which ends of a pipe have no height."""
    heights = {j.id: j.elevation for j in network.layout.junctions}
    ends = (network.pipes[pipe].from_, network.pipes[pipe].to)
    return tuple(elevation_of(j) for j in ends if heights[j] is None)


def elevation_of(junction: str) -> Fact:
    """Ask for the height of a junction, in the words by which it is missing everywhere."""
    return Fact(f"elevation of junction {junction}", f"junctions.{junction}.elevation")


def elevations_at(network: Network, nodes: Iterable[int]) -> list[str]:
    """Ask for the heights of those of some nodes that have none; never nothing where one has none.

    A node within a pipe has none because an end of that pipe has none.
    """
    bare = [network.places[n] for n in nodes if math.isnan(network.elevation[n])]
    asked: list[str] = []
    for place in bare:
        if place.junction is not None:
            asked.append(elevation_of(place.junction))
        elif place.pipe is not None:
            asked += _lacking_heights(network, place.pipe)
    unknown = Fact("elevations of its junctions", "junctions.*.elevation")
    return list(dict.fromkeys(asked)) or [unknown] * bool(bare)


def _total(
    network: Network, node: int, pressure: float | None, level: float | None
) -> float | None:
    """Give the total head (Pa at datum): by a pressure or a level, the higher of the two."""
    height = float(network.elevation[node])
    found = []
    if pressure is not None and not math.isnan(height):
        found.append(pressure + WEIGHT * height)
    if level is not None:
        found.append(WEIGHT * level)
    return max(found) if found else None


def _part(network: Network, nodes: np.ndarray, here: list[_Source], pumps: list[str]) -> Part:
    """Work out one part from its nodes, its sources and tanks, and the pumps that may run in it."""
    rises = {p: network.pumps[p].shutoff_head for p in pumps}
    missing = [s.missing for s in here if s.head is None]
    missing += [
        Fact(f"shut-off head of pump {p}", f"pumps.{p}.shutoff_head")
        for p, rise in rises.items()
        if rise is None
    ]
    heights = network.elevation[nodes]
    if np.isnan(heights).any() and not here:
        missing += elevations_at(network, nodes.tolist())
    standing = WEIGHT * float(np.nanmax(heights)) if not np.isnan(heights).all() else 0.0
    best = max(here, key=lambda s: (s.head or 0.0, s.name), default=None)
    total, by = standing, "the water standing above"
    if best is not None and (best.head or 0.0) >= standing:
        total, by = best.head or 0.0, best.name
    if pumps:
        total += sum(rise or 0.0 for rise in rises.values())
        by += f" with pump {', '.join(pumps)}"
    return Part(total, by, tuple(missing), fed=bool(here or pumps))
