"""What a foreman weighs before how far plugs move: what is frozen, cut or drained more than today.

Compared are the marks and what is proposed. Costs are taken in that order, and only where all
before are equal does the next one count: plugs more; outlets and machines cut off more; water that
drains more, by the bucket; plugs that go round a corner; what is to be done to valves, outlets and
machines; and at last how far plugs move.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components

from layoutcheck.document.models import Moment, OutletState
from layoutcheck.network import Trust
from layoutcheck.network.cut import reached
from layoutcheck.placement.keeping import BUCKET, drained
from layoutcheck.rules.case import Case


@dataclass(frozen=True)
class Burden:
    """What a job asks of a building. drained: m3 at the work. lost: what no source reaches."""

    drained: float
    lost: frozenset[str]


class Scales:
    """Weighs what is proposed for a case against its marks."""

    def __init__(self, case: Case) -> None:
        """Weigh the marks."""
        self.case = case
        self._fed = _fed(case, ())
        self.marks = self.burden(case)

    def burden(self, case: Case) -> Burden:
        """Give what the plugs and states of a case ask of the building."""
        if not case.network.work:
            return Burden(0.0, frozenset())
        now = _fed(case, case.plugged)
        things = case.worlds.once("things in service", lambda: tuple(_things(self.case)))
        lost = (name for name, node in things if self._fed[node] and not now[node])
        return Burden(drained(case), frozenset(lost))

    def over(self, burden: Burden) -> tuple[int, int]:
        """Give how many things more are cut off, and buckets more drain, than by the marks."""
        more = max(0.0, burden.drained - self.marks.drained)
        return len(burden.lost - self.marks.lost), math.floor(more / BUCKET)


def _fed(case: Case, plugged: Collection[int]) -> np.ndarray:
    """Tell which nodes a source reaches while the work is open (a boolean array)."""
    world, sources = case.worlds.working(Trust.STATED), sorted(case.network.sources)
    if not sources:
        return np.zeros(case.network.node_count, dtype=bool)
    return reached(world, sorted(plugged), sources)


def _things(case: Case) -> Iterator[tuple[str, int]]:
    """Give the outlets in use at work, the machines and the tanks, each with its node."""
    network = case.network
    off = {o.id for o in case.layout.outlets if o.at(Moment.WORKING) is OutletState.LOCKED_OFF}
    for node, names in network.outlets.items():
        yield from ((f"outlet {name}", node) for name in names if name not in off)
    kinds = {g.id: g.kind.value for g in case.layout.equipment}
    for rows in (network.heat, network.tanks):
        for node, names in rows.items():
            yield from ((f"{kinds[name]} {name}", node) for name in names)


def runs_of(case: Case) -> np.ndarray:
    """Number the straight runs: pieces of pipe with nothing but plain joints between them.

    One number for each piece; -1 for what is no pipe. A plug that changes its run goes round a
    corner: past a bend, a tee, a valve, whatever interrupts the pipe.
    """
    return case.worlds.once("runs of pipe", lambda: _find_runs(case))


def _find_runs(case: Case) -> np.ndarray:
    network, count = case.network, len(case.network.pieces)
    pipes = np.flatnonzero(case.pipes_of_pieces)
    plain = np.ones(network.node_count, dtype=bool)
    plain[network.interruptions.nodes] = False
    ends = network.ends[pipes]
    rows = np.repeat(pipes, 2)[plain[ends.ravel()]]
    nodes = ends.ravel()[plain[ends.ravel()]] + count
    size = count + network.node_count
    graph = csr_array((np.ones(len(rows)), (rows, nodes)), shape=(size, size))
    _, labels = connected_components(graph, directed=False)
    return np.where(case.pipes_of_pieces, labels[:count], -1)
