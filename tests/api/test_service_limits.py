"""Limits of the service: too large, too deep, too slow, too much is told, and not kept."""

from __future__ import annotations

import asyncio
import json
import socket
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi.testclient import TestClient
from hypothesis import given
from hypothesis import strategies as st

from layoutcheck.report import check_document
from layoutcheck.report.portions import portions_json
from layoutcheck_service.body import Spool
from layoutcheck_service.limits import Limits, faults_of_shape
from layoutcheck_service.problems import Kind, ProblemError
from tests.api.conftest import app_in_thread
from tests.api.running import JSON, Running, running

SMALL = Limits(entries=3, nesting=4, string=5)


def oracle(data: Any, limits: Limits) -> set[str]:
    """What is over a limit, by plain recursion. JSON Pointers of RFC 6901."""
    found: set[str] = set()

    def look(value: Any, place: tuple[str, ...], depth: int) -> None:
        pointer = "".join("/" + p.replace("~", "~0").replace("/", "~1") for p in place)
        if isinstance(value, str) and len(value) > limits.string:
            found.add(pointer)
        if not isinstance(value, list | dict):
            return
        if depth == limits.nesting:
            found.add("too deep")
            return
        if len(value) > limits.entries:
            found.add(pointer)
        pairs = value.items() if isinstance(value, dict) else enumerate(value)
        for key, inner in pairs:
            if isinstance(key, str) and len(key) > limits.string:
                found.add(pointer)
            look(inner, (*place, str(key)), depth + 1)

    look(data, (), 0)
    return found


VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=7),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.text("ab~/", max_size=6), inner, max_size=4)
    ),
    max_leaves=20,
)


@given(VALUES)
def test_limits_on_the_shape_agree_with_a_plain_walk(data: Any) -> None:
    faults = faults_of_shape(data, SMALL)
    told = {f.pointer if "deeper" not in f.found else "too deep" for f in faults}
    assert told == oracle(data, SMALL)


def test_nothing_is_too_deep_for_the_look_itself() -> None:
    deep: list[Any] = []
    for _ in range(100_000):
        deep = [deep]
    assert [f.found for f in faults_of_shape(deep, SMALL)] == ["deeper nesting"]


@pytest.mark.parametrize(
    ("settings", "body", "pointer", "phrase"),
    [
        ({"max_entries": 10}, {"layout": {"pipes": [1] * 11}}, "/layout/pipes", "11 entries"),
        ({"max_string": 100}, {"pack": "x" * 101}, "/pack", "101 characters"),
        ({"max_string": 100}, {"layout": {"y" * 101: 1}}, "/layout", "101 characters"),
        ({"max_nesting": 10}, {"layout": [[[[[[[[[[[]]]]]]]]]]]}, "/layout/0/0", "10 levels"),
    ],
)
def test_each_limit_on_the_shape_is_told_with_its_place(
    settings: dict[str, int], body: Any, pointer: str, phrase: str
) -> None:
    with TestClient(app_in_thread(**settings)) as client:
        answer = client.post("/v1/checks", json=body)
    assert answer.status_code == 422
    (fault,) = answer.json()["faults"]
    assert fault["pointer"] == pointer
    assert phrase in fault["problem"]


# --- bodies on disk -------------------------------------------------------------------------------


def test_a_large_body_goes_through_a_file_that_is_gone_afterwards(
    tmp_path: Path, layout: dict[str, Any]
) -> None:
    seen: list[int] = []

    class Watched(Spool):
        def claim(self, size: int) -> None:
            super().claim(size)
            seen.append(size)

    app = app_in_thread(spool_folder=tmp_path)
    app.state.spool = Watched(tmp_path, 10_000_000)
    body = json.dumps({"layout": layout}).encode()
    padded = body + b" " * 3_000_000
    chunks = (padded[i : i + 50_000] for i in range(0, len(padded), 50_000))
    with TestClient(app) as client:
        answer = client.post("/v1/checks", content=chunks, headers=JSON)
        assert answer.content == portions_json(check_document(layout)).encode()
        assert sum(seen) == len(padded)
        assert list(app.state.spool.folder.iterdir()) == []
        app.state.spool.claim(10_000_000)  # all of the room is free again
    assert list(tmp_path.iterdir()) == []


