"""unreached-pipework: all pipework reaches the work or a plug, or is meant to stand apart."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from layoutcheck.document.models import APART, Asked, EquipmentKind, GoesOn
from layoutcheck.document.named import Named
from layoutcheck.network.metric import connected_parts
from layoutcheck.rules.base import Rule
from layoutcheck.rules.case import Case
from layoutcheck.rules.declared import Cure
from layoutcheck.rules.facts import Fact, meant_field
from layoutcheck.rules.outcome import Gravity, Judgement, Outcome, Subject

_MOST_NAMED = 4


class UnreachedPipework(Rule):
    """All pipework reaches the work or a plug by way of pipe, whatever the valves do.

    Reason: One misspelt id cuts a second feed off on paper. On site it is still there, and comes
        round to the work.
    Figure: None.
    Source: common practice, no published source.
    Does not apply: Never. Where the document has neither work nor plugs, the part with the most
        pipes stands for them.
    Undecided: Where pipework, or a junction without pipe, reaches neither. Mend the id, or take the
        part out, or write "meant": "apart" on every source and tank in it; where it has none, on
        one of its pipes, or on the junction.
    Does not see: Pipework that is not in the document.
    """

    name = "unreached-pipework"
    cures = frozenset({Cure.MOVE})
    gravity = Gravity.FLOOD
    gravity_reason = "A pipe that joins after all may feed the work"
    reason = "One misspelt id cuts a feed off on paper that on site still reaches the work."
    as_stated = True

    def asks(self, case: Case) -> Iterator[tuple[Asked, str]]:
        """Ask of the sources and tanks of each part that nothing reaches, else of its pipes."""
        yield from ((thing, APART) for part in _apart(case) for thing in part.things)

    def judge(self, case: Case) -> Iterator[Judgement]:
        """Judge each part of the pipework that reaches neither work nor plugs."""
        key = ("judged", self.name, case.plugged)
        yield from case.worlds.remember(key, lambda: [self._judge(p) for p in _apart(case)])

    def _judge(self, part: _Part) -> Judgement:
        sentence = f"{part.words()} {'reach' if len(part.pipes) > 1 else 'reaches'} neither the "
        sentence += "work nor a plug."
        if part.meant:
            sentence += " The document says that this is meant."
            return self.says(part.subject, Outcome.HOLDS, "meant", sentence, concerns=part.feeds)
        named = ", ".join(part.feeds) or part.subject.id
        return self.says(
            part.subject,
            Outcome.UNDECIDED,
            "fed and apart" if part.feeds else "apart",
            sentence,
            concerns=part.feeds,
            missing=(Fact(f"whether {named} is meant to stand apart", meant_field(part.apart)),),
            todo='Correct the id that should join it, or write "meant": "apart" on '
            f"{named if part.feeds else f'{part.subject.kind} {part.subject.id}'}.",
        )


@dataclass(frozen=True)
class _Part:
    """A part that nothing reaches: its pipes, its sources and tanks, and whether it is meant.

    things: on which the document may say so.
    """

    subject: Subject
    pipes: tuple[str, ...]
    feeds: tuple[Named, ...]
    things: tuple[Asked, ...]
    meant: bool

    @property
    def apart(self) -> Subject:
        """Give what is to say that the part is meant: what feeds it, where something does."""
        if not self.feeds:
            return self.subject
        kind = "equipment" if self.feeds[0].kind == EquipmentKind.TANK else self.feeds[0].kind
        return Subject(kind, self.feeds[0].id)

    def words(self) -> str:
        """Begin a sentence with the part."""
        if not self.pipes:
            return f"No pipe meets junction {self.subject.id}: it"
        shown = ", ".join(self.pipes[:_MOST_NAMED])
        more = len(self.pipes) - _MOST_NAMED
        text = f"Pipe{'s' if len(self.pipes) > 1 else ''} {shown}"
        text += f" and {more} more" if more > 0 else ""
        return text + (f", with {', '.join(self.feeds)} in it," if self.feeds else "")


def _apart(case: Case) -> list[_Part]:
    network = case.network
    label = case.worlds.once("all pipework", lambda: _labels(case))
    of_piece = label[network.ends[:, 0]]
    reached = {int(label[n]) for n in network.work_nodes}
    reached |= {int(of_piece[piece]) for piece in case.plugged}
    if not reached:
        reached = {int(np.bincount(of_piece).argmax())}
    parts: dict[int, list[int]] = defaultdict(list)
    for node in np.flatnonzero(~np.isin(label, list(reached))).tolist():
        parts[int(label[node])].append(node)
    if not parts:
        return []
    stands = _standing(case)
    found = [_part(case, nodes, stands) for nodes in parts.values()]
    return sorted(found, key=lambda p: (p.subject.kind, p.subject.id))


def _labels(case: Case) -> np.ndarray:
    return connected_parts(case.network, np.ones(len(case.network.pieces), dtype=bool))


def _standing(case: Case) -> dict[int, list[tuple[Named, Asked]]]:
    """Give the sources, tanks and fed ends at each node, by their names."""
    network, layout = case.network, case.layout
    found: dict[int, list[tuple[Named, Asked]]] = defaultdict(list)
    for source in layout.sources:
        found[network.junction_nodes[source.junction][0]].append(
            (Named("source", source.id), source)
        )
    for junction in layout.junctions:
        if junction.goes_on is GoesOn.FED:
            node = network.junction_nodes[junction.id][0]
            found[node].append((Named("junction", junction.id), junction))
    gear = {g.id: g for g in layout.equipment}
    for node, names in network.tanks.items():
        found[node] += [(Named("tank", name), gear[name]) for name in names]
    return found


def _part(case: Case, nodes: list[int], stands: Mapping[int, list[tuple[Named, Asked]]]) -> _Part:
    network = case.network
    here = network.at_nodes(np.array(nodes, dtype=np.int64))
    here = here[case.pipes_of_pieces[here]]
    pipes = sorted({network.pieces.elements[i] for i in here.tolist()})
    feeds = sorted((fed for node in nodes for fed in stands.get(node, ())), key=lambda fed: fed[0])
    things: tuple[Asked, ...]
    if feeds:
        things = tuple(fed for _, fed in feeds)
    elif pipes:
        things = tuple(network.pipes[name] for name in pipes)
    else:
        alone = {network.places[n].junction for n in nodes}
        things = tuple(j for j in case.layout.junctions if j.id in alone)
    meant = (all if feeds else any)(thing.means(APART) for thing in things)
    first = pipes[0] if pipes else str(network.places[nodes[0]].junction)
    subject = Subject("pipe" if pipes else "junction", first)
    return _Part(subject, tuple(pipes), tuple(name for name, _ in feeds), things, meant)
