"""A body may be stated by the element (face to face) or by its pipes: both say the same.

Oracle: the same site written in two ways. In one, pipes run from middle to middle and the element
at the junction says how long it is. In the other, each pipe is as long as it is bare, its stations
begin at its own end, and it says how far the element reaches. Every rule says the same of both.
"""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest

from layoutcheck.document import Layout, parse_layout
from layoutcheck.document.paths import Positions
from tests.importers.again import essence, same

FIXTURES = Path(__file__).parents[2] / "fixtures"
HALF = 0.0625  # m; a sum of powers of two, so that shifting a station loses nothing
# A station that is shifted twice and a length that is summed differ by rounding alone.
ROUNDING = 1e-9


def written(value: float) -> str:
    return f"{value!r} m"


def roomy(layout: Layout) -> set[str]:
    """Give the junctions whose pipes are long and have nothing near their ends."""
    positions = Positions(layout)
    cramped = set()
    marks: dict[str, list[float]] = {p.id: [] for p in layout.pipes}
    placed: tuple[Any, ...] = (
        *layout.fittings,
        *layout.valves,
        *layout.pumps,
        *layout.equipment,
        *layout.plugs,
    )
    for item in placed:
        if item.pipe is not None and item.station is not None:
            marks[item.pipe].append(item.station)
    for thing in layout.work.open if layout.work else ():
        if thing.pipe is not None:
            marks[thing.pipe] += [thing.start or 0.0, thing.end or 0.0]
    for pipe in layout.pipes:
        length = positions.measured_length(pipe) or 0.0
        if length < 1.0 or any(m < 0.3 for m in marks[pipe.id]):
            cramped.add(pipe.from_)
        if length < 1.0 or any(m > length - 0.3 for m in marks[pipe.id]):
            cramped.add(pipe.to)
    standing = {v.junction for v in (*layout.valves, *layout.pumps)}
    return {j.id for j in layout.junctions} - cramped - standing


def by_pipes(raw: dict[str, Any], layout: Layout, bodies: set[str]) -> dict[str, Any]:
    """Write the bodies at the ends of the pipes, and every station from the pipe's own end."""
    made = copy.deepcopy(raw)
    positions = Positions(layout)
    lengths = {p.id: positions.measured_length(p) or 0.0 for p in layout.pipes}
    shift = {}
    for pipe in made["pipes"]:
        low, high = (HALF if pipe[end] in bodies else 0.0 for end in ("from", "to"))
        shift[pipe["id"]] = low
        pipe["length"] = written(lengths[pipe["id"]] - low - high)
        pipe |= {"from_body": written(low), "to_body": written(high)}
    for key in ("fittings", "valves", "pumps", "equipment", "plugs"):
        mine = {e.id: e for e in getattr(layout, key)}
        for element in made.get(key, ()):
            if "station" in element:
                at = mine[element["id"]].station - shift[element["pipe"]]
                element["station"] = written(at)
    opened = layout.work.open if layout.work else ()
    for item, thing in zip(made.get("work", {}).get("open", ()), opened, strict=True):
        if thing.pipe is not None:
            for key in ("start", "end"):
                item[key] = written(getattr(thing, key) - shift[thing.pipe])
    return made


@pytest.mark.parametrize("path", sorted(FIXTURES.glob("*-sketch.json")), ids=lambda p: p.stem)
def test_a_body_says_the_same_from_both_sides(path: Path) -> None:
    raw = json.loads(path.read_text())
    layout = parse_layout(raw)
    bodies = roomy(layout)
    assert bodies, "no junction of this site has room for a body"
    by_element = copy.deepcopy(raw)
    for junction in by_element["junctions"]:
        if junction["id"] in bodies:
            junction["body"] = written(2 * HALF)
    lengths = {p.id: Positions(layout).measured_length(p) for p in layout.pipes}
    for pipe in by_element["pipes"]:
        pipe["length"] = written(lengths[pipe["id"]] or 0.0)
    one = essence(parse_layout(by_element))
    two = essence(parse_layout(by_pipes(raw, layout, bodies)))
    assert one.keys() == two.keys()
    assert [key for key in one if not same(one[key], two[key], ROUNDING)] == []
