"""Where fittings and machines have a body along the pipe: water runs through, no jacket lies there.

A pipe's stations count from its own end. What stands at its junctions may reach from there to the
junction's middle, so a body lies before station 0 or past the pipe's length; what only says how
long it is itself, face to face, takes half of that from each pipe that it stands on.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from layoutcheck.document.models import Layout, Pipe, Pump, Valve


@dataclass(frozen=True)
class Solid:
    """A stretch of a pipe, between two stations (m), that is the body of something."""

    pipe: str
    start: float
    end: float
    what: str

    def holds(self, station: float, slack: float) -> bool:
        """Tell whether a station (m) lies inside, by more than a slack (m) from its faces.

        A body of which no length is stated holds its own place.
        """
        if self.end - self.start <= 2 * slack:
            return abs(station - self.start) <= slack
        return self.start + slack < station < self.end - slack


def reach_of(pipe: Pipe, length: float) -> tuple[float, float]:
    """Give the stations (m) of the two junctions of a pipe of a length (m)."""
    return -pipe.from_body, length + pipe.to_body


def solids_of(layout: Layout, pipes: Sequence[Pipe], lengths: Sequence[float]) -> Iterator[Solid]:
    """Give every body of a fitting or machine along a pipe. lengths: of each pipe (m)."""
    yield from _on_pipes(layout)
    yield from _at_ends(layout, pipes, lengths)


def valve_solids(
    layout: Layout, pipes: Sequence[Pipe], lengths: Mapping[str, float]
) -> Iterator[Solid]:
    """Give the bodies of valves, and of pumps on pipes of which no length is stated."""
    at = {v.junction: v for v in layout.valves if v.junction is not None}
    inline: tuple[Valve | Pump, ...] = (*layout.valves, *layout.pumps)
    for item in inline:
        if item.pipe is not None and item.station is not None:
            half, what = item.body / 2, f"{type(item).__name__.lower()} {item.id}"
            yield Solid(item.pipe, item.station - half, item.station + half, what)
    for pipe in pipes:
        low, high = reach_of(pipe, lengths[pipe.id])
        first, last = at.get(pipe.from_), at.get(pipe.to)
        if first is not None and first.body:
            # From below the pipe's own end, so that the face in the junction's middle is inside.
            yield Solid(pipe.id, low - first.body / 2, low + first.body / 2, f"valve {first.id}")
        if last is not None and last.body:
            yield Solid(pipe.id, high - last.body / 2, high + last.body / 2, f"valve {last.id}")


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
