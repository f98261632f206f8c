"""High points that keep air, against their definition walked joint by joint in networkx."""

from __future__ import annotations

from typing import Any

import networkx as nx
from hypothesis import given, settings
from hypothesis import strategies as st

from layoutcheck.document import parse_layout
from layoutcheck.network import build_network
from layoutcheck.network.peaks import air_keeping
from tests.sizes import some

PIPE = {"size": "2 in", "material": "carbon steel", "wall": "sch 40", "length": "100 ft"}


@st.composite
def sites(draw: st.DrawFn) -> dict[str, Any]:
    """Invent a small network on a few levels; some heights are not stated."""
    count = draw(st.integers(2, 9))
    heights = [
        draw(st.one_of(st.none(), st.integers(0, 3), st.integers(0, 3))) for _ in range(count)
    ]
    pairs = {(draw(st.integers(0, n - 1)), n) for n in range(1, count)}
    spare = st.tuples(st.integers(0, count - 1), st.integers(0, count - 1))
    pairs |= {(a, b) for a, b in draw(st.lists(spare, max_size=3)) if a < b}
    vented = draw(st.sets(st.integers(0, count - 1), max_size=3))
    return {
        "format": "layoutcheck layout 1",
        "name": "Invented: levels",
        "junctions": [
            {"id": f"J{n}", **({} if z is None else {"elevation": f"{z} m"})}
            for n, z in enumerate(heights)
        ],
        "pipes": [
            {"id": f"P{i}", "from": f"J{a}", "to": f"J{b}", **PIPE}
            for i, (a, b) in enumerate(sorted(pairs))
        ],
        "outlets": [{"id": f"O{n}", "junction": f"J{n}"} for n in sorted(vented)],
    }


def plain(network: Any) -> set[int]:
    """Give the pieces that may hold air, by the words of the definition."""
    graph: Any = nx.MultiGraph()
    height = {n: float(z) for n, z in enumerate(network.elevation)}
    for index, (u, v) in enumerate(network.ends.tolist()):
        graph.add_edge(u, v, key=index)
    out = {*network.outlets, *network.tanks, *network.sources}
    kept: set[int] = set()
    for start in graph:
        level = {start}
        while more := {m for n in level for m in graph[n] if height[m] == height[n]} - level:
            level |= more
        about = {m for n in level for m in graph[n]} - level
        is_top = all(height[m] < height[start] for m in about) and bool(about)
        if is_top and height[start] == height[start] and not level & out:
            for node in level:
                _down(graph, height, out, node, kept, top=True)
    return kept


def _down(
    graph: Any, height: dict[int, float], out: set[int], node: int, kept: set[int], *, top: bool
) -> None:
    if not top and (graph.degree(node) > 2 or node in out or height[node] != height[node]):
        return
    for _, other, piece in graph.edges(node, keys=True):
        if piece not in kept and not height[other] > height[node]:
            kept.add(piece)
            _down(graph, height, out, other, kept, top=height[other] == height[node] and top)


@settings(max_examples=some(300), deadline=None)
@given(sites())
def test_air_is_kept_where_the_definition_says(document: dict[str, Any]) -> None:
    network = build_network(parse_layout(document))
    assert set(air_keeping(network)) == plain(network)
