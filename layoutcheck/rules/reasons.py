"""Sentences that several rules share: why water flows, which way was walked."""

from __future__ import annotations

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
