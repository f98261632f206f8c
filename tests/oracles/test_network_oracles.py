"""What the network says, against slow and obviously right readings of the document.

Distances: networkx's Dijkstra on a graph with a point at every step. What can flow: every simple
way between two terminals and every loop through a running pump, listed. What is cut off: plain
search. Loops: listed. Drained water: added up step by step. The oracles are general algorithms
worked from the contract's definitions; the figures they are given are invented.
"""

from __future__ import annotations

import itertools
import math
from collections import defaultdict

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layoutcheck.document.models import Moment
from layoutcheck.document.read import parse_layout
from layoutcheck.network import Network, Spot, Trust, World, build_network
from layoutcheck.network.cut import deciding_pieces, opened_pieces, ways_in
from layoutcheck.network.drain import drained_water
from layoutcheck.network.model import PieceKind
from layoutcheck.rules.case import Case
from layoutcheck.rules.outcome import Outcome
from layoutcheck.rules.registry import all_rules, default_pack
from tests.oracles.plain import Node, Plain, is_locked
from tests.oracles.strategies import STEP, Document, documents, stations_of, steps
from tests.sizes import some

# Rounding of feet and inches in floating point; the lengths themselves are whole steps.
CLOSE = 1e-9


def edge_of(plain: Plain, network: Network, index: int) -> int:
    """Find the plain edge that a piece is, or is a part of."""
    piece = network.pieces[index]
    if piece.kind is not PieceKind.PIPE:
        (found,) = plain.of_element(piece.element)
        return found
    start, end = round(piece.start / STEP), round(piece.end / STEP)
    holding = [
        (b - a, -a, key)
        for (pipe, a, b), key in plain.cells.items()
        if pipe == piece.element and a <= start and end <= b
    ]
    return min(holding)[2]


def has_own_edge(plain: Plain, network: Network, index: int) -> bool:
    """Tell whether the plain graph knows a piece: not one of no length between two marks."""
    piece = network.pieces[index]
    at = round(piece.start / STEP)
    return piece.length > 0.0 or (piece.element, at, at) in plain.cells


def edges_of(plain: Plain, network: Network, pieces: np.ndarray) -> set[int]:
    """Find the plain edges of the pieces that are marked."""
    return {edge_of(plain, network, int(i)) for i in np.flatnonzero(pieces)}


@settings(max_examples=some(60))
@given(documents(), st.data())
def test_distances_agree_with_dijkstra_on_a_finely_split_graph(
    document: Document, data: st.DataObject
) -> None:
    network = build_network(parse_layout(document))
    plain = Plain(document, fine=True)
    places = stations_of(document)
    start = data.draw(st.sampled_from(places))
    for moment in Moment:
        for trust in Trust:
            world = World(network, moment, trust)
            spot = network.spot(start[0], start[1] * STEP)
            field = world.metric.from_spot(spot)
            keep = plain.connecting(moment, trust)
            expected = plain.distances({plain.at(*start)}, keep)
            for place in places:
                there = network.spot(place[0], place[1] * STEP)
                found = field.at(network, there)
                steps_there = expected.get(plain.at(*place), math.inf)
                assert found == pytest.approx(steps_there * STEP, abs=CLOSE), (start, place, trust)
                if found < math.inf:
                    walked = _walked(network, world, there, field.way(network, there), spot)
                    assert walked == pytest.approx(found, abs=CLOSE)


def _walked(network: Network, world: World, there: Spot, way: list[int], spot: Spot) -> float:
    """Add up the shortest steps along a way of nodes, from one spot to another."""
    if not way:
        assert there.piece == spot.piece
        return abs(there.offset - spot.offset)
    total = _to_end(network, there, way[0]) + _to_end(network, spot, way[-1])
    for a, b in itertools.pairwise(way):
        joins = (np.sort(network.ends, axis=1) == sorted((a, b))).all(axis=1) & world.connects
        total += float(network.length[joins].min())
    return total


def _to_end(network: Network, spot: Spot, node: int) -> float:
    piece = network.pieces[spot.piece]
    ways = []
    if node == piece.u:
        ways.append(spot.offset)
    if node == piece.v:
        ways.append(piece.length - spot.offset)
    return min(ways)


