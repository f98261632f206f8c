"""Every network file that WNTR ships, as a layout, against oracles and WNTR's own valve segments.

The networks are from outside: EPANET's and WNTR's examples and test files, as installed. The
oracles are networkx's Dijkstra, breadth-first search, and maximum flow with a capacity of one at
each node (Menger's theorem: two ways that share no node). Large networks are sampled.
"""

from __future__ import annotations

import importlib.util
import math
import random
import warnings
from collections import defaultdict
from functools import cache
from pathlib import Path
from typing import Any, cast

import networkx as nx
import numpy as np
import pytest

from layoutcheck.document.models import Moment
from layoutcheck.network import Network, Spot, Trust, World, build_network
from layoutcheck.network.cut import deciding_pieces, ways_in
from layoutcheck.network.model import Piece, PieceKind
from layoutcheck.placement import place_plug
from layoutcheck.rules.case import Case
from layoutcheck.rules.judge import placing_rules
from layoutcheck.rules.outcome import Outcome
from layoutcheck.rules.registry import default_pack
from tests.conftest import Require
from tests.oracles.inp import Inp, Isolator, Setting, setting_of

Node = tuple[str, ...]
Key = tuple[str, str]

# These raise on purpose: WNTR's tests of its own errors.
BAD = {"bad_syntax.inp", "bad_times.inp", "bad_values.inp"}
LARGE = {"Net6.inp", "Net6_plus.inp", "ky10.inp", "ky4.inp"}
# Lengths are sums of many floats of up to kilometres.
CLOSE = 1e-6


def _files() -> dict[str, Path]:
    spec = importlib.util.find_spec("wntr")
    if spec is None or spec.origin is None:
        return {}
    return {p.name: p for p in sorted(Path(spec.origin).parent.rglob("*.inp"))}


FILES = _files()
NAMES = [
    pytest.param(n, marks=pytest.mark.slow) if n in LARGE else n for n in FILES if n not in BAD
] or ["none"]


@cache
def _inp(path: Path) -> Inp:
    import wntr  # noqa: PLC0415 - an optional part

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return Inp(wntr.network.WaterNetworkModel(str(path)))


@pytest.fixture
def inp(request: pytest.FixtureRequest, require: Require) -> Inp:
    """Give the network of a file; large ones are read once."""
    require.module("wntr")
    return _inp(FILES[request.param])


networks = pytest.mark.parametrize("inp", NAMES, indirect=True)


def test_every_file_is_read_but_those_that_raise_on_purpose(require: Require) -> None:
    wntr = require.module("wntr")
    assert set(FILES) >= BAD | LARGE
    for name in sorted(BAD):
        with pytest.raises(Exception, match="Error"), warnings.catch_warnings():
            warnings.simplefilter("ignore")
            wntr.network.WaterNetworkModel(str(FILES[name]))


