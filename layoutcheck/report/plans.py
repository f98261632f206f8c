"""Plans as a report: the answer to 'where to freeze', as a pydantic model with its own schema.

Each plan is a complete layout document. Before it is given it is parsed and judged afresh, as
`check` would: one that does not come out compliant is left out and counted.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from pydantic import Field

from layoutcheck import __version__
from layoutcheck.document import Layout, parse_layout
from layoutcheck.document.short import long_form
from layoutcheck.placement import Reading
from layoutcheck.placement.together import own_spans, read_together
from layoutcheck.planning.document import data_of, plan_document
from layoutcheck.planning.elements import Chosen, Element, Kind
from layoutcheck.planning.order import Step, steps_of
from layoutcheck.planning.search import Found, FoundPlan, NearMiss, Status, Watch, find_plans
from layoutcheck.quantities.spoken import CoolantName
from layoutcheck.report.cautions import DEFERENCE
from layoutcheck.report.cautions_with import cautions_with
from layoutcheck.report.doubts import doubts_of
from layoutcheck.report.in_model import in_model, opened_refs, refs_in
from layoutcheck.report.model import (
    InModelPart,
    LayoutPart,
    Measure,
    NamedPart,
    PackPart,
    Part,
    Ref,
    Remaining,
    Verdict,
    is_empty,
)
from layoutcheck.report.parts import Writer, layout_part, pack_part, remaining_part
from layoutcheck.report.plan_words import rank_sentence, trade_sentence
from layoutcheck.report.run import verdict_of
from layoutcheck.report.wrap import some_of
from layoutcheck.rules.case import Case
from layoutcheck.rules.judge import judge_case
from layoutcheck.rules.outcome import Amount, Dimension, Judgement, Outcome
from layoutcheck.rules.pack import Pack
from layoutcheck.rules.registry import all_rules, default_pack

PLANS_FORMAT = "layoutcheck plans 1"

# The status where the search found no plan, but the layout leaves open what may decide otherwise.
UNDECIDED = "undecided"
LEFT_OPEN = "No plan passes as the layout stands, but it leaves open what may decide otherwise."
ONLY_ASKED = "There is a plan, shown below, as soon as what the sketch leaves open is stated."


class PlanActionPart(Part):
    """One thing a plan does besides freezing."""

    kind: str
    id: str
    ref: Ref = None
    points: float


class PlanPlugPart(Part):
    """One plug of a plan; station is to the jacket's centre, from the pipe's 'from' end."""

    id: str
    ref: Ref = None
    pipe: str
    pipe_ref: Ref = None
    station: Measure
    jacket: Measure
    size: str
    coolant: str


class PointsPart(Part):
    """What one part of a plan adds to its points."""

    what: str
    points: float


class SizePart(Part):
    """How many plugs of a size."""

    size: str
    plugs: int


class PlanCoolantPart(Part):
    """Coolant to have on hand, by kind."""

    coolant: str
    mass: Measure


class MarginPart(Part):
    """The distance that is kept with the least to spare."""

    spare: Measure
    rule: str
    subject: str


class CostPart(Part):
    """What a plan costs. A None stands for what can not be worked out; missing says why."""

    points: float
    parts: tuple[PointsPart, ...]
    plugs_by_size: tuple[SizePart, ...]
    coolant: tuple[PlanCoolantPart, ...] | None
    until_open: Measure | None = Field(
        description="From the first injection until the line may be opened."
    )
    out_of_service: tuple[str, ...]
    drained: Measure | None
    trusted_valves: tuple[str, ...]
    worst_margin: MarginPart | None
    missing: tuple[str, ...]


class PlanStepPart(Part):
    """One step of the work, with its reason."""

    phase: str
    do: str
    why: str
    concerns: tuple[NamedPart, ...]


class PlanPart(Part):
    """One plan.

    says: why it is ranked here, and what it trades. conditions: what must be proven or done before
    any cylinder is opened; the document states it as done. document: a complete layout.
    """

    rank: int
    says: tuple[str, str]
    actions: tuple[PlanActionPart, ...]
    plugs: tuple[PlanPlugPart, ...]
    conditions: tuple[str, ...]
    cost: CostPart
    steps: tuple[PlanStepPart, ...]
    document: dict[str, Any]


class NearMissPart(Part):
    """The set that came nearest to a plan, and what of it does not hold. It is no plan."""

    actions: tuple[PlanActionPart, ...]
    plugs: tuple[PlanPlugPart, ...]
    lacking: tuple[Remaining, ...]


class PlanReport(Part):
    """The answer to 'where to freeze'.

    status: 'optimal' (no plan costs less than the first), 'best found' (time ran out; the gap says
    by how much a plan could still be better), 'no plan' (proven), 'undecided' (none passes, but
    to_settle may decide otherwise), 'none found in time'.
    complete: False where the list was cut short by the time limit. bound: points that no plan goes
    below. hindrances: how often each rule stood against a set of closures that was tried.
    """

    format: str = PLANS_FORMAT
    version: str
    status: str
    complete: bool
    says: str
    bound: float | None
    gap: float | None
    tried: int
    time_limit: Measure
    layout: LayoutPart
    pack: PackPart
    units: str
    plans: tuple[PlanPart, ...]
    left_out: int = Field(description="How many plans did not pass when judged afresh.")
    hindrances: dict[str, int]
    near_miss: NearMissPart | None = Field(
        description="Where no plan was found: the set that fails by the fewest findings."
    )
    to_add: tuple[str, ...] = Field(
        description="Where no plan was found: what would make the nearest set of closures one."
    )
    to_settle: tuple[str, ...] = Field(
        description="Where no plan was found: what to state or prove, as it may decide otherwise."
    )
    in_model: tuple[InModelPart, ...] = Field(
        (), exclude_if=is_empty, description="What the source model calls what is spoken of."
    )
    cautions: tuple[str, ...]
    deference: str

    @property
    def exit_code(self) -> int:
        """Give the exit code of the command line: 0 a plan, 1 there is none, 3 undecided."""
        if self.plans:
            return 0
        return 1 if self.status == Status.NO_PLAN else 3

    def to_json(self) -> str:
        """Write the report as JSON."""
        return self.model_dump_json(indent=2) + "\n"


def plan_layout(
    layout: Layout,
    *,
    data: Mapping[str, Any] | None = None,
    pack: Pack | None = None,
    top: int = 5,
    time_limit: float = 30.0,
    watch: Watch | None = None,
    doubts: Sequence[str] | None = None,
) -> PlanReport:
    """Find the best plans for a layout's work. Marked plugs are wishes; waivers are left out.

    data: the parsed document the layout was read from, so that plans keep its units and order; if
    None they are written in SI. time_limit: s. watch: is told how far the search is. doubts: what
    the layout is known to leave open, as `doubts_of` gives it; looked for if None.
    """
    case = Case.of(layout, pack or default_pack())
    found = find_plans(case, top=top, time_limit=time_limit, watch=watch)
    if doubts is None:
        doubts = () if found.plans else doubts_of(layout, case.pack)
    given = data_of(layout) if data is None else long_form(data).data
    return _report(case, found, given, time_limit, tuple(doubts))


def _report(
    case: Case, found: Found, data: Mapping[str, Any], limit: float, doubts: tuple[str, ...]
) -> PlanReport:
    writer, layout, pack = Writer(case), case.layout, case.pack
    written = [(p, _document(p, data, case)) for p in found.plans]
    passed = [(p, d) for p, d in written if is_passed(d, pack)]
    good = [p for p, _ in passed]
    finite = math.isfinite(found.bound)
    undecided = found.status is Status.NO_PLAN and bool(doubts)
    plans = tuple(
        _plan(writer, rank, good, document) for rank, (_, document) in enumerate(passed, 1)
    )
    near_miss = None if passed else _near_miss(writer, found.near_miss)
    return PlanReport(
        version=__version__,
        status=UNDECIDED if undecided else found.status.value,
        complete=found.complete,
        says=_left_open(found.near_miss) if undecided else _says(found, good),
        bound=round(found.bound, 6) if finite else None,
        gap=round(found.gap, 6) if finite and math.isfinite(found.gap) else None,
        tried=found.tried,
        time_limit=writer.amount(Amount(limit, Dimension.DURATION)),
        layout=layout_part(layout),
        pack=pack_part(pack),
        units=layout.units.value,
        plans=plans,
        left_out=len(written) - len(passed),
        hindrances=found.hindrances,
        near_miss=near_miss,
        to_add=() if passed else _to_add(case, found),
        to_settle=() if found.plans else doubts,
        in_model=_in_model(layout, [*plans, *([near_miss] if near_miss else [])]),
        cautions=cautions_with(_coolants(layout)),
        deference=DEFERENCE,
    )


def _coolants(layout: Layout) -> set[CoolantName]:
    """Give what may be frozen with: what is on hand, and what marked plugs and the plan name."""
    named = {stock.coolant for stock in layout.site.stock} | {p.coolant for p in layout.plugs}
    return named | ({layout.planning.coolant} if layout.planning.coolant else set())


def _in_model(layout: Layout, parts: Sequence[PlanPart | NearMissPart]) -> tuple[InModelPart, ...]:
    done = [item for part in parts for item in (*part.actions, *part.plugs)]
    return in_model(layout, opened_refs(layout) | set(refs_in(done)))


def is_passed(document: Mapping[str, Any], pack: Pack) -> bool:
    """Tell whether check passes a document, read afresh."""
    judged = judge_case(Case.of(parse_layout(document), pack))
    return verdict_of(j.outcome for j in judged) is Verdict.COMPLIANT


def _document(plan: FoundPlan, data: Mapping[str, Any], case: Case) -> dict[str, Any]:
    return plan_document(data, plan.elements, plan.case.plugs, units=case.layout.units)


def _left_open(near: NearMiss | None) -> str:
    """Say whether nothing but the sketch itself stands against what came nearest."""
    rules = all_rules()
    only = near is not None and all(rules[j.rule].as_stated for j in near.lacking)
    return ONLY_ASKED if only else LEFT_OPEN


def _says(found: Found, good: list[FoundPlan]) -> str:
    if good and found.status is Status.OPTIMAL:
        text = f"No plan costs less than the first: {good[0].points:.1f} points."
        return text if found.complete else text + " Time ran out before all others were found."
    if good:
        return (
            f"Time ran out. The best plan found costs {good[0].points:.1f} points; none can cost "
            f"less than {found.bound:.1f}."
        )
    if found.status is Status.NO_PLAN and not found.hindrances:
        return "There is no plan: nothing that may be closed or frozen cuts the work off."
    if found.status is Status.NO_PLAN:
        return (
            "There is no plan: every set of closures and plugs within the limits was ruled out. "
            "The rules that stood against them are listed."
        )
    return "Time ran out before a plan was found; that does not show that there is none."


def _plan(writer: Writer, rank: int, plans: list[FoundPlan], document: dict[str, Any]) -> PlanPart:
    plan = plans[rank - 1]
    units = writer.case.layout.units
    stations = read_together(plan.case, own_spans(plan.case))
    return PlanPart(
        rank=rank,
        says=(rank_sentence(plans, rank), trade_sentence(plans, rank, units)),
        actions=_actions(writer, plan.elements),
        plugs=_plugs(writer, plan.case, stations),
        conditions=tuple(_condition(e) for e in sorted(plan.elements) if _is_promise(e)),
        cost=_cost(writer, plan),
        steps=tuple(_step(s, writer) for s in steps_of(plan.case, stations)),
        document=document,
    )


def _actions(writer: Writer, elements: Chosen) -> tuple[PlanActionPart, ...]:
    return tuple(
        PlanActionPart(
            kind=e.kind.value, id=e.id, ref=writer.done_to(e.kind.value, e.id).ref, points=e.cost
        )
        for e in sorted(elements)
        if e.kind is not Kind.PLUG
    )


def _plugs(writer: Writer, case: Case, readings: Mapping[str, Reading]) -> tuple[PlanPlugPart, ...]:
    return tuple(
        PlanPlugPart(
            id=p.id,
            ref=writer.ref("plug", p.id),
            pipe=p.pipe,
            pipe_ref=writer.ref("pipe", p.pipe),
            station=writer.length(p.station).model_copy(update={"shown": readings[p.id].shown}),
            jacket=writer.length(p.jacket),
            size=writer.case.network.pipes[p.pipe].size.text,
            coolant=p.coolant.value,
        )
        for p in case.plugs
    )


def _near_miss(writer: Writer, found: NearMiss | None) -> NearMissPart | None:
    if found is None:
        return None
    stations = read_together(found.case, own_spans(found.case))
    return NearMissPart(
        actions=_actions(writer, found.elements),
        plugs=_plugs(writer, found.case, stations),
        lacking=tuple(remaining_part(j) for j in found.lacking),
    )


_MOST_FACTS = 6
_NO_WAY = (
    "Add a valve that shuts, or straight bare pipe with room for a jacket, on each way in to the "
    "work; or let a plan use more plugs, or take an outlet out of service."
)


def _to_add(case: Case, found: Found) -> tuple[str, ...]:
    """Say what to do so that the set that came nearest is a plan, in the words of its rules."""
    asked = [f"State the {u.field} of pipe {u.pipe}." for p in case.unstated.values() for u in p]
    if found.near_miss is None:
        leaks = [o.id for o in case.layout.outlets if o.leaks]
        asked += [f"Stop the leak at outlet {o} and take it off the sketch." for o in leaks]
        return (*asked, _NO_WAY)
    broken = [j for j in found.near_miss.lacking if j.outcome is Outcome.BROKEN]
    told = [_todo(j) for j in broken or found.near_miss.lacking if j.todo]
    return tuple(dict.fromkeys([*asked, *told]))


def _todo(judged: Judgement) -> str:
    """Say what to do, and name the facts where it is to state them."""
    facts = judged.outcome is Outcome.UNDECIDED and not judged.changes
    if not facts or not judged.missing or all_rules()[judged.rule].as_stated:
        return judged.todo
    return f"{judged.todo.rstrip('.')}: {some_of(judged.missing, _MOST_FACTS, between='; ')}."


def _is_promise(element: Element) -> bool:
    return element.unproven or element.kind in {Kind.LOCK_PUMP, Kind.SHUT_DOWN}


def _condition(element: Element) -> str:
    if element.kind is Kind.LOCK_PUMP:
        return f"Lock off pump {element.id} before any cylinder is opened."
    if element.kind is Kind.SHUT_DOWN:
        return f"Shut down {element.id} and let it cool before any cylinder is opened."
    return (
        f"Prove valve {element.id} tight before any cylinder is opened. The plan's document states "
        "it as proven; without the proof the plan does not hold."
    )


def _step(step: Step, writer: Writer) -> PlanStepPart:
    return PlanStepPart(
        phase=step.phase.value,
        do=step.do,
        why=step.why,
        concerns=tuple(writer.named(c) for c in step.concerns),
    )


def _cost(writer: Writer, plan: FoundPlan) -> CostPart:
    costs = plan.costs
    margin = costs.margin
    return CostPart(
        points=round(costs.points, 6),
        parts=tuple(PointsPart(what=w, points=round(p, 6)) for w, p in costs.parts),
        plugs_by_size=tuple(SizePart(size=s, plugs=n) for s, n in costs.plugs_by_size),
        coolant=None
        if costs.coolant is None
        else tuple(
            PlanCoolantPart(coolant=c, mass=writer.amount(Amount(m, Dimension.MASS)))
            for c, m in costs.coolant
        ),
        until_open=None
        if costs.seconds is None
        else writer.amount(Amount(costs.seconds, Dimension.DURATION)),
        out_of_service=costs.out_of_service,
        drained=None if costs.drained is None else writer.volume(costs.drained),
        trusted_valves=costs.trusted,
        worst_margin=None
        if margin is None
        else MarginPart(
            spare=writer.room(max(0.0, margin.spare)), rule=margin.rule, subject=margin.subject
        ),
        missing=costs.missing,
    )
