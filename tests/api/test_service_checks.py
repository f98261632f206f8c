"""POST /v1/checks: the library's bytes, a verdict as an answer, and every kind of bad request.

Expected statuses and members are those of RFC 9110 (status codes) and RFC 9457 (problem details).
"""

from __future__ import annotations

import json
import logging
import threading
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi.testclient import TestClient

from layoutcheck.cli import main
from layoutcheck.report import check, check_document
from layoutcheck.report.packs import read_pack_text
from layoutcheck.report.portions import portions_json
from layoutcheck_service import examples
from tests.api.conftest import app_in_thread

JSON = {"content-type": "application/json"}
CHECK = "layoutcheck_service.routes.checks.check"


def resolved(document: Any, pointer: str) -> Any:
    """Follow a JSON Pointer, written out from RFC 6901 section 4."""
    here = document
    for part in pointer.split("/")[1:]:
        key = part.replace("~1", "/").replace("~0", "~")
        here = here[int(key)] if isinstance(here, list) else here[key]
    return here


def problem(answer: httpx.Response, status: int, kind: str) -> dict[str, Any]:
    """Check that an answer is the problem expected, and give it."""
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"
    body: dict[str, Any] = answer.json()
    assert body["status"] == status
    assert body["type"] == f"urn:layoutcheck:problem:{kind}"
    assert body["title"]
    assert body["detail"]
    return body


# --- the answer ---------------------------------------------------------------------------------


def test_the_service_gives_the_bytes_of_the_library(
    client: TestClient, layout: dict[str, Any]
) -> None:
    answer = client.post("/v1/checks", json={"layout": layout})
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/json"
    assert answer.content == portions_json(check_document(layout)).encode()


def test_the_command_line_gives_them_too(
    client: TestClient, layout: dict[str, Any], tmp_path: Path, capfdbinary: Any
) -> None:
    (tmp_path / "layout.json").write_text(json.dumps(layout), encoding="utf-8")
    (tmp_path / "pack.toml").write_text(examples.PACK, encoding="utf-8")
    files = [str(tmp_path / "layout.json"), "--pack", str(tmp_path / "pack.toml")]
    exit_code = main(["check", *files, "--format", "json"])
    body = {"layout": layout, "pack": examples.PACK}
    answer = client.post("/v1/checks", json=body, params={"parts": "all"})
    # The command line writes it with blanks, for people who look at it as well.
    assert json.loads(capfdbinary.readouterr().out) == answer.json()
    assert exit_code == 1


@pytest.mark.parametrize("site", ["heating-riser-sketch", "heating-riser-mended"])
def test_a_site_of_real_size(client: TestClient, site: str) -> None:
    text = (Path(__file__).parents[2] / "fixtures" / f"{site}.json").read_bytes()
    answer = client.post("/v1/checks", content=b'{"layout": ' + text + b"}", headers=JSON)
    assert answer.content == portions_json(check_document(json.loads(text))).encode()


def test_pack_and_day_reach_the_library(client: TestClient, layout: dict[str, Any]) -> None:
    layout["waivers"] = [
        {
            "rule": "flowing-line-setback",
            "subject": "A",
            "reason": "Valve above is held shut by hand",
            "by": "R. Example (invented)",
            "until": "2026-11-30",
            "finding": "too near",
            "measured": "6 in",
            "required": "28 in",
        }
    ]
    body = {"layout": layout, "pack": examples.PACK, "on": "2026-11-25"}
    answer = client.post("/v1/checks", json=body)
    expected = check_document(layout, pack=read_pack_text(examples.PACK), on=date(2026, 11, 25))
    assert answer.content == portions_json(expected).encode()
    report = answer.json()
    assert report["pack"]["name"] == "Larkfield rules (invented)"
    assert report["counts"]["waived"] == 1
    assert report["judged_on"] == "2026-11-25"


