"""Answers are small: portions on request, no blanks, gzip, HEAD."""

from __future__ import annotations

import gzip
import json
from typing import Any

import jsonschema
import pytest
from fastapi.testclient import TestClient

from layoutcheck.document import parse_layout
from layoutcheck.report import check
from layoutcheck.report.portions import EVERY, USUAL, Portion, portions_json
from layoutcheck.report.schemas import schema_of
from tests.api.riser import riser


def ask(client: TestClient, layout: dict[str, Any], **given: Any) -> Any:
    return client.post("/v1/checks", json={"layout": layout}, **given)


def test_a_check_of_fifty_pipes_is_under_fifteen_kilobytes(client: TestClient) -> None:
    site = riser("A")
    assert len(site["pipes"]) == 50
    answer = ask(client, site, headers={"accept-encoding": "identity"})
    assert "content-encoding" not in answer.headers
    assert len(answer.content) < 15_000  # issue's figure; measured: 10 043 bytes
    assert len(answer.content) == int(answer.headers["content-length"])


def test_what_is_asked_for_is_all_there_is(client: TestClient, layout: dict[str, Any]) -> None:
    whole = json.loads(check(parse_layout(layout)).to_json())
    found = ask(client, layout, params={"parts": "verdict,actions,plugs"}).json()
    assert {"verdict", "actions", "plugs", "left_out"} <= found.keys()
    assert {"findings", "mending", "cautions", "assumptions", "flowing"}.isdisjoint(found)
    assert found["left_out"] == [p for p in Portion if p not in {"verdict", "actions", "plugs"}]
    for plug, full in zip(found["plugs"], whole["plugs"], strict=True):
        assert {"clear", "shut_out"}.isdisjoint(plug)
        assert plug == {k: full[k] for k in plug} | {"freeze": plug["freeze"]}
        freeze = plug["freeze"]
        assert {"courses", "signs"}.isdisjoint(freeze)
        assert freeze == {k: full["freeze"][k] for k in freeze} | {"coolant": freeze["coolant"]}


def test_names_may_come_one_by_one(client: TestClient, layout: dict[str, Any]) -> None:
    one = ask(client, layout, params={"parts": "actions,plugs"})
    other = ask(client, layout, params=[("parts", "actions"), ("parts", "plugs")])
    assert one.content == other.content


def test_the_whole_is_the_librarys_report(client: TestClient, layout: dict[str, Any]) -> None:
    report = check(parse_layout(layout))
    found = ask(client, layout, params={"parts": "all"})
    assert found.json() == json.loads(report.to_json())
    assert found.text == portions_json(report, EVERY)


@pytest.mark.parametrize(
    "portions", [USUAL, EVERY, *({p} for p in Portion)], ids=lambda asked: "+".join(sorted(asked))
)
def test_any_portion_fits_the_schema_of_a_report(
    layout: dict[str, Any], portions: set[Portion]
) -> None:
    found = json.loads(portions_json(check(parse_layout(layout)), portions))
    jsonschema.validate(found, schema_of("report"))


def test_what_holds_comes_only_when_asked_for(client: TestClient, layout: dict[str, Any]) -> None:
    usual = {f["outcome"] for f in ask(client, layout).json()["findings"]}
    held = ask(client, layout, params={"parts": "held"}).json()["findings"]
    assert usual.isdisjoint({"holds", "does not apply"})
    assert {f["outcome"] for f in held} <= {"holds", "does not apply"}
    assert held


def test_an_unknown_portion_is_a_fault_with_its_place(
    client: TestClient, layout: dict[str, Any]
) -> None:
    answer = ask(client, layout, params={"parts": "verdict,plug"})
    assert answer.status_code == 422
    (fault,) = answer.json()["faults"]
    assert (fault["pointer"], fault["found"]) == ("/query/parts", "plug")
    assert "plugs" in fault["problem"]


def test_answers_over_a_kilobyte_are_compressed_for_who_takes_it(client: TestClient) -> None:
    headers = {"accept-encoding": "gzip"}
    with client.stream("POST", "/v1/checks", json={"layout": riser("A")}, headers=headers) as got:
        packed = b"".join(got.iter_raw())
    assert got.headers["content-encoding"] == "gzip"
    assert gzip.decompress(packed) == ask(client, riser("A")).content
    small = client.get("/health", headers=headers)
    assert "content-encoding" not in small.headers
    other = ask(client, riser("A"), headers={"accept-encoding": "br, zstd"})
    assert "content-encoding" not in other.headers


def test_no_answer_holds_blanks_between_its_parts(
    client: TestClient, layout: dict[str, Any]
) -> None:
    for answer in (ask(client, layout), ask(client, {}), client.get("/v1/rules")):
        assert answer.text.strip() == json.dumps(
            answer.json(), separators=(",", ":"), ensure_ascii=answer.status_code == 422
        )


def test_head_stands_wherever_get_does(client: TestClient) -> None:
    paths = client.get("/openapi.json").json()["paths"]
    fixed = [p for p, operations in paths.items() if "get" in operations and "{" not in p]
    fixed.remove("/metrics")  # it counts each request, so no two answers are alike
    assert len(fixed) >= 5
    for path in (*fixed, "/openapi.json", "/v1/rules/isolation", "/v1/schemas/layout"):
        whole, head = client.get(path), client.head(path)
        assert head.status_code == whole.status_code, path
        assert head.content == b""
        assert head.headers.get("content-length") == whole.headers.get("content-length"), path
    assert client.head("/v1/checks").status_code == 405
    assert client.post("/v1/rules").headers["allow"] == "GET, HEAD"