class Plumbing:
    """A network as a plain graph, made from WNTR's model.

    A link is one edge, or three where a pump or a closed valve stands in its middle: first half,
    device, second half. An isolator parts a link from its node. Keys are (link, part).
    """

    def __init__(self, inp: Inp, setting: Setting) -> None:
        self.inp = inp
        self.setting = setting
        self.graph: nx.MultiGraph[Node] = nx.MultiGraph()
        self.graph.add_nodes_from((n,) for n in inp.model.node_name_list)
        self.ends: dict[Key, tuple[Node, Node]] = {}
        self.parted: set[str] = set()
        shut = {(i.link, i.node) for i in setting.isolators}
        for name, link in inp.model.links():
            a, b = link.start_node_name, link.end_node_name
            start: Node = (name, "0") if (name, a) in shut else (a,)
            stop: Node = (name, "3") if (name, b) in shut else (b,)
            holds = self._holds(name, link)
            length = inp.lengths[name]
            if not holds and link.link_type != "Pump":
                self._edge((name, "first"), start, stop, length)
                continue
            self.parted.add(name)
            self._edge((name, "first"), start, (name, "1"), length / 2)
            self._edge((name, "second"), (name, "2"), stop, length / 2)
            if not holds:
                self._edge((name, "device"), (name, "1"), (name, "2"), 0.0)

    def _edge(self, key: Key, u: Node, v: Node, length: float) -> None:
        self.graph.add_edge(u, v, key=key, length=length)
        self.ends[key] = (u, v)

    def _holds(self, name: str, link: Any) -> bool:
        check = getattr(link, "check_valve", False)
        return link.link_type != "Pump" and not check and self.inp.is_shut(link)

    def terminals(self) -> set[Node]:
        model = self.inp.model
        taps = set(self.inp.draws()) - self.setting.locked
        return {(n,) for n in (*model.reservoir_name_list, *model.tank_name_list, *taps)}

    def threats(self) -> set[Node]:
        model = self.inp.model
        found: set[Node] = {(n,) for n in (*model.reservoir_name_list, *model.tank_name_list)}
        return found | {(n, k) for n, _ in model.pumps() for k in ("1", "2")}

    def key_of(self, piece: Piece) -> Key:
        """Find the edge that a piece of pipe is, or is a part of."""
        middle = (piece.start + piece.end) / 2
        second = piece.element in self.parted and middle > self.inp.lengths[piece.element] / 2
        return (piece.element, "second" if second else "first")

    def is_open(self, cut: set[Key]) -> bool:
        """Search from the work, and tell whether a source, tank or pump is reached."""
        threats = self.threats()
        seen: set[Node] = {(self.setting.work,)}
        rest = list(seen)
        while rest:
            node = rest.pop()
            if node in threats:
                return True
            for _, other, key in self.graph.edges(node, keys=True):
                if other not in seen and key not in cut:
                    seen.add(other)
                    rest.append(other)
        return False

    def can_flow(self, key: Key) -> bool:
        """Look for two ways to terminals, or to the two sides of a pump, that share no node."""
        u, v = self.ends[key]
        left = self.graph.copy()
        left.remove_edge(u, v, key=key)
        if _two_ways(left, (u, v), self.terminals()):
            return True
        if not nx.has_path(left, u, v):
            return False
        return any(self._loop_with(left, (u, v), pump) for pump in self._pumps_round(u))

    def _pumps_round(self, node: Node) -> list[Key]:
        """Give the pumps that two ways without a common edge join with a node: no others loop."""
        simple: nx.Graph[Node] = nx.Graph(self.graph)
        for a, b in cast("list[tuple[Node, Node]]", list(nx.bridges(simple))):
            if self.graph.number_of_edges(a, b) == 1:
                simple.remove_edge(a, b)
        near = nx.node_connected_component(simple, node)
        pumps: list[Key] = [(n, "device") for n, _ in self.inp.model.pumps()]
        return [p for p in pumps if p in self.ends and self.ends[p][0] in near]

    def _loop_with(self, left: nx.MultiGraph[Node], starts: tuple[Node, Node], pump: Key) -> bool:
        without = left.copy()
        without.remove_edge(*self.ends[pump], key=pump)
        return _two_ways(without, starts, set(self.ends[pump]))


def _two_ways(graph: nx.MultiGraph[Node], starts: tuple[Node, Node], stops: set[Node]) -> bool:
    """Tell whether two ways lead from two places to two of some places and share no node."""
    flow: nx.DiGraph[Any] = nx.DiGraph()
    for node in graph:
        flow.add_edge((node, "in"), (node, "out"), capacity=1)
    for a, b in graph.edges():
        flow.add_edge((a, "out"), (b, "in"), capacity=1)
        flow.add_edge((b, "out"), (a, "in"), capacity=1)
    flow.add_edges_from((("start", (s, "in")) for s in starts), capacity=1)
    flow.add_edges_from((((s, "out"), "stop") for s in stops), capacity=1)
    if "stop" not in flow:
        return False
    found = nx.algorithms.flow.edmonds_karp(flow, "start", "stop", cutoff=2)
    return found.graph["flow_value"] >= 2


def _sample(network: Network, seed: int, most: int) -> list[Piece]:
    pipes = [p for p in network.pieces if p.kind is PieceKind.PIPE and p.length > 0.0]
    return random.Random(seed).sample(pipes, min(most, len(pipes)))


def _node(network: Network, name: str) -> int:
    return network.junction_nodes[name][0]


@networks
def test_distances_agree_with_dijkstra(inp: Inp) -> None:
    setting = setting_of(inp, 1)
    network = build_network(inp.layout(setting))
    plumbing = Plumbing(inp, setting)
    world = World(network, Moment.FREEZING, Trust.BEST)
    names = inp.model.node_name_list
    for start in random.Random(1).sample(names, min(3, len(names))):
        field = world.metric.from_nodes(np.array([_node(network, start)]))
        expected = nx.single_source_dijkstra_path_length(plumbing.graph, (start,), weight="length")
        for name in names:
            found = field.distance[_node(network, name)]
            assert found == pytest.approx(expected.get((name,), math.inf), rel=1e-12, abs=CLOSE)


@networks
def test_what_can_flow_agrees_with_two_ways_that_share_no_node(inp: Inp) -> None:
    most = 3 if inp.model.num_links > 500 else 8
    for seed in (2, 3):
        setting = setting_of(inp, seed)
        network = build_network(inp.layout(setting))
        plumbing = Plumbing(inp, setting)
        world = World(network, Moment.FREEZING, Trust.BEST)
        for piece in _sample(network, seed, most):
            expected = plumbing.can_flow(plumbing.key_of(piece))
            assert world.flowing[piece.index] == expected, piece


