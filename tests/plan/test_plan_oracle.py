"""Plans against brute force over every set of closures and plugs on small random networks.

The oracle checks whole documents, so it settles both what is best and that there is no plan.
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings

from layoutcheck.document import parse_layout
from layoutcheck.document.faults import LayoutFaults
from layoutcheck.planning.document import plan_document
from layoutcheck.planning.elements import Chosen, Kind
from layoutcheck.planning.ground import Ground
from layoutcheck.planning.search import Search, Status, find_plans
from layoutcheck.rules.case import Case
from layoutcheck.rules.registry import default_pack
from tests.plan.plain_plans import bad_rules_of, every_set, passes
from tests.plan.small_sites import small_sites
from tests.sizes import some

PACK = default_pack()
# 2^9 sets, each checked at some stations, is about a second.
MOST_ELEMENTS = 9


def _case(site: dict[str, Any]) -> Case:
    try:
        return Case.of(parse_layout(site), PACK)
    except LayoutFaults:
        assume(False)
        raise


@pytest.mark.slow
@settings(max_examples=some(8), suppress_health_check=list(HealthCheck))
@given(small_sites())
def test_the_search_finds_what_brute_force_finds(site: dict[str, Any]) -> None:
    _compare(site)


@pytest.mark.nightly
@settings(max_examples=some(100), suppress_health_check=list(HealthCheck))
@given(small_sites())
def test_the_search_finds_what_brute_force_finds_on_many_sites(site: dict[str, Any]) -> None:
    _compare(site)


def _compare(site: dict[str, Any]) -> None:
    case = _case(site)
    ground = Ground(case)
    assume(len(ground.actions) + len(ground.plugs) <= MOST_ELEMENTS)
    found = find_plans(case, top=10_000, time_limit=60.0)
    mine = {p.elements for p in _all(case)}
    brute = _feasible(site, ground)
    # Every set that check passes holds a plan of the search, and the search's plans are passed.
    assert [b for b in brute if not any(m <= b for m in mine)] == []
    # No plan holds a smaller set that would do.
    assert [m for m in mine if any(b < m for b in brute)] == []
    assert found.status is (Status.OPTIMAL if mine else Status.NO_PLAN)
    if not mine:
        assert brute == []
        return
    # The points that rank a set do not hang on the stations but for the water that drains.
    best = min(p.points for p in found.plans)
    assert found.plans[0].points == best
    assert found.bound == best
    assert [p.points for p in found.plans] == sorted(p.points for p in found.plans)


def _all(case: Case) -> list[Any]:
    search = Search(case)
    # What the sketch leaves open no set settles: brute force must then find none that passes.
    return [] if search.asked else [p for p in search.plans() if p is not None]


def _feasible(site: dict[str, Any], ground: Ground) -> list[Chosen]:
    most = ground.settings.max_plugs
    found: list[Chosen] = []
    for chosen in every_set(ground):
        plugs = sum(e.kind is Kind.PLUG for e in chosen)
        # A set with a smaller one that passes tells nothing new.
        if plugs > min(2, plugs if most is None else most) or any(f <= chosen for f in found):
            continue
        if passes(site, ground, chosen, PACK):
            found.append(chosen)
    return found


@settings(max_examples=some(20), suppress_health_check=list(HealthCheck))
@given(small_sites())
def test_each_plan_is_passed_by_check_afresh(site: dict[str, Any]) -> None:
    case = _case(site)
    for plan in find_plans(case, top=3, time_limit=20.0).plans:
        document = plan_document(site, plan.elements, plan.case.plugs, units=case.layout.units)
        assert bad_rules_of(document, PACK) == set()
