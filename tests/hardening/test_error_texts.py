"""Every message of an error, once, with an input that gives it and its exact words.

The words stand in error_texts.txt, to be read; `python -m tests.hardening.error_texts` writes them
again. A message that is added to the source without a case here fails the build, as does a kind of
problem of the service without a place where it is shown.
"""

from __future__ import annotations

import json
import re
import tempfile
from typing import Any
from unittest import mock

import pytest
from fastapi.testclient import TestClient

from layoutcheck_service import examples
from layoutcheck_service.app import create_app
from layoutcheck_service.problems import PROBLEM_JSON, Kind
from layoutcheck_service.settings import Settings
from tests.hardening.error_texts import CALLS, CALLS_UNDER, GOLDEN, every_text
from tests.hardening.messages import ROOT, messages

# What only we write: places in the code, and in memory.
INNER = re.compile(r'File "|line \d+, in |\.py\b|site-packages|0x[0-9a-f]{6}')


@pytest.fixture(scope="module")
def texts() -> dict[str, str]:
    return dict(every_text())


def test_each_error_says_what_it_said(texts: dict[str, str]) -> None:
    kept = dict(
        block.split("\n", 1) for block in GOLDEN.read_text(encoding="utf-8").split("\n\n") if block
    )
    assert set(texts) == set(kept), "run: python -m tests.hardening.error_texts"
    for name, words in texts.items():
        assert words.rstrip("\n") == kept[name].rstrip("\n"), name


def test_every_message_of_the_library_has_a_case(texts: dict[str, str]) -> None:
    shown = list(texts.values())
    found = list(messages(ROOT / "layoutcheck"))
    assert len(found) > 150  # they are found at all
    missing = [f"{m.where}: {m.pattern}" for m in found if not any(m.is_in(text) for text in shown)]
    assert not missing, "add a case to error_texts.py for:\n" + "\n".join(missing)


def test_no_error_tells_of_our_machine(texts: dict[str, str]) -> None:
    for name, words in texts.items():
        assert "Traceback" not in words, name
        assert not re.search(r'File "|line \d+, in |\.py\b|site-packages|0x[0-9a-f]{6}', words), (
            name
        )
        assert tempfile.gettempdir() not in words, name
        assert str(ROOT) not in words, name
        assert "/secret/place" not in words, name


def test_every_exit_code_of_a_refusal_is_two(texts: dict[str, str]) -> None:
    codes = {n: words for n, words in texts.items() if n.startswith("command: ")}
    assert len(codes) == len(CALLS) + len(CALLS_UNDER)
    for name, words in codes.items():
        assert words.startswith(
            "  exit code 4" if name == "command: 'explain'" else "  exit code 2"
        )


# --- the service --------------------------------------------------------------------------------

JSON = {"content-type": "application/json"}
FILE = {"content-type": "application/octet-stream"}
# Kind -> a request that gives it, and words of its detail.
ASKED: dict[Kind, tuple[str, str, dict[str, Any], str]] = {
    Kind.UNREADABLE: (
        "POST",
        "/v1/checks",
        {"content": "{", "headers": JSON},
        "Send one JSON",
    ),
    Kind.NOT_FOUND: ("GET", "/zebra", {}, "No address of this service"),
    Kind.WRONG_METHOD: ("DELETE", "/health", {}, "The Allow header"),
    Kind.TOO_LARGE: ("POST", "/v1/checks", {"content": " " * 9000, "headers": JSON}, "up to 8192"),
    Kind.WRONG_TYPE: ("POST", "/v1/checks", {"content": "a"}, "Send the body as content type"),
    Kind.NOT_A_FILE: ("POST", "/v1/imports?name=a.ifc", {"json": {}}, "Send the body as content"),
    Kind.UNUSABLE: ("POST", "/v1/checks", {"json": {}}, "1 fault found"),
    Kind.NO_RECORD: ("GET", "/v1/records", {}, ""),
    Kind.WRONG_HOST: ("GET", "/v1/rules", {"headers": {"host": "zebra.example"}}, ""),
}
# Kinds that want a service in some state: where that is made, and the kind is seen.
ELSEWHERE = {
    Kind.TOO_HEAVY: "tests/api/test_service_workers.py",
    Kind.TOO_SLOW: "tests/api/test_service_limits.py",
    Kind.NO_KEY: "tests/api/test_service_keys.py",
    Kind.NOT_ALLOWED: "tests/api/test_service_keys.py",
    Kind.SHARE_USED: "tests/api/test_service_workers.py",
    Kind.BUSY: "tests/api/test_service_workers.py",
    Kind.STOPPING: "tests/api/test_service_workers.py",
    Kind.RECORD_AWAY: "tests/api/test_service_records.py",
    Kind.RECORD_FAULT: "tests/api/test_service_records.py",
}


