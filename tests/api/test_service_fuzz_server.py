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

import httpx
import pytest

# Held fresh by another test.
DESCRIPTION = Path(__file__).parents[2] / "shared" / "openapi.json"
SERVE = "import sys; from layoutcheck_service.command import serve; sys.exit(serve(sys.argv[1:]))"

# What a schema can not say: that a name is that of an element or a rule, that a text reads as a
# quantity. So what fits the schema may still be refused, and only in these two ways.
# 202: it is taken, and worked on while nobody waits, as 'Prefer: respond-async' asks for.
CONFIG = """
[checks.positive_data_acceptance]
expected-statuses = [200, 201, 202, 404, 422]
"""


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


SHORT = ("--phases", "examples,fuzzing", "--max-examples", "2")
WHOLE = ("--phases", "examples,coverage,fuzzing", "--max-examples", "30")


@pytest.mark.slow
def test_no_answer_is_undescribed(address: str, tmp_path: Path) -> None:
    assert _tested(address, tmp_path, *SHORT) >= len(operations())


@pytest.mark.nightly
@pytest.mark.parametrize("operation", operations())
def test_no_answer_of_many_is_undescribed(address: str, operation: str, tmp_path: Path) -> None:
    assert _tested(address, tmp_path, *WHOLE, "--include-operation-id", operation) == 1


def _tested(address: str, folder: Path, *options: str) -> int:
    """Run the fuzzer, which must find nothing; give how many operations it tried."""
    config = folder / "schemathesis.toml"
    config.write_text(CONFIG, encoding="utf-8")
    described = folder / "openapi.json"  # asked for here: the fuzzer would wait ten seconds only
    described.write_bytes(httpx.get(f"{address}/openapi.json", timeout=120).content)
    ran = subprocess.run(
        [
            *(sys.executable, "-m", "schemathesis.cli", "--config-file", str(config), "run"),
            *(str(described), "--url", address, "--request-timeout", "120"),
            *("--checks", "all", "--mode", "all", *options),
            *("--no-shrink", "--continue-on-failure", "--generation-database", "none"),
            *("--no-color", "--warnings", "off", "--seed", "1"),
        ],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 0, ran.stdout[-6000:] + ran.stderr[-2000:]
    tested = re.search(r"Tested: (\d+)", ran.stdout)
    return 0 if tested is None else int(tested[1])
