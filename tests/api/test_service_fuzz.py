"""A sound layout with one thing changed gets further in than random bodies do."""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from typing import Any

from fastapi.testclient import TestClient
from hypothesis import given, settings
from hypothesis import strategies as st

from layoutcheck_service import examples
from tests.api.conftest import app_in_thread
from tests.sizes import some


def places(value: Any, here: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    """Every place in a JSON value."""
    yield here
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from places(inner, (*here, key))
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            yield from places(inner, (*here, index))


CLIENT = TestClient(app_in_thread())
PLACES = [place for place in places(examples.LAYOUT) if place]
REPLACEMENTS = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.floats(allow_nan=False, allow_infinity=False),
    st.text(max_size=20),
    st.sampled_from(["0 ft", "-1 ft", "1e9 mi", "1e-12 m", "NPS 2", "DN 0", "A", "J1", "branch"]),
    st.sampled_from(["900 psi", "-500 degF", "0 h", "5", "", "\u202e", "__proto__"]),
    st.just([]),
    st.just({}),
)


def changed(place: tuple[str | int, ...], value: Any) -> dict[str, Any]:
    """The example layout with another value at one place."""
    made: dict[str, Any] = copy.deepcopy(examples.LAYOUT)
    here: Any = made
    for part in place[:-1]:
        here = here[part]
    here[place[-1]] = value
    return made


@settings(max_examples=some(150))
@given(place=st.sampled_from(PLACES), value=REPLACEMENTS)
def test_one_changed_place_is_judged_or_named(place: tuple[str | int, ...], value: Any) -> None:
    body = json.dumps({"layout": changed(place, value)})
    answer = CLIENT.post("/v1/checks", content=body, headers={"content-type": "application/json"})
    if answer.status_code == 200:
        assert answer.json()["counts"]["fault"] == 0
        return
    assert answer.status_code == 422
    for fault in answer.json()["faults"]:
        assert fault["pointer"].startswith("/layout")
        assert fault["problem"]
        assert fault["example"]
