"""The joint mending of all plugs, as a part of a report."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date

from layoutcheck.locate.together import own_spans, read_together
from layoutcheck.placement import Reading
from layoutcheck.plan.combinations import PlugMove
from layoutcheck.plan.elements import apply
from layoutcheck.plan.mend import Mending, MendStatus, ShutWay, mend
from layoutcheck.quantities import show_length
from layoutcheck.report.model import (
    AddedPart,
    MendingPart,
    Remaining,
    ShutPipePart,
    ShutWayPart,
    TogetherMove,
)
from layoutcheck.report.parts import Writer, remaining_part
from layoutcheck.rules.case import Case, PlacedPlug, Worlds
from layoutcheck.rules.judge import judge_case, placing_rules
from layoutcheck.rules.outcome import Outcome

_BAD = {Outcome.BROKEN, Outcome.UNDECIDED, Outcome.FAULT}
_FINE = {Outcome.HOLDS, Outcome.DOES_NOT_APPLY}


def mending_part(case: Case, writer: Writer, on: date | None = None) -> MendingPart:
    """Mend the plugs of a case together and write what came of it."""
    found = mend(case)
    moved = _moved_case(case, found)
    readings = read_together(moved, own_spans(moved)) if found.moves else {}
    moves = tuple(_move(writer, case, m, readings[m.plug.id]) for m in found.moves)
    return MendingPart(
        status=found.status.value,
        says=_says(case, found),
        exact=found.exact,
        total=writer.length(found.travel) if found.moves else None,
        moves=moves,
        added=None
        if found.added is None
        else AddedPart(kind=found.added.kind.value, id=found.added.id),
        remaining=_remaining(moved, on) if found.moves else (),
        ways=tuple(_way(writer, w) for w in found.ways),
    )


def _remaining(moved: Case, on: date | None) -> tuple[Remaining, ...]:
    bad = (j for j in judge_case(moved, on=on) if j.outcome in _BAD)
    return tuple(remaining_part(j) for j in bad)


def _moved_case(case: Case, found: Mending) -> Case:
    plugs = tuple(sorted((m.plug for m in found.moves), key=lambda p: p.id))
    if found.added is None:
        return replace(case, plugs=plugs)
    layout = apply(case.network, [found.added]).layout
    network = replace(
        case.network,
        layout=layout,
        valves={v.id: v for v in layout.valves},
        pumps={p.id: p for p in layout.pumps},
    )
    return replace(case, layout=layout, network=network, plugs=plugs, worlds=Worlds(network))


def _move(writer: Writer, case: Case, move: PlugMove, reading: Reading) -> TogetherMove:
    plug = move.plug
    known = {p.id for p in case.plugs}
    return TogetherMove(
        plug=plug.id,
        added=plug.id not in known,
        pipe=plug.pipe,
        from_junction=writer.from_junction(plug.pipe),
        station=writer.length(plug.station).model_copy(update={"shown": reading.shown}),
        tape=writer.reading(reading),
        travel=writer.away(move.travel, math.inf),
        point=writer.point(plug.pipe, plug.station),
    )


def is_well_placed(case: Case, plug: PlacedPlug) -> bool:
    """Tell whether a plug passes every rule that depends on place, the other plugs standing."""
    rules = placing_rules()
    return all(
        rule.judge_plug(case, plug).outcome in _FINE
        for name, rule in rules.items()
        if not rule.between_plugs or len(case.plugs) > 1
    )


def _says(case: Case, found: Mending) -> str:
    total = show_length(found.travel, case.layout.units)
    how = "the least travel there is" if found.exact else "the least travel found"
    if found.status is MendStatus.MOVES:
        if found.travel == 0.0:
            return "All plugs pass the rules of place together where they are marked."
        return (
            "All plugs pass the rules of place together, and cut the work off, once they are "
            f"moved {total} in all, {how}."
        )
    if found.status is MendStatus.ADDITION and found.added is not None:
        return (
            f"Moves alone will not do. With one thing more ({found.added.kind} {found.added.id}) "
            f"all plugs pass the rules of place and cut the work off, after {total} of travel."
        )
    if found.status is MendStatus.NOT_SETTLED:
        return f"{found.why} Not every combination was tried, so this is no proof."
    return found.why


def _way(writer: Writer, way: ShutWay) -> ShutWayPart:
    return ShutWayPart(
        source=way.source,
        way=tuple(writer.at_node(n) for n in way.nodes),
        pipes=tuple(ShutPipePart(pipe=p, rules=r) for p, r in way.rules),
    )
