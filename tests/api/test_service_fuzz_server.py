"""A general fuzzer reads our OpenAPI document and tries the running service by it.

Outside source: schemathesis, all its checks: no answer in 5xx, none that is not described (status,
content type, headers, body), no body accepted that the schema refuses, methods refused rightly.
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

# Held fresh by another test.
DESCRIPTION = Path(__file__).parents[2] / "shared" / "openapi.json"
SERVE = "import sys; from layoutcheck_service.command import serve; sys.exit(serve(sys.argv[1:]))"

# What a schema can not say: that a name is that of an element or a rule, that a text reads as a
# quantity. So what fits the schema may still be refused, and only in these two ways.
CONFIG = """
[checks.positive_data_acceptance]
expected-statuses = [200, 201, 404, 422]
"""

SECONDS = 5  # one operation's budget; the fuzzer stops there by itself


def operations() -> list[str]:
    """The ids of all operations that the service describes."""
    paths = json.loads(DESCRIPTION.read_text(encoding="utf-8"))["paths"]
    return sorted(o["operationId"] for path in paths.values() for o in path.values())


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    arguments = [sys.executable, "-c", SERVE, "--port", "0"]
    record = tmp_path_factory.mktemp("record") / "record.sqlite"
    given = {**os.environ, "LAYOUTCHECK_RECORD": str(record)}
    with subprocess.Popen(arguments, stdout=subprocess.PIPE, text=True, env=given) as running:
        assert running.stdout is not None
        yield running.stdout.readline().split()[3]
        running.terminate()


@pytest.mark.slow
@pytest.mark.parametrize("operation", operations())
def test_no_answer_is_undescribed(address: str, operation: str, tmp_path: Path) -> None:
    config = tmp_path / "schemathesis.toml"
    config.write_text(CONFIG, encoding="utf-8")
    # On a busy machine a budget may be gone before the first case: then again, with more.
    for seconds in (SECONDS, 3 * SECONDS, 12 * SECONDS):
        ran = _fuzzed(address, operation, config, seconds)
        assert ran.returncode == 0, ran.stdout[-6000:] + ran.stderr[-2000:]
        tested = re.search(r"Tested: (\d+)", ran.stdout)
        if tested is not None and tested[1] == "1":
            return
    pytest.fail(f"no case was tried: {ran.stdout[-2000:]}")


def _fuzzed(
    address: str, operation: str, config: Path, seconds: int
) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [
            *(sys.executable, "-m", "schemathesis.cli", "--config-file", str(config), "run"),
            *(f"{address}/openapi.json", "--include-operation-id", operation),
            *("--checks", "all", "--mode", "all", "--max-examples", "30"),
            *("--phases", "examples,coverage,fuzzing", "--max-time", str(seconds), "--seed", "1"),
            *("--no-shrink", "--continue-on-failure", "--generation-database", "none"),
            *("--no-color", "--warnings", "off"),
        ],
        cwd=config.parent,
        capture_output=True,
        text=True,
        timeout=60 + 2 * seconds,
        check=False,
    )
