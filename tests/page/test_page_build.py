"""The page that ships is the one that its source builds, byte for byte, and names no other host."""

from __future__ import annotations

import json
import re
import subprocess
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from layoutcheck_service.app import create_app
from layoutcheck_service.settings import Settings
from tests.page.conftest import FIXTURES, PAGE, ROOT

SHIPPED = ROOT / "api" / "layoutcheck_service" / "page_files"
BUILD_AGAIN = "run `npm ci && npm run build` in api/page and commit what it writes"


@pytest.fixture
def client() -> TestClient:
    return TestClient(create_app(Settings()))


def _files(folder: Path) -> dict[str, bytes]:
    return {
        str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()
    }


@pytest.mark.slow
@pytest.mark.browser
def test_the_page_is_what_its_source_builds(require: Any, tmp_path: Path) -> None:
    npm = require.tool("npm")
    require.file(PAGE / "node_modules" / "vite" / "package.json", brought_by="`npm ci` in api/page")
    out = tmp_path / "page"
    command = [npm, "run", "build", "--", "--outDir", str(out)]
    run = subprocess.run(command, cwd=PAGE, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stdout + run.stderr
    built, shipped = _files(out), _files(SHIPPED)
    assert sorted(built) == sorted(shipped), BUILD_AGAIN
    assert [n for n in built if built[n] != shipped[n]] == [], BUILD_AGAIN


def test_the_demo_sites_are_the_fixtures() -> None:
    shipped = {n: b for n, b in _files(SHIPPED / "demo").items() if n != "index.json"}
    assert shipped == {p.name: p.read_bytes() for p in FIXTURES.glob("*.json")}, BUILD_AGAIN
    rows = json.loads((SHIPPED / "demo" / "index.json").read_text())
    assert [r["file"] for r in rows] == sorted(shipped)
    assert all("invented" in (r["name"] + r["note"]).lower() for r in rows)


def test_the_lock_file_names_no_host() -> None:
    lock = json.loads((PAGE / "package-lock.json").read_text())
    assert [n for n, p in lock["packages"].items() if "resolved" in p] == []
    assert all("integrity" in p for n, p in lock["packages"].items() if n)


def test_nothing_comes_from_elsewhere(client: TestClient) -> None:
    answer = client.get("/")
    assert answer.status_code == 200
    policy = dict(
        p.strip().split(" ", 1) for p in answer.headers["content-security-policy"].split(";")
    )
    assert policy["default-src"] == "'none'"
    assert policy["script-src"] == policy["style-src"] == policy["connect-src"] == "'self'"
    assert policy["require-trusted-types-for"] == "'script'"
    assert "unsafe" not in answer.headers["content-security-policy"]
    assert not re.search(r"<script(?![^>]*\ssrc=)", answer.text)
    assert "<style" not in answer.text
    assert not re.search(r"\sstyle=|\son\w+=", answer.text)
    assert re.findall(r'(?:src|href)="(?!\./assets/)', answer.text) == []


def test_files_of_the_page_are_served_as_what_they_are(client: TestClient) -> None:
    for name in _files(SHIPPED):
        answer = client.get(f"/{name}" if name != "index.html" else "/")
        assert answer.status_code == 200
        assert answer.content == (SHIPPED / name).read_bytes()
        assert answer.headers["x-content-type-options"] == "nosniff"
        for_ever = "immutable" in answer.headers["cache-control"]
        assert for_ever == name.startswith("assets/")


@pytest.mark.parametrize(
    "path", ["/assets/none.js", "/assets/..%2findex.html", "/demo/../index.html", "/index.html"]
)
def test_nothing_else_is_served(client: TestClient, path: str) -> None:
    assert client.get(path).status_code == 404


@pytest.mark.slow
def test_the_pages_own_tests_pass(require: Any) -> None:
    """What edits a document by drawing, and where labels go, is tested beside its source."""
    npm = require.tool("npm")
    require.file(PAGE / "node_modules" / "vitest" / "package.json", brought_by="`npm ci`")
    run = subprocess.run([npm, "test"], cwd=PAGE, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stdout + run.stderr
