"""The joint mending in words: what is proposed, and why this and nothing else."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from layoutcheck.placement import away_from
from layoutcheck.placement.keeping import BUCKET
from layoutcheck.planning.elements import Element, Kind
from layoutcheck.planning.mend import Mending, MendStatus
from layoutcheck.planning.rating import Burden
from layoutcheck.quantities import UnitSystem
from layoutcheck.quantities.rough import VOLUME, rough
from layoutcheck.report.wrap import counted, some_of

_CUT = "outlets and machines"
_MOST_NAMED = 6
_DONE = {
    Kind.CLOSE: "valve {} is closed and proven tight",
    Kind.PROVE: "valve {} is proven tight",
    Kind.LOCK_OUTLET: "outlet {} is locked off",
    Kind.BLEED_OUTLET: "somebody stands by outlet {} to bleed it",
    Kind.KEEP_OPEN: "outlet {} is kept open",
    Kind.LOCK_PUMP: "pump {} is locked off",
    Kind.SHUT_DOWN: "{} is shut down",
    Kind.PLUG: "a plug is frozen on {}",
}


def done_words(element: Element) -> str:
    """Say of a thing that it is done."""
    return _DONE[element.kind].format(element.id)


def says(
    found: Mending, extra: Sequence[str], units: UnitSystem, lacking: Sequence[str] = ()
) -> str:
    """Say what mends the plugs together, or that nothing does.

    extra: the plugs that are new. lacking: what is not stated, and may decide otherwise.
    """
    if lacking:
        return (
            "With what is stated nothing mends all plugs together. That does not show that "
            f"there is nothing: state first {some_of(lacking, _MOST_NAMED)}."
        )
    if found.status is MendStatus.IMPOSSIBLE:
        return _impossible(found)
    if found.status is MendStatus.NOT_SETTLED:
        return (
            "Nothing that mends all plugs together was found within "
            f"{found.steps} steps. That does not show that there is nothing."
        )
    total = away_from(found.travel, math.inf, units).shown
    do = [done_words(e) for e in sorted(found.done)]
    do += [f"one more plug, {name}, is frozen" for name in extra]
    if not do and found.travel == 0.0:
        return "All plugs pass the rules of place together where they are marked."
    if found.travel > 0.0:
        do.append(f"they are moved {total} in all")
    return (
        "All plugs pass the rules of place together, and cut the work off, once "
        f"{_and(do)}. {_how(found)}"
    )


def _how(found: Mending) -> str:
    if found.exact:
        return "Nothing that was weighed costs less."
    return f"It is the best that was found within {found.steps} steps, not proven to be the least."


def _impossible(found: Mending) -> str:
    if found.ways:
        return (
            f"From {found.ways[0].source} a way leads to the work on which no plug may stand, and "
            "no single valve, outlet or machine changes that."
        )
    number = len(found.case.plugs)
    return (
        f"There are places for plugs, but no {number} of them isolate the work and keep their "
        "distance at once, nor with one plug or one closure more."
    )


def why(found: Mending, units: UnitSystem) -> tuple[str, ...]:
    """Say why this was chosen: what moves alone come to, and what it asks of the building."""
    return tuple(_why(found, units)) if found.moves else ()


def _why(found: Mending, units: UnitSystem) -> Iterator[str]:
    alone = found.alone
    if found.status is MendStatus.ADDITION and alone.moves is None:
        yield (
            "Moves alone will not do."
            if alone.exact
            else f"Moves alone that do were not found within {alone.tries} steps."
        )
    elif found.alone != found.used:
        reasons = [
            *_asked(found.before, found.without, units),
            *([_corners(alone.corners)] if alone.corners else []),
        ]
        if reasons:
            yield f"Moves alone would do too, but then {_and(reasons)}."
    elif found.used.corners:
        yield f"With it {_corners(found.used.corners)}; no way without that was found."
    more = found.after.drained - found.before.drained
    if more > BUCKET:
        yield (
            f"It lets about {rough(more, VOLUME, units)} more drain than the marks do; "
            "nothing was found that passes and drains less."
        )
    elif more > 1e-6:
        yield "The extra water that drains is less than a bucket, and is not counted."
    cut = sorted(found.after.lost - found.before.lost)
    if cut:
        yield f"It cuts off more than the marked plugs do: {counted(cut, _MOST_NAMED, _CUT)}."


def _asked(before: Burden, after: Burden, units: UnitSystem) -> Iterator[str]:
    if after.drained - before.drained > BUCKET:
        yield (
            f"about {rough(after.drained, VOLUME, units)} would drain at the work, not "
            f"{rough(before.drained, VOLUME, units)}"
        )
    cut = sorted(after.lost - before.lost)
    if cut:
        yield f"{counted(cut, _MOST_NAMED, _CUT)} would be cut off"


def _corners(number: int) -> str:
    return "one plug goes round a corner" if number == 1 else f"{number} plugs go round a corner"


def _and(parts: Sequence[str]) -> str:
    return " and ".join(p for p in (", ".join(parts[:-1]), parts[-1]) if p)
