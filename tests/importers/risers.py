"""An invented riser diagram, not to scale, as people draw them; written by ezdxf."""

from __future__ import annotations

from typing import Any

from ezdxf.filemanagement import new


def riser() -> Any:
    """An invented riser of four floors: a main below, a branch with a valve on each floor."""
    drawing = new("R2018")
    space = drawing.modelspace()
    for name in ("GATE_VALVE", "WATER_MAIN", "NORTH_ARROW"):
        drawing.blocks.new(name).add_circle((0, 0), 1)
    pipe = {"layer": "P-RISER"}
    space.add_line((0, 0), (0, 80), dxfattribs=pipe)
    for floor in range(1, 5):
        y = 20.0 * floor
        space.add_line((0, y), (30, y), dxfattribs=pipe)
        space.add_blockref("GATE_VALVE", (10, y), dxfattribs={"layer": "SYMBOLS"})
        space.add_line((-40, y), (60, y), dxfattribs={"layer": "LEVELS"})
        text = {"layer": "P-TEXT", "height": 2.0}
        space.add_text('1-1/2"Ø', dxfattribs={**text, "insert": (18, y + 2)})
        space.add_text(f"EL {10 * floor}'-0\"", dxfattribs={**text, "insert": (-38, y)})
    space.add_text('3"Ø', dxfattribs={"layer": "P-TEXT", "height": 2.0, "insert": (2, 10)})
    space.add_text("EL 0'-0\"", dxfattribs={"layer": "P-TEXT", "height": 2.0, "insert": (-38, 0)})
    space.add_blockref("WATER_MAIN", (0, 0), dxfattribs={"layer": "SYMBOLS"})
    space.add_blockref("NORTH_ARROW", (55, 90), dxfattribs={"layer": "SYMBOLS"})
    return drawing
