"""Sentences that several rules share: why water flows, which way was walked."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from layoutcheck.document.named import Named
from layoutcheck.network.columns import NOT_FOR_SHUTTING
from layoutcheck.network.cut import opened_pieces
from layoutcheck.network.model import PieceKind
from layoutcheck.network.state import FlowReason
from layoutcheck.rules.case import Case


def flow_in_words(case: Case, reason: FlowReason) -> str:
    """Say why a pipe is taken as flowing."""
    if reason.kind == "stated":
        return f"the document states flow in {reason.ends[0]}"
    if reason.kind == "pump loop":
        return f"it lies on a loop with {reason.ends[0]}, which may run"
    way_in, way_out = reason.ends[0], reason.ends[-1]
    return f"in at {way_in}, out at {way_out}{_by(case, reason.way)}"


def stopping(case: Case, reason: FlowReason | None) -> str:
    """Say what would stop a flow, without a full stop: what can be shut on its way is named."""
    if reason is not None and reason.kind == "pump loop":
        return f"Lock off {reason.ends[0]}"
    valves = () if reason is None else _valves_to_shut(case, reason.way)
    ends = () if reason is None else reason.ends
    leaks = [o.id for o in case.layout.outlets if o.leaks and Named("outlet", o.id) in ends]
    close = (
        f"close and prove {' or '.join(f'valve {v}' for v in valves)}, where this flow passes"
        if valves
        else "close and prove a valve that stops this flow"
    )
    if leaks:
        return (
            f"Stop the leak at outlet {' and '.join(leaks)} and take it off the sketch, or {close}"
        )
    return f"{close[0].upper()}{close[1:]}"


def _valves_to_shut(case: Case, way: tuple[int, ...]) -> tuple[str, ...]:
    """Name the valves on a way that can be shut, and that the work does not open."""
    network = case.network
    steps = {frozenset(pair) for pair in pairwise(way)}
    opened = opened_pieces(network)
    near = network.at_nodes(np.unique(np.array(way, dtype=np.int64))).tolist() if way else []
    found = (
        network.pieces[i].element
        for i in near
        if network.pieces[i].kind is PieceKind.VALVE
        and i not in opened
        and frozenset(network.ends[i].tolist()) in steps
    )
    return tuple(sorted({v for v in found if network.valves[v].kind not in NOT_FOR_SHUTTING}))


def _by(case: Case, way: tuple[int, ...]) -> str:
    names = junctions_of(case, way)
    if len(names) < 3:
        return ""
    inner = names[1:-1]
    shown = inner if len(inner) <= 4 else [*inner[:2], "…", *inner[-2:]]
    return f" by way of {', '.join(shown)}"


def junctions_of(case: Case, way: tuple[int, ...]) -> list[str]:
    """Name the junctions on a way, each once, in order."""
    names: list[str] = []
    for node in way:
        place = case.network.places[node]
        name = place.junction if place.junction is not None else place.element
        if name and (not names or names[-1] != name):
            names.append(name)
    return names
