"""The compiled walks and the columns, against general libraries and plain readings.

Blocks and ways without a common node: networkx. Bridges: by taking each edge out. Columns: by
asking each valve and outlet in turn.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

import networkx as nx
import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from layoutcheck.document.models import Moment, OutletState, ValveKind, ValveState
from layoutcheck.document.read import parse_layout
from layoutcheck.network import Trust, World, build_network
from layoutcheck.network.blocks import block_numbers, bridges, bridges_between
from layoutcheck.network.columns import outlet_columns, valve_columns
from layoutcheck.network.cut import is_cut_off, reached, threats_of
from layoutcheck.network.disjoint import two_ways
from layoutcheck.planning.elements import Element, apply
from layoutcheck.planning.ground import Ground
from layoutcheck.rules.case import Case
from layoutcheck.rules.registry import default_pack
from tests.oracles.strategies import Document, documents
from tests.sizes import some

Pairs = list[tuple[int, int]]


@st.composite
def multigraphs(draw: st.DrawFn) -> tuple[int, Pairs]:
    """Draw a graph with parallel edges, edges from a node to itself, and lonely nodes."""
    nodes = draw(st.integers(1, 9))
    node = st.integers(0, nodes - 1)
    return nodes, draw(st.lists(st.tuples(node, node), max_size=16))


def arrayed(pairs: Pairs) -> np.ndarray:
    return np.array(pairs, dtype=np.int64).reshape(-1, 2)


def same_groups(labels: Iterable[object], numbers: Iterable[int]) -> bool:
    pairs = set(zip(labels, numbers, strict=True))
    return len({a for a, _ in pairs}) == len({b for _, b in pairs}) == len(pairs)


@settings(max_examples=some(300))
@given(multigraphs())
def test_blocks_are_those_of_networkx(graph: tuple[int, Pairs]) -> None:
    nodes, pairs = graph
    plain: nx.Graph[int] = nx.Graph((a, b) for a, b in pairs if a != b)
    block = {
        frozenset(edge): number
        for number, edges in enumerate(nx.biconnected_component_edges(plain))
        for edge in edges
    }
    labels = [("own", i) if a == b else block[frozenset((a, b))] for i, (a, b) in enumerate(pairs)]
    assert same_groups(labels, block_numbers(nodes, arrayed(pairs)).tolist())


@settings(max_examples=some(300))
@given(multigraphs())
def test_a_bridge_is_an_edge_without_which_its_ends_part(graph: tuple[int, Pairs]) -> None:
    nodes, pairs = graph
    found = bridges(nodes, arrayed(pairs)).tolist()
    for index, (a, b) in enumerate(pairs):
        rest: nx.Graph[int] = nx.Graph(pairs[:index] + pairs[index + 1 :])
        rest.add_nodes_from((a, b))
        assert found[index] == (not nx.has_path(rest, a, b))


@settings(max_examples=some(300))
@given(multigraphs(), st.data())
def test_what_every_way_goes_over_is_an_edge_without_which_there_is_none(
    graph: tuple[int, Pairs], data: st.DataObject
) -> None:
    nodes, pairs = graph
    start, stop = (data.draw(st.integers(0, nodes - 1)) for _ in range(2))
    found = bridges_between(nodes, arrayed(pairs), start, stop).tolist()
    for index in range(len(pairs)):
        whole, rest = nx.Graph(pairs), nx.Graph(pairs[:index] + pairs[index + 1 :])
        for made in (whole, rest):
            made.add_nodes_from((start, stop))
        parts = nx.has_path(whole, start, stop) and not nx.has_path(rest, start, stop)
        assert found[index] == parts


@settings(max_examples=some(200))
@given(documents())
def test_two_ways_share_no_node_and_are_found_where_there_are_any(document: Document) -> None:
    network = build_network(parse_layout(document))
    world = World(network, Moment.FREEZING, Trust.PROVEN)
    goals = frozenset(world.terminals)
    for piece in range(len(network.pieces)):
        u, v = map(int, network.ends[piece])
        if u == v or not world.connects[piece]:
            continue
        ways = two_ways(network, world.connects, piece, goals)
        assert (ways is not None) == has_two_ways(world, piece, goals)
        if ways is None:
            continue
        assert {ways[0][0], ways[1][0]} == {u, v}
        assert {ways[0][-1], ways[1][-1]} <= goals
        assert not set(ways[0]) & set(ways[1])
        joined = {frozenset(pair) for pair in network.ends[world.connects].tolist()}
        for way in ways:
            assert len(set(way)) == len(way)
            assert all(frozenset(step) in joined for step in pairwise(way))


def has_two_ways(world: World, piece: int, goals: frozenset[int]) -> bool:
    """Ask networkx: two ways that share no node, from a node in the piece's middle to a hub."""
    graph: nx.Graph[int] = nx.Graph()
    live = np.flatnonzero(world.connects).tolist()
    graph.add_edges_from(tuple(world.network.ends[i]) for i in live if i != piece)
    graph.add_edges_from((-2, int(n)) for n in world.network.ends[piece])
    graph.add_edges_from((node, -1) for node in goals)
    if -1 not in graph:
        return False
    return bool(nx.node_connectivity(graph, -2, -1) > 1)


