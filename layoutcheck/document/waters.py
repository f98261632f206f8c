"""Which fluid fills which pipe: what one pipe states holds for all pipe that is open to it.

Water is one as far as nothing parts it. A valve that is shut at both moments, a check valve and a
pressure reducing valve may have another fluid behind them, as where a main fills up a glycol loop.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from layoutcheck.document.faults import Fault, pointer_to, shown
from layoutcheck.document.models import Layout, Moment, Pipe, Valve, ValveKind, ValveState
from layoutcheck.quantities import Fluid, FluidKind

_PARTING = {ValveKind.CHECK, ValveKind.REDUCING}


@dataclass(frozen=True)
class Waters:
    """The waters of a layout. near and far: by pipe, the one it is in; far: whatever parts it.

    stated: by water, the pipes that state a fluid, in the order of the document.
    """

    near: Mapping[str, str]
    far: Mapping[str, str]
    stated: Mapping[str, tuple[Pipe, ...]]

    def fluid_of(self, layout: Layout, pipe: Pipe) -> Fluid | None:
        """Give what fills a pipe; None where nothing is stated of it.

        A pipe of which nothing is stated, on a site of which nothing is stated, is taken to hold
        what is behind its shut valves: that is the safe side, since plain water is what freezes.
        """
        if pipe.fluid is not None:
            return pipe.fluid
        for told in self.stated.get(self.near[pipe.id], ()):
            return told.fluid
        if layout.site.fluid is not None:
            return layout.site.fluid
        behind = [p.fluid for p in self.stated.get(self.far[pipe.id], ()) if p.fluid is not None]
        # Where several are behind valves, the one that is not water.
        return min(behind, key=lambda f: (f.kind is FluidKind.WATER, f.text), default=None)


def waters_of(layout: Layout) -> Waters:
    """Find the waters. Nothing is walked where no pipe states a fluid."""
    stating = [p for p in layout.pipes if p.fluid is not None]
    if not stating:
        alone = {p.id: p.id for p in layout.pipes}
        return Waters(alone, alone, {})
    parting = [v for v in layout.valves if _parts(v)]
    near = _joined(layout, {v.pipe for v in parting}, {v.junction for v in parting}, "near")
    far = _joined(layout, set(), set(), "far")
    stated: dict[str, tuple[Pipe, ...]] = {}
    for pipe in stating:
        for water in {near[pipe.id], far[pipe.id]}:
            stated[water] = (*stated.get(water, ()), pipe)
    return Waters(near, far, stated)


def fluid_faults(layout: Layout) -> Iterator[Fault]:
    """Find pipes of one water that state two fluids."""
    waters = waters_of(layout)
    for index, pipe in enumerate(layout.pipes):
        if pipe.fluid is None:
            continue
        first = waters.stated[waters.near[pipe.id]][0]
        if first.fluid is not None and first.fluid != pipe.fluid:
            yield Fault(
                pointer=pointer_to("pipes", index, "fluid"),
                found=pipe.fluid.text,
                problem=f"pipe {shown(first.id)} is open to this one and states "
                f"{first.fluid.text}: one water can not be both",
                example=f'"{first.fluid.text}"',
            )


def _parts(valve: Valve) -> bool:
    shut = all(valve.at(moment) is ValveState.CLOSED for moment in Moment)
    return shut or valve.kind in _PARTING


def _joined(
    layout: Layout, cut_pipes: set[str | None], cut_junctions: set[str | None], name: str
) -> dict[str, str]:
    """Name the water of each pipe by one of its ends or pipes, with a name before it.

    A pipe with a parting valve on it is a water of its own: it has one on either side.
    """
    above: dict[str, str] = {}

    def top(place: str) -> str:
        while above.setdefault(place, place) != place:
            above[place] = above[above[place]]
            place = above[place]
        return place

    for pipe in layout.pipes:
        own = f"pipe {pipe.id}"
        top(own)
        for end in (pipe.from_, pipe.to):
            if pipe.id not in cut_pipes and end not in cut_junctions:
                above[top(own)] = top(f"junction {end}")
    return {p.id: f"{name} {top(f'pipe {p.id}')}" for p in layout.pipes}
