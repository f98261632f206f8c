"""What is found by looking near a plug alone, against the slow way over the whole site.

The oracles: distances by the full spreading (itself held to networkx in test_network_oracles),
ways in by the plain walk, crowded stretches by every pair of piece and obstruction, a check of a
moved plug by a case made afresh. All sites are invented (strategies.py).
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layoutcheck.document.models import Moment
from layoutcheck.document.paths import Positions
from layoutcheck.document.read import parse_layout
from layoutcheck.network import Network, Spot, Trust, World, build_network, clearance
from layoutcheck.network.apart import Apart
from layoutcheck.network.cut import ways_in
from layoutcheck.network.model import PieceKind
from layoutcheck.network.region import Regions
from layoutcheck.placement import place_plug
from layoutcheck.placement.told import _cut_up, _merged
from layoutcheck.report.run import Recheck, glance
from layoutcheck.rules.case import Case
from layoutcheck.rules.judge import judge_case
from layoutcheck.rules.registry import default_pack
from tests.bench.campus import campus
from tests.oracles.strategies import STEP, Document, documents
from tests.sizes import some

# Rounding in sums of whole steps.
CLOSE = 1e-9


def _spot(network: Network, data: st.DataObject) -> Spot:
    pipes = np.flatnonzero(network.kind == PieceKind.PIPE).tolist()
    piece = data.draw(st.sampled_from(pipes))
    share = data.draw(st.sampled_from([0.0, 0.25, 0.5, 1.0]))
    return Spot(piece, share * float(network.length[piece]))


def _world(document: Document, data: st.DataObject) -> World:
    network = build_network(parse_layout(document))
    moment = data.draw(st.sampled_from(Moment))
    return World(network, moment, data.draw(st.sampled_from(Trust)))


@settings(max_examples=some(150))
@given(documents(junctions=10, extra=6), st.data())
def test_what_lies_near_is_what_the_full_spreading_says(
    document: Document, data: st.DataObject
) -> None:
    world = _world(document, data)
    spot = _spot(world.network, data)
    within = data.draw(st.sampled_from([0.0, STEP, 5 * STEP, 20 * STEP, np.inf]))
    near = world.metric.near(spot, within)
    full = world.metric.from_spot(spot).distance
    assert near == {n: d for n, d in enumerate(full.tolist()) if d <= within and np.isfinite(d)}
    asked = np.arange(world.network.node_count).reshape(1, -1)
    assert near.to(asked).tolist() == [[near.get(n, np.inf) for n in asked[0].tolist()]]


@settings(max_examples=some(150))
@given(documents(junctions=10, extra=6), st.data())
def test_one_spreading_from_many_seeds_is_the_least_of_many(
    document: Document, data: st.DataObject
) -> None:
    world = _world(document, data)
    count = world.network.node_count
    chosen = data.draw(st.sets(st.integers(0, count - 1), max_size=4))
    seeds = np.full(count, np.inf)
    expected = np.full(count, np.inf)
    for node in sorted(chosen):
        seeds[node] = STEP * data.draw(st.integers(0, 8))
        alone = world.metric.from_nodes(np.array([node])).distance
        expected = np.minimum(expected, seeds[node] + alone)
        if seeds[node] == 0.0:
            seeds[node] = data.draw(st.sampled_from([0.0, -2e-16, -1e-12]), label="rounded")
    assert world.metric.from_seeds(seeds) == pytest.approx(expected, abs=CLOSE)
    within = 10 * STEP
    short = world.metric.from_seeds(seeds, within=within)
    sure = expected < within - CLOSE
    assert short[sure] == pytest.approx(expected[sure], abs=CLOSE)
    assert (short[~sure] >= within - CLOSE).all()


@settings(max_examples=some(200))
@given(documents(junctions=12, extra=8), st.data())
def test_how_far_spots_lie_apart_is_what_the_full_spreading_says(
    document: Document, data: st.DataObject
) -> None:
    world = _world(document, data)
    network, metric = world.network, world.metric
    spots = [_spot(network, data) for _ in range(data.draw(st.integers(1, 4)))]
    apart = Apart(metric)
    for one in spots:
        field = metric.from_spot(one)
        for two in spots:
            expected = field.at(network, two)
            assert apart.between(one, two) == pytest.approx(expected, abs=CLOSE)
            if np.isfinite(expected):
                way = apart.way(one, two)
                assert _length_of(world, one, two, way) == pytest.approx(expected, abs=CLOSE)


def _length_of(world: World, one: Spot, two: Spot, way: list[int]) -> float:
    """Add up the shortest connecting pieces from node to node, and the rests at both ends."""
    if not way:
        return abs(one.offset - two.offset)
    network = world.network
    total = _gap(network, one, way[0]) + _gap(network, two, way[-1])
    for step in pairwise(way):
        pieces = [p for p in network.pieces if {p.u, p.v} == set(step) and world.connects[p.index]]
        total += min(p.length for p in pieces)
    return total


def _gap(network: Network, spot: Spot, node: int) -> float:
    piece = network.pieces[spot.piece]
    gaps = [spot.offset] * (piece.u == node) + [piece.length - spot.offset] * (piece.v == node)
    return min(gaps)


@settings(max_examples=some(150))
@given(documents(junctions=10, extra=6), st.data())
def test_ways_in_are_those_of_the_plain_walk_whatever_was_asked_before(
    document: Document, data: st.DataObject
) -> None:
    network = build_network(parse_layout(document))
    world = World(network, Moment.WORKING, data.draw(st.sampled_from(Trust)))
    regions = Regions(world)
    pieces = st.sets(st.integers(0, len(network.pieces) - 1), max_size=4)
    for _ in range(4):
        plugged = data.draw(pieces)
        for place in network.work:
            expected = ways_in(world, plugged, place.nodes)
            assert list(regions.ways_in(plugged, place.nodes)) == expected


@pytest.mark.parametrize("seed", range(3))
def test_crowded_stretches_are_those_of_every_pair(seed: int) -> None:
    network = build_network(parse_layout(campus(120, 2, seed)))
    found = clearance.crowded_stretches(network, 0.6)
    assert found == _every_pair(network, 0.6)
    assert found


@pytest.mark.parametrize("heights", ["far above", "no top", "no bottom"])
def test_crowded_stretches_are_those_of_every_pair_at_any_height(heights: str) -> None:
    """Pipe of no length, and pipe whose height is not known, is held against all there is."""
    document = campus(120, 2)
    for item in document["site"]["obstructions"]:
        if heights == "far above":
            item |= {"bottom": "900 m", "top": "901 m"}
        else:
            del item[heights.removeprefix("no ")]
    on_pipes = ("valves", "pumps", "equipment", "plugs")
    busy = {item.get("pipe") for key in on_pipes for item in document[key]}
    height = {junction["id"]: junction["elevation"] for junction in document["junctions"]}
    level = [p for p in document["pipes"] if height[p["from"]] == height[p["to"]]]
    flat = [p for p in level if p["id"] not in busy][::3]
    x, y = next(j["at"] for j in document["junctions"] if j["id"] == flat[0]["from"])
    box = document["site"]["obstructions"][0] | {"id": "BOX"}
    box["outline"] = [[x - 1, y - 1], [x + 1, y - 1], [x + 1, y + 1], [x - 1, y + 1]]
    document["site"]["obstructions"].append(box)
    ends = {flat[0]["from"], flat[0]["to"]}
    for junction in [j for j in document["junctions"] if j["id"] not in ends][::7]:
        junction.pop("elevation")
    # Pipes without a length, which the drawing to scale would contradict.
    short, layout = {p["id"] for p in flat}, parse_layout(document)
    pipes = [p.model_copy(update={"length": 0.0}) if p.id in short else p for p in layout.pipes]
    network = build_network(layout.model_copy(update={"pipes": tuple(pipes)}))
    found = clearance.crowded_stretches(network, 0.6)
    assert found == _every_pair(network, 0.6)
    assert found


def _every_pair(network: Network, free_space: float) -> list[clearance.Crowded]:
    layout, positions = network.layout, Positions(network.layout)
    scale = layout.drawing.scale or 1.0
    found = []
    for piece in network.pieces:
        path = None
        if piece.kind is PieceKind.PIPE:
            path = positions.path(network.pipes[piece.element])
        if path is None:
            continue
        reach = network.dimensions[piece.element].outside_diameter / 2 + free_space
        for item in layout.site.obstructions:
            zone = clearance._zone(item, scale, reach)
            for span in clearance._inside(network, piece.index, path, zone):
                part = clearance._at_height(network, piece.index, span, item, reach)
                if part is not None:
                    found.append(clearance.Crowded(piece.index, *part, item.id))
    return found


@settings(max_examples=some(40))
@given(documents(plugs=(1, 3)))
def test_what_is_shut_out_is_what_cutting_up_every_piece_says(document: Document) -> None:
    case = Case.of(parse_layout(document), default_pack())
    for plug in case.plugs:
        placing = place_plug(case, plug)
        ground = placing.allowed
        rows = [row for place in range(len(ground.pieces)) for row in _cut_up(ground, place)]
        rows.sort(key=lambda r: (r.pipe, r.start, r.end))
        assert placing.shut_out == _merged(rows)


@settings(max_examples=some(30))
@given(documents(plugs=(1, 4)), st.data())
def test_a_moved_plug_is_checked_as_if_afresh(document: Document, data: st.DataObject) -> None:
    layout = parse_layout(document)
    case = Case.of(layout, default_pack())
    _everything(case)
    for _ in range(3):
        plug = data.draw(st.sampled_from(case.plugs))
        case = case.moved(plug, _spot(case.network, data))
        fresh = replace(Case.of(layout, default_pack()), plugs=case.plugs)
        assert _everything(case) == _everything(fresh)


def _everything(case: Case) -> list[Any]:
    placings = [place_plug(case, plug) for plug in case.plugs]
    return [judge_case(case), [(p, p.clear, p.shut_out) for p in placings]]


@settings(max_examples=some(20))
@given(documents(plugs=(1, 3)), st.data())
def test_a_site_checked_again_gives_the_bytes_of_a_fresh_check(
    document: Document, data: st.DataObject
) -> None:
    layout = parse_layout(document)
    site = Recheck(layout)
    lengths = build_network(layout).pipe_length
    for _ in range(3):
        plugs = []
        for plug in layout.plugs:
            pipe = data.draw(st.sampled_from(sorted(lengths)))
            station = lengths[pipe] * data.draw(st.sampled_from([0.0, 0.25, 0.5, 1.0]))
            plugs.append(plug.model_copy(update={"pipe": pipe, "station": station, "point": None}))
        fresh = layout.model_copy(update={"plugs": tuple(plugs)})
        assert site.glance(plugs).to_json() == glance(fresh).to_json()


def test_a_plug_off_the_site_is_refused() -> None:
    layout = parse_layout(campus(120, 2))
    stray = layout.plugs[0].model_copy(update={"pipe": "NOWHERE", "station": 1.0, "point": None})
    with pytest.raises(ValueError, match="stands on no pipe"):
        Recheck(layout).check([stray])
