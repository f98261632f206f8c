"""Many layouts in one request, and work that nobody waits for."""

from __future__ import annotations

import asyncio
import json
import time
from collections.abc import AsyncGenerator
from pathlib import Path
from typing import Any, cast

import httpx
import pytest
from fastapi.testclient import TestClient
from starlette.requests import Request
from starlette.responses import Response

from layoutcheck_service.app import create_app
from layoutcheck_service.routes.batches import _answers
from layoutcheck_service.settings import Settings
from layoutcheck_service.work.engine import State
from layoutcheck_service.work.job import Answer, Job
from tests.api.conftest import app_in_thread
from tests.api.running import eventually, running

ASYNC = {"prefer": "respond-async"}


def lines_of(answer: Any) -> list[dict[str, Any]]:
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"].startswith("application/x-ndjson")
    return sorted((json.loads(x) for x in answer.text.splitlines()), key=lambda x: x["index"])


def three(layout: dict[str, Any]) -> list[dict[str, Any]]:
    return [
        {"layout": layout},
        {"layout": {**layout, "pipes": 7}},
        {"layout": layout, "merge": {"plugs": None}},
    ]


def test_each_layout_is_answered_by_itself(client: TestClient, layout: dict[str, Any]) -> None:
    found = lines_of(client.post("/v1/batches", json={"checks": three(layout)}))
    assert [(x["index"], x["status"]) for x in found] == [(0, 200), (1, 422), (2, 200)]
    for body, line in zip(three(layout), found, strict=True):
        alone = client.post("/v1/checks", json=body)
        assert line["status"] == alone.status_code
        assert line.get("report", line.get("problem")) == alone.json()


def test_lines_of_json_are_the_same_batch(client: TestClient, layout: dict[str, Any]) -> None:
    text = "\n".join(json.dumps(x) for x in three(layout)) + "\n\n"
    headers = {"content-type": "application/x-ndjson"}
    query = {"parts": "verdict"}
    one = client.post("/v1/batches", content=text, headers=headers, params=query)
    other = client.post("/v1/batches", json={"checks": three(layout)}, params=query)
    assert lines_of(one) == lines_of(other)
    assert "findings" not in lines_of(one)[0]["report"]
    broken = client.post("/v1/batches", content=b"{\n" + text.encode(), headers=headers)
    assert [x["status"] for x in lines_of(broken)] == [400, 200, 422, 200]


@pytest.mark.parametrize(
    ("body", "pointer"),
    [({"checks": []}, "/checks"), ({"checks": 7}, "/checks"), ({}, ""), ([], "")],
)
def test_what_is_no_batch_is_refused(client: TestClient, body: Any, pointer: str) -> None:
    answer = client.post("/v1/batches", json=body)
    assert answer.status_code == 422
    assert answer.json()["faults"][0]["pointer"] == pointer


def test_a_batch_has_a_limit(layout: dict[str, Any]) -> None:
    with TestClient(app_in_thread(max_batch=2)) as client:
        answer = client.post("/v1/batches", json={"checks": three(layout)})
        assert answer.status_code == 422
        assert "2" in answer.json()["faults"][0]["problem"]


class Gated:
    """An engine whose jobs wait until they are let go; tells which were given up."""

    def __init__(self) -> None:
        self.gates: dict[bytes, asyncio.Event] = {}
        self.given_up: list[bytes] = []

    async def start(self) -> None: ...

    async def stop(self, seconds: float) -> None: ...

    def refuse_early(self, owner: str | None, *, long: bool = False) -> None: ...

    def state(self) -> State:
        return State(4, 4, 4, 0, serving=True)

    async def run(self, job: Job, *, owner: str | None = None) -> Answer:
        gate = self.gates.setdefault(job.held, asyncio.Event())
        try:
            await gate.wait()
        except asyncio.CancelledError:
            self.given_up.append(job.held)
            raise
        return Answer.of(Response(b'{"of":' + job.held + b"}", media_type="application/json"))


