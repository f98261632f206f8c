"""What lies under a jacket, walked step by step on a graph made from the document alone.

A step of pipe is under a jacket when its nearer end lies less than half the jacket from the centre,
by the shortest way along all pipe, whatever the valves do. Half a jacket is a whole number of
steps here, so a step is under it wholly or not at all.
"""

from __future__ import annotations

import math

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from layoutcheck.document.read import parse_layout
from layoutcheck.network import Spot
from layoutcheck.network.jacket import wholly_on
from layoutcheck.network.model import PieceKind
from layoutcheck.network.stretches import Interval, Stretches
from layoutcheck.rules.base import PlacingRule
from layoutcheck.rules.case import Case
from layoutcheck.rules.outcome import Outcome
from layoutcheck.rules.registry import all_rules, default_pack
from tests.oracles.plain import Plain
from tests.oracles.strategies import STEP, Document, documents, steps
from tests.sizes import some


def _under(fine: Plain, plug: Document) -> set[int]:
    """Give the edges of the fine graph under a jacket."""
    everything = {k for _, _, k in fine.edges}
    centre = fine.at(plug["pipe"], steps(plug["station"]))
    far = fine.distances({centre}, everything)
    half = steps(plug["jacket"]) / 2
    return {k for a, b, k in fine.edges if min(far.get(a, math.inf), far.get(b, math.inf)) < half}


def _of(plain: Plain, key: int) -> tuple[str, str]:
    a, b, _ = plain.edges[key]
    data = plain.graph.get_edge_data(a, b, key)
    return data["kind"], data["element"]


def _flows_under(document: Document, plug: Document, trust: str, case: Case) -> bool:
    """Tell whether something flows under a jacket: while freezing, or at work beside the ice."""
    fine, coarse = Plain(document, fine=True), Plain(document, fine=False)
    ice = {coarse.piece_of(case, p) for p in case.plugs}
    for flowing in (coarse.flowing("freezing", trust), coarse.flowing("working", trust, ice)):
        if _any_under(document, plug, fine, coarse, flowing):
            return True
    return False


def _any_under(
    document: Document, plug: Document, fine: Plain, coarse: Plain, flowing: set[int]
) -> bool:
    stretches = [span for span, key in coarse.cells.items() if key in flowing]
    bodies = {_of(coarse, key) for key in flowing} - {("pipe", p["id"]) for p in document["pipes"]}
    under = _under(fine, plug)
    for (pipe, a, b), key in fine.cells.items():
        if key in under and any(p == pipe and low <= a and b <= high for p, low, high in stretches):
            return True
    return any(_of(fine, key) in bodies for key in under)


@settings(max_examples=some(150))
@given(documents(plugs=(1, 2)))
def test_nothing_flows_under_the_whole_jacket(document: Document) -> None:
    case = Case.of(parse_layout(document), default_pack())
    rule = all_rules()["no-flow-at-plug"]
    assert isinstance(rule, PlacingRule)
    for row in document["plugs"]:
        found = rule.judge_plug(case, case.plug(row["id"])).outcome
        if _flows_under(document, row, "best", case):
            assert found is Outcome.BROKEN
        elif _flows_under(document, row, "proven", case):
            assert found is Outcome.UNDECIDED
        else:
            assert found is Outcome.HOLDS


@settings(max_examples=some(100))
@given(documents(plugs=(1, 1)))
def test_a_rule_allows_exactly_where_it_holds(document: Document) -> None:
    """On every piece, each quarter of a step that is no whole half: there no limit can lie."""
    case = Case.of(parse_layout(document), default_pack())
    (plug,) = case.plugs
    for name in (
        "no-flow-at-plug",
        "flowing-line-setback",
        "straight-run",
        "closed-valve-setback",
    ):
        rule = all_rules()[name]
        assert isinstance(rule, PlacingRule)
        allowed = rule.allows(case, plug)
        for piece in case.network.pieces:
            if piece.kind is not PieceKind.PIPE:
                continue
            quarter = STEP / 4
            first = math.ceil(piece.start / quarter) | 1
            offsets = np.arange(first, piece.end / quarter, 2) * quarter - piece.start
            for offset in offsets.tolist():
                moved = case.moved(plug, Spot(piece.index, offset))
                holds = rule.judge_plug(moved, moved.plug(plug.id)).outcome is Outcome.HOLDS
                inside = any(a <= offset <= b for a, b in allowed.of(piece.index))
                assert inside == holds, (name, piece, offset)


@settings(max_examples=some(60))
@given(documents(plugs=(0, 0)), st.data())
def test_wholly_on_keeps_half_a_jacket_from_every_forbidden_point(
    document: Document, data: st.DataObject
) -> None:
    """Points a quarter step off every whole step, and forbidden ones that lie as far inside."""
    case = Case.of(parse_layout(document), default_pack())
    network, all_pipe = case.network, case.worlds.all_pipe
    half = data.draw(st.sampled_from([1, 2, 3])) * STEP / 2
    free = {
        piece.index: data.draw(_intervals(round(piece.length / STEP)), label=str(piece.index))
        for piece in network.pieces
    }
    low = np.array([s[0][0] if s else np.inf for s in free.values()])
    high = np.array([s[-1][1] if s else -np.inf for s in free.values()])
    allowed = Stretches(low, high, {p: s for p, s in free.items() if len(s) != 1})
    every = np.ones(len(network.pieces), dtype=bool)
    found = wholly_on(all_pipe, allowed, half, asked=every)
    shut = [
        all_pipe.from_spot(Spot(piece.index, at))
        for piece in network.pieces
        for at in _just_inside(free[piece.index], piece.length)
    ]
    for piece in network.pieces:
        for at in _points(piece.length):
            away = min((f.at(network, Spot(piece.index, at)) for f in shut), default=math.inf)
            on_free = any(a <= at <= b for a, b in free[piece.index])
            inside = any(a <= at <= b for a, b in found.of(piece.index))
            assert inside == (on_free and away > half + 1e-6), (piece, at, away)


@st.composite
def _intervals(draw: st.DrawFn, length: int) -> tuple[Interval, ...]:
    """Draw closed intervals on a piece, in whole steps; as a rule the whole of it."""
    if draw(st.integers(0, 2)) > 0:
        return ((0.0, length * STEP),)
    marks = sorted(set(draw(st.lists(st.integers(0, length), max_size=4))))
    return tuple((a * STEP, b * STEP) for a, b in zip(marks[::2], marks[1::2], strict=False))


def _just_inside(free: tuple[Interval, ...], length: float) -> list[float]:
    """Give the points a quarter step inside both edges of each stretch that is not free."""
    edges = [0.0, *(edge for span in free for edge in span), length]
    gaps = list(zip(edges[::2], edges[1::2], strict=True))
    points = [at for a, b in gaps if b - a > 1e-6 for at in (a + STEP / 4, b - STEP / 4)]
    return points if length or free else [0.0]


def _points(length: float) -> list[float]:
    """Give the middles of half steps: none of them is the edge of an interval."""
    return [(k + 0.5) * STEP / 2 for k in range(round(length / STEP * 2))]
