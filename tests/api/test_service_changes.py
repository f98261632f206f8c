"""Changes to a layout: applied as the RFCs write it, and answered with what differs."""

from __future__ import annotations

import copy
import json
import re
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from hypothesis import given
from hypothesis import strategies as st

from layoutcheck.document import parse_layout
from layoutcheck.report import check
from layoutcheck_service.changes import changed_layout
from layoutcheck_service.problems import ProblemError
from tests.api.conftest import app_in_thread
from tests.api.riser import riser

# RFC 7396, appendix A: every example but those whose target or patch is no object.
MERGES = [
    ({"a": "b"}, {"a": "c"}, {"a": "c"}),
    ({"a": "b"}, {"b": "c"}, {"a": "b", "b": "c"}),
    ({"a": "b"}, {"a": None}, {}),
    ({"a": "b", "b": "c"}, {"a": None}, {"b": "c"}),
    ({"a": ["b"]}, {"a": "c"}, {"a": "c"}),
    ({"a": "c"}, {"a": ["b"]}, {"a": ["b"]}),
    ({"a": {"b": "c"}}, {"a": {"b": "d", "c": None}}, {"a": {"b": "d"}}),
    ({"a": [{"b": "c"}]}, {"a": [1]}, {"a": [1]}),
    ({"e": None}, {"a": 1}, {"e": None, "a": 1}),
    ({}, {"a": {"bb": {"ccc": None}}}, {"a": {"bb": {}}}),
]
# RFC 6902, appendix A: 1 to 8, 12, 14 and 16.
PATCHES: list[tuple[Any, list[Any], Any]] = [
    ({"foo": "bar"}, [{"op": "add", "path": "/baz", "value": "q"}], {"baz": "q", "foo": "bar"}),
    (
        {"foo": ["bar", "baz"]},
        [{"op": "add", "path": "/foo/1", "value": "qux"}],
        {"foo": ["bar", "qux", "baz"]},
    ),
    ({"baz": "qux", "foo": "bar"}, [{"op": "remove", "path": "/baz"}], {"foo": "bar"}),
    (
        {"foo": ["bar", "qux", "baz"]},
        [{"op": "remove", "path": "/foo/1"}],
        {"foo": ["bar", "baz"]},
    ),
    ({"baz": "qux"}, [{"op": "replace", "path": "/baz", "value": "boo"}], {"baz": "boo"}),
    (
        {"foo": {"bar": "baz", "waldo": "fred"}, "qux": {"corge": "grault"}},
        [{"op": "move", "from": "/foo/waldo", "path": "/qux/thud"}],
        {"foo": {"bar": "baz"}, "qux": {"corge": "grault", "thud": "fred"}},
    ),
    (
        {"foo": ["all", "grass", "cows", "eat"]},
        [{"op": "move", "from": "/foo/1", "path": "/foo/3"}],
        {"foo": ["all", "cows", "eat", "grass"]},
    ),
    (
        {"baz": "qux", "foo": ["a", 2, "c"]},
        [
            {"op": "test", "path": "/baz", "value": "qux"},
            {"op": "test", "path": "/foo/1", "value": 2},
        ],
        {"baz": "qux", "foo": ["a", 2, "c"]},
    ),
    ({"/": 9, "~1": 10}, [{"op": "test", "path": "/~01", "value": 10}], {"/": 9, "~1": 10}),
    (
        {"foo": ["bar"]},
        [{"op": "add", "path": "/foo/-", "value": ["abc"]}],
        {"foo": ["bar", ["abc"]]},
    ),
]


@pytest.mark.parametrize(("target", "patch", "result"), MERGES)
def test_merging_is_that_of_rfc_7396(target: Any, patch: Any, result: Any) -> None:
    assert changed_layout(target, {"merge": patch}) == result


@pytest.mark.parametrize(("target", "patch", "result"), PATCHES)
def test_changing_is_that_of_rfc_6902(target: Any, patch: Any, result: Any) -> None:
    before = copy.deepcopy(target)
    assert changed_layout(target, {"changes": patch}) == result
    assert target == before


@pytest.mark.parametrize(
    ("changes", "pointer"),
    [
        ([{"op": "add", "path": "/baz/bat", "value": 1}], "/changes/0/path"),  # appendix A.12
        ([{"op": "test", "path": "/baz", "value": "bar"}], "/changes/0"),  # appendix A.9
        ([{"op": "test", "path": "/", "value": 1}], "/changes/0"),
        (
            [{"op": "add", "path": "/x", "value": 1}, {"op": "remove", "path": "/y"}],
            "/changes/1/path",
        ),
        ([{"op": "spam", "path": "/x"}], "/changes/0"),
        ([{"op": "replace", "path": "/foo"}], "/changes/0"),
        ([7], "/changes/0"),
        (7, "/changes"),
        ([{"op": "add", "path": "no pointer", "value": 1}], "/changes/0/path"),
    ],
)
def test_what_can_not_be_done_is_told_at_its_place(changes: Any, pointer: str) -> None:
    with pytest.raises(ProblemError) as caught:
        changed_layout({"foo": "bar"}, {"changes": changes})
    (fault,) = caught.value.problem.faults or ()
    assert fault.pointer == pointer


