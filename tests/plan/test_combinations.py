"""The search for the combination of least travel against going through every one of them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, permutations, product
from typing import Any
from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from layoutcheck.document import parse_layout
from layoutcheck.document.faults import LayoutFaults
from layoutcheck.network import Trust
from layoutcheck.network.model import PieceKind
from layoutcheck.planning.combinations import Combinations, Option, is_isolated
from layoutcheck.planning.stations import Seat, spacing
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.registry import default_pack
from tests.plan.small_sites import small_sites
from tests.sizes import some

PACK = default_pack()
# Rules and programmes keep a distance to within a micrometre; so many of them may add up.
NEAR = 1e-5


@dataclass(frozen=True)
class Drawn:
    """Plugs on a small site, where each may go, and pieces on which one does not settle."""

    case: Case
    plugs: tuple[PlacedPlug, ...]
    options: list[list[Option]]
    unsettled: frozenset[tuple[str, int]]


@st.composite
def searches(draw: st.DrawFn) -> Drawn:
    """Draw a site and, freely, some intervals on it for each of up to four plugs."""
    site: dict[str, Any] = draw(small_sites())
    names = [f"M{n}" for n in range(draw(st.integers(1, 4)))]
    first = site["pipes"][0]["id"]
    plugs = [{"id": n, "pipe": first, "station": "1 ft", "jacket": "4 in"} for n in names]
    try:
        case = Case.of(parse_layout(site | {"plugs": plugs}), PACK)
    except LayoutFaults:
        assume(False)
        raise
    pipes = [p.index for p in case.network.pieces if p.kind is PieceKind.PIPE and p.length > 0.01]
    assume(pipes)
    options = [sorted(draw(_options(case, pipes)), key=lambda o: o.least) for _ in names]
    unsettled = draw(st.frozensets(st.tuples(st.sampled_from(names), st.sampled_from(pipes))))
    return Drawn(case, case.plugs, options, unsettled if draw(st.booleans()) else frozenset())


@st.composite
def _options(draw: st.DrawFn, case: Case, pipes: list[int]) -> list[Option]:
    found = []
    for piece in draw(st.lists(st.sampled_from(pipes), min_size=1, max_size=3)):
        length = case.network.pieces[piece].length
        ends = sorted(draw(st.tuples(*[st.sampled_from([0.0, 0.25, 0.5, 1.0])] * 2)))
        seat = Seat(piece, (ends[0] * length, ends[1] * length), reach=0.05, inches=1.0)
        slope = draw(st.sampled_from([-1.0, 1.0]))
        # The travel is never below nought, as in what the search is given.
        base = length * (slope < 0.0) + draw(st.sampled_from([0.0, 0.4, 0.4, 1.1, 2.5]))
        found.append(Option(seat, base, slope))
    return found


def plain_best(drawn: Drawn) -> float:
    """Go through every combination; the least travel (m), infinite if none does."""
    return min((_travel(drawn, chosen) for chosen in product(*drawn.options)), default=math.inf)


def _travel(drawn: Drawn, chosen: Sequence[Option]) -> float:
    pieces = frozenset(o.seat.piece for o in chosen)
    if not is_isolated(drawn.case, pieces):
        return math.inf
    pairs = zip(drawn.plugs, chosen, strict=True)
    if any((p.id, o.seat.piece) in drawn.unsettled for p, o in pairs):
        return math.inf
    return min(_least(chosen, rows) for rows in _all_rows(drawn.case, chosen))


def _all_rows(case: Case, chosen: Sequence[Option]) -> Iterator[list[tuple[np.ndarray, float]]]:
    """Write every inequality between every two plugs, in each order that all may stand in."""
    count, metric = len(chosen), case.worlds.freezing(Trust.PROVEN).metric
    for order in permutations(range(count)):
        rows = []
        for a, b in combinations(range(count), 2):
            i, j = order[a], order[b]
            one, two = chosen[i].seat, chosen[j].seat
            need = spacing(case, one, two)
            unit_i, unit_j = np.eye(count)[i], np.eye(count)[j]
            if one.piece == two.piece:
                rows.append((unit_j - unit_i, need))
            piece, other = case.network.pieces[one.piece], case.network.pieces[two.piece]
            for node, sign, start in ((piece.u, 1.0, 0.0), (piece.v, -1.0, piece.length)):
                distance = metric.from_nodes(np.array([node])).distance
                for end, turn, begin in ((other.u, 1.0, 0.0), (other.v, -1.0, other.length)):
                    direct = one.piece == two.piece and sign == turn
                    if math.isfinite(distance[end]) and not direct:
                        way = start + begin + float(distance[end])
                        rows.append((sign * unit_i + turn * unit_j, need - way))
        yield rows


def _least(chosen: Sequence[Option], rows: list[tuple[np.ndarray, float]]) -> float:
    matrix = np.array([-factors for factors, _ in rows]).reshape(len(rows), len(chosen))
    bound = np.array([-least + 5e-7 for _, least in rows])
    limits = [o.seat.interval for o in chosen]
    found = linprog([o.slope for o in chosen], A_ub=matrix, b_ub=bound, bounds=limits)
    if found.status != 0 or found.fun is None:
        return math.inf
    return math.fsum(o.base for o in chosen) + float(found.fun)


def _search(drawn: Drawn) -> Combinations:
    return Combinations(drawn.case, drawn.plugs, drawn.options)


def _settled(drawn: Drawn) -> Any:
    def answer(own: Combinations, number: int, seat: Seat) -> Seat | None:
        return None if (own.plugs[number].id, seat.piece) in drawn.unsettled else seat

    return patch.object(Combinations, "_settle", answer)


@settings(max_examples=some(100), suppress_health_check=list(HealthCheck))
@given(searches())
def test_no_combination_has_less_travel_than_the_one_found(drawn: Drawn) -> None:
    with _settled(drawn):
        found = _search(drawn).best()
    assert found.exact
    best = plain_best(drawn)
    if not math.isfinite(best):
        assert found.moves is None
        return
    assert found.travel == pytest.approx(best, abs=NEAR)


@settings(max_examples=some(30), suppress_health_check=list(HealthCheck))
@given(searches())
def test_plugs_that_are_moved_stand_apart_and_isolate(drawn: Drawn) -> None:
    with _settled(drawn):
        found = _search(drawn).best()
    assume(found.moves is not None)
    moved = [m.plug for m in found.moves or ()]
    assert is_isolated(drawn.case, frozenset(p.spot.piece for p in moved))
    metric = drawn.case.worlds.freezing(Trust.PROVEN).metric
    for one, two in combinations(moved, 2):
        apart = metric.from_spot(one.spot).at(drawn.case.network, two.spot)
        ends = [Seat(p.spot.piece, (0.0, 0.0), 0.05, 1.0) for p in (one, two)]
        assert apart >= spacing(drawn.case, *ends) - NEAR


def _twelve_apart() -> Case:
    numbers = range(12)
    pipe = {"size": "NPS 1", "material": "copper", "wall": "type L", "length": "100 ft"}
    site = {
        "format": "layoutcheck layout 1",
        "name": "twelve pipes that do not meet (invented)",
        "units": "imperial",
        "junctions": [{"id": f"{end}{n}", "elevation": "3 ft"} for n in numbers for end in "AB"],
        "pipes": [{"id": f"P{n}", "from": f"A{n}", "to": f"B{n}"} | pipe for n in numbers],
        "plugs": [
            {"id": f"M{n:02}", "pipe": f"P{n}", "station": "9 ft", "jacket": "4 in"}
            for n in numbers
        ],
    }
    return Case.of(parse_layout(site), PACK)


def test_a_plug_that_has_no_place_is_found_out_in_as_many_tries_as_it_has_options() -> None:
    # All combinations of four options would be 4**12, sixteen million; each of six plugs alone
    # rules them all out.
    case = _twelve_apart()
    options = [
        [
            Option(Seat(p.spot.piece, (2.0, 3.0), 0.05, 1.0), away - 2.0, 1.0)
            for away in (0.0, 0.1, 0.2, 0.3)
        ]
        for p in case.plugs
    ]
    never = frozenset((p.id, p.spot.piece) for p in case.plugs[:6])
    drawn = Drawn(case, case.plugs, options, never)
    with _settled(drawn), patch("layoutcheck.planning.combinations.MOST_TRIES", 4):
        found = _search(drawn).best()
    assert found.exact
    assert found.moves is None
