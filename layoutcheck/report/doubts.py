"""What a layout leaves open, whatever is opened: while it does, 'there is no plan' is not proven.

A search for plans goes by the worst reading. That it finds none may be for want of a figure, or
because the model of the ice can not say that a pipe closes, and not because it can not be done.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from layoutcheck.document import Layout
from layoutcheck.importers.todo import to_fill_in
from layoutcheck.network import Spot
from layoutcheck.network.model import PieceKind
from layoutcheck.planning.settings import Settings
from layoutcheck.rules.base import PlacingRule
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.declared import Blank
from layoutcheck.rules.judge import judge_case
from layoutcheck.rules.outcome import Outcome
from layoutcheck.rules.pack import Pack
from layoutcheck.rules.registry import all_rules

# What a search for plans finds itself, or what is certain by contract where nothing is stated.
_NOT_ASKED = {"work", "plugs.A", "outlets.*.state", Blank.FLUID.value}


def doubts_of(layout: Layout, pack: Pack) -> tuple[str, ...]:
    """Give what is to be stated or proven before a search without a plan proves anything.

    layout: with a work stated; which one does not matter. One plug is tried in the longest pipe
    of each make, and what its rules ask for is taken over.
    """
    # Of the whole site, not of what lies round the work: what is far from it may decide too.
    whole = layout.model_copy(update={"work": None})
    lacking = [t for t in to_fill_in(whole) if t.field not in _NOT_ASKED]
    unstated = [f"{t.what} ({t.paste})" for t in lacking]
    case = Case.of(layout, pack)
    tried = replace(case, plugs=tuple(_probes(case)))
    asked = [
        missing
        for judged in judge_case(tried)
        if judged.outcome is Outcome.UNDECIDED and not all_rules()[judged.rule].of_place
        for missing in judged.missing or (judged.says,)
    ]
    return tuple(dict.fromkeys([*unstated, *asked]))


def facts_of_place(layout: Layout) -> tuple[str, ...]:
    """Give what is not stated of the facts that decide where water goes and plugs may stand.

    While there are any, that nothing mends the plugs together is not proven.
    """
    rules = [r for r in all_rules().values() if r.of_place or isinstance(r, PlacingRule)]
    decide = {blank.value for rule in rules for blank in rule.needs}
    whole = layout.model_copy(update={"work": None})
    lacking = (t for t in to_fill_in(whole) if t.field in decide - {Blank.WORK, Blank.PLUGS})
    return tuple(dict.fromkeys(t.what for t in lacking))


def _probes(case: Case) -> Iterator[PlacedPlug]:
    """Give one plug in the middle of the longest piece of each size, material and wall."""
    settings, network = Settings.of(case), case.network
    longest: dict[tuple[str, str, str], int] = {}
    for piece in network.pieces:
        if piece.kind is not PieceKind.PIPE or piece.element in case.unstated:
            continue
        pipe = network.pipes[piece.element]
        make = (pipe.size.text, pipe.material.value, pipe.wall or "")
        best = longest.get(make)
        if best is None or piece.length > network.pieces[best].length:
            longest[make] = piece.index
    for make, index in sorted(longest.items()):
        piece = network.pieces[index]
        spot = Spot(index, piece.length / 2)
        pipe_id, station = network.station(spot)
        inches = network.pipes[pipe_id].size.inches
        yield PlacedPlug(
            id=" ".join(("on", *make)).strip(),
            spot=spot,
            pipe=pipe_id,
            station=station,
            jacket=settings.jacket_for(inches),
            coolant=settings.coolant,
            inches=inches,
        )