@pytest.fixture(scope="module")
def client() -> Any:
    settings = Settings(max_body_bytes=8192, allowed_hosts=("testserver",))
    with TestClient(create_app(settings), raise_server_exceptions=False) as made:
        yield made


def test_every_kind_of_problem_is_shown_somewhere() -> None:
    assert set(Kind) == {*ASKED, *ELSEWHERE, Kind.INTERNAL}
    for kind, place in ELSEWHERE.items():
        text = (ROOT / place).read_text(encoding="utf-8")
        assert kind.value.name in text or f"Kind.{kind.name}" in text, f"{kind} in {place}"


@pytest.mark.parametrize("kind", ASKED)
def test_a_kind_of_problem(kind: Kind, client: TestClient) -> None:
    method, address, given, words = ASKED[kind]
    answer = client.request(method, address, **given)
    problem = answer.json()
    assert answer.headers["content-type"] == PROBLEM_JSON
    assert answer.status_code == problem["status"] == int(kind.value.status)
    assert problem["type"] == f"urn:layoutcheck:problem:{kind.value.name}"
    assert problem["title"] == kind.value.title
    assert words in problem["detail"]
    assert problem["detail"].endswith(".")


def test_a_fault_inside_tells_nothing_of_itself() -> None:
    """The work is made to fail with a message that holds a path and a part of a layout."""
    secret = RuntimeError('File "/secret/place.py", line 1: Riser 3')
    with (
        mock.patch("layoutcheck_service.routes.rules.all_manuals", side_effect=secret, create=True),
        mock.patch("layoutcheck_service.routes.health.Health", side_effect=secret),
        TestClient(create_app(Settings()), raise_server_exceptions=False) as made,
    ):
        answer = made.get("/health")
    assert answer.status_code == 500
    assert answer.json()["type"] == "urn:layoutcheck:problem:internal-fault"
    assert "secret" not in answer.text
    assert "Riser" not in answer.text
    assert "Nothing in it counts as checked." in answer.json()["detail"]


def test_no_answer_to_anything_wrong_tells_of_our_machine(client: TestClient) -> None:
    broken = {"layout": {**examples.LAYOUT, "pipes": "zebra"}, "pack": "a = ["}
    answers = [
        client.post("/v1/checks", json=broken),
        client.post("/v1/imports?name=../../etc/a.ifc", content=b"no", headers=FILE),
        client.post("/v1/imports?name=a.zip", content=b"PK", headers=FILE),
        client.post("/v1/imports?name=a.dxf", content=b"no", headers=FILE),
        client.post("/v1/logs", json={"layout": examples.LAYOUT, "log": "a,b\n\x00"}),
        client.get("/v1/rules/..%2f..%2fetc"),
        client.get("/v1/schemas/%00"),
    ]
    for answer in answers:
        assert 400 <= answer.status_code < 500
        assert tempfile.gettempdir() not in answer.text
        assert str(ROOT) not in answer.text
        assert "Traceback" not in answer.text
        json.loads(answer.text)
