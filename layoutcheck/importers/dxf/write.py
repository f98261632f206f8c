"""Draw plugs and jackets into a copy of a drawing, on layers of their own."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

from layoutcheck.document import Fault, Layout, LayoutFaults
from layoutcheck.document.faults import pointer_to, shown
from layoutcheck.importers.dxf.read import open_drawing
from layoutcheck.importers.places import PlugPlace, plug_places

PLUGS, JACKETS, NOTES = "LAYOUTCHECK-PLUG", "LAYOUTCHECK-JACKET", "LAYOUTCHECK-NOTE"
_LAYERS = {PLUGS: 5, JACKETS: 4, NOTES: 7}  # blue, cyan, black or white: AutoCAD colour index
_NOTE = "Freeze points: a check of a drawing, not a permit. Local codes and permits decide."


def draw_plugs(layout: Layout, source: Path) -> bytes:
    """Give a copy of a drawing with the layout's plugs and jackets in it.

    Raises LayoutFaults where the drawing can not be read or a plug's pipe is not drawn.
    """
    drawing = open_drawing(source)
    places = plug_places(layout)
    faults = [
        Fault(
            pointer=pointer_to("plugs", index),
            found=f"plug {shown(place.plug.id)} on pipe {shown(place.pipe.id)}",
            problem="has no place on the drawing: the ends of its pipe are not drawn",
            example='"at": [120.0, 40.0]',
        )
        for index, place in enumerate(places)
        if not place.line
    ]
    if faults:
        raise LayoutFaults(faults)
    for name, colour in _LAYERS.items():
        if name not in drawing.layers:
            drawing.layers.add(name, color=colour)
    space = drawing.modelspace()
    for place in places:
        _draw(space, place, layout.drawing.snap_within or 1.0)
    if places:
        space.add_text(_NOTE, dxfattribs={"layer": NOTES, "insert": places[0].line[0]})
    out = io.StringIO()
    drawing.write(out)
    data: bytes = drawing.encode(out.getvalue())
    return data


def _draw(space: Any, place: PlugPlace, size: float) -> None:  # noqa: ANN401 - no types here
    middle = _middle(place)
    space.add_lwpolyline(place.line, dxfattribs={"layer": JACKETS})
    space.add_point(middle, dxfattribs={"layer": PLUGS})
    space.add_circle(middle, radius=size, dxfattribs={"layer": PLUGS})
    words = f"{place.plug.id}: {place.station:.3f} m from {place.pipe.from_}"
    space.add_text(words, dxfattribs={"layer": NOTES, "insert": middle, "height": size})


def _middle(place: PlugPlace) -> tuple[float, float]:
    import shapely  # noqa: PLC0415 - only a written drawing needs it

    if len(set(place.line)) < 2:
        return place.line[0]
    point = shapely.LineString(place.line).interpolate(0.5, normalized=True)
    return float(point.x), float(point.y)