def test_a_small_body_never_touches_the_disk(tmp_path: Path, layout: dict[str, Any]) -> None:
    with TestClient(app_in_thread(spool_folder=tmp_path)) as client:
        assert client.post("/v1/checks", json={"layout": layout}).status_code == 200
        assert list(tmp_path.iterdir()) == []


def test_a_body_over_the_limit_leaves_no_file(tmp_path: Path) -> None:
    app = app_in_thread(spool_folder=tmp_path, max_body_bytes=1_000_000)
    with TestClient(app) as client:
        chunks = (b" " * 100_000 for _ in range(11))
        assert client.post("/v1/checks", content=chunks, headers=JSON).status_code == 413
        assert list(app.state.spool.folder.iterdir()) == []


def test_bodies_may_not_fill_the_disk(tmp_path: Path) -> None:
    with TestClient(app_in_thread(spool_folder=tmp_path, max_spool_bytes=500_000)) as client:
        chunks = (b" " * 100_000 for _ in range(11))
        answer = client.post("/v1/checks", content=chunks, headers=JSON)
    assert answer.status_code == 503
    assert answer.headers["retry-after"] == "5"


def test_room_on_disk_is_counted_and_given_back(tmp_path: Path) -> None:
    async def ask() -> None:
        spool = Spool(tmp_path, 100)
        with spool.file() as one:
            await one.write(b"x" * 60)
            with spool.file() as other, pytest.raises(ProblemError) as told:
                await other.write(b"x" * 41)
            assert told.value.kind is Kind.BUSY
        with spool.file() as one:
            await one.write(b"x" * 100)

    asyncio.run(ask())


# --- connections, in a real service ---------------------------------------------------------------


@pytest.fixture(scope="module")
def service() -> Iterator[Running]:
    settings = {"head_seconds": 1, "body_seconds": 1, "max_connections": 30, "max_open": 10}
    with running(workers=1, **settings) as made:
        yield made


def connect(service: Running) -> socket.socket:
    host, port = service.address.removeprefix("http://").split(":")
    return socket.create_connection((host, int(port)), timeout=10)


def read_all(connection: socket.socket) -> bytes:
    got = b""
    while part := connection.recv(65536):
        got += part
    return got


def closed_unanswered(connection: socket.socket) -> bool:
    """Whether a connection is closed without an answer to what was sent on it."""
    try:
        return read_all(connection) == b""
    except ConnectionError:
        return True


HEAD = b"POST /v1/checks HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"


@pytest.mark.parametrize("sent", [b"", b"GET /hea", HEAD])
def test_a_head_that_does_not_come_ends_the_connection(service: Running, sent: bytes) -> None:
    with connect(service) as slow:
        slow.sendall(sent)
        assert read_all(slow) == b""


def test_a_second_head_that_does_not_come_ends_the_connection(service: Running) -> None:
    with connect(service) as slow:
        slow.sendall(b"GET /health HTTP/1.1\r\nHost: localhost\r\n\r\nGET /hea")
        assert read_all(slow).count(b"200 OK") == 1


def test_a_head_without_end_is_cut_off(service: Running) -> None:
    with connect(service) as endless:
        answer = b""
        try:
            endless.sendall(b"GET /health HTTP/1.1\r\nHost: localhost\r\n")
            for number in range(1000):
                endless.sendall(b"X-%d: %s\r\n" % (number, b"y" * 1000))
            answer = read_all(endless)
        except ConnectionError:  # it had hung up while we still sent
            return
    assert answer.startswith(b"HTTP/1.1 400")


def test_a_body_that_does_not_come_is_told_so(service: Running) -> None:
    with connect(service) as slow:
        slow.sendall(HEAD + b'Content-Length: 100\r\n\r\n{"layout":')
        answer = read_all(slow)
    assert answer.startswith(b"HTTP/1.1 408")
    assert b"urn:layoutcheck:problem:body-too-slow" in answer


