"""Faults of what ends pipes and of what touches none: nothing stands alone, nothing ends twice."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from layoutcheck.document.faults import Fault, pointer_to, shown
from layoutcheck.document.models import EquipmentKind, FittingKind, Layout
from layoutcheck.document.near import KnownIds

SHUT = frozenset({FittingKind.CAP, FittingKind.BLIND})

# A name in each list that says where an element stands, and what people call the element.
_KINDS = {
    "valves": "valve",
    "pumps": "pump",
    "equipment": "piece of equipment",
    "sources": "source",
    "outlets": "outlet",
}


# Lists of what ends a pipe, or stands where it ends and says so by itself.
_ENDING = {"equipment", "sources", "outlets"}
# Equipment that ends a pipe; a heater or cooler only stands in it.
_ENDS = {EquipmentKind.TANK}


def pipes_at(layout: Layout) -> Counter[str]:
    """Count the ends of pipes at each junction."""
    met: Counter[str] = Counter()
    for pipe in layout.pipes:
        met[pipe.from_] += 1
        met[pipe.to] += 1
    return met


def end_faults(layout: Layout) -> Iterator[Fault]:
    """Find elements at junctions without pipe, pipes back to themselves, ends with two ends."""
    met = pipes_at(layout)
    yield from _round_pipes(layout)
    yield from _alone(layout, met)
    yield from _shut_ends(layout, met)
    yield from _going_on(layout, met)


def open_ends(layout: Layout) -> list[str]:
    """Give the junctions at which a pipe ends with nothing on it, in the document's order."""
    met = pipes_at(layout)
    busy = {junction for place, _, junction in _places(layout) if place[0] in _ENDING}
    return [
        j.id
        for j in layout.junctions
        if met[j.id] == 1 and j.id not in busy and j.fitting not in SHUT and j.goes_on is None
    ]


def _round_pipes(layout: Layout) -> Iterator[Fault]:
    for index, pipe in enumerate(layout.pipes):
        if pipe.from_ == pipe.to:
            yield Fault(
                pointer=pointer_to("pipes", index, "to"),
                found=shown(pipe.to),
                problem="is the junction that the pipe comes from: a pipe runs between two",
                example="the id of the junction at its other end",
            )


def _places(layout: Layout) -> Iterator[tuple[tuple[str | int, ...], str, str]]:
    """Give the place of each statement of a junction, what stands there, and the junction."""
    for name, kind in _KINDS.items():
        for index, item in enumerate(getattr(layout, name)):
            if item.junction is not None:
                yield (name, index, "junction"), f"{kind} {item.id}", item.junction
    for index, opened in enumerate(layout.work.open if layout.work else ()):
        if opened.junction is not None:
            yield ("work", "open", index, "junction"), "work", opened.junction


def _alone(layout: Layout, met: Counter[str]) -> Iterator[Fault]:
    piped = KnownIds(met)
    for place, what, junction in _places(layout):
        if met[junction]:
            continue
        nearest = piped.near(junction, 3)
        yield Fault(
            pointer=pointer_to(*place),
            found=shown(junction),
            problem=f"no pipe meets this junction, so the {shown(what)} touches nothing; "
            f"the nearest ids that have pipe are {nearest}",
            example=piped.near(junction),
        )


def _shut_ends(layout: Layout, met: Counter[str]) -> Iterator[Fault]:
    shut = {j.id: j.fitting for j in layout.junctions if j.fitting in SHUT}
    heat = {f"{_KINDS['equipment']} {g.id}" for g in layout.equipment if g.kind not in _ENDS}
    for place, what, junction in _places(layout):
        is_end = place[0] in {"sources", "outlets", "equipment"} and what not in heat
        if not is_end or not met[junction] or junction not in shut:
            continue
        yield Fault(
            pointer=pointer_to(*place),
            found=shown(junction),
            problem=f"the {shown(what)} stands behind a {shut[junction]}: "
            "which of the two ends the pipe?",
            example=f"the id of another junction, or no {shut[junction]} at junction "
            + shown(junction, 40),
        )


def _going_on(layout: Layout, met: Counter[str]) -> Iterator[Fault]:
    busy = {junction: what for _, what, junction in _places(layout) if what != "work"}
    busy |= {j.id: str(j.fitting) for j in layout.junctions if j.fitting in SHUT}
    for index, junction in enumerate(layout.junctions):
        if junction.goes_on is None:
            continue
        end = busy.get(junction.id)
        if met[junction.id] == 1 and end is None:
            continue
        problem = f"a pipe goes on only beyond an end of its own, and {met[junction.id]} pipes meet"
        if end is not None:
            problem = f"the pipe can not both go on here and end in the {shown(end)}"
        yield Fault(
            pointer=pointer_to("junctions", index, "goes_on"),
            found=str(junction.goes_on),
            problem=problem,
            example="leave it out",
        )
