"""API keys: who gets in, with which scope, until when; and what a reader of the file learns.

Statuses and headers: RFC 9110 section 15.5 (401, 403), RFC 6750 section 3 (Bearer, error codes).
"""

from __future__ import annotations

import hashlib
import hmac
import json
import math
import re
import secrets
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi.testclient import TestClient

from layoutcheck_service import keys as key_module
from layoutcheck_service.key_command import keys as keys_command
from layoutcheck_service.keys import (
    KeyRing,
    KeysFault,
    Scope,
    changed_keys,
    make_key,
    read_keys,
)
from tests.api.conftest import app_in_thread

KEY = re.compile(r"lck_[a-z2-7]{8}_[A-Za-z0-9_-]{43}\n")
# What each operation asks for; those that are not here ask for nothing.
WANTED = {
    "checkLayout": "check",
    "viewLayout": "check",
    "getVerdict": "check",
    "keepBase": "check",
    "checkLayouts": "check",
    "checkChanges": "check",
    "exportLayout": "check",
    "glanceAtLayout": "check",
    "makeHandout": "check",
    "judgeLog": "check",
    "printLog": "check",
    "postWatch": "check",
    "followWatch": "check",
    "estimateFreeze": "check",
    "planLayout": "plan",
    "importFile": "import",
    "getMetrics": "metrics",
}
# What was asked for with a key is its owner's to look at.
OF_ANY_KEY = {"showJob", "getJobResult", "cancelJob"}
OPEN = {"listRules", "explainRule", "getLayoutGuide", "getSchema", "getHealth", "getReadiness"}


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "keys.json"


def made(file: Path, *scopes: Scope, owner: str = "Larkfield BIM", days: float = 1) -> str:
    key, entry = make_key(owner, scopes, days=days)
    with changed_keys(file) as entries:
        entries.append(entry)
    return key


def bearer(key: str) -> dict[str, str]:
    return {"authorization": f"Bearer {key}"}


@pytest.fixture
def key(file: Path) -> str:
    return made(file, Scope.CHECK)


@pytest.fixture
def locked(file: Path, key: str, monkeypatch: pytest.MonkeyPatch) -> Iterator[TestClient]:
    monkeypatch.setattr(key_module, "_LOOK_EVERY", -1.0)  # a change is seen at once
    with TestClient(app_in_thread(keys_file=file)) as client:
        yield client


def refused(answer: httpx.Response, status: int, kind: str) -> str:
    assert answer.status_code == status
    assert answer.json()["type"] == f"urn:layoutcheck:problem:{kind}"
    told = answer.headers["www-authenticate"]
    assert told.startswith('Bearer realm="layoutcheck"')
    return told


def test_a_key_opens_what_it_is_for_and_nothing_else(
    locked: TestClient, key: str, layout: dict[str, Any]
) -> None:
    body = {"layout": layout}
    assert locked.post("/v1/checks", json=body, headers=bearer(key)).status_code == 200
    for path in ("/v1/plans", "/v1/imports?name=a.csv"):
        told = refused(locked.post(path, headers=bearer(key)), 403, "not-allowed")
        assert 'error="insufficient_scope"' in told
        assert 'scope="' in told
    refused(locked.get("/metrics", headers=bearer(key)), 403, "not-allowed")


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"authorization": ""},
        {"authorization": "Bearer"},
        {"authorization": "Bearer "},
        {"authorization": "Basic bGNrOmxjaw=="},
        {"x-api-key": "lck_aaaaaaaa_" + "A" * 43},
    ],
)
def test_without_a_key_nobody_gets_in(locked: TestClient, headers: dict[str, str]) -> None:
    answer = locked.post("/v1/checks", content=b"{", headers=headers)
    assert "error" not in refused(answer, 401, "no-valid-key")


