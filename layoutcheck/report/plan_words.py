"""Two sentences for each plan: why it is ranked there, and what it trades."""

from __future__ import annotations

from layoutcheck.planning.search import FoundPlan
from layoutcheck.quantities import UnitSystem
from layoutcheck.quantities.rough import MASS, VOLUME, rough, rough_duration
from layoutcheck.report.wrap import with_and

# A difference below these is not worth a word: kg, s, m3.
_COOLANT, _TIME, _WATER = 1.0, 300.0, 0.001
_ORDINALS = ("First", "Second", "Third", "Fourth", "Fifth")


def rank_sentence(plans: list[FoundPlan], rank: int) -> str:
    """Say why a plan is ranked where it is."""
    plan = plans[rank - 1]
    place = _ORDINALS[rank - 1] if rank <= len(_ORDINALS) else f"Number {rank}"
    most = sorted(plan.costs.parts, key=lambda part: -part[1])[:2]
    parts = " and ".join(f"{points:.1f} for '{what}'" for what, points in most)
    costs = f"{place}, at {plan.points:.1f} points" + (f" ({parts})" if parts else "")
    if rank > 1:
        more = plan.points - plans[0].points
        return f"{costs}: {more:.1f} more than plan 1."
    if len(plans) > 1:
        return f"{costs}: {plans[1].points - plan.points:.1f} fewer than the next."
    return f"{costs}."


def trade_sentence(plans: list[FoundPlan], rank: int, units: UnitSystem) -> str:
    """Say what a plan gains and gives beside the best one; the best beside the next."""
    if len(plans) == 1:
        return "No other plan was found to compare it with."
    other = 0 if rank > 1 else 1
    gains, gives = _differences(plans[rank - 1], plans[other], units)
    name = f"Compared with plan {other + 1} it"
    if gains and gives:
        return f"{name} saves {with_and(gains)} at the price of {with_and(gives)}."
    if gains:
        return f"{name} saves {with_and(gains)} and costs nothing more."
    if gives:
        return f"{name} saves nothing, at the price of {with_and(gives)}."
    return f"{name} costs the same in all that is counted, and freezes in other places."


def _differences(
    plan: FoundPlan, other: FoundPlan, units: UnitSystem
) -> tuple[list[str], list[str]]:
    gains: list[str] = []
    gives: list[str] = []
    for text, more in _counted(plan, other, units):
        (gives if more > 0 else gains).append(text)
    return gains, gives


def _counted(plan: FoundPlan, other: FoundPlan, units: UnitSystem) -> list[tuple[str, float]]:
    """Give each difference in words with its sign: positive where this plan asks for more."""
    mine, theirs = plan.costs, other.costs
    rows: list[tuple[str, float]] = []
    counts = (
        ("plug", len(plan.case.plugs) - len(other.case.plugs)),
        ("valve to be proven", len(mine.trusted) - len(theirs.trusted)),
        ("outlet out of service", len(mine.out_of_service) - len(theirs.out_of_service)),
    )
    for what, more in counts:
        if more:
            rows.append((_number(abs(more), what), float(more)))
    if mine.coolant is not None and theirs.coolant is not None:
        mass = sum(m for _, m in mine.coolant) - sum(m for _, m in theirs.coolant)
        if abs(mass) >= _COOLANT:
            rows.append((f"about {rough(abs(mass), MASS, units)} of coolant", mass))
    if mine.seconds is not None and theirs.seconds is not None:
        time = mine.seconds - theirs.seconds
        if abs(time) >= _TIME:
            rows.append((f"about {rough_duration(abs(time))} until the line is open", time))
    if mine.drained is not None and theirs.drained is not None:
        water = mine.drained - theirs.drained
        if abs(water) >= _WATER:
            rows.append((f"about {rough(abs(water), VOLUME, units)} of water to drain", water))
    return rows


def _number(count: int, what: str) -> str:
    first, _, rest = what.partition(" ")
    plural = f"{first}s {rest}".strip()
    return f"1 {what}" if count == 1 else f"{count} {plural}"
