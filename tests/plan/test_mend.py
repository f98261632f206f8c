"""Joint mending against a grid of every combination of places, on small random sites."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from layoutcheck.document import parse_layout
from layoutcheck.document.faults import LayoutFaults
from layoutcheck.network import Spot
from layoutcheck.network.model import PieceKind
from layoutcheck.plan.combinations import is_isolated
from layoutcheck.plan.mend import MendStatus, mend
from layoutcheck.report.mending import is_well_placed
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.registry import default_pack
from tests.plan.small_sites import small_sites

PACK = default_pack()
GRID = 13


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


@pytest.mark.slow
@settings(max_examples=30, suppress_health_check=list(HealthCheck))
@given(marked_sites())
def test_no_combination_of_places_needs_less_travel(site: dict[str, Any]) -> None:
    case = _case(site)
    assume(len(case.network.pieces) <= 9)
    found = mend(case)
    assert found.exact
    best = found.travel if found.status is MendStatus.MOVES else float("inf")
    alone = {p.id: [s for s in _grid(case) if _fits_alone(case, p, s)] for p in case.plugs}
    for spots in product(*alone.values()):
        travel = sum(_travel(case, p, s) for p, s in zip(case.plugs, spots, strict=True))
        # A micrometre: what the linear programme and the rules' own tolerance leave open.
        if travel < best - 2e-6:
            assert not _passes(_moved(case, spots)), (spots, travel, best)


def _fits_alone(case: Case, plug: PlacedPlug, spot: Spot) -> bool:
    one = replace(case, plugs=(plug,)).moved(plug, spot)
    return is_well_placed(one, one.plugs[0])


@settings(max_examples=40, suppress_health_check=list(HealthCheck))
@given(marked_sites())
def test_what_is_proposed_passes_and_mending_it_again_moves_nothing(site: dict[str, Any]) -> None:
    case = _case(site)
    found = mend(case)
    assume(found.status is MendStatus.MOVES)
    moved = _moved(case, tuple(m.plug.spot for m in sorted(found.moves, key=lambda m: m.plug.id)))
    assert _passes(moved)
    again = mend(moved)
    assert again.status is MendStatus.MOVES
    # The rules' own tolerance is a micrometre a rule.
    assert again.travel == pytest.approx(0.0, abs=5e-6)
    assert sum(m.travel for m in found.moves) == pytest.approx(
        sum(_travel(case, case.plug(m.plug.id), m.plug.spot) for m in found.moves), abs=1e-9
    )
