"""Speed and scale: ratios within one run, and the table that shows them.

In the default run a small version holds generous limits, so that a slip by a power of ten is seen at
once. `pytest -m bench` measures up to 100 000 pipes and holds the project's aims; `pytest -m nightly`
adds the million. `python -m tests.bench` writes the README's table.
"""

from __future__ import annotations

import json
from collections import defaultdict
from typing import Any

import pytest

from layoutcheck.document import parse_layout
from tests.bench import table
from tests.bench.__main__ import README, plan, run
from tests.bench.campus import campus
from tests.bench.core import LAYOUT_RULES, check_layout_rules
from tests.bench.measure import main as measure

# --- the invented site ------------------------------------------------------------------------


def test_a_seed_gives_one_site() -> None:
    assert json.dumps(campus(300, 8, 5)) == json.dumps(campus(300, 8, 5))
    assert json.dumps(campus(300, 8, 5)) != json.dumps(campus(300, 8, 6))


@pytest.mark.parametrize(("pipes", "plugs"), [(1, 2), (1_000, 2), (1_000, 200), (10_000, 20)])
def test_a_site_has_the_size_asked_for(pipes: int, plugs: int) -> None:
    site = campus(pipes, plugs)
    assert pipes <= len(site["pipes"]) <= pipes + 200
    assert len(site["plugs"]) == plugs


def test_every_rule_has_something_to_say_of_an_invented_site() -> None:
    """A benchmark on a site that breaks nothing would leave out the search for better places."""
    checked = check_layout_rules(parse_layout(campus(500, 48)))
    outcomes: dict[str, set[str]] = defaultdict(set)
    for item in checked.judgements:
        outcomes[item.rule].add(item.outcome.value)
    assert set(outcomes) == set(LAYOUT_RULES)
    always_held = {"cylinder-temperature"}
    for rule in set(LAYOUT_RULES) - always_held:
        assert "holds" in outcomes[rule], rule
        assert outcomes[rule] & {"broken", "undecided"}, rule
    assert any(p.nearest is None for p in checked.places)
    assert any(p.nearest is not None and p.nearest.travel > 0.0 for p in checked.places)


# --- the table --------------------------------------------------------------------------------


def test_the_table_in_the_readme_is_the_last_measurement() -> None:
    readme = README.read_text(encoding="utf-8")
    assert table.put_in(readme) == readme


def test_the_table_has_every_row_of_the_benchmark() -> None:
    written = table.table(table.read())
    for row in table.BY_SIZE:
        assert f"\n| {row.title} |" in written
    for pipes in table.SIZES:
        assert f"\n| {pipes:,} pipes |".replace(",", " ") in written


def test_what_is_kept_is_what_the_benchmark_runs() -> None:
    planned = {table.key(pipes, plugs) for pipes, plugs, _ in plan(table.SIZES[-1])}
    assert set(table.read()["runs"]) <= planned


# --- ratios -----------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def small() -> dict[str, Any]:
    return measure(1_000, 20, {"time", "plain", "again"})
