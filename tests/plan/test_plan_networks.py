"""Plans for random works on the networks that WNTR ships, each passed by check afresh.

A third of them by default; `pytest -m nightly tests/plan` takes all 200.
"""

from __future__ import annotations

import pytest

from layoutcheck.document import parse_layout
from layoutcheck.report import check_document
from layoutcheck.report.plans import plan_layout
from tests.conftest import Require
from tests.plan.water_works import site

# File -> how many works: 200 in all. The large ones take seconds each to read and build.
WORKS = {"Net1.inp": 30, "Net2.inp": 60, "Net3.inp": 104, "ky4.inp": 5, "Net6.inp": 1}


@pytest.mark.slow
@pytest.mark.parametrize("name", list(WORKS))
def test_each_plan_for_a_random_work_is_passed_by_check(name: str, require: Require) -> None:
    require.module("wntr")
    _planned(name, range(0, WORKS[name], 3))


@pytest.mark.nightly
@pytest.mark.parametrize("name", list(WORKS))
def test_each_plan_for_all_random_works_is_passed_by_check(name: str, require: Require) -> None:
    require.module("wntr")
    _planned(name, range(WORKS[name]))


def _planned(name: str, seeds: range) -> None:
    planned = 0
    for seed in seeds:
        data = site(name, seed)
        report = plan_layout(parse_layout(data), data=data, top=1, time_limit=1.0)
        assert report.left_out == 0
        for plan in report.plans:
            planned += 1
            assert check_document(plan.document).exit_code == 0
    assert planned > 0
    print(f"{name}: {planned} plans for {len(seeds)} works")


def test_there_are_two_hundred_works() -> None:
    assert sum(WORKS.values()) == 200
