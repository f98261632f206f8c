"""Plugs that can not stand where they are marked: in the body of something, where no pipe is.

Whatever is near such a mark (the nearer face, say) is a guess, so it is told as a fault.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping
from contextlib import suppress

from layoutcheck.document.bodies import Solid, solids_of, valve_solids
from layoutcheck.document.faults import Fault, pointer_to, shown
from layoutcheck.document.models import Layout
from layoutcheck.document.paths import SnapFailure, Snapper

# Far below a tape's reading (m), far above the rounding of feet and inches in floating point.
_FACE = 1e-6


def plug_faults(layout: Layout, lengths: Mapping[str, float]) -> Iterator[Fault]:
    """Find plugs whose centre lies in a body. lengths: of each pipe that has one (m)."""
    pipes = [p for p in layout.pipes if p.id in lengths]
    on_pipe: dict[str, list[Solid]] = defaultdict(list)
    for solid in (
        *solids_of(layout, pipes, [lengths[p.id] for p in pipes]),
        *valve_solids(layout, pipes, lengths),
    ):
        on_pipe[solid.pipe].append(solid)
    for index, pipe, station in _marks(layout, lengths):
        plug = layout.plugs[index]
        inside = (s for s in on_pipe.get(pipe, ()) if s.holds(station, _FACE))
        for solid in list(inside)[:1]:
            yield Fault(
                pointer=pointer_to("plugs", index, "station" if plug.point is None else "point"),
                found=f"{station:.3f} m, in {shown(solid.what)}",
                problem="lies in a body, where no jacket fits and no ice grows as in pipe; it "
                f"reaches from {solid.start:.3f} m to {solid.end:.3f} m",
                example=f'"pipe": "{shown(pipe)}", "station": "'
                f'{_beside(on_pipe[pipe], lengths.get(pipe, math.inf), station, plug.jacket / 2)}"',
            )


def _marks(layout: Layout, lengths: Mapping[str, float]) -> Iterator[tuple[int, str, float]]:
    """Give each plug's number with the pipe and station (m) that it means, where it means one."""
    drawn = any(plug.point is not None for plug in layout.plugs)
    snapper = Snapper(layout) if drawn else None
    for index, plug in enumerate(layout.plugs):
        if plug.point is None or snapper is None:
            yield index, plug.pipe or "", plug.station or 0.0
            continue
        with suppress(SnapFailure):
            pipe, share = snapper.snap(plug.point)
            if pipe in lengths:
                yield index, pipe, share * lengths[pipe]


def _beside(solids: list[Solid], length: float, station: float, half: float) -> str:
    """Give a station near by with half a jacket (m) to each body; else the middle of most pipe."""
    marks = sorted((max(0.0, s.start), min(length, s.end)) for s in solids)
    gaps: list[tuple[float, float]] = []
    here = 0.0
    for start, end in [*marks, (length, length)]:
        if start > here:
            gaps.append((here, start))
        here = max(here, end)
    if not gaps:
        return "12 ft"
    roomy = [(a + half, b - half) for a, b in gaps if b - a >= 2 * half]
    near = [min(max(station, a), b) for a, b in roomy]
    longest = max(gaps, key=lambda g: g[1] - g[0])
    at = min(near, key=lambda s: abs(s - station)) if near else sum(longest) / 2
    return f"{round(at, 3)} m"