@networks
def test_isolation_agrees_with_search(inp: Inp) -> None:
    outcomes = set()
    for seed in range(4, 7 if inp.model.num_links > 500 else 10):
        setting = setting_of(inp, seed)
        network = build_network(inp.layout(setting))
        plumbing = Plumbing(inp, setting)
        world = World(network, Moment.WORKING, Trust.PROVEN)
        plugged = sorted({network.spot(p, s).piece for p, s in setting.plugs})
        cut = {plumbing.key_of(network.pieces[i]) for i in plugged}
        work = list(network.work[0].nodes)
        opened = bool(ways_in(world, plugged, work))
        outcomes.add(opened)
        assert opened == plumbing.is_open(cut)
        deciding = deciding_pieces(world, plugged)
        near = [network.pieces[i] for i in np.flatnonzero(deciding)[:5]]
        for piece in (*_sample(network, seed, 8), *near):
            more = {*cut, plumbing.key_of(piece)}
            assert deciding[piece.index] != plumbing.is_open(more), piece


def _layer(inp: Inp, seed: int, share: int) -> Any:
    """Draw a random valve layer, as WNTR makes one: (link, node) pairs."""
    import wntr  # noqa: PLC0415 - an optional part

    count = max(1, (2 * inp.model.num_pipes) // share)
    # WNTR's own generator draws with numpy's global state; the seed makes it the same each time.
    layer = wntr.network.generate_valve_layer(inp.model, "random", count, seed=seed)
    return layer.drop_duplicates(ignore_index=True)


@networks
def test_parts_agree_with_the_valve_segments_of_wntr(inp: Inp) -> None:
    from wntr.metrics.topographic import valve_segments  # noqa: PLC0415 - an optional part

    layer = _layer(inp, 11, 4)
    of_node, of_link, _ = valve_segments(inp.model.to_graph(), layer)
    isolators = tuple(Isolator(str(r.link), str(r.node)) for r in layer.itertuples())
    # WNTR's segments know no other valves: the network's own stand open.
    network = build_network(inp.layout(Setting(isolators=isolators, own="open")))
    parts = World(network, Moment.WORKING, Trust.PROVEN).parts()
    ours: dict[int, set[int]] = defaultdict(set)
    theirs: dict[int, set[int]] = defaultdict(set)
    pairs = [(int(of_node[n]), int(parts[_node(network, n)])) for n in inp.model.node_name_list]
    for link in inp.model.link_name_list:
        inner = max((network.pieces[i] for i in network.pieces_of[link]), key=lambda p: p.length)
        pairs.append((int(of_link[link]), int(parts[inner.u])))
    for segment, part in pairs:
        ours[segment].add(part)
        theirs[part].add(segment)
    assert all(len(parts) == 1 for parts in ours.values())
    assert all(len(segments) == 1 for segments in theirs.values())


# Rules that depend on distance alone; the others ask for figures that an EPANET file lacks.
MEASURED = (
    "no-flow-at-plug",
    "flowing-line-setback",
    "closed-valve-setback",
    "closed-end-setback",
    "plug-spacing",
    "straight-run",
)
GOOD = {Outcome.HOLDS, Outcome.DOES_NOT_APPLY}


def _case(inp: Inp, seed: int) -> Case:
    layer = _layer(inp, seed, 6)
    isolators = tuple(Isolator(str(r.link), str(r.node)) for r in layer.itertuples())
    return Case.of(inp.layout(setting_of(inp, seed, isolators=isolators)), default_pack())


@networks
def test_what_rules_allow_agrees_with_what_they_judge(inp: Inp) -> None:
    case = _case(inp, 12)
    network, plug = case.network, case.plugs[0]
    placing = place_plug(case, plug)
    allowed = {name: placing_rules()[name].allows(case, plug) for name in MEASURED}
    draw = random.Random(12)
    for piece in _sample(network, 12, 12):
        for offset in (piece.length * draw.random() for _ in range(4)):
            spot = Spot(piece.index, offset)
            moved = case.moved(plug, spot)
            for name in MEASURED:
                rule = placing_rules()[name]
                if name == "plug-spacing" and len(case.plugs) < 2:
                    continue
                good = rule.judge_plug(moved, moved.plug(plug.id)).outcome in GOOD
                inside = any(a <= offset <= b for a, b in allowed[name].of(piece.index))
                assert good == inside, (name, spot)
    if placing.nearest is None:
        return
    there = case.moved(plug, placing.nearest.spot)
    for name in MEASURED:
        if name != "plug-spacing" or len(case.plugs) > 1:
            judged = placing_rules()[name].judge_plug(there, there.plug(plug.id))
            assert judged.outcome in GOOD
