"""Statements that can contradict each other, compared. Each check names both, and refuses both.

Two statements agree if they differ by no more than the rounding in which they were written; half a
percent is always let pass. DEVELOPERS.md lists the pairs.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from layoutcheck.document.faults import Fault, pointer_to, shown
from layoutcheck.document.models import (
    DrawingKind,
    Equipment,
    EquipmentKind,
    Layout,
    Moment,
    OutletState,
    Pipe,
    Room,
    Source,
    SourceKind,
    Tightness,
    ValveState,
)
from layoutcheck.document.paths import Positions
from layoutcheck.quantities import (
    PipeDimensions,
    QuantityError,
    explicit_dimensions,
    pipe_dimensions,
    rounding,
)

# Own choices, common practice with no published source: what is let pass beside the rounding of
# what was written; how well a drawing to scale is drawn; how far walls are made off their table.
ALWAYS_PASSES = 0.005
DRAWN_WITHIN = 0.02
OUTSIDE_WITHIN = 0.08  # sizes next to each other differ by a tenth and more
WALL_WITHIN = 0.15
INCH = 0.0254
# A standing column of water presses with so much for each metre (Pa); 2 % covers its temperature.
WEIGHT = 998.0 * 9.80665
COLUMN_WITHIN = 0.02


@dataclass(frozen=True)
class Said:
    """A quantity of the document: its SI value, and how far it may be rounded."""

    value: float
    within: float

    def times(self, other: Said) -> Said:
        """Give the product, with the rounding of both."""
        within = abs(self.value) * other.within + abs(other.value) * self.within
        return Said(self.value * other.value, within + self.within * other.within)

    def agrees(self, other: Said, share: float = ALWAYS_PASSES) -> bool:
        """Tell whether both can mean the same; share: what is let pass of the larger."""
        slack = share * max(abs(self.value), abs(other.value))
        return abs(self.value - other.value) <= self.within + other.within + slack


class _Texts:
    """What was written at a place of the document, and how far it may be rounded."""

    def __init__(self, data: Mapping[str, Any]) -> None:
        self._data = data

    def at(self, *path: str | int) -> object:
        here: Any = self._data
        for step in path:
            known = isinstance(here, Mapping) if isinstance(step, str) else isinstance(here, list)
            if not known or (isinstance(step, str) and step not in here):
                return None
            here = here[step]
        return here

    def said(self, value: float, *path: str | int) -> Said:
        return Said(value, rounding(self.at(*path), value))

    def both(self, place: tuple[str | int, ...], *fields: str) -> str:
        """Write several fields of an element as they were written."""
        return shown(", ".join(f"{field} {self.at(*place, field)}" for field in fields), 200)


def contradictions(layout: Layout, data: Mapping[str, Any]) -> Iterator[Fault]:
    """Find every pair of statements that contradict each other; data: as it was written."""
    texts = _Texts(data)
    yield from _rooms(layout, texts)
    yield from _pipes(layout, texts)
    yield from _valves(layout, texts)
    yield from _kinds(layout, texts)
    yield from _levels(layout, texts)
    yield from _kept(layout)
    yield from _stock(layout)


# --- rooms -------------------------------------------------------------------------------------


def _rooms(layout: Layout, texts: _Texts) -> Iterator[Fault]:
    for index, room in enumerate(layout.site.rooms):
        place = ("site", "rooms", index)
        volume = _volume(room, texts, place)
        if room.volume is not None and room.floor_area is not None and room.height is not None:
            stated = texts.said(room.volume, *place, "volume")
            reckoned = _reckoned(room, texts, place)
            if not stated.agrees(reckoned):
                yield Fault(
                    pointer=pointer_to(*place, "volume"),
                    found=texts.both(place, "volume", "floor_area", "height"),
                    problem="volume contradicts floor_area times height, "
                    f"which is {reckoned.value:.4g} m3",
                    example=f'"volume": "{reckoned.value:.6g} m3"',
                )
        if room.ventilation is None or room.air_changes is None or volume is None:
            continue
        flow = texts.said(room.ventilation, *place, "ventilation")
        changed = texts.said(room.air_changes, *place, "air_changes").times(volume)
        if not flow.agrees(changed):
            yield Fault(
                pointer=pointer_to(*place, "air_changes"),
                found=texts.both(place, "ventilation", "air_changes"),
                problem="air_changes contradicts ventilation over the room's volume, "
                f"which is {3600 * flow.value / volume.value:.3g} per hour",
                example=f'"air_changes": "{3600 * flow.value / volume.value:.6g} per hour"',
            )


def _reckoned(room: Room, texts: _Texts, place: tuple[str | int, ...]) -> Said:
    area = texts.said(room.floor_area or 0.0, *place, "floor_area")
    return area.times(texts.said(room.height or 0.0, *place, "height"))


def _volume(room: Room, texts: _Texts, place: tuple[str | int, ...]) -> Said | None:
    if room.volume is not None:
        return texts.said(room.volume, *place, "volume") if room.volume else None
    if not room.floor_area or not room.height:
        return None
    return _reckoned(room, texts, place)


# --- pipes -------------------------------------------------------------------------------------


def _pipes(layout: Layout, texts: _Texts) -> Iterator[Fault]:
    positions = Positions(layout)
    scaled = layout.drawing.scale is not None
    upright = scaled and layout.drawing.kind is DrawingKind.RISER
    number = {j.id: i for i, j in enumerate(layout.junctions)} if upright else {}
    for index, pipe in enumerate(layout.pipes):
        place = ("pipes", index)
        if pipe.outside_diameter is not None and pipe.wall_thickness is not None:
            yield from _dimensions(pipe, texts, place)
        if scaled and positions.is_drawn(pipe):
            if pipe.length is not None:
                yield from _length(positions, pipe, texts, place)
            if upright:
                yield from _drawn_height(positions, pipe, texts, number)


def _dimensions(pipe: Pipe, texts: _Texts, place: tuple[str | int, ...]) -> Iterator[Fault]:
    outside, wall = pipe.outside_diameter or 0.0, pipe.wall_thickness or 0.0
    try:
        explicit_dimensions(outside, wall)
    except QuantityError:
        return  # told of by itself
    stated = texts.said(outside, *place, "outside_diameter")
    table = _table(pipe)
    if not pipe.sized:
        return
    if table is None:
        low, high = 0.95 * pipe.size.inches * INCH, (1.15 * pipe.size.inches + 0.5) * INCH
        if not low <= outside <= high:
            yield _other_size(pipe, texts, place, f"'{pipe.size.text}' within its nominal size")
        return
    if not stated.agrees(Said(table.outside_diameter, 0.0), OUTSIDE_WITHIN):
        yield _other_size(pipe, texts, place, f"{table.outside_diameter / INCH:.4g} in")
        return
    thick = texts.said(wall, *place, "wall_thickness")
    if pipe.wall is not None and not thick.agrees(Said(table.wall, 0.0), WALL_WITHIN):
        yield Fault(
            pointer=pointer_to(*place, "wall"),
            found=texts.both(place, "wall", "wall_thickness"),
            problem=f"wall contradicts wall_thickness: that wall is {table.wall / INCH:.4g} in",
            example=f'"wall_thickness": "{table.wall / INCH:.4g} in"',
        )


def _other_size(pipe: Pipe, texts: _Texts, place: tuple[str | int, ...], right: str) -> Fault:
    return Fault(
        pointer=pointer_to(*place, "outside_diameter"),
        found=texts.both(place, "size", "outside_diameter"),
        problem=f"outside_diameter contradicts the size, whose pipe has {right}",
        example="outside_diameter and wall_thickness left out, or the size of that pipe",
    )


def _table(pipe: Pipe) -> PipeDimensions | None:
    try:
        return pipe_dimensions(pipe.size, pipe.material, pipe.wall)
    except QuantityError:
        return None


def _length(
    positions: Positions, pipe: Pipe, texts: _Texts, place: tuple[str | int, ...]
) -> Iterator[Fault]:
    """Hold the stated length against the drawing to scale.

    A pipe may be longer than its straight line as far as it runs square to the drawing's axes and
    drops upright. Where heights are not known, or a riser is drawn from the front, it may be longer
    still. It is never shorter.
    """
    drawn = positions.drawn_length(pipe)
    assert pipe.length is not None and drawn is not None, "asked only where both are there"
    if pipe.length == 0.0:
        return  # no pipe is to be seen between two bodies
    own = texts.said(pipe.length, *place, "length")
    # Drawn from junction to junction: through the bodies of what stands at them.
    stated = Said(own.value + pipe.from_body + pipe.to_body, own.within)
    within = _drawn_rounding(positions, pipe)
    square = _square_length(positions, pipe)
    if stated.agrees(Said(drawn, within), DRAWN_WITHIN) or (
        stated.value > drawn
        and (square is None or stated.value < square or stated.agrees(Said(square, within)))
    ):
        return
    yield Fault(
        pointer=pointer_to(*place, "length"),
        found=shown(f"length {texts.at(*place, 'length')}, drawn {drawn:.4g} m long"),
        problem="length contradicts the drawn path with the drawing's scale",
        example=f'"length": "{drawn:.4g} m"',
    )


def _square_length(positions: Positions, pipe: Pipe) -> float | None:
    """Give how long a pipe is (m) that runs square to the axes; None where not all is seen."""
    heights = positions.heights(pipe)
    if positions.layout.drawing.kind is DrawingKind.RISER or None in heights:
        return None
    steps = zip(pairwise(positions.corners(pipe)), pairwise(heights), strict=True)
    scale = positions.layout.drawing.scale or 0.0
    return sum(
        (abs(c - a) + abs(d - b)) * scale + abs((high or 0.0) - (low or 0.0))
        for ((a, b), (c, d)), (low, high) in steps
    )


def _drawn_rounding(positions: Positions, pipe: Pipe) -> float:
    """Give how far the drawn path may be off (m): one last place of the coordinates."""
    numbers = [x for corner in positions.corners(pipe) for x in corner]
    return _last_place(numbers) * (positions.layout.drawing.scale or 0.0)


def _last_place(numbers: list[float]) -> float:
    return next((10.0**-n for n in range(4) if all(round(x, n) == x for x in numbers)), 1e-4)


def _drawn_height(
    positions: Positions, pipe: Pipe, texts: _Texts, number: Mapping[str, int]
) -> Iterator[Fault]:
    """Hold the heights of a pipe's ends against an elevation drawn to scale."""
    low, high = positions.ends_of(pipe)
    if low.elevation is None or high.elevation is None or low.at is None or high.at is None:
        return
    rise = abs(high.elevation - low.elevation)
    drawn = abs(high.at[1] - low.at[1]) * (positions.layout.drawing.scale or 0.0)
    within = sum(
        texts.said(z, "junctions", number[name], "elevation").within
        for name, z in ((low.id, low.elevation), (high.id, high.elevation))
    )
    if Said(rise, within).agrees(Said(drawn, _drawn_rounding(positions, pipe)), DRAWN_WITHIN):
        return
    yield Fault(
        pointer=pointer_to("junctions", number[high.id], "elevation"),
        found=shown(
            f"{high.id} {rise:.4g} m from the height of {low.id}, drawn {drawn:.4g} m from it", 200
        ),
        problem=f"elevation contradicts the drawn height of pipe {shown(pipe.id)} "
        "with the drawing's scale",
        example='no "scale" in "drawing" where the drawing is not to scale',
    )