@settings(max_examples=some(250))
@given(documents())
def test_what_can_flow_is_every_simple_way_and_every_pump_loop(document: Document) -> None:
    network = build_network(parse_layout(document))
    plain = Plain(document, fine=False)
    for moment in Moment:
        for trust in Trust:
            world = World(network, moment, trust)
            expected = plain.flowing(moment, trust)
            for index in range(len(network.pieces)):
                edge = edge_of(plain, network, index)
                assert world.flowing[index] == (edge in expected), network.pieces[index]
                reason = world.why_flowing(index)
                assert (reason is not None) == world.flowing[index]
                if reason is not None and reason.kind == "way through":
                    _check_way_through(network, world, index, reason.way, reason.ends)


def _check_way_through(
    network: Network, world: World, piece: int, way: tuple[int, ...], ends: tuple[str, ...]
) -> None:
    """A way through is a simple path between two terminals, over the piece."""
    assert len(set(way)) == len(way)
    assert ends[0] in world.terminals[way[0]]
    assert ends[-1] in world.terminals[way[-1]]
    joints = {tuple(sorted(map(int, e))) for e in network.ends[world.connects]}
    walked = {tuple(sorted(pair)) for pair in itertools.pairwise(way)}
    assert walked <= joints
    assert tuple(sorted(map(int, network.ends[piece]))) in walked


@settings(max_examples=some(250))
@given(documents(plugs=(0, 4)))
def test_isolation_and_deciding_pieces_agree_with_plain_search(document: Document) -> None:
    layout = parse_layout(document)
    network = build_network(layout)
    plain = Plain(document, fine=False)
    spots = [network.spot(p.pipe or "", p.station or 0.0) for p in layout.plugs]
    plugged = sorted({s.piece for s in spots})
    nodes = sorted({n for place in network.work for n in place.nodes})
    assert {edge_of(plain, network, i) for i in opened_pieces(network)} == plain.opened()[1]
    pipes = [p.index for p in network.pieces if p.kind is PieceKind.PIPE]
    for trust in Trust:
        world = World(network, Moment.WORKING, trust)
        threats = plain.threats("working")
        cells = {edge_of(plain, network, p) for p in plugged}
        found = ways_in(world, plugged, nodes)
        assert bool(found) == bool(threats & plain.reached(trust, cells))
        for way in found:
            _check_way_in(network, world, plugged, way.nodes, nodes)
        deciding = deciding_pieces(world, plugged)
        assert not deciding[[i for i in range(len(network.pieces)) if i not in pipes]].any()
        for piece in (p for p in pipes if has_own_edge(plain, network, p)):
            cut_off = not threats & plain.reached(trust, {*cells, edge_of(plain, network, piece)})
            allowed = cut_off and piece not in opened_pieces(network)
            assert deciding[piece] == allowed, network.pieces[piece]


def _check_way_in(
    network: Network,
    world: World,
    plugged: list[int],
    way: tuple[int, ...],
    work: list[int],
) -> None:
    assert way[-1] in work
    keep = world.connects.copy()
    keep[plugged] = False
    keep[sorted(opened_pieces(network))] = True
    joints = {tuple(sorted(map(int, e))) for e in network.ends[keep]}
    assert {tuple(sorted(pair)) for pair in itertools.pairwise(way)} <= joints


@settings(max_examples=some(150))
@given(documents(plugs=(1, 1)))
def test_closed_loops_and_natural_circulation_agree_with_listed_loops(document: Document) -> None:
    layout = parse_layout(document)
    case = Case.of(layout, default_pack())
    network = case.network
    plain = Plain(document, fine=False)
    for trust in Trust:
        world = World(network, Moment.FREEZING, trust)
        connecting = plain.connecting("freezing", trust)
        members: dict[int, set[int]] = defaultdict(set)
        for looped in map(int, np.flatnonzero(world.loops >= 0)):
            members[int(world.loops[looped])].add(edge_of(plain, network, looped))
        for index in range(len(network.pieces)):
            edge = edge_of(plain, network, index)
            expected = plain.on_loops(edge, connecting) if edge in connecting else set()
            found = members[int(world.loops[index])] if world.loops[index] >= 0 else set()
            assert found == expected, network.pieces[index]
    _check_circulation(case, plain)


def _check_circulation(case: Case, plain: Plain) -> None:
    """Compare with the loop that is there for certain, and the one that may be."""
    (plug,) = case.plugs
    (judged,) = all_rules()["natural-circulation"].judge(case)
    _, sure_turns = _heated_loop(case, plain, plug.spot, "best")
    heated, may_turn = _heated_loop(case, plain, plug.spot, "proven")
    if not heated:
        assert judged.outcome is Outcome.DOES_NOT_APPLY
    elif sure_turns:
        assert judged.outcome is Outcome.BROKEN
    else:
        assert judged.outcome is (Outcome.UNDECIDED if may_turn else Outcome.HOLDS)


