"""A second phone follows a freeze: only who has the secret adds, nobody changes, all is bounded.

What is asserted is the promise of api/layoutcheck_service/watches.py; there is no outside source.
"""

from __future__ import annotations

from typing import Any

import pytest
from fastapi.testclient import TestClient

from layoutcheck_service.watches import NoRoom, TooMuch, Watches, WatchLimits, WrongSecret

NAME = "0123456789abcdef" * 2
SECRET = "invented-secret-of-a-phone"
PLAN = {"format": "layoutcheck watch 1", "plugs": []}


def posted(*entries: str, **more: Any) -> dict[str, Any]:
    listed = [{"id": e, "kind": "note", "wall": 1.0} for e in entries]
    return {"secret": SECRET, "now": 1000.0, "plan": None, "entries": listed, **more}


def test_what_one_phone_posts_another_reads(client: TestClient) -> None:
    answer = client.post(f"/v1/watches/{NAME}", json=posted("a", "b", plan=PLAN))
    assert answer.json() == {"entries": 2, "plan": True}
    client.post(f"/v1/watches/{NAME}", json=posted("b", "c", now=2000.0))
    page = client.get(f"/v1/watches/{NAME}").json()
    assert [e["id"] for e in page["entries"]] == ["a", "b", "c"]  # sent twice, kept once
    assert page["entries"][0] == {"id": "a", "kind": "note", "wall": 1.0}
    assert page["plan"] == PLAN
    assert (page["next"], page["now"]) == (3, 2000.0)
    assert page["age"] >= 0.0
    later = client.get(f"/v1/watches/{NAME}?after=2").json()
    assert [e["id"] for e in later["entries"]] == ["c"]
    assert later["plan"] is None


def test_an_entry_never_changes(client: TestClient) -> None:
    client.post(f"/v1/watches/{NAME}", json=posted("a", plan=PLAN))
    changed = posted("a", plan={"format": "another"})
    changed["entries"][0]["kind"] = "another"
    client.post(f"/v1/watches/{NAME}", json=changed)
    page = client.get(f"/v1/watches/{NAME}").json()
    assert (page["entries"][0]["kind"], page["plan"]) == ("note", PLAN)


def test_without_the_secret_nothing_is_added(client: TestClient) -> None:
    client.post(f"/v1/watches/{NAME}", json=posted("a"))
    answer = client.post(f"/v1/watches/{NAME}", json=posted("x", secret="another-secret-of-16"))
    assert answer.status_code == 404
    assert len(client.get(f"/v1/watches/{NAME}").json()["entries"]) == 1
    # It is not told apart from a watch that there is not.
    unknown = client.get(f"/v1/watches/{'f' * 32}")
    assert unknown.json()["detail"] == answer.json()["detail"]


@pytest.mark.parametrize("name", ["short", "G" * 32, "0" * 33, "0" * 31])
def test_a_name_that_could_be_guessed_is_none(client: TestClient, name: str) -> None:
    assert client.post(f"/v1/watches/{name}", json=posted("a")).status_code == 404


def test_each_fault_is_told_with_its_place(client: TestClient) -> None:
    body = posted("a", secret="short")
    body["entries"].append({"kind": "no id"})
    answer = client.post(f"/v1/watches/{NAME}", json=body)
    assert answer.status_code == 422
    assert [f["pointer"] for f in answer.json()["faults"]] == ["/secret", "/entries/1/id"]


def made(now: list[float]) -> Watches:
    return Watches(WatchLimits(watches=2, bytes_each=200, seconds=60.0), lambda: now[0])


def test_it_is_bounded_in_number_size_and_time() -> None:
    now = [0.0]
    watches = made(now)
    for name in ("one", "two"):
        watches.add(name, posted("a"))
    with pytest.raises(NoRoom):
        watches.add("three", posted("a"))
    with pytest.raises(TooMuch):
        watches.add("one", posted(*(f"entry {n}" for n in range(9))))
    kept, _ = watches.get("one") or pytest.fail("it is there")
    assert list(kept.entries) == ["a"]  # what was refused left nothing behind
    now[0] = 61.0
    assert watches.get("one") is None
    watches.add("three", posted("a"))


def test_its_age_is_from_when_its_phone_was_last_heard() -> None:
    now = [0.0]
    watches = made(now)
    watches.add("one", posted("a"))
    now[0] = 7.5
    assert (watches.get("one") or pytest.fail("it is there"))[1] == 7.5
    with pytest.raises(WrongSecret):
        watches.add("one", posted("b", secret="another-secret-of-16"))
    assert (watches.get("one") or pytest.fail("it is there"))[1] == 7.5