# --- states, kinds, levels, stock ---------------------------------------------------------------


def _valves(layout: Layout, texts: _Texts) -> Iterator[Fault]:
    for index, valve in enumerate(layout.valves):
        states = {valve.at(moment) for moment in Moment}
        if ValveState.PASSING in states and valve.tightness is Tightness.PROVEN:
            yield Fault(
                pointer=pointer_to("valves", index, "tightness"),
                found=texts.both(("valves", index), "state", "tightness"),
                problem="tightness 'proven' contradicts the state 'passing', shut but leaking",
                example='"tightness": "not proven"',
            )


# What may be stated of each kind besides what all have.
_SOURCES = {
    SourceKind.MAIN: frozenset({"pressure"}),
    SourceKind.PUMP: frozenset({"pressure"}),
    SourceKind.RAISED_TANK: frozenset({"pressure", "level", "volume"}),
    SourceKind.EXPANSION_VESSEL: frozenset({"pressure", "volume"}),
}
_EQUIPMENT = {
    EquipmentKind.HEATER: frozenset[str](),
    EquipmentKind.COOLER: frozenset[str](),
    EquipmentKind.TANK: frozenset({"volume", "level"}),
}


def _kinds(layout: Layout, texts: _Texts) -> Iterator[Fault]:
    """Find fields that do not belong to the kind of thing they are stated of."""
    for index, source in enumerate(layout.sources):
        place = ("sources", index)
        yield from _strange(texts, place, source, _SOURCES[source.kind], ("level", "volume"))
    for index, gear in enumerate(layout.equipment):
        place = ("equipment", index)
        yield from _strange(texts, place, gear, _EQUIPMENT[gear.kind], ("level", "volume"))


