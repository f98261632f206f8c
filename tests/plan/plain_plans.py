"""The oracle for plans: every set of closures and plugs, each checked as a whole document.

It shares nothing with the search but the list of what a plan may be made of. Plugs are tried on a
grid of stations, so it may miss a thin place; it never calls a set good that `check` does not pass.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain, combinations, product

from layoutcheck.document import LayoutFaults, parse_layout
from layoutcheck.planning.document import plan_document
from layoutcheck.planning.elements import Chosen, Element, Kind
from layoutcheck.planning.ground import Ground
from layoutcheck.rules.case import Case
from layoutcheck.rules.judge import judge_case
from layoutcheck.rules.outcome import Outcome
from layoutcheck.rules.pack import Pack

GRID = 7


def every_set(ground: Ground) -> Iterator[Chosen]:
    """Give every set of elements that do not bar each other."""
    elements = [*ground.actions, *ground.plugs.values()]
    sizes = range(len(elements) + 1)
    for chosen in chain.from_iterable(combinations(elements, n) for n in sizes):
        if _fits(chosen):
            yield frozenset(chosen)


def _fits(chosen: tuple[Element, ...]) -> bool:
    barred = {pair for e in chosen for pair in e.rivals}
    return not any((e.kind, e.id) in barred for e in chosen)


# What these rules say does not depend on where in its piece a plug stands.
_WHEREVER = {"isolation", "barrier-in-doubt", "cylinder-temperature"}


def passes(data: dict, ground: Ground, chosen: Chosen, pack: Pack) -> bool:
    """Tell whether check passes a set with its plugs at some stations of a grid."""
    pieces = sorted(e.piece for e in chosen if e.kind is Kind.PLUG)
    lengths = [ground.network.pieces[p].length for p in pieces]
    grids = [[length * k / (GRID - 1) for k in range(GRID)] for length in lengths]
    middles = tuple(length / 2 for length in lengths)
    for offsets in (middles, *product(*grids)):
        found = bad_rules(data, ground, chosen, dict(zip(pieces, offsets, strict=True)), pack)
        if not found:
            return True
        if found & _WHEREVER:
            return False
    return False


def bad_rules(
    data: dict, ground: Ground, chosen: Chosen, offsets: dict[int, float], pack: Pack
) -> set[str]:
    """Give the rules that do not pass a set with its plugs at these offsets (m)."""
    plugs = [ground.probe(p, at, f"F{n}") for n, (p, at) in enumerate(offsets.items(), 1)]
    document = plan_document(data, chosen, plugs, units=ground.case.layout.units)
    return bad_rules_of(document, pack)


def bad_rules_of(document: dict, pack: Pack) -> set[str]:
    """Give the rules that do not pass a document, checked afresh."""
    try:
        layout = parse_layout(document)
    except LayoutFaults:
        return {"a centre in the body of a valve"}  # where a point of the grid meets one
    judged = judge_case(Case.of(layout, pack))
    return {j.rule for j in judged if j.outcome not in {Outcome.HOLDS, Outcome.DOES_NOT_APPLY}}
