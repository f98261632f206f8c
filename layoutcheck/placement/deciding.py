"""On which segments of pipe a plug, with the others, would isolate the work."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from layoutcheck.network import Trust
from layoutcheck.network.cut import (
    deciding_pieces,
    is_cut_off,
    kept_pieces,
    opened_pieces,
    threats_of,
)
from layoutcheck.network.metric import connected_parts
from layoutcheck.rules.case import Case, PlacedPlug


def deciding(case: Case, plug: PlacedPlug) -> tuple[np.ndarray, bool]:
    """Find the pieces on which this plug, with the others, would isolate the work.

    Where the set as marked needs no unproven valve, no place that would need one is offered.
    Where no place of this plug alone can isolate the work, those are given on which it keeps out
    all that it keeps out where it is marked; the second value is then False. Where the others
    isolate the work already, any place goes on isolating it.
    """
    if not case.network.work:
        return _all_pipe(case), True
    others = frozenset(p.spot.piece for p in case.plugs if p.id != plug.id)

    def find() -> tuple[np.ndarray, bool]:
        if not _standing(case).leads_in(case, plug.spot.piece, others):
            # Water reaches the work past all the plugs, and this one keeps out nothing more.
            return _all_pipe(case, besides=opened_pieces(case.network)), False
        found, isolates = _find_deciding(case, plug.spot.piece, others)
        pieces = np.flatnonzero(found & case.placeable)
        every = _all_pipe(case)
        # One array for all plugs that may stand anywhere: on a large site they would fill memory.
        return (every if len(pieces) == len(every) else pieces), isolates

    # Of the other plugs only that one may stand on the same piece makes a difference.
    key = ("deciding", plug.spot.piece, plug.spot.piece in others, case.plugged)
    return case.worlds.remember(key, find)


def _all_pipe(case: Case, besides: frozenset[int] = frozenset()) -> np.ndarray:
    def find() -> np.ndarray:
        pipes = case.placeable.copy()
        pipes[list(besides)] = False
        return np.flatnonzero(pipes)

    return case.worlds.once(("all pipe", bool(besides)), find)


@dataclass(frozen=True)
class _Standing:
    """How the site stands cut up with all plugs where they are marked.

    parts: (nodes,) the number of each node's part; None where nothing can be told. with_work:
    the parts that hold work. closed_off: those that hold a threat which does not reach the work.

    Where water reaches the work past all plugs, by no piece that every way leads through, no place
    of one plug alone can cut it off: to take that plug away only adds ways. What the plug still
    keeps out then lies in the part beyond it.
    """

    parts: np.ndarray | None
    with_work: frozenset[int] = frozenset()
    closed_off: frozenset[int] = frozenset()

    def leads_in(self, case: Case, piece: int, others: frozenset[int]) -> bool:
        """Tell whether more might reach the work without the plug on a piece."""
        if self.parts is None:
            return True
        if piece in others or piece in opened_pieces(case.network):
            return False
        beside = set(self.parts[case.network.ends[piece]].tolist())
        return not beside.isdisjoint(self.with_work) and not beside.isdisjoint(self.closed_off)


def _standing(case: Case) -> _Standing:
    key = ("standing", case.plugged)
    return case.worlds.remember(key, lambda: _find_standing(case))


def _find_standing(case: Case) -> _Standing:
    work, plugged = case.network.work_nodes, case.plugged
    trust = Trust.STATED if case.worlds.regions(Trust.PROVEN).ways_in(plugged, work) else None
    if trust is None or not (ways := case.worlds.regions(trust).ways_in(plugged, work)):
        return _Standing(None)
    world = case.worlds.working(trust)
    if deciding_pieces(world, plugged).any():
        return _Standing(None)
    open_now = {w.source for w in ways}
    parts = connected_parts(case.network, kept_pieces(world, plugged))
    kept_out = [node for node, name in threats_of(world).items() if name not in open_now]
    return _Standing(
        parts=parts,
        with_work=frozenset(parts[list(work)].tolist()),
        closed_off=frozenset(parts[kept_out].tolist()),
    )


def _find_deciding(case: Case, piece: int, others: frozenset[int]) -> tuple[np.ndarray, bool]:
    proven = case.worlds.working(Trust.PROVEN)
    work = case.network.work_nodes
    now_proven = not case.worlds.regions(Trust.PROVEN).ways_in((*others, piece), work)
    world = proven if now_proven else case.worlds.working(Trust.STATED)
    found = deciding_pieces(world, others)
    if is_cut_off(world, others, work):
        return found, True
    if found.any():
        return found, True
    trust = Trust.PROVEN if now_proven else Trust.STATED
    open_now = {w.source for w in case.worlds.regions(trust).ways_in((*others, piece), work)}
    return deciding_pieces(world, others, besides=open_now), False
