"""Ask one item of one layout: change what the layout states as its work, and plan for it.

The rest of the layout is taken as it stands, also how its valves stand. Marked plugs belong to
the stated work; for any other work they would be wishes of nobody, and are left out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from layoutcheck.document import Layout
from layoutcheck.document.models import EquipmentKind, Pump, Valve, Work
from layoutcheck.planning.search import Progress, Status
from layoutcheck.report.doubts import doubts_of
from layoutcheck.report.plans import LEFT_OPEN, PlanPart, PlanReport, plan_layout
from layoutcheck.rules.pack import Pack
from layoutcheck.survey.deadline import Deadline, OutOfTime
from layoutcheck.survey.items import Item, Settings, WorkKind
from layoutcheck.survey.row import (
    Answer,
    CountRow,
    OutletRow,
    PlanRow,
    PlugRow,
    Row,
    Stopped,
    failed,
)

# How many things to settle are kept with a row; the rest is counted.
_SHOWN = 12

_OUTLETS = {"lock off outlet", "make outlet a bleed", "keep outlet open"}
_VALVES = {"close valve", "prove valve"}


@dataclass(frozen=True)
class Known:
    """A layout as it was read, the data it was written as, and how it is asked."""

    layout: Layout
    data: Mapping[str, Any]
    pack: Pack
    settings: Settings

    @cached_property
    def doubts(self) -> tuple[str, ...]:
        """Give what the layout leaves open, whatever is opened: some junction serves for that."""
        work = _work(self, {"junction": self.layout.junctions[0].id})
        changed = {"work": Work.model_validate(work), "plugs": ()}
        return doubts_of(self.layout.model_copy(update=changed), self.pack)


@dataclass(frozen=True)
class Asked:
    """A row, and whether asking again would give the same (False: memory or time ran out)."""

    row: Row
    settled: bool = True


class _Enough(KeyboardInterrupt):
    """Ends a search with the best so far, as find_plans promises for a KeyboardInterrupt."""


class _Steps:
    """Counts the steps of a search and ends it after so many, the same on every machine."""

    def __init__(self, most: int) -> None:
        self.left = most

    def __call__(self, progress: Progress) -> None:
        self.left -= 1
        if self.left <= 0:
            raise _Enough


def ask(known: Known, item: Item) -> Asked:
    """Ask one item. It always gives a row: a fault, too, is an answer to keep."""
    limit = known.settings.hard_limit
    try:
        with Deadline(limit):
            return Asked(_ask(known, item))
    except OutOfTime:
        reason = f"broken off after {limit:.0f} s: one step alone took too long"
        return Asked(failed(reason, kind=item.kind, own=item.id), settled=False)
    except MemoryError:
        reason = "there was not enough memory"
        return Asked(failed(reason, kind=item.kind, own=item.id), settled=False)
    except Exception as error:
        reason = f"a fault of layoutcheck itself ({type(error).__name__})"
        return Asked(failed(reason, kind=item.kind, own=item.id))


def _ask(known: Known, item: Item) -> Row:
    layout, data = _with_work(known, item)
    settings = known.settings
    steps = _Steps(settings.steps)
    report = plan_layout(
        layout,
        data=data,
        pack=known.pack,
        top=1,
        time_limit=settings.time_limit,
        watch=steps,
        doubts=(),  # they are the same for every item of a layout: `_answer` looks at them
    )
    row = _about(known.layout, layout, item)
    return row.model_copy(update=_answer(known, report, _stopped(report, steps)))


def _stopped(report: PlanReport, steps: _Steps) -> Stopped:
    if report.complete:
        return Stopped.NOT
    return Stopped.STEPS if steps.left <= 0 else Stopped.TIME


def _with_work(known: Known, item: Item) -> tuple[Layout, dict[str, Any]]:
    """Give the layout and its data with the item as the work that is stated."""
    if item.kind is WorkKind.STATED:
        return known.layout, dict(known.data)
    work = _work(known, {item.kind.value: item.id})
    data = {k: v for k, v in known.data.items() if k != "plugs"} | {"work": work}
    changed = {"work": Work.model_validate(work), "plugs": ()}
    return known.layout.model_copy(update=changed), data


def _work(known: Known, opened: dict[str, str]) -> dict[str, Any]:
    """Write the work that opens one thing: as long as the layout's own, and watched as it is."""
    before = known.data.get("work") or {}
    stated = {k: before[k] for k in ("duration", "if_a_plug_goes") if before.get(k) is not None}
    stated.setdefault("duration", known.settings.duration)
    if known.settings.if_a_plug_goes is not None:
        stated.setdefault("if_a_plug_goes", known.settings.if_a_plug_goes)
    return {"open": [opened], **stated}


