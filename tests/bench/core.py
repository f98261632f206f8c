"""layoutcheck's own check, cut down to the rules that need no physics, and its outcomes as bytes.

The benchmark speaks of two things: the rules of the layout (those of LAYOUT_RULES: setbacks, flow,
isolation, spacing, space), each judged and the nearest places found; and everything a report holds
(ice, coolant, pressure, air, words, the joint mending). Only the first depends on size alone.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any
from unittest.mock import patch

from layoutcheck.document import Layout
from layoutcheck.placement import Placing, place_plug
from layoutcheck.rules import judge
from layoutcheck.rules.case import Case
from layoutcheck.rules.outcome import Judgement
from layoutcheck.rules.registry import all_rules, default_pack
from tests.bench.plain import PlainCheck

LAYOUT_RULES = (
    "barrier-in-doubt",
    "closed-end-setback",
    "closed-valve-setback",
    "cylinder-temperature",
    "flowing-line-setback",
    "isolation",
    "jacket-clearance",
    "no-flow-at-plug",
    "plug-spacing",
    "start-temperature",
    "straight-run",
)
# Where a length is measured that the plain version measures too.
MEASURED = {
    "closed-end-setback",
    "closed-valve-setback",
    "flowing-line-setback",
    "plug-spacing",
    "straight-run",
}
MILLIMETRE = 0.001


@dataclass
class Checked:
    """What a check of the layout's rules gives."""

    case: Case
    judgements: list[Judgement]
    places: list[Placing]


@contextmanager
def layout_rules_only() -> Iterator[None]:
    """Leave out the rules that need physics."""
    few = {name: rule for name, rule in all_rules().items() if name in LAYOUT_RULES}
    assert len(few) == len(LAYOUT_RULES)
    with patch.object(judge, "all_rules", lambda: few):
        yield


def check_layout_rules(layout: Layout) -> Checked:
    """Judge a parsed layout by its rules of place, and find every plug's nearest place."""
    return judge_and_place(Case.of(layout, default_pack()))


def judge_and_place(case: Case) -> Checked:
    """Judge a case, and find every plug's nearest place."""
    with layout_rules_only():
        found = judge.judge_case(case)
        places = [place_plug(case, plug) for plug in case.plugs]
    return Checked(case, found, places)


def check_again(checked: Checked, plug_id: str, station: float) -> Checked:
    """Check a case again after one plug has moved along its pipe to another station (m)."""
    case = checked.case
    plug = case.plug(plug_id)
    return judge_and_place(case.moved(plug, case.network.spot(plug.pipe, station)))


def core_outcomes(checked: Checked) -> dict[str, Any]:
    """Give the outcomes in the form that the plain version has."""
    plugs: dict[str, dict[str, Any]] = {p.id: {} for p in checked.case.plugs}
    pairs: dict[str, Any] = {}
    work: dict[str, list[str]] = {}
    for item in checked.judgements:
        if item.subject.kind == "plug":
            plugs[item.subject.id][item.rule] = [item.outcome.value, _length(item)]
        elif item.rule == "plug-spacing" and item.outcome.value in {"broken", "undecided"}:
            pairs[item.subject.id] = [item.outcome.value, _length(item)]
        elif item.rule == "isolation" and checked.case.network.work:
            work.setdefault(item.subject.id, ["", ""])[0] = item.outcome.value
        elif item.rule == "barrier-in-doubt":
            work.setdefault(item.subject.id, ["", ""])[1] = item.outcome.value
    nearest = {p.plug: _place(p) for p in checked.places}
    return {"plugs": plugs, "pairs": pairs, "work": work, "nearest": nearest}


def _length(item: Judgement) -> float | None:
    if item.rule not in MEASURED:
        return None
    return math.inf if item.measured is None else item.measured.value


def _place(placing: Placing) -> list[Any]:
    best = placing.nearest
    if best is None:
        return [placing.isolates, None, None, None]
    return [placing.isolates, best.pipe, best.station, best.travel]


def canonical(outcomes: dict[str, Any]) -> bytes:
    """Write outcomes with every length in whole micrometres and every key in order."""
    return json.dumps(_whole(outcomes), sort_keys=True, indent=1).encode()


def _whole(value: Any) -> Any:
    if isinstance(value, dict):
        return {k: _whole(v) for k, v in value.items()}
    if isinstance(value, list):
        return [_whole(v) for v in value]
    if isinstance(value, float):
        return round(value * 1e6) if math.isfinite(value) else "none"
    return value


def same_outcomes(layout: Layout) -> tuple[bytes, bytes]:
    """Check a layout by layoutcheck and by the plain version."""
    fast = canonical(core_outcomes(check_layout_rules(layout)))
    return fast, canonical(PlainCheck(layout).everything())