def _strange(
    texts: _Texts,
    place: tuple[str | int, ...],
    item: Source | Equipment,
    own: frozenset[str],
    fields: tuple[str, ...],
) -> Iterator[Fault]:
    for field in fields:
        if field not in own and getattr(item, field) is not None:
            yield Fault(
                pointer=pointer_to(*place, field),
                found=texts.both(place, "kind", field),
                problem=f"{field} contradicts the kind: a {item.kind} has none",
                example="leave it out, or state the kind that it is",
            )


def _levels(layout: Layout, texts: _Texts) -> Iterator[Fault]:
    """Hold the pressure of a raised tank against the height of its water."""
    height = {j.id: (i, j.elevation) for i, j in enumerate(layout.junctions)}
    for index, source in enumerate(layout.sources):
        at, low = height[source.junction]
        tank = source.kind is SourceKind.RAISED_TANK
        if not tank or source.pressure is None or source.level is None or low is None:
            continue
        place = ("sources", index)
        level = texts.said(source.level, *place, "level")
        foot = texts.said(low, "junctions", at, "elevation")
        column = Said((level.value - low) * WEIGHT, (level.within + foot.within) * WEIGHT)
        if not texts.said(source.pressure, *place, "pressure").agrees(column, COLUMN_WITHIN):
            yield Fault(
                pointer=pointer_to(*place, "pressure"),
                found=texts.both(place, "pressure", "level"),
                problem="pressure contradicts the level, whose water presses at the junction with "
                f"{column.value / 1000:.3g} kPa",
                example="leave the pressure out: the level gives it",
            )


def _kept(layout: Layout) -> Iterator[Fault]:
    """Find outlets to be kept in service that are stated as locked off throughout."""
    taps = {o.id: o for o in layout.outlets}
    for index, name in enumerate(layout.planning.keep_in_service):
        if {taps[name].at(moment) for moment in Moment} == {OutletState.LOCKED_OFF}:
            yield Fault(
                pointer=pointer_to("planning", "keep_in_service", index),
                found=shown(f"{name}, locked off"),
                problem="keep_in_service contradicts the outlet's own state, locked off",
                example="leave it out, or state the outlet as it is",
            )


def _stock(layout: Layout) -> Iterator[Fault]:
    seen: list[object] = []
    for index, line in enumerate(layout.site.stock):
        if line in seen:
            yield Fault(
                pointer=pointer_to("site", "stock", index),
                found=f"{line.cylinders} cylinders of {line.coolant}",
                problem="is the same line of stock twice: is it there twice?",
                example="one line with all cylinders that are alike",
            )
        seen.append(line)
