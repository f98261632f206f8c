"""`layoutcheck serve`: where it listens, what it refuses, and how it says so."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from importlib.metadata import entry_points
from pathlib import Path

import httpx
import pytest

from layoutcheck_service import command
from layoutcheck_service.settings import Settings
from layoutcheck_service.work import pool

SERVE = "import sys; from layoutcheck_service.command import serve; sys.exit(serve(sys.argv[1:]))"


@pytest.fixture
def taken_port() -> Iterator[int]:
    with closing(socket.create_server(("127.0.0.1", 0))) as held:
        yield held.getsockname()[1]


def test_the_command_line_finds_it() -> None:
    (found,) = entry_points(group="layoutcheck.commands", name="serve")
    assert found.load() is command.serve


def test_it_serves_and_stops_when_told() -> None:
    arguments = [sys.executable, "-c", SERVE, "--port", "0"]
    with subprocess.Popen(
        arguments, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as running:
        try:
            assert running.stdout is not None
            said = running.stdout.readline()
            assert said.startswith("layoutcheck listens on http://127.0.0.1:")
            address = said.split()[3]
            answer = httpx.get(f"{address}/health", timeout=60)
            assert answer.json()["status"] == "ok"
            assert "server" not in answer.headers
        finally:
            running.send_signal(signal.SIGINT)
            _, complaint = running.communicate(timeout=20)
    assert running.returncode == 0
    assert complaint == ""


def test_a_port_in_use_is_one_plain_line(
    taken_port: int, capsys: pytest.CaptureFixture[str]
) -> None:
    assert command.serve(["--port", str(taken_port)]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.count("\n") == 1
    assert f"port {taken_port} of 127.0.0.1 can not be taken" in said.err


@pytest.mark.parametrize("host", ["0.0.0.0", "::"])
def test_an_open_address_is_refused_unless_asked_for(
    host: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert command.serve(["--host", host, "--port", "0"]) == 2
    said = capsys.readouterr().err
    assert "--open-to-network" in said
    assert said.count("\n") == 1


def test_an_open_address_that_is_asked_for_comes_with_a_warning(
    capsys: pytest.CaptureFixture[str],
) -> None:
    asked = Settings(host="0.0.0.0", port=0, open_to_network=True)
    with closing(command.bind(asked)) as bound:
        assert bound.getsockname()[0] == "0.0.0.0"
    assert "no keys are asked" in capsys.readouterr().err


def test_an_open_address_with_keys_needs_no_leave(capsys: pytest.CaptureFixture[str]) -> None:
    asked = Settings(host="0.0.0.0", port=0, keys_file=Path("keys.json"))
    with closing(command.bind(asked)):
        pass
    assert "nothing is encrypted" in capsys.readouterr().err


@pytest.mark.parametrize("host", ["127.0.0.1", "127.0.0.2", "localhost"])
def test_loopback_needs_no_leave(host: str, capsys: pytest.CaptureFixture[str]) -> None:
    with closing(command.bind(Settings(host=host, port=0))) as bound:
        assert bound.proto == socket.IPPROTO_TCP
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize(
    ("arguments", "variables", "phrase"),
    [
        (["--port", "99999"], {}, "--port is 99999"),
        (["--port", "soon"], {}, "invalid int value"),
        (["--colour"], {}, "unrecognized arguments"),
        (["--host", "no such host"], {}, "no address 'no such host'"),
        ([], {"LAYOUTCHECK_PORT": "soon"}, "LAYOUTCHECK_PORT is 'soon'"),
        ([], {"LAYOUTCHECK_MAX_BODY_BYTES": "0"}, "LAYOUTCHECK_MAX_BODY_BYTES is '0'"),
        ([], {"LAYOUTCHECK_LOG_LEVEL": "loud"}, "LAYOUTCHECK_LOG_LEVEL is 'loud'"),
    ],
)
def test_unsound_settings_are_named(
    arguments: list[str],
    variables: dict[str, str],
    phrase: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    for name in [n for n in os.environ if n.startswith("LAYOUTCHECK_")]:
        monkeypatch.delenv(name)
    for name, value in variables.items():
        monkeypatch.setenv(name, value)
    assert command.serve(arguments) == 2
    assert phrase in capsys.readouterr().err


def test_a_service_that_can_not_judge_its_example_does_not_start(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    refuse = pool.refuse_faulty

    def faulty(_: object) -> None:
        refuse("RuntimeError")

    monkeypatch.setattr(pool, "refuse_faulty", faulty)
    assert command.serve(["--port", "0"]) == 4
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.count("\n") == 1
    assert "does not start" in said.err


def test_help_is_no_fault(capsys: pytest.CaptureFixture[str]) -> None:
    assert command.serve(["--help"]) == 0
    assert "--open-to-network" in capsys.readouterr().out
