"""Clients that well-kept generators make of the description compile, type-check and work.

openapi-python-client for Python, @hey-api/openapi-ts for TypeScript. Both programs do the same, so
that each is held to the library and to the other.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import httpx
import pytest
import yaml

from layoutcheck.document import parse_layout
from layoutcheck.report import check
from layoutcheck.report.drawing import draw_svg
from layoutcheck.report.plans import plan_layout
from layoutcheck_service import examples
from tests.api.running import Running, running

HERE = Path(__file__).parent
TYPESCRIPT = HERE / "typescript"
LAYOUT = examples.LAYOUT


def run(*command: str | Path, cwd: Path) -> str:
    words = [str(c) for c in command]
    done = subprocess.run(words, cwd=cwd, capture_output=True, text=True, check=False)
    assert done.returncode == 0, f"{command[0]}: {done.stdout}\n{done.stderr}"
    return done.stdout


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    record = tmp_path_factory.mktemp("record") / "record.sqlite"
    with running(workers=2, record=record) as made:
        yield made


@pytest.fixture(scope="module")
def described(service: Running, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("described") / "openapi.json"
    path.write_bytes(httpx.get(f"{service.address}/openapi.json", timeout=120).content)
    (path.parent / "layout.json").write_text(json.dumps(LAYOUT), encoding="utf-8")
    return path


def by_python(require: Any, service: Running, described: Path) -> dict[str, Any]:
    """Generate, type-check and run the Python client."""
    folder = described.parent / "python"
    folder.mkdir()
    config = "package_name_override: layoutcheck_client\npost_hooks: []\n"
    (folder / "config.yml").write_text(config, encoding="utf-8")
    shutil.copy(HERE / "python_caller.py", folder / "caller.py")
    made = ("--output-path", folder / "layoutcheck_client", "--meta", "none")
    run(
        require.tool("openapi-python-client"),
        *("generate", "--fail-on-warning", "--path", described, "--config", "config.yml", *made),
        cwd=folder,
    )
    # The generated code is held to the usual rules, its caller to the strict ones.
    mypy = ("-m", "mypy", "--config-file=", "--no-incremental", "--ignore-missing-imports")
    run(sys.executable, *mypy, "--strict", "--follow-imports=silent", "caller.py", cwd=folder)
    run(sys.executable, "-m", "compileall", "-q", "layoutcheck_client", cwd=folder)
    found: dict[str, Any] = json.loads(
        run(
            sys.executable,
            "caller.py",
            service.address,
            described.parent / "layout.json",
            cwd=folder,
        )
    )
    return found


def by_typescript(require: Any, service: Running, described: Path) -> dict[str, Any]:
    """Generate, type-check, compile and run the TypeScript client."""
    tools = require.file(
        TYPESCRIPT / "node_modules" / "typescript" / "package.json",
        brought_by="`npm ci` in tests/clients/typescript",
    ).parents[1]
    node = require.tool("node")
    folder = described.parent / "typescript"
    folder.mkdir()
    for name in ("caller.ts", "tsconfig.json"):
        shutil.copy(TYPESCRIPT / name, folder / name)
    (folder / "node_modules").symlink_to(tools)
    generator = tools / "@hey-api" / "openapi-ts" / "bin" / "run.js"
    run(node, generator, "-i", described, "-o", "client", cwd=folder)
    run(node, tools / "typescript" / "bin" / "tsc", "-p", ".", "--outDir", "made", cwd=folder)
    site = described.parent / "layout.json"
    told = run(node, "made/caller.js", service.address, site, cwd=folder)
    found: dict[str, Any] = json.loads(told)
    return found


@pytest.mark.slow
def test_both_clients_do_everything_and_say_what_the_library_says(
    require: Any, service: Running, described: Path
) -> None:
    require.tool("openapi-python-client")
    with ThreadPoolExecutor(2) as both:
        python = both.submit(by_python, require, service, described)
        typescript = both.submit(by_typescript, require, service, described)
    told, also = python.result(), typescript.result()
    for one in (told, also):  # each writes the fields of an object in an order of its own
        again = parse_layout(yaml.safe_load(one["files"].pop("exported")))
        assert again == parse_layout(LAYOUT)
    assert also == told
    report = check(parse_layout(LAYOUT))
    bad = {"broken", "undecided", "fault", "waived"}
    assert told["check"] == {
        "verdict": report.verdict.value,
        "nearest": [p.nearest.tape.shown for p in report.plugs if p.nearest is not None],
        "subjects": [f.subject.id for f in report.findings if f.outcome in bad],
        "gone": told["check"]["gone"],
        "batch": [report.verdict.value] * 2,
    }
    assert told["check"]["gone"] > 0
    plan = plan_layout(parse_layout(LAYOUT), data=LAYOUT, top=1, time_limit=60.0)
    assert told["plan"]["status"] == plan.status
    assert told["plan"]["actions"] == [a.kind for p in plan.plans for a in p.actions]
    assert told["files"]["imported"] == ["P1"]
    assert told["files"]["drawing"] == len(draw_svg(parse_layout(LAYOUT), report).encode())
    assert told["record"] == {"signer": "A. Miller", "verdict": report.verdict.value}
    assert told["refused"] == {"status": 422, "pointers": ["/layout/pipes/0/length"]}