@pytest.mark.parametrize(
    "change",
    [
        lambda key: key[:-1] + ("A" if key[-1] != "A" else "B"),
        lambda key: key[:-1],
        lambda key: key + "A",
        lambda key: key.upper(),
        lambda key: key.replace("lck_", "lck_aaaaaaaa", 1),
        lambda key: key[:13] + "A" * 43,
        lambda key: hashlib.sha256(key.encode()).hexdigest(),
        lambda _: "lck_aaaaaaaa_" + "A" * 43,
        lambda _: "a" * 60_000,
        lambda _: "é",
    ],
)
def test_a_key_that_is_not_quite_one_is_none(locked: TestClient, key: str, change: Any) -> None:
    headers = [(b"authorization", b"Bearer " + change(key).encode())]
    answer = locked.post("/v1/checks", content=b"{", headers=headers)
    assert 'error="invalid_token"' in refused(answer, 401, "no-valid-key")


def test_a_key_out_of_date_is_none(locked: TestClient, file: Path) -> None:
    old = made(file, Scope.CHECK, days=1e-9)
    refused(locked.post("/v1/checks", headers=bearer(old)), 401, "no-valid-key")


def test_keys_change_without_a_gap_and_a_revoked_one_is_refused(
    locked: TestClient, file: Path, key: str, layout: dict[str, Any]
) -> None:
    body = {"layout": layout}
    new = made(file, Scope.CHECK)
    for each in (key, new):
        assert locked.post("/v1/checks", json=body, headers=bearer(each)).status_code == 200
    assert keys_command(["revoke", "--file", str(file), key[4:12]]) == 0
    refused(locked.post("/v1/checks", json=body, headers=bearer(key)), 401, "no-valid-key")
    assert locked.post("/v1/checks", json=body, headers=bearer(new)).status_code == 200


def test_a_file_that_can_not_be_used_lets_nobody_in(
    locked: TestClient, file: Path, key: str
) -> None:
    assert locked.get("/ready").status_code == 200
    file.write_text("{}")
    answer = locked.post("/v1/checks", headers=bearer(key))
    assert answer.status_code == 503
    assert answer.headers["retry-after"]
    assert locked.get("/ready").status_code == 503
    assert "keys" in locked.get("/ready").json()["detail"]
    file.unlink()
    assert locked.post("/v1/checks", headers=bearer(key)).status_code == 503


def test_each_operation_asks_for_the_scope_that_its_description_names(
    locked: TestClient, file: Path
) -> None:
    document = locked.get("/openapi.json").json()
    scheme = document["components"]["securitySchemes"]["key"]
    assert (scheme["type"], scheme["scheme"]) == ("http", "bearer")
    every = {scope: made(file, scope) for scope in Scope}
    seen = set()
    for path, methods in document["paths"].items():
        for method, operation in methods.items():
            name = operation["operationId"]
            seen.add(name)
            stated = operation.get("security")
            address = path.replace("{name}", "report.html")
            if name in OPEN:
                assert stated is None
                assert locked.request(method, address).status_code not in {401, 403}
                continue
            if name in OF_ANY_KEY:
                assert stated == [{"key": []}, {}]
                assert locked.request(method, address).status_code == 401
                for key in every.values():
                    answer = locked.request(method, address, headers=bearer(key))
                    assert answer.status_code == 404  # it has no such job
                continue
            (wanted,) = stated[0]["key"]
            assert stated[1:] == [{}]
            assert wanted == WANTED.get(name, wanted)
            assert {"401", "403"} <= set(operation["responses"])
            assert locked.request(method, address).status_code == 401
            for scope, key in every.items():
                answer = locked.request(method, address, headers=bearer(key))
                assert (answer.status_code == 403) == (scope != wanted), (name, scope)
    assert set(WANTED) | OPEN | OF_ANY_KEY <= seen


def test_the_page_and_what_it_is_made_of_need_no_key(locked: TestClient) -> None:
    assert locked.get("/").status_code == 200


def test_without_a_file_no_key_is_asked(client: TestClient, layout: dict[str, Any]) -> None:
    assert client.post("/v1/checks", json={"layout": layout}).status_code == 200


# --- at rest and in use ---------------------------------------------------------------------------


def test_the_file_holds_digests_alone_and_only_its_owner_reads_it(file: Path, key: str) -> None:
    text = file.read_text()
    secret = key.rpartition("_")[2] if "_" not in key[13:] else key[13:]
    assert key not in text
    assert secret not in text
    assert hashlib.sha256(key.encode()).hexdigest() in text
    assert file.stat().st_mode & 0o077 == 0


