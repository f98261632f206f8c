"""Places for junctions without any: heights kept, nothing lost, little crossed."""

import itertools
from typing import Any

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from layoutcheck.document import Layout, parse_layout
from layoutcheck.report.drawing.arrange import (
    Arrangement,
    arrange,
    count_tangles,
    spread_by_distance,
)
from tests.report.drawing.drawing_samples import riser, shuffled, site


def made(edges: list[tuple[str, str]], heights: dict[str, int]) -> Layout:
    """A layout of bare pipes."""
    return parse_layout(
        {
            "format": "layoutcheck layout 1",
            "name": "Arranged (invented)",
            "junctions": [{"id": j, "elevation": f"{h} ft"} for j, h in heights.items()],
            "pipes": [
                {"id": f"P{i}", "from": a, "to": b, "size": "NPS 1", "material": "copper",
                 "length": "40 ft"}
                for i, (a, b) in enumerate(edges)
            ],
        }
    )  # fmt: skip


def tangles_by_pairs(layout: Layout, found: Arrangement) -> int:
    """Oracle: every pair of pipes, without an index."""
    count = 0
    for one, two in itertools.combinations(layout.pipes, 2):
        shared = {one.from_, one.to} & {two.from_, two.to}
        ends = shapely.MultiPoint([found.points[j] for j in shared])
        a, b = (shapely.LineString(found.paths[p.id]) for p in (one, two))
        inside = shapely.difference(shapely.intersection(a, b), shapely.buffer(ends, 1e-6))
        count += not inside.is_empty
    return count


trees = st.integers(2, 14).flatmap(
    lambda n: st.tuples(
        st.tuples(*(st.integers(0, i) for i in range(n - 1))),
        st.lists(st.integers(0, 3), min_size=n, max_size=n),
    )
)


@given(trees)
def test_every_pipe_joins_its_junctions_and_heights_keep_their_order(
    tree: tuple[tuple[int, ...], list[int]],
) -> None:
    parents, levels = tree
    heights = {f"J{i}": 12 * z for i, z in enumerate(levels)}
    edges = [(f"J{p}", f"J{i + 1}") for i, p in enumerate(parents)]
    layout = made(edges, heights)
    found = arrange(layout)
    assert len(set(found.points.values())) == len(heights), "no two junctions on one spot"
    for pipe in layout.pipes:
        path = found.paths[pipe.id]
        assert (path[0], path[-1]) == (found.points[pipe.from_], found.points[pipe.to])
    if found.by_height:
        for one, two in itertools.combinations(heights, 2):
            if heights[one] < heights[two]:
                assert found.points[one][1] < found.points[two][1]
    assert count_tangles(layout, found) == tangles_by_pairs(layout, found)


@pytest.mark.parametrize("floors", [1, 3, 8, 20])
def test_a_riser_with_branches_crosses_nothing(floors: int) -> None:
    document = riser(max(floors, 3), drawn=False)
    layout = parse_layout(document)
    found = arrange(layout)
    assert count_tangles(layout, found) == 0
    assert found.by_height
    columns = {found.points[f"S{n}"][0] for n in range(max(floors, 3) + 1)}
    assert len(columns) == 1, "the riser is drawn upright"


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_order_of_the_document_does_not_matter(seed: int) -> None:
    document: dict[str, Any] = riser(5, drawn=False)
    one, two = (arrange(parse_layout(d)) for d in (document, shuffled(document, seed)))
    assert dict(one.points) == dict(two.points)
    assert dict(one.paths) == dict(two.paths)


def test_the_site_without_positions_crosses_nothing() -> None:
    layout, _ = site("no-drawing-sketch.json")
    assert count_tangles(layout, arrange(layout)) == 0


def test_a_flat_ring_is_drawn_as_a_ring() -> None:
    names = [f"J{i}" for i in range(12)]
    ring = list(zip(names, [*names[1:], names[0]], strict=True))
    layout = made(ring, dict.fromkeys(names, 0))
    found = spread_by_distance(layout)
    assert count_tangles(layout, found) == 0
    middle = shapely.MultiPoint(list(found.points.values())).centroid
    away = [middle.distance(shapely.Point(p)) for p in found.points.values()]
    # A regular polygon: every corner as far from the middle as any other.
    assert max(away) - min(away) < 0.02 * max(away)


def test_twin_pipes_are_both_seen() -> None:
    layout = made([("A", "B"), ("A", "B")], {"A": 0, "B": 12})
    found = arrange(layout)
    assert len({frozenset(path) for path in found.paths.values()}) == 2
    assert count_tangles(layout, found) == 0
