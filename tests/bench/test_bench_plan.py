"""Speed of a plan as a ratio, in one run, to one scipy maximum flow on the same graph.

The network is WNTR's Net6 (3,356 junctions) with WNTR's own random valve layer. Reading the
document and building the network are left out on both sides: the flow has its matrix, too.
"""

from __future__ import annotations

import gc
import statistics
import time

import pytest
from scipy.sparse.csgraph import maximum_flow

from layoutcheck.document import parse_layout
from layoutcheck.planning.bound import Bound
from layoutcheck.planning.ground import Ground
from layoutcheck.planning.search import Status, find_plans
from layoutcheck.rules.case import Case
from layoutcheck.rules.registry import default_pack
from tests.conftest import Require
from tests.plan.water_works import site

WORKS = 50
MOST = 50.0


@pytest.mark.bench
def test_the_median_plan_takes_no_more_than_fifty_maximum_flows(require: Require) -> None:
    require.module("wntr")
    find_plans(_case(WORKS), top=1, time_limit=1.0)  # load what is compiled
    plans, flows = [], []
    solved = 0
    for seed in range(WORKS):
        case = _case(seed)
        gc.collect()  # a document that is thrown away is no part of a plan
        start = time.perf_counter()
        found = find_plans(case, top=1, time_limit=10.0)
        plans.append(time.perf_counter() - start)
        solved += found.status is Status.OPTIMAL
        flows.append(_flow_time(case))
    ratio = statistics.median(plans) / statistics.median(flows)
    print(f"median plan {statistics.median(plans):.3f} s, flow {statistics.median(flows):.4f} s")
    print(f"ratio {ratio:.1f}; {solved} of {WORKS} optimal within 10 s")
    assert solved > WORKS / 2
    assert ratio <= MOST


def _case(seed: int) -> Case:
    return Case.of(parse_layout(site("Net6.inp", seed)), default_pack())


def _flow_time(case: Case) -> float:
    bound = Bound(Ground(case))
    graph = bound.graph()
    start = time.perf_counter()
    maximum_flow(graph, bound.start, bound.work)
    return time.perf_counter() - start
