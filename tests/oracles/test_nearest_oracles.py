"""The nearest compliant place, against dense sampling with the rules run one by one.

Every pipe is sampled each inch and a half, and at the ends and in the middle of every stretch that
is given as clear. No sample that passes may be nearer than the answer; the answer passes; and the
clear stretches hold exactly the samples that pass. Nothing here uses what a rule says it allows.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings

from layoutcheck.document.read import parse_layout
from layoutcheck.network import Spot, Trust
from layoutcheck.network.cut import opened_pieces, ways_in
from layoutcheck.network.model import PieceKind
from layoutcheck.placement import place_plug
from layoutcheck.placement.nearest import Placing
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.judge import placing_rules
from layoutcheck.rules.outcome import Judgement, Outcome
from layoutcheck.rules.registry import default_pack
from tests.oracles.strategies import STEP, Document, documents
from tests.sizes import some

# A place may fall short of a limit by a micrometre and still be on it, from either side.
SLACK = 2.5e-6
SIXTEENTH = 0.0254 / 16
GOOD = {Outcome.HOLDS, Outcome.DOES_NOT_APPLY}


def failing(case: Case, plug: PlacedPlug) -> set[str]:
    """Run each rule that depends on place by itself, and name those that do not hold."""
    found = set()
    for name, rule in placing_rules().items():
        own: list[Judgement] = []
        if name == "plug-spacing":
            own += [
                j
                for j in rule.judge(case)
                if f"plug {plug.id}" in j.concerns or plug.id in j.subject.id.split(" + ")
            ]
        else:
            own.append(rule.judge_plug(case, plug))
        if any(j.outcome not in GOOD for j in own):
            found.add(name)
    return found


class Asked:
    """What is asked of a place besides the rules: that the plugs still cut off the work."""

    def __init__(self, case: Case, plug: PlacedPlug, samples: list[Spot]) -> None:
        self.case = case
        self.plug = plug
        self.work = sorted({n for place in case.network.work for n in place.nodes})
        proven = not self._open(Trust.PROVEN, plug.spot)
        self.trust = Trust.PROVEN if proven else Trust.STATED
        self.pieces = sorted({s.piece for s in samples} - opened_pieces(case.network))
        self.allowed = {p for p in self.pieces if not self._open(self.trust, Spot(p, 0.0))}
        others = sorted({p.spot.piece for p in case.others(plug)})
        holds_back = not ways_in(case.worlds.working(self.trust), others, self.work)
        self.isolates = bool(self.allowed) or holds_back
        if not self.isolates:
            # No place of this plug alone will do: it must keep out what it keeps out now.
            now = self._open(self.trust, plug.spot)
            self.allowed = {p for p in self.pieces if self._open(self.trust, Spot(p, 0.0)) <= now}

    def _open(self, trust: Trust, spot: Spot) -> set[str]:
        plugged = {*(p.spot.piece for p in self.case.others(self.plug)), spot.piece}
        found = ways_in(self.case.worlds.working(trust), sorted(plugged), self.work)
        return {w.source for w in found}


def samples_of(case: Case, placing: Placing) -> list[Spot]:
    """Give places every half step, and at the ends and middles of clear stretches."""
    network = case.network
    marks: dict[int, set[float]] = {}
    for piece in network.pieces:
        if piece.kind is PieceKind.PIPE:
            half = STEP / 2
            first, last = math.ceil(piece.start / half - 1e-6), math.floor(piece.end / half + 1e-6)
            inside = {k * half - piece.start for k in range(first, last + 1)}
            marks[piece.index] = {0.0, piece.length} | inside
    for stretch in placing.clear:
        for station in (stretch.start, (stretch.start + stretch.end) / 2, stretch.end):
            spot = network.spot(stretch.pipe, station)
            marks[spot.piece].add(spot.offset)
    return [Spot(p, o) for p, offsets in sorted(marks.items()) for o in sorted(offsets)]


def is_clear(case: Case, placing: Placing, spot: Spot) -> bool:
    pipe, station = case.network.station(spot)
    return any(
        c.pipe == pipe and c.start - SLACK <= station <= c.end + SLACK for c in placing.clear
    )


@settings(max_examples=some(60))
@given(documents(plugs=(1, 3), extra=2))
def test_no_sampled_place_that_passes_is_nearer_than_the_answer(document: Document) -> None:
    case = Case.of(parse_layout(document), default_pack())
    plug = case.plugs[0]
    placing = place_plug(case, plug)
    samples = samples_of(case, placing)
    asked = Asked(case, plug, samples)
    assert placing.isolates == asked.isolates
    along = case.worlds.along(plug.spot)
    nearest = math.inf
    for spot in samples:
        moved = case.moved(plug, spot)
        bad = failing(moved, moved.plug(plug.id)) if spot.piece in asked.allowed else {"isolation"}
        if not bad:
            nearest = min(nearest, along.at(case.network, spot))
            assert is_clear(case, placing, spot), (spot, placing.clear)
        elif _is_between_marks(case, spot):
            assert not is_clear(case, placing, spot), (spot, bad)
            if spot.piece in asked.allowed:
                assert _shut_out_by(case, placing, spot) == bad
    if placing.nearest is None:
        assert math.isinf(nearest)
        return
    assert placing.nearest.travel == pytest.approx(nearest, abs=SLACK)
    assert along.at(case.network, placing.nearest.spot) == pytest.approx(nearest, abs=SLACK)
    there = case.moved(plug, placing.nearest.spot)
    assert placing.nearest.spot.piece in asked.allowed
    assert failing(there, there.plug(plug.id)) == set()


def _is_between_marks(case: Case, spot: Spot) -> bool:
    """Tell whether a place is half way between steps: there no limit can lie exactly."""
    piece = case.network.pieces[spot.piece]
    halves = (piece.start + spot.offset) / (STEP / 2)
    return abs(halves - round(halves)) < 1e-6 and round(halves) % 2 == 1


def _shut_out_by(case: Case, placing: Placing, spot: Spot) -> set[str]:
    pipe, station = case.network.station(spot)
    rows = [s for s in placing.shut_out if s.pipe == pipe and s.start < station < s.end]
    assert len(rows) <= 1
    return set(rows[0].rules) if rows else set()


@settings(max_examples=some(120))
@given(documents(plugs=(1, 2)))
def test_mending_a_mended_layout_moves_nothing(document: Document) -> None:
    case = Case.of(parse_layout(document), default_pack())
    plug = case.plugs[0]
    before = place_plug(case, plug)
    if before.nearest is None:
        return
    again = _mended(document, plug.id, before.nearest.pipe, before.nearest.station)
    after = place_plug(again, again.plug(plug.id))
    assert after.nearest is not None
    assert after.nearest.travel <= SLACK
    assert after.nearest.pipe == before.nearest.pipe
    assert after.nearest.station == pytest.approx(before.nearest.station, abs=SLACK)
    assert failing(again, again.plug(plug.id)) == set()
    # What a tape shows lies in the clear stretch, less than its coarsest step from the place.
    tape = before.nearest.tape
    for read in (tape.value, tape.other):
        taped = _mended(document, plug.id, before.nearest.pipe, read)
        assert failing(taped, taped.plug(plug.id)) == set()
        assert abs(read - before.nearest.station) < SIXTEENTH


def _mended(document: Document, plug_id: str, pipe: str, station: float) -> Case:
    """Give the case with one plug put where it was told to go."""
    place = {"pipe": pipe, "station": f"{max(station, 0.0)!r} m"}
    plugs = [k | (place if k["id"] == plug_id else {}) for k in document["plugs"]]
    return Case.of(parse_layout(document | {"plugs": plugs}), default_pack())


@settings(max_examples=some(120))
@given(documents(plugs=(1, 2)))
def test_a_mark_that_passes_is_its_own_nearest_place(document: Document) -> None:
    case = Case.of(parse_layout(document), default_pack())
    plug = case.plugs[0]
    placing = place_plug(case, plug)
    asked = Asked(case, plug, samples_of(case, placing))
    if failing(case, plug) or plug.spot.piece not in asked.allowed:
        if placing.nearest is not None:
            assert placing.nearest.travel > 0.0
        return
    assert placing.nearest is not None
    assert placing.nearest.travel == 0.0
    assert placing.nearest.spot == plug.spot
