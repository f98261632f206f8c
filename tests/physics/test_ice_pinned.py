"""Every word and figure of many small cases of the ice model, pinned from our own run.

They say that nothing changed, not that it is right (see `ice_cases`).
"""

import json
from typing import Any

import pytest

from tests.physics.ice_cases import FILE, MADE, plain

PINNED = json.loads(FILE.read_text(encoding="utf-8"))


def same(found: Any, kept: Any, where: str) -> None:
    """Compare texts to the letter and numbers to 1e-9: far above round-off, far below a change."""
    if isinstance(kept, dict):
        assert list(found) == list(kept), where
        for name, value in kept.items():
            same(found[name], value, f"{where} / {name}")
    elif isinstance(kept, list):
        assert len(found) == len(kept), where
        for at, value in enumerate(kept):
            same(found[at], value, f"{where} / {at}")
    elif isinstance(kept, float | int) and not isinstance(kept, bool):
        assert found == pytest.approx(kept, rel=1e-9, abs=1e-12), where
    else:
        assert found == kept, where
        assert type(found) is type(kept), where


@pytest.mark.parametrize("name", sorted(MADE))
def test_nothing_changed(name: str) -> None:
    same(plain(MADE[name]()), PINNED[name], name)


def test_every_pinned_case_is_still_made() -> None:
    assert list(PINNED) == ["note", *MADE]