def test_a_waiver_without_a_day_is_undecided(client: TestClient, layout: dict[str, Any]) -> None:
    layout["waivers"] = [
        {
            "rule": "flowing-line-setback",
            "subject": "A",
            "reason": "Valve above is held shut by hand",
            "by": "R. Example (invented)",
            "until": "2026-11-30",
        }
    ]
    report = client.post("/v1/checks", json={"layout": layout}).json()
    outcomes = {f["rule"]: f["outcome"] for f in report["findings"]}
    assert outcomes["waiver-in-force"] == "undecided"
    assert outcomes["flowing-line-setback"] == "broken"


def test_null_is_the_same_as_left_out(client: TestClient, layout: dict[str, Any]) -> None:
    short = client.post("/v1/checks", json={"layout": layout})
    long = client.post("/v1/checks", json={"layout": layout, "pack": None, "on": None})
    assert long.content == short.content


def test_the_broken_setback_is_told_with_the_place_that_keeps_it(
    client: TestClient, layout: dict[str, Any]
) -> None:
    # common practice, no published source: 12 in of pipe for each inch of nominal size.
    # derived by hand: NPS 2 asks for 24 in. The jacket is 12 in long and centred at 12 in, so
    # its near end is 6 in from the tee: 18 in short. The nearest place is at 24 + 6 = 30 in.
    answer = client.post("/v1/checks", json={"layout": layout})
    report = answer.json()
    assert answer.headers["layoutcheck-verdict"] == report["verdict"] == "not compliant"
    inch = 0.0254  # exact by definition
    assert report["plugs"][0]["nearest"]["station"]["value"] == pytest.approx(30 * inch, abs=1e-6)


@pytest.mark.parametrize("change", ["nothing to decide with", "well placed"])
def test_whatever_the_verdict_the_status_is_200(
    client: TestClient, layout: dict[str, Any], change: str
) -> None:
    layout["plugs"][0]["station"] = "5 ft"
    if change == "nothing to decide with":
        del layout["site"]["stock"]
        del layout["site"]["water_temperature"]
    answer = client.post("/v1/checks", json={"layout": layout})
    assert answer.status_code == 200
    assert answer.headers["layoutcheck-verdict"] == answer.json()["verdict"]
    if change == "nothing to decide with":
        assert answer.json()["verdict"] != "compliant"


def test_every_report_carries_the_cautions(client: TestClient, layout: dict[str, Any]) -> None:
    report = client.post("/v1/checks", json={"layout": layout}).json()
    assert len(report["cautions"]) >= 5
    assert "licensed practice" in report["deference"]


# --- unusable documents: 422, all faults at once --------------------------------------------------


def test_every_fault_of_layout_pack_and_day_comes_at_once(
    client: TestClient, layout: dict[str, Any]
) -> None:
    layout["pipes"][2]["length"] = 24
    layout["plugs"][0]["pipe"] = "brunch"
    body = {"layout": layout, "pack": 'nom = "x"', "on": "tomorrow", "units": "metric"}
    found = problem(client.post("/v1/checks", json=body), 422, "unusable-document")["faults"]
    places = [(f["pointer"], f.get("pack_pointer")) for f in found]
    assert places == [
        ("/layout/pipes/2/length", None),
        ("/layout/plugs/0/pipe", None),
        ("/pack", "/nom"),
        ("/pack", "/name"),
        ("/on", None),
        ("/units", None),
    ]
    for fault in found:
        assert fault["found"]
        assert fault["problem"]
        assert fault["example"]
        resolved(body, fault["pointer"])  # a place that is there can be followed from the body


def test_names_with_slash_and_tilde_are_escaped_as_rfc_6901_asks(
    client: TestClient, layout: dict[str, Any]
) -> None:
    body = {"layout": layout, "a/b~c": 1}
    found = problem(client.post("/v1/checks", json=body), 422, "unusable-document")["faults"]
    assert [f["pointer"] for f in found] == ["/a~1b~0c"]
    assert resolved(body, found[0]["pointer"]) == 1


