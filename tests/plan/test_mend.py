"""Joint mending against a grid of every combination of places, on small random sites."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import product
from pathlib import Path
from typing import Any

import networkx as nx
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from layoutcheck.document import parse_layout
from layoutcheck.document.faults import LayoutFaults
from layoutcheck.network import Spot
from layoutcheck.network.model import PieceKind
from layoutcheck.placement.keeping import BUCKET
from layoutcheck.planning.combinations import is_isolated
from layoutcheck.planning.elements import Kind
from layoutcheck.planning.mend import MendStatus, mend
from layoutcheck.planning.rating import Scales
from layoutcheck.report.mending import is_well_placed
from layoutcheck.report.mending_words import why
from layoutcheck.report.run import check
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.registry import default_pack
from tests.plan.small_sites import small_sites
from tests.sizes import some

PACK = default_pack()
GRID = 13
FIXTURES = Path(__file__).parents[2] / "fixtures"


@st.composite
def marked_sites(draw: st.DrawFn) -> dict[str, Any]:
    """Draw a small site with one or two marks, wherever they fall."""
    site = draw(small_sites())
    pipes = st.sampled_from([p["id"] for p in site["pipes"]])
    stations = st.sampled_from(["6 in", "18 in", "3 ft"])
    count = draw(st.integers(1, 2))
    plugs = [
        {"id": f"M{n}", "pipe": draw(pipes), "station": draw(stations), "jacket": "12 in"}
        for n in range(count)
    ]
    return site | {"plugs": plugs}


def _case(site: dict[str, Any]) -> Case:
    try:
        return Case.of(parse_layout(site), PACK)
    except LayoutFaults:
        assume(False)
        raise


def _moved(case: Case, spots: tuple[Spot, ...]) -> Case:
    for plug, spot in zip(case.plugs, spots, strict=True):
        case = case.moved(plug, spot)
    return case


def _passes(case: Case) -> bool:
    """Ask every rule of place for each plug, and whether the set isolates the work."""
    if not is_isolated(case, frozenset(p.spot.piece for p in case.plugs)):
        return False
    return all(is_well_placed(case, p) for p in case.plugs)


def _travel(case: Case, plug: PlacedPlug, spot: Spot) -> float:
    return case.worlds.along(plug.spot).at(case.network, spot)


def _grid(case: Case) -> list[Spot]:
    spots = []
    for piece in case.network.pieces:
        if piece.kind is PieceKind.PIPE:
            spots += [Spot(piece.index, piece.length * k / (GRID - 1)) for k in range(GRID)]
    return spots


def _runs(case: Case) -> dict[int, int]:
    """Number the runs of pipe: pieces that meet where nothing interrupts them."""
    graph: nx.Graph[Any] = nx.Graph()
    for piece in case.network.pieces:
        if piece.kind is PieceKind.PIPE:
            graph.add_node(piece.index)
            for node in {piece.u, piece.v} - set(case.network.interruptions):
                graph.add_edge(piece.index, ("node", node))
    parts = enumerate(nx.connected_components(graph))
    return {n: k for k, part in parts for n in part if isinstance(n, int)}


@pytest.mark.slow
@settings(max_examples=some(30), suppress_health_check=list(HealthCheck))
@given(marked_sites())
def test_no_combination_of_places_costs_less(site: dict[str, Any]) -> None:
    case = _case(site)
    assume(len(case.network.pieces) <= 9)
    found = mend(case)
    assume(found.alone.exact)
    scales, runs = Scales(case), _runs(case)
    alone = {p.id: [s for s in _grid(case) if _fits_alone(case, p, s)] for p in case.plugs}
    for spots in product(*alone.values()):
        travel = sum(_travel(case, p, s) for p, s in zip(case.plugs, spots, strict=True))
        corners = sum(
            runs[p.spot.piece] != runs[s.piece] for p, s in zip(case.plugs, spots, strict=True)
        )
        moved = _moved(case, spots)
        # A micrometre: what the linear programme and the rules' own tolerance leave open.
        cost = (scales.over(scales.burden(moved)), corners, travel + 2e-6)
        if found.alone.moves is None or cost < found.alone.cost:
            assert not _passes(moved), (spots, cost, found.alone.cost)
    if found.status is MendStatus.ADDITION and found.alone.moves is not None and found.done:
        assert found.used.cost[:2] <= found.alone.cost[:2]


def _fits_alone(case: Case, plug: PlacedPlug, spot: Spot) -> bool:
    one = replace(case, plugs=(plug,)).moved(plug, spot)
    return is_well_placed(one, one.plugs[0])


@settings(max_examples=some(40), suppress_health_check=list(HealthCheck))
@given(marked_sites())
def test_what_is_proposed_passes_as_its_document(site: dict[str, Any]) -> None:
    # What is done is stated as done, with the proof that must be made first, as in a plan.
    report = check(_case(site).layout).mending
    assume(report is not None and report.document is not None)
    assert report is not None
    case = _case(report.document or {})
    assert _passes(case)
    assert {m.plug for m in report.moves} == {p.id for p in case.plugs}
    for move in report.moves:
        plug = case.plug(move.plug)
        assert plug.pipe == move.pipe
        assert plug.jacket == pytest.approx(move.jacket.value, abs=1e-8)
        assert case.network.pipes[plug.pipe].size.text == move.size
        assert plug.coolant == move.coolant
    again = mend(case)
    assert again.status is MendStatus.MOVES or again.done
    # A reading lies up to a sixteenth of an inch from the nearest place, inside the stretch.
    assert again.travel == pytest.approx(0.0, abs=5e-6)


def test_a_valve_is_proven_before_a_plug_goes_round_a_corner() -> None:
    # The first example of the README. With the marks 0.24 L drain; by moves alone 866 L would, and
    # both boilers would be cut off from the vessel. The branch valve is there to be proven, the
    # drain cock to be manned; then F1 moves 12 in (3 ft + 6 in from the flowing tee) and F2 4 in
    # (6 in of jacket + 6 in of margin from the valve's face, at 40 in: 52 in).
    site = json.loads((FIXTURES / "heating-riser-sketch.json").read_text())
    case = Case.of(parse_layout(site), PACK)
    found = mend(case)
    assert {(e.kind, e.id) for e in found.done} == {
        (Kind.PROVE, "V-SHOP-R"),
        (Kind.BLEED_OUTLET, "DC-R"),
    }
    travel = {m.plug.id: m.travel for m in found.moves}
    assert travel == pytest.approx({"F1": 12 * 0.0254, "F2": 4 * 0.0254}, abs=2e-6)
    assert found.exact
    assert found.without.drained > 100 * found.after.drained
    assert {"heater B1", "heater B2"} <= found.without.lost - found.before.lost


@pytest.mark.parametrize("path", sorted(FIXTURES.glob("*-sketch.json")), ids=lambda p: p.stem)
def test_no_sketch_drains_more_unless_it_is_said(path: Path) -> None:
    case = Case.of(parse_layout(json.loads(path.read_text())), PACK)
    found = mend(case)
    assert found.after.lost <= found.before.lost
    more = found.after.drained - found.before.drained
    assert more <= 1e-6 or any("drain" in line for line in why(found, case.layout.units))
    assert more <= BUCKET
