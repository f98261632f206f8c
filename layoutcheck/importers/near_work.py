"""What lies round the work, as far as the nearest valves: what is asked for first."""

from __future__ import annotations

from collections import defaultdict
from functools import cached_property

from layoutcheck.document.models import Layout, Pump, Valve


class NearWork:
    """The junctions and pipes round the work, as far as the nearest valves."""

    def __init__(self, layout: Layout) -> None:
        """Take the layout; without a work all of it is near."""
        self.layout = layout
        self.whole = layout.work is None

    def has(self, place: object) -> bool:
        """Tell whether something that stands at a junction or on a pipe is near the work."""
        own = {getattr(place, "junction", None), getattr(place, "pipe", None)}
        return self.whole or bool(own & (self._reached[0] | self._reached[1]))

    def pipe(self, own: str) -> bool:
        """Tell whether a pipe is near the work."""
        return self.whole or own in self._reached[1]

    def junction(self, own: str) -> bool:
        """Tell whether a junction is near the work."""
        return self.whole or own in self._reached[0]

    @cached_property
    def _reached(self) -> tuple[set[str], set[str]]:
        layout = self.layout
        ends = {p.id: (p.from_, p.to) for p in layout.pipes}
        meets: dict[str, list[str]] = defaultdict(list)
        for pipe, (first, last) in ends.items():
            meets[first].append(pipe)
            meets[last].append(pipe)
        at = {v.junction for v in layout.valves} - {None}
        on = {v.pipe for v in layout.valves} - {None}
        start = self._start(ends)
        junctions, pipes, ahead = set(start), set[str](), list(start)
        while ahead:
            here = ahead.pop()
            if here in at and here not in start:
                continue  # the first valve on this way
            for pipe in meets[here]:
                if pipe in pipes:
                    continue
                pipes.add(pipe)
                onward = {} if pipe in on else set(ends[pipe]) - junctions
                junctions.update(onward)
                ahead += onward
        return junctions, pipes

    def _start(self, ends: dict[str, tuple[str, str]]) -> set[str]:
        layout = self.layout
        valves, pumps = {v.id: v for v in layout.valves}, {p.id: p for p in layout.pumps}
        found: set[str] = set()
        for item in layout.work.open if layout.work else ():
            own: Valve | Pump | None = valves.get(item.valve or "") or pumps.get(item.pump or "")
            junction = item.junction or (own.junction if own else None)
            pipe = item.pipe or (own.pipe if own else None)
            found |= {junction} if junction else set()
            found |= set(ends[pipe]) if pipe else set()
        return found