def _heated_loop(case: Case, plain: Plain, spot: Spot, trust: str) -> tuple[bool, bool]:
    """Tell whether a place is on a loop with a live heater or cooler, and whether it may turn."""
    edge = edge_of(plain, case.network, spot.piece)
    loop = plain.on_loops(edge, plain.connecting("freezing", trust))
    nodes = {n for k in loop for n in plain.edges[k][:2]}
    heat = [g for g in plain.gear.values() if g["kind"] != "tank" and not is_locked(g, "freezing")]
    if not any(plain.gear_node(g) in nodes for g in heat):
        return False, False
    heights = [height_of(plain, n) for n in nodes]
    # 12 in is four steps: common practice, no published source.
    return True, max(heights) - min(heights) > 4 + CLOSE


def height_of(plain: Plain, node: Node) -> float:
    """Give a point's height in steps: on a pipe, in proportion between its two ends."""
    levels = {j["id"]: steps(j["elevation"]) for j in plain.document["junctions"]}
    if node[0] == "j":
        return levels[node[1]]
    row = plain.rows[node[1]]
    low, high = levels[row["from"]], levels[row["to"]]
    length = plain.length[node[1]]
    return low + (high - low) * node[2] / length if length else low


# Each step is cut into this many parts, and each part counts whole or not at all.
_PARTS = 8


@settings(max_examples=some(200))
@given(documents(plugs=(0, 3)))
def test_drained_water_agrees_with_adding_it_up_step_by_step(document: Document) -> None:
    layout = parse_layout(document)
    network = build_network(layout)
    plain = Plain(document, fine=True)
    world = World(network, Moment.WORKING, Trust.STATED)
    plugs = [(network.spot(p.pipe or "", p.station or 0.0), p.jacket / 2) for p in layout.plugs]
    if len({s.piece for s, _ in plugs}) < len(plugs):
        return  # two jackets in one piece: which water is between them is another question
    cells = _under_jackets(plain, network, plugs)
    inside = plain.reached("stated", cells)
    lowest = min(height_of(plain, n) for n in plain.opened()[0])
    # The face of a valve at a junction is taken at the junction's height: half a body off.
    off = max((plain.trim(pipe) for pipe in plain.length), default=0)
    least, most = 0.0, 0.0
    for (pipe, a, b), key in plain.cells.items():
        u, v, _ = plain.edges[key]
        if key in cells or not {u, v} <= inside or b == a:
            continue
        bore = network.dimensions[pipe].inside_diameter
        part = math.pi / 4 * bore**2 * (b - a) * STEP / _PARTS
        low, high = height_of(plain, u), height_of(plain, v)
        middles = [low + (high - low) * (k + 0.5) / _PARTS for k in range(_PARTS)]
        slack = part if min(low, high) < lowest < max(low, high) else 0.0
        slack += _PARTS * part if {u[0], v[0]} != {"p"} and plain.trim(pipe) else 0.0
        least += part * sum(m > lowest + off for m in middles) - slack
        most += part * sum(m > lowest - off for m in middles) + slack
    tanks = {g["id"]: plain.gear_node(g) for g in plain.gear.values() if g["kind"] == "tank"}
    stored = sum(0.080 for node in tanks.values() if node in inside)  # 80 L each
    drained = drained_water(world, plugs)
    assert drained.missing == ()
    assert drained.volume is not None
    assert least - 1e-9 <= drained.volume - stored <= most + 1e-9


def _under_jackets(plain: Plain, network: Network, plugs: list[tuple[Spot, float]]) -> set[int]:
    """Give the cells under each jacket, as far as they are in the plug's own piece."""
    found = set()
    opened = opened_pieces(network)
    for spot, half in plugs:
        piece = network.pieces[spot.piece]
        if piece.index in opened:
            continue
        pipe, station = network.station(spot)
        start, end = round(piece.start / STEP), round(piece.end / STEP)
        middle, reach = round(station / STEP), round(half / STEP)
        low, high = max(start, middle - reach), min(end, middle + reach)
        # A joint of no length at the end of the piece is not under the jacket.
        own = [
            key
            for (p, a, b), key in plain.cells.items()
            if p == pipe and low <= a and b <= high and (a < b or start == end)
        ]
        found |= set(own)
    return found