def test_copies_do_not_grow_without_end() -> None:
    doubling = [{"op": "copy", "from": "", "path": f"/{n}"} for n in range(60)]
    with pytest.raises(ProblemError, match="can not be done"):
        changed_layout({"x": "y" * 1000}, {"changes": doubling})


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(max_size=3), inner),
)


@given(JSON, st.lists(JSON, max_size=3), JSON)
def test_no_change_does_harm(target: Any, changes: Any, merge: Any) -> None:
    try:
        changed_layout(target, {"changes": changes, "merge": merge})
    except ProblemError as refused:
        assert refused.problem.faults


MOVED = {"op": "replace", "path": "/plugs/0/station"}


def test_the_answer_says_what_differs(client: TestClient) -> None:
    site = riser("A")
    pipe = next(p for p in site["pipes"] if p["id"] == site["plugs"][0]["pipe"])
    change = {**MOVED, "value": "1 ft"}
    after = copy.deepcopy(site)
    after["plugs"][0]["station"] = "1 ft"
    assert pipe
    answer = client.post("/v1/checks", json={"layout": site, "changes": [change]})
    assert answer.status_code == 200
    told = answer.json()
    alone = client.post("/v1/checks", json={"layout": after}).json()
    changed = told.pop("changed")
    assert told == alone
    before, now = check(parse_layout(site)), check(parse_layout(after))
    ids = {f.id for f in before.findings}, {f.id for f in now.findings}
    assert {f["id"] for f in changed["new"]} == ids[1] - ids[0]
    assert {f["id"] for f in changed["gone"]} == ids[0] - ids[1]
    assert changed["verdict_before"] == before.verdict
    assert changed["moved"]  # the plug's own place, if nothing else
    for pair in changed["moved"]:
        assert pair["before"]["id"] == pair["after"]["id"]
        assert {**pair["before"], "action": 0} != {**pair["after"], "action": 0}


def test_a_change_that_changes_nothing_differs_in_nothing(client: TestClient) -> None:
    answer = client.post("/v1/checks", json={"layout": riser("A"), "merge": {}})
    changed = answer.json()["changed"]
    assert (changed["new"], changed["gone"], changed["moved"]) == ([], [], [])


def test_a_kept_layout_need_not_be_sent_again(client: TestClient) -> None:
    site = riser("A")
    kept = client.post("/v1/bases", json={"layout": site})
    assert kept.status_code == 201
    base = kept.json()["base"]
    change = {"changes": [{**MOVED, "value": "1 ft"}]}
    assert len(json.dumps(change)) < 100 < len(json.dumps(site)) / 50
    short = client.post(f"/v1/bases/{base}/checks", json=change)
    whole = client.post("/v1/checks", json={"layout": site, **change})
    assert short.content == whole.content
    merge = {"merge": {"plugs": None}}
    assert client.post(f"/v1/bases/{base}/checks", json=merge).json()["plugs"] == []
    # The kept one stays as it was.
    assert client.post(f"/v1/bases/{base}/checks", json=change).content == short.content


def test_what_is_not_kept_is_asked_for_again(client: TestClient) -> None:
    for name in ("0" * 32, "nothing", ".." + "0" * 30):
        answer = client.post(f"/v1/bases/{name}/checks", json={})
        assert (answer.status_code, answer.json()["type"]) == (
            404,
            "urn:layoutcheck:problem:not-found",
        )


def test_the_oldest_give_way(monkeypatch: pytest.MonkeyPatch, layout: dict[str, Any]) -> None:
    monkeypatch.setattr("layoutcheck_service.bases.MOST", 2)
    with TestClient(app_in_thread()) as client:
        names = [
            client.post("/v1/bases", json={"layout": {**layout, "name": str(n)}}).json()["base"]
            for n in range(3)
        ]
        found = [client.post(f"/v1/bases/{n}/checks", json={}).status_code for n in names]
        assert found == [404, 200, 200]


def test_what_the_page_asks_for_while_plugs_are_dragged_is_a_glance(client: TestClient) -> None:
    """It sends the plugs alone, and leaves out what a glance leaves out."""
    page = Path(__file__).parents[2] / "api" / "page" / "src" / "kept.ts"
    parts = re.search(r'PARTS = "([a-z,]+)"', page.read_text(encoding="utf-8"))
    assert parts
    site = riser("A")
    base = client.post("/v1/bases", json={"layout": site}).json()["base"]
    plugs = copy.deepcopy(site["plugs"])
    plugs[0]["station"] = "1 ft"
    found = client.post(
        f"/v1/bases/{base}/checks", params={"parts": parts[1]}, json={"merge": {"plugs": plugs}}
    ).json()
    whole = client.post("/v1/glances", json={"layout": {**site, "plugs": plugs}}).json()
    assert found.pop("changed")
    assert set(found.pop("left_out")) == {"actions", "mending", "proposal"}
    assert found == {k: v for k, v in whole.items() if k not in {"actions", "mending"}}
    assert (whole["actions"], whole["mending"]) == ([], None)
