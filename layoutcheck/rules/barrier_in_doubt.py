"""barrier-in-doubt: a single valve not proven tight is the only barrier."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from layoutcheck.document.models import Moment, Tightness, ValveState
from layoutcheck.document.named import Named
from layoutcheck.network import Trust
from layoutcheck.network.cut import WayIn
from layoutcheck.network.model import PieceKind, WorkPlace
from layoutcheck.rules.base import Rule
from layoutcheck.rules.case import Case
from layoutcheck.rules.declared import Blank, Cure
from layoutcheck.rules.doubts import proof_of
from layoutcheck.rules.outcome import Change, Gravity, Judgement, Outcome, Subject
from layoutcheck.rules.reasons import junctions_of


class BarrierInDoubt(Rule):
    """No valve that is not proven tight is the only barrier before the work.

    Reason: A valve that has stood open for years often does not hold when it is shut.
    Figure: None: the work must stay cut off if every unproven valve passes.
    Source: common practice, no published source.
    Does not apply: Where the document states no work, or where the work is not cut off even if
        each closed valve holds (isolation says so).
    Undecided: Where the only barrier is a closed valve of which nothing is said; where all that
        keeps the water out is said to be 'not proven' the rule is broken.
    Does not see: How the proof was made. Two unproven valves in series still are not proof.
    """

    name = "barrier-in-doubt"
    cures = frozenset({Cure.MOVE, Cure.CLOSE, Cure.PROVE})
    of_place = True
    needs = frozenset({Blank.TIGHTNESS})
    gravity = Gravity.FLOOD
    gravity_reason = "If it passes, water comes out at the open line"
    reason = "A valve that has stood open for years often does not hold when it is shut."

    def judge(self, case: Case) -> Iterator[Judgement]:
        """Judge each opened thing, once for the pieces that are plugged."""
        key = ("judged", self.name, case.plugged)
        places = case.network.work
        yield from case.worlds.remember(key, lambda: [self._judge_place(case, p) for p in places])

    def _judge_place(self, case: Case, place: WorkPlace) -> Judgement:
        subject = Subject("work", place.label, (place.label,))
        plugged = case.plugged
        if case.worlds.regions(Trust.STATED).ways_in(plugged, place.nodes):
            sentence = "The work is not cut off in the first place; see isolation."
            return self.says(subject, Outcome.DOES_NOT_APPLY, "not cut off", sentence)
        denied = case.worlds.regions(Trust.DENIED).ways_in(plugged, place.nodes)
        ways = denied or case.worlds.regions(Trust.PROVEN).ways_in(plugged, place.nodes)
        if not ways:
            sentence = "Every barrier is a plug or a valve proven tight."
            return self.says(subject, Outcome.HOLDS, "proven", sentence)
        leaning = self._unproven_on(case, ways)
        steps = ", ".join(junctions_of(case, ways[0].nodes))
        proofs = tuple(proof_of(v) for v in leaning)
        return self.says(
            subject,
            Outcome.BROKEN if denied else Outcome.UNDECIDED,
            "not proven" if denied else "nothing said of tightness",
            f"Only valve {', '.join(leaning)} keeps {ways[0].source} from the work "
            f"(by way of {steps}), and it is not proven to hold.",
            way=ways[0].nodes,
            where=ways[0].nodes[-1],
            concerns=tuple(Named("valve", v) for v in leaning),
            missing=() if denied else proofs,
            changes=tuple(Change("prove valve", v) for v in leaning[:1]),
            todo="Prove it (shut it, drain behind it, watch), or freeze a plug behind it.",
        )

    def _unproven_on(self, case: Case, ways: Sequence[WayIn]) -> list[str]:
        network, valves = case.network, case.network.valves
        steps = {frozenset(pair) for way in ways for pair in pairwise(way.nodes)}
        nodes = np.array(sorted({n for step in steps for n in step}), dtype=np.int64)
        pieces = (network.pieces[i] for i in network.at_nodes(nodes).tolist())
        return [
            p.element
            for p in pieces
            if p.kind is PieceKind.VALVE
            and frozenset((p.u, p.v)) in steps
            and valves[p.element].at(Moment.WORKING) is ValveState.CLOSED
            and valves[p.element].tightness is not Tightness.PROVEN
        ]
