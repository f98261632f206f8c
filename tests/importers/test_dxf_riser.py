"""Riser diagrams as people draw them: not to scale, with sizes written beside the pipes.

Outside source: drawings are written by ezdxf. The riser is invented; what must come out was counted
by hand from the drawing calls.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from ezdxf.filemanagement import new

from layoutcheck.document import LayoutFaults, parse_layout
from layoutcheck.importers.dxf.mapping import read_map
from layoutcheck.importers.dxf.propose import looked_through, proposed_map
from layoutcheck.importers.dxf.read import read_dxf
from layoutcheck.importers.dxf.said import Said, said_by
from layoutcheck.quantities import UnitSystem
from tests.importers.risers import riser


def saved(drawing: Any, folder: Path) -> Path:
    path = folder / "riser.dxf"
    drawing.saveas(str(path))
    return path


def test_a_riser_without_scale_or_map_is_read_and_asks_for_its_lengths(tmp_path: Path) -> None:
    imported = read_dxf(saved(riser(), tmp_path), name="riser.dxf", mapping=None)
    layout = parse_layout(imported.document)
    # Four pieces of riser, and a branch on each floor cut in two by its valve.
    assert len(layout.pipes) == 4 + 2 * 4
    assert [v.kind.value for v in layout.valves] == ["gate"] * 4
    assert len(layout.sources) == 1  # the main alone: an open end is a question, and no main
    upright = [p for p in layout.pipes if p.length is not None]
    assert [p.length for p in upright] == [pytest.approx(10 * 0.3048)] * 4  # between two levels
    level = [p for p in layout.pipes if p.length is None]
    assert len(level) == 8
    asked = [n for n in imported.notes if "what ends it" in n.says]
    assert len(asked) == 1 and len(asked[0].elements) == 4  # once, for the four branches
    assert {p.size.text for p in layout.pipes} == {"NPS 3", "NPS 1 1/2"}
    heights = sorted({j.elevation for j in layout.junctions if j.elevation is not None})
    assert heights == pytest.approx([10 * 0.3048 * n for n in range(5)])


def test_names_that_no_bare_key_may_have_are_quoted() -> None:
    drawing = new("R2018")
    drawing.modelspace().add_line((0, 0), (1, 0), dxfattribs={"layer": "PIPE é"})
    made = proposed_map(looked_through(drawing))
    assert made is not None
    assert list(read_map(made).layers) == ["PIPE é"]


SAYINGS = {
    '3"Ø': Said(size="NPS 3"),
    "1-1/2": Said(size="NPS 1 1/2"),
    "DN 40": Said(size="DN 40"),
    "DN40 VL": Said(size="DN 40"),
    "80 mm": Said(size="DN 80"),
    "Ø80": Said(size="DN 80"),
    'Ø2"': Said(size="NPS 2"),
    '4" CHWS': Said(size="NPS 4"),
    "7.3 m": Said(length="7.3 m"),
    "6'-4 1/2\"": Said(length="1.9431 m"),
    "3500 mm": Said(length="3.5 m"),
    "DN 50 L=3,5 m": Said(size="DN 50", length="3.5 m"),
    "42 mm": Said(),  # a bore, a wall, a short length? Nobody can say
    "2": Said(),
    "CW-4": Said(name="CW-4"),
    "EL 14'-0\"": Said(height="4.2672 m"),
    "+3.50": Said(height="3.5 m"),
}


@pytest.mark.parametrize("text", SAYINGS)
def test_a_text_says_what_a_fitter_reads_in_it(text: str) -> None:
    assert said_by(text, UnitSystem.METRIC) == SAYINGS[text]


WRONG = {
    "kind of a layer": ('[layers.PIPE]\nkind = "pip"', 'kind = "pip"', "pipe"),
    "kind of a block": (
        '[layers.PIPE]\nkind = "pipe"\n[blocks.GATE]\nkind = "gate"',
        'kind = "gate"',
        "valve",
    ),
    "kind of the drawing": ('kind = "rizer"\n[layers.PIPE]\nkind = "pipe"', 'kind = "rizer"', ""),
    "size of a layer": (
        '[layers.PIPE]\nkind = "pipe"\nsize = "NPS 9"',
        'size = "NPS 9"',
        "NPS 2",
    ),
    "a misspelt field": ('[layers.PIPE]\nkind = "pipe"\nsice = "NPS 2"', 'sice = "NPS 2"', "size"),
    "material": (
        '[layers.PIPE]\nkind = "pipe"\nmaterial = "cheese"',
        'material = "cheese"',
        "carbon steel",
    ),
    "reach": (
        '[layers.PIPE]\nkind = "pipe"\n[blocks.GATE]\nkind = "valve"\nreach = "near"',
        'reach = "near"',
        "reach",
    ),
    "snap": ('snap = "fine"\n[layers.PIPE]\nkind = "pipe"', 'snap = "fine"', "snap"),
}


@pytest.mark.parametrize("name", WRONG)
def test_the_right_example_of_a_faulty_map_ends_its_fault(name: str) -> None:
    text, wrong, holds = WRONG[name]
    with pytest.raises(LayoutFaults) as raised:
        read_map(text)
    (fault,) = raised.value.faults
    assert holds in fault.example
    read_map(text.replace(wrong, fault.example))