def test_a_key_holds_256_bits_of_the_system_s_randomness(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[int | None] = []
    real = secrets.token_urlsafe

    def watched(size: int | None = None) -> str:
        asked.append(size)
        return real(size)

    monkeypatch.setattr(secrets, "token_urlsafe", watched)
    drawn = {make_key("A", [Scope.CHECK], days=1)[0][13:] for _ in range(1000)}
    assert asked == [32] * 1000
    assert len(drawn) == 1000
    # derived by hand: 43 letters of an alphabet of 64 hold 258 bits, room for the 256 drawn.
    assert {len(d) for d in drawn} == {math.ceil(256 / 6)}


def test_digests_are_compared_in_constant_time_also_for_unknown_keys(
    file: Path, key: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    compared: list[tuple[int, int]] = []
    real = hmac.compare_digest

    def watched(one: str, other: str) -> bool:
        compared.append((len(one), len(other)))
        return real(one, other)

    monkeypatch.setattr(hmac, "compare_digest", watched)
    ring = KeyRing(file)
    for tried in (key, key[:13] + "A" * 43, "lck_aaaaaaaa_" + "A" * 43, "nothing of the kind", ""):
        assert (ring.entry_of(tried) is not None) == (tried == key)
    assert compared == [(64, 64)] * 5  # once for each, over the same length


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        '{"format": "layoutcheck keys 2"}',
        '{"keys": [{"id": "aaaaaaaa"}]}',
        '{"format": "layoutcheck keys 1", "keys": [], "more": 1}',
    ],
)
def test_an_unsound_file_is_one_plain_fault(file: Path, text: str) -> None:
    file.write_text(text)
    file.chmod(0o600)
    with pytest.raises(KeysFault) as told:
        KeyRing(file)
    assert str(file) not in str(told.value)


def test_a_file_that_others_may_write_is_refused(file: Path, key: str) -> None:
    file.chmod(0o622)
    with pytest.raises(KeysFault, match="written by others"):
        KeyRing(file)


def test_one_id_twice_is_refused(file: Path, key: str) -> None:
    data = json.loads(file.read_text())
    data["keys"] *= 2
    file.write_text(json.dumps(data))
    with pytest.raises(KeysFault, match="twice"):
        KeyRing(file)


# --- the command ----------------------------------------------------------------------------------


def test_the_command_makes_lists_and_revokes(
    file: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("LAYOUTCHECK_KEYS_FILE", str(file))
    scopes = ["--scope", "check", "--scope", "plan"]
    assert keys_command(["make", "Larkfield BIM", *scopes, "--days", "30"]) == 0
    said = capsys.readouterr()
    assert KEY.fullmatch(said.out)
    entry = KeyRing(file).entry_of(said.out.strip())
    assert entry is not None
    assert entry.scopes == (Scope.CHECK, Scope.PLAN)
    assert abs(entry.expires - datetime.now(UTC) - timedelta(days=30)) < timedelta(minutes=5)
    assert keys_command(["list"]) == 0
    listed = capsys.readouterr().out
    assert entry.id in listed
    assert "Larkfield BIM" in listed
    assert said.out.strip() not in listed
    assert keys_command(["revoke", entry.id]) == 0
    assert read_keys(file).keys == ()


@pytest.mark.parametrize(
    ("arguments", "phrase"),
    [
        (["list"], "name the file"),
        (["make", "A", "--file", "F"], "--scope"),
        (["make", "A", "--scope", "all", "--file", "F"], "invalid choice"),
        (["make", "A", "--scope", "check", "--days", "0", "--file", "F"], "days"),
        (["make", "\u202eA", "--scope", "check", "--file", "F"], "an owner is named"),
        (["revoke", "aaaaaaaa", "--file", "F"], "no key of that id"),
        (["list", "--file", "F"], "can not be read"),
        (["make", "A", "--scope", "check", "--file", "no/such/F"], "can not be written"),
        ([], "required"),
    ],
)
def test_what_the_command_can_not_do_it_says(
    arguments: list[str],
    phrase: str,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("LAYOUTCHECK_KEYS_FILE", raising=False)
    assert keys_command(arguments) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert phrase in said.err
    assert "Traceback" not in said.err
    assert not (tmp_path / "F").exists()
