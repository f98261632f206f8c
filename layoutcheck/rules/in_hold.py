"""What flows while plugs are held: the site at work, with ice in the pipe.

Ice stops the water in its own pipe, and beside it water may start to flow that stood still while it
froze: a valve is opened for the work, an outlet draws again. As a rule nothing does, and then
nothing here is asked.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from layoutcheck.network import Trust, World
from layoutcheck.network.stretches import Interval, Stretches
from layoutcheck.rules.case import Case, PlacedPlug


def flows_more(case: Case, trust: Trust = Trust.PROVEN) -> np.ndarray:
    """Tell for each piece whether water flows in it at work, were there no ice, and not before."""

    def find() -> np.ndarray:
        before, then = case.worlds.freezing(trust), case.worlds.working(trust)
        if _alike(before, then):
            return np.zeros(len(before.connects), dtype=bool)
        return np.asarray(then.flowing & ~before.flowing)

    return case.worlds.once(("flows more", trust), find)


def _alike(one: World, two: World) -> bool:
    """Tell whether water moves alike in two readings; cheaper than to see where it flows."""
    return (
        one.terminal_nodes == two.terminal_nodes
        and one.running_pumps == two.running_pumps
        and np.array_equal(one.connects, two.connects)
    )


def ice_around(case: Case) -> frozenset[int] | None:
    """Give the pieces with ice, where they decide what flows in the hold; None as a rule."""
    return case.plugged if flows_more(case).any() else None


def in_hold(case: Case, plug: PlacedPlug, trust: Trust) -> World:
    """Give the site at work with ice in every plug's pipe."""
    others = frozenset(p.spot.piece for p in case.others(plug))
    return _with_ice(case, others | {plug.spot.piece}, trust)


def _with_ice(case: Case, pieces: frozenset[int], trust: Trust) -> World:
    key = ("in the hold", trust, pieces)
    return case.worlds.sections(key, lambda: case.worlds.working(trust).with_ice(pieces))


def still_in_hold(
    case: Case, plug: PlacedPlug, allowed: Callable[[World], Stretches]
) -> Stretches | None:
    """Give where a plug is left alone by what flows in the hold; None if nothing flows more.

    allowed: gives what a site at work allows. A plug in a pipe that would not flow changes nothing
    of what flows; in one that would, its own ice does, and each such piece is asked by itself.
    """
    more = flows_more(case)
    if not more.any():
        return None
    others = frozenset(p.spot.piece for p in case.others(plug))
    found = allowed(_with_ice(case, others, Trust.PROVEN))
    own = np.flatnonzero(more & case.pipes_of_pieces).tolist()
    split = {p: allowed(_with_ice(case, others | {p}, Trust.PROVEN)).of(p) for p in own}
    return Stretches(found.low, found.high, {**found.split, **split})


def still_where_it_is(
    case: Case, plug: PlacedPlug, allowed: Callable[[World], Stretches]
) -> tuple[Interval, ...] | None:
    """Give `still_in_hold` on the plug's own piece alone, for one reading of what flows."""
    world = world_in_hold(case, plug)
    return None if world is None else allowed(world).of(plug.spot.piece)


def world_in_hold(case: Case, plug: PlacedPlug) -> World | None:
    """Give the site at work as a plug on its own piece meets it; None if nothing flows more."""
    more, piece = flows_more(case), plug.spot.piece
    if not more.any():
        return None
    others = frozenset(p.spot.piece for p in case.others(plug))
    ice = others | {piece} if more[piece] else others
    return _with_ice(case, ice, Trust.PROVEN)
