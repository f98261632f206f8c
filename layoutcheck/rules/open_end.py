"""open-end: every pipe's end has something on it, or the document says that the pipe goes on."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from layoutcheck.document.ends import SHUT
from layoutcheck.document.models import GoesOn, Junction
from layoutcheck.document.named import Named
from layoutcheck.rules.base import Rule
from layoutcheck.rules.case import Case
from layoutcheck.rules.declared import Blank
from layoutcheck.rules.facts import Fact
from layoutcheck.rules.outcome import Gravity, Judgement, Outcome, Subject


class OpenEnd(Rule):
    """Every pipe's end has something on it: a cap, an outlet, a source, or pipe that goes on.

    Reason: An end with nothing on it is a slip more often than a cap. The pipe may go on to another
        feed, or an id may be misspelt so that two pipes that meet do not.
    Figure: None.
    Source: common practice, no published source.
    Does not apply: To ends with a cap or blind, an outlet, a source, a tank, a heater or a cooler.
    Undecided: Where nothing is stated of a pipe's end. Write "fitting": "cap" on the junction, or
        put the outlet or source there, or write "goes_on": "fed" (water can come in from beyond,
        at a pressure nobody knows) or "goes_on": "dead" (it can neither come in nor leave).
    Does not see: Whether what is stated is there. Until it is answered, and where the pipe goes on
        dead, the end counts as closed for setbacks, and nothing flows through it.
    """

    name = "open-end"
    cures = frozenset()
    needs = frozenset({Blank.END})
    gravity = Gravity.FLOOD
    gravity_reason = "What is not drawn there may feed the work"
    reason = "A pipe's end with nothing on it is a slip, or a way in that nobody stated."
    as_stated = True

    def judge(self, case: Case) -> Iterator[Judgement]:
        """Judge each pipe's end that is not plainly ended."""
        found = [self._judge_end(case, *end) for end in _ends(case)]
        yield from found
        if not found:
            subject = Subject("layout", "pipe ends")
            yield self.says(subject, Outcome.HOLDS, "all ended", "What ends each pipe is stated.")

    def _judge_end(self, case: Case, node: int, junction: Junction, pipe: str) -> Judgement:
        subject = Subject("junction", junction.id)
        if junction.goes_on is not None:
            fed = junction.goes_on is GoesOn.FED
            what = "fed: a way in" if fed else "dead: no way in, and no way out"
            sentence = f"Pipe {pipe} goes on beyond {junction.id}, {what}."
            return self.says(subject, Outcome.HOLDS, f"goes on {junction.goes_on}", sentence)
        return self.says(
            subject,
            Outcome.UNDECIDED,
            "nothing on it",
            f"Pipe {pipe} ends at {junction.id} with nothing on it.",
            where=node,
            concerns=(Named("pipe", pipe),),
            missing=(
                Fact(f"what ends pipe {pipe} at {junction.id}", f"junctions.{junction.id}.fitting"),
            ),
            todo=f'State what is at {junction.id}: "fitting": "cap", an outlet or a source there, '
            'or "goes_on": "fed" or "dead" where the pipe goes on.',
        )


def _ends(case: Case) -> Iterator[tuple[int, Junction, str]]:
    """Give each end that is not ended by something: its node, its junction and its pipe."""
    network = case.network
    going = {j.id: j for j in case.layout.junctions if j.goes_on is not None}
    junctions = {j.id: j for j in case.layout.junctions}
    nodes = set(network.dead_ends) | {network.junction_nodes[name][0] for name in going}
    for node in sorted(nodes):
        junction = junctions[network.places[node].junction or ""]
        if junction.fitting not in SHUT and not network.heat.get(node):
            yield node, junction, _pipe_at(case, node)


def _pipe_at(case: Case, node: int) -> str:
    """Name the pipe that ends at a node, also behind a valve or pump that stands at the end."""
    network = case.network
    here = network.at_node(node)
    if not case.pipes_of_pieces[here].any():
        here = network.at_nodes(np.unique(network.ends[here]))
    piped = here[case.pipes_of_pieces[here]]
    return network.pieces.elements[int(piped[0])] if len(piped) else "?"