def test_more_in_hand_than_allowed_are_refused_and_then_served_again(service: Running) -> None:
    held = [connect(service) for _ in range(10)]
    try:
        for connection in held:
            connection.sendall(HEAD + b'Content-Length: 100\r\n\r\n{"layout":')
        time.sleep(0.2)
        answer = httpx.get(f"{service.address}/v1/rules", timeout=10)
        assert answer.status_code == 503
        assert answer.headers["retry-after"] == "1"
        # Who watches over it still learns that it is well.
        assert httpx.get(f"{service.address}/health", timeout=10).status_code == 200
    finally:
        for connection in held:
            connection.close()
    time.sleep(0.2)
    assert httpx.get(f"{service.address}/v1/rules", timeout=10).status_code == 200


def test_more_connections_than_allowed_are_closed(service: Running) -> None:
    held = [connect(service) for _ in range(30)]
    try:
        with connect(service) as over:
            over.sendall(b"GET /health HTTP/1.1\r\nHost: localhost\r\n\r\n")
            assert closed_unanswered(over)  # not for want of a head
    finally:
        for connection in held:
            connection.close()


def test_another_name_for_this_machine_is_not_answered(service: Running) -> None:
    # A page that has its own name led here (DNS rebinding) would otherwise read every answer.
    elsewhere = {"host": "layouts.example"}
    answer = httpx.get(f"{service.address}/v1/rules", headers=elsewhere, timeout=10)
    assert answer.status_code == 421
    assert answer.json()["type"] == "urn:layoutcheck:problem:wrong-host"
    for own in ("localhost", "127.0.0.1", "LOCALHOST:1234", "[::1]:80"):
        answer = httpx.get(f"{service.address}/v1/rules", headers={"host": own}, timeout=10)
        assert answer.status_code == 200, own


@pytest.mark.parametrize(
    "head",
    [
        b"GET /v1/rules HTTP/1.1\r\nHost: localhost\r\nHost: layouts.example\r\n",
        b"GET /v1/rules HTTP/1.1\r\nHost: layouts.example\r\nHost: localhost\r\n",
        b"GET /v1/rules HTTP/1.1\r\nHost: localhost\r\nHost: localhost\r\n",
        b"GET http://layouts.example/v1/rules HTTP/1.1\r\nHost: localhost\r\n",
        b"GET http://localhost/v1/rules HTTP/1.1\r\nHost: layouts.example\r\n",
        b"GET http://layouts.example/v1/rules HTTP/1.1\r\nHost: layouts.example\r\n",
    ],
)
def test_a_request_that_names_another_host_anywhere_is_not_answered(
    service: Running, head: bytes
) -> None:
    with connect(service) as caller:
        caller.sendall(head + b"Connection: close\r\n\r\n")
        assert read_all(caller).split()[1] in {b"400", b"421"}


def test_an_absolute_target_of_this_machine_is_answered(service: Running) -> None:
    """RFC 9112, 3.2.2: a server must accept the absolute form."""
    head = b"GET http://localhost/v1/rules HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n"
    with connect(service) as caller:
        caller.sendall(head)
        assert read_all(caller).split()[1] == b"200"


# --- other origins --------------------------------------------------------------------------------

ORIGIN = {"origin": "https://estimating.example", "access-control-request-method": "POST"}


def test_other_origins_are_shut_out_unless_named(client: TestClient) -> None:
    for answer in (
        client.options("/v1/checks", headers=ORIGIN),
        client.post("/v1/checks", json={}, headers=ORIGIN),
    ):
        assert not [name for name in answer.headers if name.startswith("access-control-")]


def test_a_named_origin_may_ask_with_a_key_but_no_other() -> None:
    with TestClient(app_in_thread(cors_origins=(ORIGIN["origin"],))) as client:
        wanted = {"access-control-request-headers": "authorization,content-type"}
        answer = client.options("/v1/checks", headers={**ORIGIN, **wanted})
        assert answer.headers["access-control-allow-origin"] == ORIGIN["origin"]
        assert "access-control-allow-credentials" not in answer.headers
        other = client.options("/v1/checks", headers={**ORIGIN, "origin": "https://x.example"})
        assert "access-control-allow-origin" not in other.headers
