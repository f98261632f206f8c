"""Where fittings and machines have a body along the pipe: water runs through, no jacket lies there.

A pipe's stations count from its own end. What stands at its junctions may reach from there to the
junction's middle, so a body lies before station 0 or past the pipe's length; what only says how
long it is itself, face to face, takes half of that from each pipe that it stands on.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from layoutcheck.document.models import Layout, Pipe


@dataclass(frozen=True)
class Solid:
    """A stretch of a pipe, between two stations (m), that is the body of something."""

    pipe: str
    start: float
    end: float
    what: str


def reach_of(pipe: Pipe, length: float) -> tuple[float, float]:
    """Give the stations (m) of the two junctions of a pipe of a length (m)."""
    return -pipe.from_body, length + pipe.to_body


def solids_of(layout: Layout, pipes: Sequence[Pipe], lengths: Sequence[float]) -> Iterator[Solid]:
    """Give every body of a fitting or machine along a pipe. lengths: of each pipe (m)."""
    yield from _on_pipes(layout)
    yield from _at_ends(layout, pipes, lengths)


def _on_pipes(layout: Layout) -> Iterator[Solid]:
    for item in layout.fittings:
        if item.body:
            half = item.body / 2
            what = f"{item.kind} {item.id}"
            yield Solid(item.pipe, item.station - half, item.station + half, what)
    for machine in (*layout.pumps, *layout.equipment):
        if machine.body and machine.pipe is not None and machine.station is not None:
            half = machine.body / 2
            start, end = machine.station - half, machine.station + half
            yield Solid(machine.pipe, start, end, machine.id)


def _at_ends(layout: Layout, pipes: Sequence[Pipe], lengths: Sequence[float]) -> Iterator[Solid]:
    """Give what the bodies at junctions take of each pipe.

    What a pipe says of its own end stands beside what the element says of itself: the larger.
    """
    halves = {j.id: j.body / 2 for j in layout.junctions if j.body}
    for machine in (*layout.pumps, *layout.equipment):
        if machine.body and machine.junction is not None:
            halves[machine.junction] = max(halves.get(machine.junction, 0.0), machine.body / 2)
    names = _names(layout)
    for pipe, length in zip(pipes, lengths, strict=True):
        low, high = reach_of(pipe, length)
        first = min(max(0.0, low + halves.get(pipe.from_, 0.0)), high)
        last = max(min(length, high - halves.get(pipe.to, 0.0)), low)
        if first > low:
            yield Solid(pipe.id, low, first, names[pipe.from_])
        if last < high:
            yield Solid(pipe.id, last, high, names[pipe.to])


def _names(layout: Layout) -> dict[str, str]:
    """Name what has a body at each junction."""
    found = {j.id: f"{j.fitting or 'body at'} {j.id}" for j in layout.junctions}
    found |= {g.junction: f"{g.kind} {g.id}" for g in layout.equipment if g.junction}
    found |= {p.junction: f"pump {p.id}" for p in layout.pumps if p.junction}
    return found | {v.junction: f"valve {v.id}" for v in layout.valves if v.junction}