def test_a_layout_without_its_envelope_is_told_where_it_belongs(
    client: TestClient, layout: dict[str, Any]
) -> None:
    found = problem(client.post("/v1/checks", json=layout), 422, "unusable-document")["faults"]
    assert [f["pointer"] for f in found] == ["/layout"]
    assert "belongs inside 'layout'" in found[0]["problem"]


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ([], ""),
        ("layout", ""),
        (None, ""),
        ({}, "/layout"),
        ({"layout": None}, "/layout"),
        ({"layout": []}, "/layout"),
        ({"layout": {}, "pack": 7}, "/pack"),
        ({"layout": {}, "pack": {"name": "x"}}, "/pack"),
        ({"layout": {}, "pack": "name = "}, "/pack"),
        ({"layout": {}, "on": 20261125}, "/on"),
        ({"layout": {}, "on": "2026-02-30"}, "/on"),
        ({"layout": {}, "on": "20261125"}, "/on"),
        ({"layout": {}, "on": "2026-11-25T00:00"}, "/on"),
        ({"layout": {}, "on": True}, "/on"),
        ({"layout": {"format": "layoutcheck layout 99"}}, "/layout/format"),
    ],
)
def test_each_unsound_part_is_named(client: TestClient, body: object, pointer: str) -> None:
    answer = client.post("/v1/checks", content=json.dumps(body), headers=JSON)
    found = problem(answer, 422, "unusable-document")["faults"]
    assert pointer in [f["pointer"] for f in found]


# --- unreadable bodies: 400 -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("body", "phrase"),
    [
        (b"", "is not JSON"),
        (b"{", "is not JSON"),
        (b'{"layout": {}} more', "is not JSON"),
        (b"\xff\xfe{}", "is not UTF-8"),
        (b'{"layout": {}, "layout": {}}', "'layout' twice"),
        (b'{"layout": {"name": "a", "name": "b"}}', "'name' twice"),
        (b'{"layout": NaN}', "NaN"),
        (b'{"layout": -Infinity}', "Infinity"),
        (b'{"layout": ' + b"[" * 50_000 + b"]" * 50_000 + b"}", "nested too deeply"),
        (b'{"layout": ' + b"9" * 5_000 + b"}", "digit"),
        (b'{"layout": {"name": "\\ud800"}}', "half of a character"),
        (b'{"\\udfff": {}}', "half of a character"),
    ],
)
def test_what_is_not_sound_json_is_a_bad_request(
    client: TestClient, body: bytes, phrase: str
) -> None:
    answer = client.post("/v1/checks", content=body, headers=JSON)
    found = problem(answer, 400, "unreadable-body")["faults"]
    assert [f["pointer"] for f in found] == [""]
    assert phrase in found[0]["problem"]


def test_deep_nesting_that_the_parser_takes_is_still_a_fault(client: TestClient) -> None:
    deep = "[" * 900 + "]" * 900
    for body in (f'{{"layout": {deep}}}', f'{{"layout": {{}}, "pack": {deep}, "on": {deep}}}'):
        answer = client.post("/v1/checks", content=body, headers=JSON)
        assert answer.status_code in {400, 422}


# --- size and type: 413, 415 ----------------------------------------------------------------------


def test_a_body_over_the_limit_is_refused_by_its_stated_length(client: TestClient) -> None:
    answer = client.post("/v1/checks", content=b" " * 200_001, headers=JSON)
    assert "200000 bytes" in problem(answer, 413, "body-too-large")["detail"]


def test_a_body_over_the_limit_is_refused_where_no_length_is_stated(client: TestClient) -> None:
    answer = client.post("/v1/checks", content=(b" " * 1000 for _ in range(201)), headers=JSON)
    problem(answer, 413, "body-too-large")


