"""What the service tells of itself: log, request ids, numbers; never what a layout holds."""

from __future__ import annotations

import io
import json
import logging
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi.testclient import TestClient
from prometheus_client.parser import text_string_to_metric_families

from layoutcheck_service.logs import Lines
from tests.api.conftest import app_in_thread
from tests.api.running import BYTES, running

SECRET = "Kestrel-Tower-East-Riser"
LOGGER = logging.getLogger("layoutcheck_service")


@pytest.fixture
def lines() -> Iterator[io.StringIO]:
    """What the service would write at level 'info'."""
    stream = io.StringIO()
    handler = logging.StreamHandler(stream)
    handler.setFormatter(Lines(texts=False))
    before = LOGGER.level
    LOGGER.addHandler(handler)
    LOGGER.setLevel("INFO")
    yield stream
    LOGGER.removeHandler(handler)
    LOGGER.setLevel(before)


def secret_layout(layout: dict[str, Any]) -> dict[str, Any]:
    """The layout with a name in every place that takes one."""
    text = json.dumps(layout).replace('"branch"', f'"{SECRET}"').replace("Larkfield", SECRET)
    made: dict[str, Any] = json.loads(text)
    return made


def test_each_request_is_one_line_of_json(
    client: TestClient, lines: io.StringIO, layout: dict[str, Any]
) -> None:
    answer = client.post("/v1/checks", json={"layout": layout})
    (line,) = [json.loads(x) for x in lines.getvalue().splitlines()]
    assert line["event"] == "request"
    assert line["level"] == "info"
    assert (line["method"], line["route"], line["status"]) == ("POST", "/v1/checks", 200)
    assert line["request_id"] == answer.headers["x-request-id"]
    assert 0 < line["seconds"] < 60
    assert line["time"].endswith("+00:00")


def test_no_line_holds_what_a_layout_holds(
    client: TestClient,
    lines: io.StringIO,
    layout: dict[str, Any],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    sound = secret_layout(layout)
    client.post("/v1/checks", json={"layout": sound})
    client.post("/v1/checks", json={"layout": {**sound, "plugs": 7}})
    client.post(f"/v1/imports?name={SECRET}.csv", content=SECRET.encode(), headers=BYTES)
    client.get(f"/v1/rules/{SECRET}")
    client.get(f"/{SECRET}")
    client.get("/health", headers={"x-request-id": f"{SECRET} {SECRET}"})

    def failing(*_: object, **__: object) -> None:
        raise KeyError(SECRET)

    monkeypatch.setattr("layoutcheck_service.routes.checks.check", failing)
    assert client.post("/v1/checks", json={"layout": sound}).status_code == 500
    said = lines.getvalue()
    assert SECRET not in said
    fault = next(x for x in map(json.loads, said.splitlines()) if x["level"] == "error")
    assert fault["error"] == "KeyError"
    assert fault["through"][-1].startswith("test_service_log.py:")
    assert fault["request_id"]


def test_only_every_detail_shows_the_text_of_a_fault() -> None:
    try:
        raise ValueError(SECRET)
    except ValueError as error:
        record = LOGGER.makeRecord("x", logging.ERROR, "f", 1, "went wrong", (), None)
        record.exc_info = (type(error), error, error.__traceback__)
    assert SECRET in json.loads(Lines(texts=True).format(record))["text"]
    assert SECRET not in Lines(texts=False).format(record)


def test_no_character_of_a_line_can_turn_a_terminal() -> None:
    record = logging.makeLogRecord({"msg": "a\u202eb\x1b[31m\ncd", "level": 1})
    line = Lines(texts=False).format(record)
    assert line.isascii()
    assert line.isprintable()


@pytest.mark.parametrize("given", ["a1b2c3d4", "0af7651916cd43dd8448eb211c80319c", "A.b_c-d9"])
def test_a_sound_request_id_is_kept(client: TestClient, given: str) -> None:
    for answer in (
        client.get("/health", headers={"x-request-id": given}),
        client.post("/v1/checks", content=b"{", headers={"x-request-id": given}),
        client.get("/nothing", headers={"x-request-id": given}),
    ):
        assert answer.headers["x-request-id"] == given


@pytest.mark.parametrize(
    "given", ["", "short", "x" * 65, "a b c d e f", '"quoted-id"', "../../etc"]
)
def test_an_unsound_request_id_gives_way_to_one_of_ours(client: TestClient, given: str) -> None:
    ours = {client.get("/health", headers={"x-request-id": given}).headers["x-request-id"]}
    ours |= {client.get("/health").headers["x-request-id"]}
    assert len(ours) == 2
    assert all(len(i) == 32 and int(i, 16) >= 0 for i in ours)


def numbers(client: TestClient) -> dict[tuple[str, tuple[tuple[str, str], ...]], float]:
    """Read the numbers with Prometheus' own parser."""
    answer = client.get("/metrics")
    assert answer.headers["content-type"].startswith("text/plain; version=")
    return {
        (sample.name, tuple(sorted(sample.labels.items()))): sample.value
        for family in text_string_to_metric_families(answer.text)
        for sample in family.samples
    }


def test_the_numbers_count_requests_by_declared_route_and_hold_no_names(
    layout: dict[str, Any],
) -> None:
    with TestClient(app_in_thread()) as client:
        client.post("/v1/checks", json={"layout": secret_layout(layout)})
        client.post("/v1/checks", json={})
        client.get(f"/v1/rules/{SECRET}")
        for path in (f"/{SECRET}", "/a", "/b"):
            client.request("BREW", path)
        found = numbers(client)
        assert SECRET not in client.get("/metrics").text

    def counted(**labels: str) -> float:
        return found["layoutcheck_requests_total", tuple(sorted(labels.items()))]

    assert counted(route="/v1/checks", method="POST", status="200") == 1
    assert counted(route="/v1/checks", method="POST", status="422") == 1
    assert counted(route="/v1/rules/{name}", method="GET", status="404") == 1
    assert counted(route="none", method="other", status="404") == 3
    assert found["layoutcheck_request_seconds_count", (("route", "/v1/checks"),)] == 2
    assert found["layoutcheck_waiting", ()] == 0


def test_a_running_service_writes_only_json_to_standard_error(tmp_path: Path) -> None:
    with running("-m", "tests.api.slow_service", workers=1, log_level="info") as service:
        assert httpx.post(f"{service.address}/fail", headers=BYTES, timeout=20).status_code == 500
        assert httpx.post(f"{service.address}/die", headers=BYTES, timeout=20).status_code == 500
        said = service.stopped()
    events = [json.loads(line) for line in said.splitlines()]
    assert "secret" not in said
    assert [e["status"] for e in events if e["event"] == "request"] == [500, 500]
    assert [e["why"] for e in events if e["event"] == "worker replaced"] == ["died"]
    faults = [e for e in events if e["level"] == "error"]
    assert [e["error"] for e in faults] == ["KeyError", "the worker process died"]


def test_a_wish_for_a_websocket_writes_nobody_s_advice_into_the_log() -> None:
    with running(workers=1, log_level="debug") as service:
        headers = {
            "connection": "Upgrade",
            "upgrade": "websocket",
            "sec-websocket-version": "13",
            "sec-websocket-key": "dGhlIHNhbXBsZSBub25jZQ==",
        }
        answer = httpx.get(f"{service.address}/health", headers=headers, timeout=20)
        assert answer.status_code == 200
        said = service.stopped()
    assert "upgrade" not in said.lower()
    assert "pip install" not in said
