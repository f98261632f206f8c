"""Every small case of the physics says what it said when it was pinned from our own run."""

from __future__ import annotations

from typing import Any

import pytest

from tests.physics.pinned import answer, kept
from tests.physics.pinned_cases import GROUPS

KEPT = kept()
# How far a number may move. CoolProp's last digits are its own, and the fresh air that a room needs
# is only searched for to a hundred-thousandth.
TOLERANCE = {"cylinder": 1e-8, "airing": 3e-5}


def differences(found: Any, expected: Any, tolerance: float, where: str) -> list[str]:
    """Tell where two answers differ by more than rounding, word by word and figure by figure."""
    if isinstance(expected, dict) and isinstance(found, dict) and list(found) == list(expected):
        pairs = [(k, found[k], expected[k]) for k in expected]
    elif isinstance(expected, list) and isinstance(found, list) and len(found) == len(expected):
        pairs = [(str(k), *pair) for k, pair in enumerate(zip(found, expected, strict=True))]
    elif type(found) is type(expected) is float:
        alike = found == pytest.approx(expected, rel=tolerance, abs=1e-12 * tolerance)
        return [] if alike else [f"{where}: {found!r}, not {expected!r}"]
    else:
        alike = type(found) is type(expected) and found == expected
        return [] if alike else [f"{where}: {found!r}, not {expected!r}"]
    return [d for k, a, b in pairs for d in differences(a, b, tolerance, f"{where}/{k}")]


@pytest.mark.parametrize("group", GROUPS)
def test_each_case_says_what_it_said(group: str) -> None:
    assert list(KEPT[group]) == list(GROUPS[group])
    tolerance = TOLERANCE.get(group, 1e-9)
    found = [
        difference
        for name, case in GROUPS[group].items()
        for difference in differences(answer(case), KEPT[group][name], tolerance, name)
    ]
    assert not found, "\n".join(found)


def test_every_case_is_of_a_group_and_every_group_has_cases() -> None:
    assert list(KEPT) == list(GROUPS)
    assert all(GROUPS.values())