@settings(max_examples=some(150))
@given(documents())
def test_worlds_by_columns_are_worlds_by_asking_each_valve(document: Document) -> None:
    network = build_network(parse_layout(document))
    for moment in Moment:
        for trust in Trust:
            world = World(network, moment, trust)
            for index in network.valve_pieces.tolist():
                valve = network.valves[network.pieces[index].element]
                shut = valve.at(moment) is ValveState.CLOSED
                unstated = valve.at(moment) is None
                proven = {None: "silent", "proven": "proven", "not proven": "denied"}
                said = proven[valve.tightness]
                holds = {
                    Trust.BEST: shut or unstated,
                    Trust.STATED: shut,
                    Trust.DENIED: shut and said != "denied",
                    Trust.PROVEN: shut and said == "proven",
                }[trust]
                holds = holds and valve.kind is not ValveKind.CHECK
                assert world.connects[index] == (not holds)
            taps = {o.id: o for o in network.layout.outlets}
            drawn = {n for names in world.terminals.values() for n in names}
            for name, tap in taps.items():
                still = tap.at(moment) in {OutletState.LOCKED_OFF, OutletState.BLEED}
                assert (f"outlet {name}" in drawn) == (not still)


@settings(max_examples=some(150))
@given(documents(), st.data())
def test_a_changed_state_gives_what_building_afresh_gives(
    document: Document, data: st.DataObject
) -> None:
    case = Case.of(parse_layout(document), default_pack())
    ground = Ground(case)
    some = st.lists(st.sampled_from(ground.actions), max_size=4) if ground.actions else st.just([])
    chosen = compatible(data.draw(some))
    changed = apply(case.network, chosen)
    fresh = build_network(changed.layout)
    for made in (valve_columns, outlet_columns):
        for name, column in vars(made(changed)).items():
            np.testing.assert_array_equal(column, getattr(made(fresh), name), err_msg=name)
    for moment in Moment:
        one, two = (World(n, moment, Trust.PROVEN) for n in (changed, fresh))
        assert one.terminals == two.terminals
        assert one.running_pumps == two.running_pumps
        np.testing.assert_array_equal(one.flowing, two.flowing)


def compatible(chosen: list[Element]) -> list[Element]:
    kept: list[Element] = []
    for element in chosen:
        if not any((element.kind, element.id) in other.rivals for other in kept):
            kept.append(element)
    return kept


@settings(max_examples=some(150))
@given(documents())
def test_prices_of_valves_at_once_are_those_of_each(document: Document) -> None:
    ground = Ground(Case.of(parse_layout(document), default_pack()))
    network = ground.network
    prices = ground.options.valve_prices(network).tolist()
    for index, price in zip(network.valve_pieces.tolist(), prices, strict=True):
        own = ground.of_valve.of(network.pieces[index].element)
        assert price == min((e.cost for e in own), default=np.inf)


@settings(max_examples=some(150))
@given(documents())
def test_what_is_reached_is_what_networkx_reaches(document: Document) -> None:
    network = build_network(parse_layout(document))
    world = World(network, Moment.WORKING, Trust.PROVEN)
    graph: nx.Graph[int] = nx.Graph()
    graph.add_nodes_from(range(network.node_count))
    opened = {p for place in network.work for p in place.pieces}
    graph.add_edges_from(
        tuple(network.ends[i])
        for i in range(len(network.pieces))
        if world.connects[i] or i in opened
    )
    near = set().union(*(nx.node_connected_component(graph, n) for n in network.work_nodes))
    assert set(np.flatnonzero(reached(world, (), network.work_nodes)).tolist()) == near
    assert is_cut_off(world, (), network.work_nodes) == near.isdisjoint(threats_of(world))
