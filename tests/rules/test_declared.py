"""What rules declare of themselves: others ask them, and know none by name."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pytest

import layoutcheck
from layoutcheck.rules.base import PlacingRule, SetbackRule
from layoutcheck.rules.declared import CLOSURES, Blank, Cure, RestsOn, Role
from layoutcheck.rules.registry import all_rules, rule_of

HOUSE = Path(layoutcheck.__file__).parent


def test_no_name_of_a_rule_stands_outside_the_rules() -> None:
    names = "|".join(name for name in all_rules() if "-" in name)
    quoted = re.compile(rf"[\"'](?:{names})[\"']")
    rooms = (p for p in HOUSE.rglob("*.py") if "rules" not in p.relative_to(HOUSE).parts)
    assert {p: quoted.findall(t) for p in rooms if quoted.search(t := p.read_text())} == {}


@pytest.mark.parametrize("role", Role)
def test_each_part_is_played_by_one_rule(role: Role) -> None:
    assert rule_of(role).role is role
    assert Counter(r.role for r in all_rules().values())[role] == 1


def test_each_rule_of_place_can_be_mended_by_a_move() -> None:
    for rule in all_rules().values():
        if isinstance(rule, PlacingRule):
            assert Cure.MOVE in rule.cures, rule.name
        if isinstance(rule, SetbackRule):
            assert rule.keeps_distance, rule.name


def test_what_rests_on_the_water_can_be_mended_at_a_valve() -> None:
    """Closing a valve stops a flow, cuts off a head and parts a loop: by what each rests on."""
    water = {RestsOn.FLOW, RestsOn.HEAD, RestsOn.LOOP, RestsOn.SECTION, RestsOn.SHUT_END}
    for rule in all_rules().values():
        if rule.rests_on in water:
            assert rule.cures & CLOSURES, rule.name


def test_each_fact_that_may_be_left_out_is_needed_by_a_rule() -> None:
    assert set(Blank) == {blank for rule in all_rules().values() for blank in rule.needs}
