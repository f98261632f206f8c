"""Which valves leave a question open: not stated, or closed and not proven tight."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from layoutcheck.document.models import Moment, ValveState
from layoutcheck.network import Trust
from layoutcheck.network.model import PieceKind
from layoutcheck.rules.case import Case
from layoutcheck.rules.facts import Fact


def proof_of(valve_id: str) -> str:
    """Name the proof of a valve, in the words by which it is missing everywhere."""
    return Fact(f"proof that closed valve {valve_id} holds", f"valves.{valve_id}.tightness")


def doubt_about(case: Case, valve_id: str, moment: Moment) -> str:
    """Say what must be settled about a valve."""
    state = case.network.valves[valve_id].at(moment)
    if state is None:
        return Fact(f"state of valve {valve_id} while {moment}", f"valves.{valve_id}.state")
    if state is ValveState.CLOSED:
        return proof_of(valve_id)
    return Fact(f"tightness of valve {valve_id}", f"valves.{valve_id}.tightness")


def doubtful_valves(case: Case, piece: int) -> tuple[str, ...]:
    """Name the valves through which a piece flows only if doubt falls the unsafe way."""
    best, worst = case.worlds.freezing(Trust.BEST), case.worlds.freezing(Trust.PROVEN)
    block = worst.blocks[piece]
    inside = (worst.blocks == block) & worst.connects & ~best.connects
    return tuple(
        doubt_about(case, case.network.pieces[i].element, Moment.FREEZING)
        for i in np.flatnonzero(inside).tolist()
        if case.network.pieces[i].kind is PieceKind.VALVE
    )


def doubts_on_way(case: Case, way: tuple[int, ...]) -> tuple[str, ...]:
    """Name the valves on a way (nodes, while freezing) that let water by only if in doubt."""
    best, worst = case.worlds.freezing(Trust.BEST), case.worlds.freezing(Trust.PROVEN)
    network = case.network
    steps = {frozenset(pair) for pair in pairwise(way)}
    near = network.at_nodes(np.unique(np.array(way, dtype=np.int64)))
    return tuple(
        doubt_about(case, network.pieces[i].element, Moment.FREEZING)
        for i in near[worst.connects[near] & ~best.connects[near]].tolist()
        if frozenset(network.ends[i].tolist()) in steps
    )
