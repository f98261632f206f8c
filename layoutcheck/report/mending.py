"""The joint mending of all plugs, as a part of a report."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date
from typing import Any

from layoutcheck.document.digest import in_order
from layoutcheck.placement import Reading
from layoutcheck.placement.together import own_spans, read_together
from layoutcheck.planning.combinations import PlugMove
from layoutcheck.planning.document import mended_document
from layoutcheck.planning.mend import Mending, MendStatus, ShutWay, mend
from layoutcheck.report.doubts import facts_of_place
from layoutcheck.report.mending_words import says, why
from layoutcheck.report.model import (
    MendingPart,
    Remaining,
    ShutPipePart,
    ShutWayPart,
    TogetherMove,
)
from layoutcheck.report.parts import Writer, remaining_part
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.judge import judge_case, placing_rules
from layoutcheck.rules.outcome import Outcome

_BAD = {Outcome.BROKEN, Outcome.UNDECIDED, Outcome.FAULT}
_FINE = {Outcome.HOLDS, Outcome.DOES_NOT_APPLY}


def mending_part(case: Case, writer: Writer, on: date | None = None) -> MendingPart:
    """Mend the plugs of a case together and write what came of it."""
    found = mend(case)
    never = found.status is MendStatus.IMPOSSIBLE
    lacking = facts_of_place(case.layout) if never else ()
    if lacking:  # in the worst reading nothing will do; what is stated then may be better
        found = replace(found, status=MendStatus.NOT_SETTLED)
    readings = read_together(found.case, own_spans(found.case)) if found.moves else {}
    before, after = writer.drain(case), writer.drain(found.case)
    return MendingPart(
        status=found.status.value,
        says=says(found, _extra(case, found), case.layout.units, lacking),
        why=why(found, case.layout.units),
        exact=found.exact,
        steps=found.steps,
        total=writer.away(found.travel, math.inf) if found.moves else None,
        moves=tuple(_move(writer, case, m, readings[m.plug.id]) for m in found.moves),
        actions=tuple(writer.done_to(e.kind.value, e.id) for e in sorted(found.done)),
        drain_before=None if before is None else before.volume,
        drain_after=None if after is None or not found.moves else after.volume,
        cut_off=tuple(sorted(found.after.lost - found.before.lost)),
        remaining=_remaining(found.case, on) if found.moves else (),
        ways=tuple(_way(writer, w) for w in found.ways),
        document=_document(case, found, readings) if found.moves and _may_write(case) else None,
    )


def _remaining(moved: Case, on: date | None) -> tuple[Remaining, ...]:
    bad = (j for j in judge_case(moved, on=on) if j.outcome in _BAD)
    return tuple(remaining_part(j) for j in bad)


def _extra(case: Case, found: Mending) -> list[str]:
    known = {p.id for p in case.plugs}
    return [m.plug.id for m in found.moves if m.plug.id not in known]


def _may_write(case: Case) -> bool:
    """Tell whether a document may be written: it is in SI, and would settle odd units unseen."""
    return not case.layout.odd_units or case.layout.means("units")


def _document(case: Case, found: Mending, readings: dict[str, Reading]) -> dict[str, Any]:
    new = _extra(case, found)
    changed = (
        (m.plug, readings[m.plug.id].texts[0])
        for m in found.moves
        if m.travel > 0.0 or m.plug.id in new
    )
    units = case.layout.units
    return mended_document(in_order(case.layout), found.done, changed, units=units)


def _move(writer: Writer, case: Case, move: PlugMove, reading: Reading) -> TogetherMove:
    plug = move.plug
    known = {p.id for p in case.plugs}
    return TogetherMove(
        plug=plug.id,
        plug_ref=writer.ref("plug", plug.id),
        pipe_ref=writer.ref("pipe", plug.pipe),
        added=plug.id not in known,
        pipe=plug.pipe,
        jacket=writer.length(plug.jacket),
        size=case.network.pipes[plug.pipe].size.text,
        coolant=plug.coolant.value,
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


def _way(writer: Writer, way: ShutWay) -> ShutWayPart:
    return ShutWayPart(
        source=way.source,
        way=tuple(writer.at_node(n) for n in way.nodes),
        pipes=tuple(ShutPipePart(pipe=p, rules=r) for p, r in way.rules),
    )
