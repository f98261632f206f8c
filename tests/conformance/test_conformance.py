"""Library, command line, service and the client examples agree on every conformance case."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

from layoutcheck.cli import main
from layoutcheck.report.model import Report
from layoutcheck.report.portions import EVERY, portions_json
from tests.conformance.cases import CASES, FOLDER, Case, makers
from tests.conftest import Require

CLIENTS = FOLDER.parent / "clients"
SERVE = "import sys; from layoutcheck_service.command import serve; sys.exit(serve(sys.argv[1:]))"
CODES = {"compliant": 0, "not compliant": 1, "unusable": 2, "undecided": 3}
PLAIN = [c for c in CASES if c.pack is None and c.on is None]

each = pytest.mark.parametrize("case", CASES, ids=lambda c: c.name)


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    arguments = [sys.executable, "-c", SERVE, "--port", "0"]
    with subprocess.Popen(arguments, stdout=subprocess.PIPE, text=True) as running:
        assert running.stdout is not None
        yield running.stdout.readline().split()[3]
        running.terminate()


def ran(*arguments: str) -> tuple[int, str]:
    done = subprocess.run(arguments, capture_output=True, text=True, timeout=120, check=False)
    assert done.stderr == ""
    return done.returncode, done.stdout


def options(case: Case) -> list[str]:
    pack = str(case.folder / "pack.toml") if case.pack else ""
    return [str(case.folder / "layout.json"), pack, case.on or ""]


def test_the_cases_are_up_to_date() -> None:
    made = makers()
    stale = [
        str(path.relative_to(FOLDER))
        for path, make in made.items()
        if not path.exists() or path.read_bytes() != make()
    ]
    assert stale == [], "run: python tests/refresh.py"
    assert {p for p in FOLDER.glob("*/*") if p.is_file()} == set(made)


@each
def test_each_case_has_its_verdict(case: Case) -> None:
    answer = json.loads(case.answer())
    assert answer.get("verdict", "unusable") == case.verdict


@each
def test_the_command_line_gives_the_same_bytes(
    case: Case, capfdbinary: pytest.CaptureFixture[bytes]
) -> None:
    arguments = ["check", str(case.folder / "layout.json"), "--format", "json"]
    arguments += ["--pack", str(case.folder / "pack.toml")] if case.pack else []
    arguments += ["--on", case.on] if case.on else []
    assert main(arguments) == CODES[case.verdict]
    printed = capfdbinary.readouterr().out
    if case.verdict == "unusable":
        faults = json.loads((case.folder / "refusal.json").read_bytes())["faults"]
        # The command line also says where in the file a fault was typed.
        told = [
            {key: text for key, text in fault.items() if key not in {"line", "column"}}
            for fault in json.loads(printed)["faults"]
        ]
        assert told == faults
    else:
        assert printed == (case.folder / "report.json").read_bytes()


@each
def test_the_service_gives_the_same_on_one_line(case: Case, address: str) -> None:
    body = {"layout": case.layout, "pack": case.pack, "on": case.on}
    given = {k: v for k, v in body.items() if v is not None}
    answer = httpx.post(f"{address}/v1/checks?parts=all", json=given, timeout=120)
    if case.verdict == "unusable":
        assert answer.status_code == 422
        expected = json.loads((case.folder / "refusal.json").read_bytes())["faults"]
        told = [f["pointer"] for f in answer.json()["faults"]]
        assert told == ["/layout" + f["pointer"] for f in expected]
    else:
        kept = Report.model_validate_json((case.folder / "report.json").read_bytes())
        assert answer.text == portions_json(kept, EVERY)


@each
def test_the_python_client_works(case: Case, address: str) -> None:
    script = str(CLIENTS / "python" / "check.py")
    code, said = ran(sys.executable, script, address, *options(case))
    assert code == CODES[case.verdict]
    assert said.startswith("refused" if code == 2 else case.verdict)


@each
def test_the_javascript_client_works(case: Case, address: str, require: Require) -> None:
    script = str(CLIENTS / "javascript" / "check.mjs")
    code, said = ran(require.tool("node"), script, address, *options(case))
    assert code == CODES[case.verdict]
    assert said.startswith("refused" if code == 2 else case.verdict)


@pytest.mark.parametrize("case", PLAIN, ids=lambda c: c.name)
def test_the_curl_client_works(case: Case, address: str, require: Require) -> None:
    require.tool("curl")
    script = str(CLIENTS / "curl" / "check.sh")
    code, said = ran("sh", script, address, str(case.folder / "layout.json"))
    assert code == CODES[case.verdict]
    if case.verdict != "unusable":
        kept = Report.model_validate_json((case.folder / "report.json").read_bytes())
        assert said == portions_json(kept)


def test_every_client_says_that_it_is_no_leave_to_freeze() -> None:
    scripts = [p for p in Path(CLIENTS).rglob("*") if p.is_file()]
    assert len(scripts) == 3
    for script in scripts:
        assert "no leave to freeze" in script.read_text()
