"""Where a plug is, measured from two things that a person can find on the pipe."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from layoutcheck.document.models import FittingKind, Placed
from layoutcheck.network.stretches import Interval
from layoutcheck.placement import read_into
from layoutcheck.report.sheet.model import Landmark
from layoutcheck.rules.case import Case, PlacedPlug

# Nearer than this (m) two things on a pipe are one place to a tape.
_SAME = 1e-6


def landmarks_of(case: Case, plug: PlacedPlug, span: Interval) -> tuple[Landmark, ...]:
    """Give the nearest thing on the pipe on each side of the jacket, with tape readings.

    span: the stations (m) in which the plug may be read; every reading puts it there. A thing
    inside the jacket is passed over: nobody can hold a tape to it.
    """
    low, high = plug.station - plug.jacket / 2, plug.station + plug.jacket / 2
    marks = sorted(_marks(case, plug.pipe))
    before = [m for m in marks if m[0] <= low + _SAME]
    after = [m for m in marks if m[0] >= high - _SAME]
    found = []
    if before:
        at, name = before[-1]
        away = (span[0] - at, span[1] - at)
        found.append(_landmark(case, name, plug, plug.station - at, away))
    if after:
        at, name = after[0]
        away = (at - span[1], at - span[0])
        found.append(_landmark(case, name, plug, at - plug.station, away))
    return tuple(found)


def _landmark(
    case: Case, name: str, plug: PlacedPlug, to_centre: float, away: Interval
) -> Landmark:
    """Read the ways (m) to a jacket's near end and its centre. away: where the centre may be."""
    units, half = case.layout.units, plug.jacket / 2
    near = read_into(max(0.0, to_centre - half), (away[0] - half, away[1] - half), units)
    return Landmark(name, near.shown, read_into(to_centre, away, units).shown)


def _marks(case: Case, pipe_id: str) -> Iterator[tuple[float, str]]:
    """List what stands on a pipe, both its ends included: (station in m, name)."""
    layout, pipe = case.layout, case.network.pipes[pipe_id]
    ends = [(0.0, pipe.from_, pipe.from_body)]
    if not case.lacks_length(pipe_id):
        ends.append((case.network.pipe_length[pipe_id], pipe.to, pipe.to_body))
    for at, own, body in ends:
        name = junction_name(case, own, pipe_id)
        yield at, f"the face of {name}" if body else name
    for fitting in layout.fittings:
        for face in sorted({-fitting.body / 2, fitting.body / 2}):
            words = "the face of " if fitting.body else ""
            if fitting.pipe == pipe_id:
                yield fitting.station + face, f"{words}{fitting.kind.value} {fitting.id}"
    for valve in layout.valves:
        if valve.pipe == pipe_id and valve.station is not None:
            for face in sorted({-valve.body / 2, valve.body / 2}):
                words = "the centre of" if valve.body == 0.0 else "the face of"
                yield valve.station + face, f"{words} {valve.kind.value} valve {valve.id}"
    machines: tuple[tuple[str, Placed, str], ...] = (
        *(("pump", p, p.id) for p in layout.pumps),
        *((e.kind.value, e, e.id) for e in layout.equipment),
    )
    for kind, item, name in machines:
        if item.pipe == pipe_id and item.station is not None:
            yield item.station, f"{kind} {name}"


def junction_name(case: Case, junction_id: str, pipe_id: str) -> str:
    """Name a junction as it looks: what it is, what it is called, and what meets there."""
    layout = case.layout
    junction = next(j for j in layout.junctions if j.id == junction_id)
    others = sorted(
        p.id for p in layout.pipes if junction_id in (p.from_, p.to) and p.id != pipe_id
    )
    kind = _kind(junction.fitting, len(others))
    called = f"{kind} {junction_id}" + (f" ({junction.name})" if junction.name else "")
    things = [
        *(f"valve {v.id}" for v in layout.valves if v.junction == junction_id),
        *(f"pump {p.id}" for p in layout.pumps if p.junction == junction_id),
        *(f"{e.kind.value} {e.id}" for e in layout.equipment if e.junction == junction_id),
        *(f"outlet {o.id}" for o in layout.outlets if o.junction == junction_id),
        *(f"source {s.id}" for s in layout.ways_in if s.junction == junction_id),
    ]
    if things:
        called += f", at {_and(things)}"
    if others:
        called += f", where {pipe_id} meets {_and(others)}"
    return called


def _and(names: Sequence[str]) -> str:
    return " and ".join(part for part in (", ".join(names[:-1]), names[-1]) if part)


def _kind(fitting: FittingKind | None, others: int) -> str:
    if fitting is not None:
        return f"the centre of {fitting.value}"
    if others == 0:
        return "the end"
    return "joint" if others == 1 else "the centre of the branch"
