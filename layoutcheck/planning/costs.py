"""What a plan costs: in points, and in plugs, coolant, hours, outlets, water and trust."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass

from layoutcheck.network import Trust
from layoutcheck.network.drain import drained_water
from layoutcheck.physics.schedule import StepKind
from layoutcheck.planning.elements import Chosen, Kind
from layoutcheck.planning.ground import Ground
from layoutcheck.rules.case import Case
from layoutcheck.rules.estimates import CoolantPlan, coolant_plans
from layoutcheck.rules.outcome import Judgement
from layoutcheck.rules.registry import all_rules


@dataclass(frozen=True)
class Margin:
    """The least that a plan has to spare in any distance it keeps (m), and in which rule."""

    spare: float
    rule: str
    subject: str


@dataclass(frozen=True)
class Costs:
    """What a plan costs.

    points: what it is ranked by. coolant: kg by coolant, None where a figure is missing.
    seconds: from the first injection to the opened line, None where a figure is missing.
    drained: m3, None where heights are missing (the points count all such water). missing: what
    the Nones are for want of.
    """

    points: float
    parts: tuple[tuple[str, float], ...]
    plugs_by_size: tuple[tuple[str, int], ...]
    coolant: tuple[tuple[str, float], ...] | None
    seconds: float | None
    out_of_service: tuple[str, ...]
    drained: float | None
    trusted: tuple[str, ...]
    margin: Margin | None
    missing: tuple[str, ...]


def costs_of(ground: Ground, chosen: Chosen, case: Case, judged: list[Judgement]) -> Costs:
    """Count what a set of elements costs once its plugs stand."""
    weights = ground.settings.weights
    plugged = sorted(e.piece for e in chosen if e.kind is Kind.PLUG)
    out = ground.out_of_service(ground.under(chosen), plugged)
    water = drained_water(
        case.worlds.working(Trust.PROVEN), [(p.spot, p.jacket / 2) for p in case.plugs]
    )
    coolant, seconds, missing = _freezing(case)
    parts = [
        *((f"{e.kind} {e.id}", e.cost) for e in sorted(chosen)),
        *((f"outlet {name} out of service", weights.outlet_out_of_service) for name in out),
        ("water drained", weights.drained * water.counted),
        ("coolant", weights.coolant * sum(m for _, m in coolant or ())),
        ("hours", weights.hour * (seconds or 0.0) / 3600.0),
    ]
    return Costs(
        points=math.fsum(points for _, points in parts),
        parts=tuple((name, points) for name, points in parts if points),
        plugs_by_size=_sizes(case),
        coolant=coolant,
        seconds=seconds,
        out_of_service=out,
        drained=water.volume,
        trusted=tuple(sorted({e.id for e in chosen if e.unproven})),
        margin=_worst(judged),
        missing=(*missing, *water.missing),
    )


def _sizes(case: Case) -> tuple[tuple[str, int], ...]:
    order = {case.network.pipes[p.pipe].size.text: p.inches for p in case.plugs}
    number = Counter(case.network.pipes[p.pipe].size.text for p in case.plugs)
    return tuple(sorted(number.items(), key=lambda item: (order[item[0]], item[0])))


def _freezing(
    case: Case,
) -> tuple[tuple[tuple[str, float], ...] | None, float | None, tuple[str, ...]]:
    """Give coolant by kind (kg), time until the line may be opened (s), and what is missing."""
    if not case.plugs:
        return (), 0.0, ()
    plans = coolant_plans(case)
    missing = tuple(dict.fromkeys(m for p in plans.values() for m in p.missing))
    if missing:
        return None, None, missing
    by_kind: dict[str, float] = {}
    for plug in case.plugs:
        by_kind[plug.coolant.value] = by_kind.get(plug.coolant.value, 0.0) + plans[plug.id].mass
    return tuple(sorted(by_kind.items())), max(map(_due, plans.values())), ()


def _due(plan: CoolantPlan) -> float:
    """Give the time (s) until a plug is due, by its schedule."""
    assert plan.schedule is not None, "a plan that misses nothing has a schedule"
    return plan.schedule.start_of(StepKind.PLUG_DUE)


def _worst(judged: list[Judgement]) -> Margin | None:
    """Find the distance that is kept with the least to spare."""
    found = [
        Margin(j.measured.value - j.required.value, j.rule, j.subject.id)
        for j in judged
        if all_rules()[j.rule].keeps_distance and j.measured is not None and j.required is not None
    ]
    return min(found, key=lambda m: (m.spare, m.rule, m.subject), default=None)