def _about(before: Layout, layout: Layout, item: Item) -> Row:
    """Give a row that says what is asked, and of what."""
    work = layout.work
    assert work is not None, "what is asked is a work"
    row = Row(
        kind=item.kind,
        id=item.id,
        layout=layout.name,
        duration_s=work.duration,
        duration_assumed=before.work is None,
        answer=Answer.UNDECIDED,
    )
    if item.kind is WorkKind.STATED:
        return row.model_copy(update={"name": work.name or ", ".join(i.label for i in work.open)})
    things: tuple[Valve | Pump, ...] = (
        layout.valves if item.kind is WorkKind.VALVE else layout.pumps
    )
    thing = next(t for t in things if t.id == item.id)
    size = _size(layout, thing)
    kind = thing.kind.value if isinstance(thing, Valve) else "pump"
    return row.model_copy(update={"name": thing.name or "", "of_kind": kind, **size})


def _size(layout: Layout, thing: Valve | Pump) -> dict[str, object]:
    """Give the size of the pipe that a thing is in; the largest where several meet."""
    at = [
        p.size
        for p in layout.pipes
        if p.id == thing.pipe or (thing.junction is not None and thing.junction in (p.from_, p.to))
    ]
    if not at:
        return {}
    largest = max(at, key=lambda s: (s.inches, s.text))
    return {"size": largest.text, "inches": largest.inches}


def _answer(known: Known, report: PlanReport, stopped: Stopped) -> dict[str, object]:
    """Give what a report answers. Only a plan that passed afresh makes it compliant."""
    answered: dict[str, object] = {
        "found": report.status,
        "stopped": stopped,
        "reason": report.says,
        "bound": report.bound,
        "tried": report.tried,
        "hindrances": tuple(CountRow(what=w, number=n) for w, n in report.hindrances.items()),
    }
    if report.plans:
        equipment = {g.id for g in known.layout.equipment if g.kind is not EquipmentKind.TANK}
        plan = _plan(report.plans[0], equipment)
        return answered | {"answer": Answer.COMPLIANT, "plan": plan}
    if report.status != Status.NO_PLAN or report.left_out:
        return answered | {"answer": Answer.UNDECIDED, "to_settle": known.doubts[:_SHOWN]}
    if not known.doubts:
        return answered | {"answer": Answer.NONE}
    return answered | {
        "answer": Answer.UNDECIDED,
        "reason": LEFT_OPEN,
        "to_settle": known.doubts[:_SHOWN],
    }


def _plan(plan: PlanPart, equipment: set[str]) -> PlanRow:
    cost = plan.cost
    actions = [(a.kind, a.id) for a in plan.actions]
    masses = None if cost.coolant is None else {c.coolant: c.mass.value for c in cost.coolant}
    return PlanRow(
        points=cost.points,
        plugs=tuple(
            PlugRow(
                id=p.id,
                pipe=p.pipe,
                station_m=p.station.value,
                jacket_m=p.jacket.value,
                size=p.size,
                coolant=p.coolant,
            )
            for p in plan.plugs
        ),
        plugs_by_size=tuple(CountRow(what=s.size, number=s.plugs) for s in cost.plugs_by_size),
        valves_to_close=tuple(i for k, i in actions if k == "close valve"),
        valves_to_prove=cost.trusted_valves,
        outlets=tuple(OutletRow(id=i, action=k) for k, i in actions if k in _OUTLETS),
        machines_to_lock=tuple(i for k, i in actions if k not in _OUTLETS | _VALVES),
        carbon_dioxide_kg=None if masses is None else _four(masses.get("carbon dioxide", 0.0)),
        nitrogen_kg=None if masses is None else _four(masses.get("nitrogen", 0.0)),
        until_open_s=None if cost.until_open is None else _four(cost.until_open.value),
        outlets_out_of_service=cost.out_of_service,
        drained_m3=None if cost.drained is None else _four(cost.drained.value),
        missing=cost.missing,
    )


def _four(value: float) -> float:
    """Keep four digits of an estimate: more means nothing, and differs between machines."""
    return float(f"{value:.4g}")