def test_a_body_at_the_limit_is_read(client: TestClient, layout: dict[str, Any]) -> None:
    body = json.dumps({"layout": layout}).encode()
    padded = body + b" " * (200_000 - len(body))
    assert client.post("/v1/checks", content=padded, headers=JSON).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"content-type": "text/plain"},
        {"content-type": "application/x-www-form-urlencoded"},
        {"content-type": "application/json; charset=utf-16"},
        {"content-type": "application/jsonp"},
        {"content-type": "json"},
        {"content-type": "application/json", "content-encoding": "gzip"},
    ],
)
def test_other_content_types_are_refused(client: TestClient, headers: dict[str, str]) -> None:
    problem(client.post("/v1/checks", content=b"{}", headers=headers), 415, "wrong-content-type")


@pytest.mark.parametrize(
    "kind",
    ["application/json; charset=utf-8", "Application/JSON", 'application/json;charset="UTF-8"'],
)
def test_json_may_name_its_charset(client: TestClient, layout: dict[str, Any], kind: str) -> None:
    body = json.dumps({"layout": layout})
    answer = client.post("/v1/checks", content=body, headers={"content-type": kind})
    assert answer.status_code == 200


# --- methods, addresses, inner faults -------------------------------------------------------------


@pytest.mark.parametrize("method", ["GET", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"])
def test_other_methods_are_refused_and_the_right_one_named(client: TestClient, method: str) -> None:
    answer = client.request(method, "/v1/checks")
    problem(answer, 405, "wrong-method")
    assert answer.headers["allow"] == "POST"


@pytest.mark.parametrize("path", ["/v1", "/v1/checks/", "/docs", "/v2/checks", "/%00"])
def test_other_addresses_are_not_found(client: TestClient, path: str) -> None:
    problem(client.get(path), 404, "not-found")


def test_an_inner_fault_shows_nothing_of_the_inside(
    layout: dict[str, Any],
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    def failing(*_: object, **__: object) -> None:
        raise RuntimeError("secret-inner-text")

    monkeypatch.setattr(CHECK, failing)
    # A test before may have started the service's own log, which keeps lines from others.
    monkeypatch.setattr(logging.getLogger("layoutcheck_service"), "propagate", True)
    caplog.set_level("INFO", logger="layoutcheck_service")
    # TestClient raises what reaches the server, so this also shows that nothing does.
    answer = TestClient(app_in_thread()).post("/v1/checks", json={"layout": layout})
    body = problem(answer, 500, "internal-fault")
    assert "secret" not in answer.text
    assert "Runtime" not in answer.text
    assert answer.headers["x-content-type-options"] == "nosniff"
    # The one who runs the service finds it in the log by the same event.
    assert body["instance"].startswith("urn:uuid:")
    assert body["instance"] in caplog.text
    assert "secret-inner-text" in caplog.text


@pytest.mark.parametrize(
    "ask",
    [
        lambda c: c.get("/health"),
        lambda c: c.get("/nothing"),
        lambda c: c.get("/v1/checks"),
        lambda c: c.post("/v1/checks", content=b"{"),
        lambda c: c.post("/v1/checks", json={}),
    ],
)
def test_every_answer_carries_the_safe_headers(
    client: TestClient, ask: Callable[[TestClient], httpx.Response]
) -> None:
    headers = ask(client).headers
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["content-security-policy"].startswith("default-src 'none'")
    assert headers["cache-control"] == "no-store"
    assert "server" not in headers


# --- many at once ---------------------------------------------------------------------------------


def test_health_answers_while_a_check_runs(
    layout: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    running, go_on = threading.Event(), threading.Event()

    def slow(*args: Any, **rest: Any) -> Any:
        running.set()
        assert go_on.wait(timeout=20)
        return check(*args, **rest)

    monkeypatch.setattr(CHECK, slow)
    answers: list[int] = []
    with TestClient(app_in_thread()) as client:
        ask = threading.Thread(
            target=lambda: answers.append(
                client.post("/v1/checks", json={"layout": layout}).status_code
            )
        )
        ask.start()
        try:
            assert running.wait(timeout=20)
            assert client.get("/health").json()["status"] == "ok"
            assert answers == []
        finally:
            go_on.set()
            ask.join(timeout=20)
    assert answers == [200]
