"""A general fuzzer goes from one request to the next by the links of our OpenAPI document.

Outside source: schemathesis, all its checks: no answer in 5xx, none that is not described, nothing
that is kept and not found again. A few chains here, after the requests that each operation gets in
test_service_fuzz_server.py. `pytest -m nightly tests/api/test_service_stateful.py` gives ten
minutes to the requests that follow from each other, and ten to all others.
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path
from types import MappingProxyType

import httpx
import pytest

ROOT = Path(__file__).parents[2]
SERVE = "import sys; from layoutcheck_service.command import serve; sys.exit(serve(sys.argv[1:]))"
# What a schema can not say, as in test_service_fuzz_server.py; and a server may be busy.
CONFIG = """
[checks.positive_data_acceptance]
expected-statuses = [200, 201, 404, 422]
"""
LONG = int(os.environ.get("STATEFUL_SECONDS", "600"))


@pytest.fixture
def address(tmp_path: Path) -> Iterator[str]:
    arguments = [sys.executable, "-c", SERVE, "--port", "0"]
    given = {**os.environ, "LAYOUTCHECK_RECORD": str(tmp_path / "record.sqlite")}
    with subprocess.Popen(arguments, stdout=subprocess.PIPE, text=True, env=given) as running:
        assert running.stdout is not None
        yield running.stdout.readline().split()[3]
        assert running.poll() is None, "the service ended under the fuzzing"
        running.terminate()


# With a sound layout put in, what was made unsound on purpose would be sound: not in that mode.
HOOKS = {"SCHEMATHESIS_HOOKS": "tests.api.stateful_hooks"}


def fuzzed(
    address: str,
    folder: Path,
    *options: str,
    hooks: Mapping[str, str] = MappingProxyType({}),
) -> str:
    """Run schemathesis; give what it says."""
    config = folder / "schemathesis.toml"
    config.write_text(CONFIG, encoding="utf-8")
    described = folder / "openapi.json"  # asked for here: the fuzzer would wait ten seconds only
    described.write_bytes(httpx.get(f"{address}/openapi.json", timeout=120).content)
    ran = subprocess.run(
        [
            *(sys.executable, "-m", "schemathesis.cli", "--config-file", str(config), "run"),
            *(str(described), "--url", address, "--request-timeout", "120"),
            *("--checks", "all", *options),
            *("--seed", "1", "--continue-on-failure", "--generation-database", "none"),
            *("--no-shrink", "--no-color", "--warnings", "off"),
        ],
        cwd=folder,
        env={**os.environ, **hooks, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 0, ran.stdout[-8000:] + ran.stderr[-2000:]
    return ran.stdout


FOLLOWING = ("--phases", "stateful", "--mode", "positive")
FEW = ("--max-examples", "8")
# Those that lead to another, or are led to.
LINKED = ("explainRule", "listRecords", "listRules", "record", "showRecord", "verifyRecords")
LONG_RUN = ("--max-time", str(LONG), "--max-examples", "1000")
EACH = ("--phases", "examples,coverage,fuzzing", "--mode", "all")


def links_covered(said: str) -> int:
    found = re.search(r"API Links:\s+(\d+) covered", said)
    assert found is not None, said[-3000:]
    return int(found[1])


@pytest.mark.slow
def test_a_few_requests_that_follow_from_each_other(address: str, tmp_path: Path) -> None:
    named = [part for name in LINKED for part in ("--include-operation-id", name)]
    said = fuzzed(address, tmp_path, *FOLLOWING, *FEW, *named, hooks=HOOKS)
    assert links_covered(said) >= 1


@pytest.mark.nightly
def test_ten_minutes_of_requests_that_follow_from_each_other(address: str, tmp_path: Path) -> None:
    said = fuzzed(address, tmp_path, *FOLLOWING, *LONG_RUN, hooks=HOOKS)
    assert links_covered(said) >= 3


@pytest.mark.nightly
def test_ten_minutes_of_requests_of_every_kind(address: str, tmp_path: Path) -> None:
    fuzzed(address, tmp_path, *EACH, *LONG_RUN)


def test_every_link_takes_what_its_request_has_and_gives_what_its_answer_has() -> None:
    """By hand, after the OpenAPI Specification 3.1, section 4.8.20 (Link Object)."""
    shared = ROOT / "shared" / "openapi.json"
    document = json.loads(shared.read_text(encoding="utf-8"))
    operations = [o for path in document["paths"].values() for o in path.values()]
    by_id = {o["operationId"]: o for o in operations}
    links = [
        link
        for o in operations
        for r in o["responses"].values()
        for link in r.get("links", {}).values()
    ]
    assert len(links) >= 5
    for link in links:
        taken = {p["name"] for p in by_id[link["operationId"]]["parameters"]}
        assert set(link["parameters"]) <= taken
