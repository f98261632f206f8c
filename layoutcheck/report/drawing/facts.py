"""What a drawing is made from: the layout, its report, and look-ups that many parts need."""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from layoutcheck.document.models import Layout, Moment, ValveState, WorkItem
from layoutcheck.network import Metric, Network, PieceKind, build_network
from layoutcheck.quantities import UnitSystem, show_length_pair
from layoutcheck.report.action_words import DOING
from layoutcheck.report.drawing.drawn import Drawn, drawn_of
from layoutcheck.report.drawing.flow import FlowSpan, flow_spans
from layoutcheck.report.model import At, Finding, PlugPart, Report, speaks_of
from layoutcheck.rules.outcome import Outcome
from layoutcheck.rules.registry import all_rules

# Outcomes that a drawing points at, gravest first.
POINTED_AT = (Outcome.FAULT, Outcome.BROKEN, Outcome.UNDECIDED)

_KEY_DIGITS = 6


@dataclass(frozen=True)
class Reach:
    """A stretch of one pipe walked from start to end (stations in m; end may be the lower).

    The body of a valve has a length but lies on no pipe: its pipe is the empty text.
    """

    pipe: str
    start: float
    end: float


@dataclass(frozen=True)
class Facts:
    """One layout and its report, with look-ups. highlight: an id to draw attention to."""

    layout: Layout
    report: Report
    network: Network
    drawn: Drawn
    flows: tuple[FlowSpan, ...]
    highlight: str | None = None

    def is_from_jacket_end(self, finding: Finding) -> bool:
        """Tell whether the length that a finding measures begins at the jacket's end."""
        rule = all_rules().get(finding.rule)
        always = rule is not None and rule.from_jacket_end
        return always or self.report.basis.endswith("jacket end")

    @classmethod
    def of(cls, layout: Layout, report: Report, highlight: str | None = None) -> Facts:
        """Gather the facts. Pure."""
        network = build_network(layout)
        drawn = drawn_of(layout, network.pipe_length)
        return cls(layout, report, network, drawn, flow_spans(network), highlight)

    @property
    def units(self) -> UnitSystem:
        """Give the document's preferred units."""
        return self.layout.units

    @cached_property
    def pointed(self) -> tuple[Finding, ...]:
        """List the findings that the drawing points at, in the order of what to do about them."""
        rank = {o: i for i, o in enumerate(POINTED_AT)}
        last = len(self.report.actions) + 1
        found = [f for f in self.report.findings if f.outcome in rank]
        return tuple(sorted(found, key=lambda f: (f.action or last, rank[f.outcome], f.rule, f.id)))

    @cached_property
    def always_named(self) -> frozenset[str]:
        """Give the ids of sources, and of valves that are not plainly open; none are left out."""
        valves = [
            v.id for v in self.layout.valves if {v.at(m) for m in Moment} != {ValveState.OPEN}
        ]
        return frozenset([*(s.id for s in self.layout.ways_in), *valves])

    @cached_property
    def done_to(self) -> dict[str, int]:
        """Give the number of the first thing to do to each element."""
        rows = [(a.on[0], a.number) for a in self.report.actions if a.kind in DOING]
        return dict(reversed(rows))

    def see(self, findings: Iterable[Finding]) -> tuple[str, ...]:
        """Refer to what is to be done about findings, by its numbers in the report."""
        found = sorted({f.action for f in findings if f.action is not None})
        return (f"see {', '.join(map(str, found))}",) if found else ()

    @cached_property
    def _nodes(self) -> dict[tuple[str | None, str | None, float | None, str | None], int]:
        places = self.network.places
        return {
            (
                p.junction,
                p.pipe,
                None if p.station is None else round(p.station, _KEY_DIGITS),
                p.element,
            ): n
            for n, p in enumerate(places)
        }

    def node(self, at: At) -> int | None:
        """Find the node that a place in the report means; None if it is not a node."""
        station = None if at.station is None else round(at.station.value, _KEY_DIGITS)
        return self._nodes.get((at.junction, at.pipe, station, at.element))

    def way(self, finding: Finding) -> list[int]:
        """Give the nodes of a finding's way."""
        return [n for at in finding.way if (n := self.node(at)) is not None]

    @cached_property
    def _between(self) -> dict[frozenset[int], int]:
        """Give the shortest piece between two nodes."""
        found: dict[frozenset[int], int] = {}
        for piece in self.network.pieces:
            key = frozenset((piece.u, piece.v))
            if key not in found or piece.length < self.network.pieces[found[key]].length:
                found[key] = piece.index
        return found

    def walk(self, plug: PlugPart, way: Sequence[int]) -> list[Reach]:
        """Turn a way from a plug's centre into stretches of pipe."""
        pipe, station = plug.at.pipe or "", _station(plug.at)
        if not way:
            return []
        piece = self.network.pieces[self.network.spot(pipe, station).piece]
        first = piece.start if way[0] == piece.u else piece.end
        return [Reach(pipe, station, first), *self.steps(way)]

    def steps(self, way: Sequence[int]) -> list[Reach]:
        """Turn a way of nodes into stretches of pipe."""
        found = []
        for a, b in itertools.pairwise(way):
            index = self._between.get(frozenset((a, b)))
            if index is None:
                continue
            piece = self.network.pieces[index]
            if piece.kind is PieceKind.PIPE:
                ends = (piece.start, piece.end) if piece.u == a else (piece.end, piece.start)
                found.append(Reach(piece.element, *ends))
            else:
                found.append(Reach("", 0.0, piece.length))
        return found

    def route(self, plug: PlugPart, pipe: str, station: float) -> list[Reach]:
        """Walk from a plug to any station by the shortest developed length, through anything."""
        here = self.network.spot(plug.at.pipe or "", _station(plug.at))
        there = self.network.spot(pipe, station)
        if here.piece == there.piece:
            return [Reach(pipe, _station(plug.at), station)]
        metric = Metric(self.network, np.ones(len(self.network.pieces), dtype=bool))
        field = metric.from_spot(here)
        way = list(reversed(field.way(self.network, there)))
        if not way or not math.isfinite(field.at(self.network, there)):
            return []
        piece = self.network.pieces[there.piece]
        last = piece.start if way[-1] == piece.u else piece.end
        return [*self.walk(plug, way), Reach(pipe, last, station)]

    def governing(self, plug: PlugPart) -> tuple[Finding, ...]:
        """List a plug's judged lengths, the one with the least to spare first."""
        found = []
        for finding in self.report.findings:
            both = finding.measured is not None and finding.required is not None
            if not both or finding.measured is None or finding.measured.unit != "m":
                continue
            own = finding.subject.kind == "plug" and finding.subject.id == plug.id
            if (own and finding.way) or speaks_of(finding, "plug", plug.id):
                found.append(finding)
        return tuple(sorted(found, key=lambda f: (spare(f), f.rule, f.id)))

    def findings_of(self, plug: PlugPart) -> tuple[Finding, ...]:
        """List the pointed findings of a plug."""
        return tuple(
            f
            for f in self.pointed
            if (f.subject.kind == "plug" and f.subject.id == plug.id)
            or (f.subject.kind == "plugs" and speaks_of(f, "plug", plug.id))
        )

    def pair(self, finding: Finding) -> tuple[str, str]:
        """Write a finding's measured and required lengths in the preferred units alone."""
        assert finding.measured is not None
        assert finding.required is not None
        texts = show_length_pair(finding.measured.value, finding.required.value, self.units)
        return texts[0].partition(" (")[0], texts[1].partition(" (")[0]

    @cached_property
    def neighbours(self) -> dict[str, list[tuple[str, float]]]:
        """Give for each junction the ends of pipes that meet there, as stations."""
        found: dict[str, list[tuple[str, float]]] = defaultdict(list)
        for pipe in sorted(self.layout.pipes, key=lambda p: p.id):
            found[pipe.from_].append((pipe.id, 0.0))
            found[pipe.to].append((pipe.id, self.network.pipe_length[pipe.id]))
        return found

    def work_place(self, item: WorkItem) -> tuple[str | None, str | None, float | None]:
        """Give where an opened thing is: junction, or pipe and station (m)."""
        if item.junction is not None:
            return item.junction, None, None
        if item.pipe is not None:
            return None, item.pipe, ((item.start or 0.0) + (item.end or 0.0)) / 2
        if item.valve is not None:
            valve = self.network.valves[item.valve]
            return valve.junction, valve.pipe, valve.station
        pump = self.network.pumps[item.pump or ""]
        return pump.junction, pump.pipe, pump.station


def spare(finding: Finding) -> float:
    """Give by how much (m) a finding's length exceeds what is asked; negative if short."""
    if finding.measured is None or finding.required is None:
        return math.inf
    return finding.measured.value - finding.required.value


def _station(at: At) -> float:
    return 0.0 if at.station is None else at.station.value


def station_of(at: At) -> float:
    """Give the station (m) of a place on a pipe."""
    return _station(at)


def spoken(rule: str) -> str:
    """Give a rule's name as it is spoken of beside a length."""
    return rule.removesuffix("-setback").replace("-", " ")
