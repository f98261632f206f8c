"""What a document leaves out of a pipe, and the two readings that it may turn out to be.

No layout is refused for want of a length or a size. Every question is asked in two readings
instead: with each such pipe as short and as wide as it can be, and as long and as narrow. Distances
along pipe only grow from the first to the second, and what a setback asks for only falls.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from layoutcheck.document.faults import pointer_to
from layoutcheck.document.models import Fitting, Layout, Pipe, Placed, Plug
from layoutcheck.document.paths import Positions
from layoutcheck.quantities import NominalSize, SizeSeries, parse_size

# Longer (m) than any pipe of a building, and than any setback.
LONGEST = 1e4

# The ends of the sizes of steel pipe, ASME B36.10M: NPS 48 STD and NPS 1/8 Sch 40, from memory.
_WIDEST = (NominalSize("NPS 48", 48.0, 1200, SizeSeries.NPS), 48.0 * 0.0254, 0.375 * 0.0254)
_NARROWEST = (parse_size("NPS 1/8"), 0.405 * 0.0254, 0.068 * 0.0254)


@dataclass(frozen=True)
class Unstated:
    """A fact that is left out: which pipe's, which field, and its place in the document."""

    pipe: str
    field: str
    pointer: str

    @property
    def path(self) -> str:
        """Give its place as statements over a layout take it."""
        return f"pipes.{self.pipe}.{self.field}"

    @property
    def says(self) -> str:
        """Name it for people, with the place where it goes."""
        return f"{self.field} of pipe {self.pipe} ({self.pointer})"


def unstated_of(layout: Layout) -> Mapping[str, tuple[Unstated, ...]]:
    """Give what is left out of each pipe that leaves out its length or its size, by pipe."""
    positions = Positions(layout)
    found: dict[str, tuple[Unstated, ...]] = {}
    for index, pipe in enumerate(layout.pipes):
        fields = []
        if pipe.length is None and positions.measured_length(pipe) is None:
            fields.append("length")
        if not pipe.sized:
            fields.append("size")
        if fields:
            found[pipe.id] = tuple(
                Unstated(pipe.id, f, pointer_to("pipes", index, f)) for f in fields
            )
    return found


def shortest(layout: Layout, unstated: Mapping[str, tuple[Unstated, ...]]) -> Layout:
    """Give the reading with each pipe as short and as wide as it can be: the worst for setbacks."""
    ends: dict[str, float] = defaultdict(float)
    for pipe, station in _stations(layout) if unstated else ():
        ends[pipe] = max(ends[pipe], station)
    heights = {j.id: j.elevation for j in layout.junctions} if unstated else {}

    def length(pipe: Pipe) -> float:
        low, high = heights[pipe.from_], heights[pipe.to]
        rise = 0.0 if low is None or high is None else abs(high - low)
        return max(rise - pipe.from_body - pipe.to_body, ends[pipe.id])

    lengths = {p.id: length(p) for p in layout.pipes if p.id in unstated}
    return _read(layout, unstated, lengths, _WIDEST)


def longest(layout: Layout, unstated: Mapping[str, tuple[Unstated, ...]]) -> Layout:
    """Give the reading with each pipe as long and as narrow as it can be."""
    return _read(layout, unstated, dict.fromkeys(unstated, LONGEST), _NARROWEST)


def _read(
    layout: Layout,
    unstated: Mapping[str, tuple[Unstated, ...]],
    lengths: Mapping[str, float],
    widest: tuple[NominalSize, float, float],
) -> Layout:
    if not unstated:
        return layout
    size, outside, wall = widest
    made = {"size": size, "outside_diameter": outside, "wall_thickness": wall}
    pipes = []
    for pipe in layout.pipes:
        fields = {u.field for u in unstated.get(pipe.id, ())}
        update: dict[str, object] = {"length": lengths[pipe.id]} if "length" in fields else {}
        pipes.append(pipe.model_copy(update=update | (made if "size" in fields else {})))
    return layout.model_copy(update={"pipes": tuple(pipes)})


def _stations(layout: Layout) -> Iterator[tuple[str, float]]:
    """Give every station that is stated on a pipe: the pipe is at least that long."""
    placed: tuple[Fitting | Placed | Plug, ...] = (
        *layout.fittings,
        *layout.pumps,
        *layout.equipment,
        *layout.plugs,
    )
    for item in placed:
        if item.pipe is not None:
            yield item.pipe, item.station or 0.0
    for valve in layout.valves:
        if valve.pipe is not None:
            yield valve.pipe, (valve.station or 0.0) + valve.body / 2
    for work in layout.work.open if layout.work else ():
        if work.pipe is not None:
            yield work.pipe, max(work.start or 0.0, work.end or 0.0)
