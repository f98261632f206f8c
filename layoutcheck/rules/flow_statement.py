"""flow-statement: a statement of no flow agrees with the network."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from layoutcheck.document.models import PipeFlow
from layoutcheck.network import Trust
from layoutcheck.rules.base import Rule
from layoutcheck.rules.case import Case
from layoutcheck.rules.doubts import doubtful_valves
from layoutcheck.rules.outcome import Gravity, Judgement, Outcome, Subject
from layoutcheck.rules.reasons import flow_in_words


class FlowStatement(Rule):
    """Where the document states that a pipe does not flow, the network agrees.

    Reason: A wrong 'no flow' on a drawing leads a crew to freeze a moving line.
    Figure: None.
    Source: common practice, no published source.
    Does not apply: To pipes of which nothing is stated.
    Undecided: Where the pipe flows only through a valve not stated or not proven.
    Does not see: Why the statement was made. The network is believed, not the statement.
    """

    name = "flow-statement"
    gravity = Gravity.FLOOD
    gravity_reason = "A plug in a line that moves after all does not hold"
    reason = "A wrong 'no flow' leads a crew to freeze a moving line."

    def judge(self, case: Case) -> Iterator[Judgement]:
        """Judge each pipe stated not to flow."""
        for pipe_id in sorted(case.network.pipes):
            if case.network.pipes[pipe_id].flow is PipeFlow.NONE:
                yield self._judge_pipe(case, pipe_id)

    def _judge_pipe(self, case: Case, pipe_id: str) -> Judgement:
        subject = Subject("pipe", pipe_id)
        pieces = np.array(case.network.pieces_of[pipe_id])
        for trust, outcome in ((Trust.BEST, Outcome.BROKEN), (Trust.PROVEN, Outcome.UNDECIDED)):
            world = case.worlds.freezing(trust)
            flowing = pieces[world.flowing[pieces]]
            reason = world.why_flowing(int(flowing[0])) if len(flowing) else None
            if reason is None:
                continue
            certain = outcome is Outcome.BROKEN
            return self.says(
                subject,
                outcome,
                "contradicted" if certain else "contradicted if in doubt",
                f"Stated as not flowing, but it {'can' if certain else 'may'} flow: "
                f"{flow_in_words(case, reason)}.",
                way=reason.way,
                concerns=reason.ends,
                missing=() if certain else doubtful_valves(case, int(flowing[0])),
                todo="Correct the statement, or state the valve that stops the flow.",
            )
        return self.says(subject, Outcome.HOLDS, "agrees", "The network agrees: no flow.")