def test_lines_come_as_checks_end() -> None:
    """The one that ends first is there before the others end, whatever its place."""

    async def play() -> list[bytes]:
        engine = Gated()
        app = create_app(Settings(), engine=engine)
        request = Request({"type": "http", "app": app, "state": {}, "headers": []})
        came = cast("AsyncGenerator[bytes]", _answers(request, [b"1", b"2", b"3"], ""))
        first = asyncio.ensure_future(anext(came))
        await asyncio.sleep(0.01)
        engine.gates[b"2"].set()
        got = [await first]
        await came.aclose()
        await asyncio.sleep(0.01)
        assert sorted(engine.given_up) == [b"1", b"3"]  # the client left
        return got

    assert asyncio.run(play()) == [b'{"index":1,"status":200,"report":{"of":2}}\n']


def test_work_goes_on_when_nobody_waits_and_its_result_is_the_same(
    client: TestClient, layout: dict[str, Any]
) -> None:
    body = {"layout": layout, "top": 1, "time_limit": 60}
    begun = client.post("/v1/plans", json=body, headers=ASYNC)
    assert begun.status_code == 202
    assert begun.headers["preference-applied"] == "respond-async"
    place = begun.headers["location"]
    eventually(lambda: client.get(place).json()["state"] == "done", within=60)
    assert client.get(place).json() == {**begun.json(), "state": "done", "status": 200}
    result = client.get(f"{place}/result")
    assert result.content == client.post("/v1/plans", json=body).content
    ended = client.delete(place)
    assert ended.json()["state"] == "cancelled"
    assert client.get(place).status_code == 404


def test_a_fault_is_a_result_too(client: TestClient) -> None:
    place = client.post("/v1/plans", json={"layout": 7}, headers=ASYNC).headers["location"]
    eventually(lambda: client.get(place).json()["state"] == "done", within=30)
    result = client.get(f"{place}/result")
    assert (result.status_code, client.get(place).json()["status"]) == (422, 422)
    assert result.json()["faults"]


def test_what_is_not_asked_for_so_is_answered_at_once(
    client: TestClient, layout: dict[str, Any]
) -> None:
    for prefer in ("return=minimal", "respond-asynchronously", ""):
        answer = client.post("/v1/plans", json={"layout": layout}, headers={"prefer": prefer})
        assert answer.status_code == 200


def test_jobs_are_bounded(layout: dict[str, Any]) -> None:
    with TestClient(app_in_thread(max_jobs=1)) as client:
        body = {"layout": layout}
        place = client.post("/v1/plans", json=body, headers=ASYNC).headers["location"]
        full = client.post("/v1/plans", json=body, headers=ASYNC)
        assert full.status_code == 503
        assert full.headers["retry-after"]
        client.delete(place)
        eventually(
            lambda: client.post("/v1/plans", json=body, headers=ASYNC).status_code == 202,
            within=60,
        )


def test_a_job_survives_its_callers_leaving_and_ends_when_it_is_cancelled(tmp_path: Path) -> None:
    """With real workers: a cancelled job's process is killed, and another takes its place."""
    site = json.loads(
        (Path(__file__).parents[2] / "fixtures" / "heating-riser-mended.json").read_text()
    )
    body = {"layout": site, "top": 1, "time_limit": 60}
    with running(workers=2) as service:
        with httpx.Client(base_url=service.address, timeout=120) as caller:
            place = caller.post("/v1/plans", json=body, headers=ASYNC).headers["location"]
        with httpx.Client(base_url=service.address, timeout=120) as other:
            waited = other.get(f"{place}/result")
            assert waited.status_code in {200, 202}
            eventually(lambda: other.get(place).json()["state"] == "done", within=120)
            assert other.get(f"{place}/result").json()["plans"]
            again = other.post("/v1/plans", json=body, headers=ASYNC).headers["location"]
            time.sleep(0.2)
            assert other.delete(again).json()["state"] == "cancelled"
            numbers = other.get("/metrics").text
            assert "layoutcheck_workers_replaced_total" in numbers
