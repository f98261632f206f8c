"""What is on its way out is told in the head of the answer; every case says its version."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from layoutcheck import __version__
from layoutcheck_service import __version__ as service_version
from layoutcheck_service import deprecated

SHARED = Path(__file__).parents[2] / "shared"


def test_what_is_on_its_way_out_is_told(
    client: TestClient, layout: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    plain = client.post("/v1/checks", json={"layout": layout})
    assert {"deprecation", "layoutcheck-deprecated"}.isdisjoint(plain.headers)
    out = deprecated.Outgoing("basis", date(2026, 11, 25), "pack")
    monkeypatch.setattr(deprecated, "OUTGOING", {"/v1/checks": (out,)})
    told = client.post("/v1/checks", json={"layout": layout})
    # RFC 9745, section 2: a date as a structured field, "@" and seconds since 1970.
    # 2026-11-25T00:00Z: 20782 days of 86400 s.
    assert told.headers["deprecation"] == f"@{20782 * 86400}"
    assert told.headers["layoutcheck-deprecated"] == 'basis;instead="pack"'
    assert "deprecation" not in client.get("/v1/rules").headers
    assert told.content == plain.content


def test_what_is_on_its_way_out_is_at_an_address_that_is_there(client: TestClient) -> None:
    assert set(deprecated.OUTGOING) <= set(client.get("/openapi.json").json()["paths"])


def test_each_case_says_which_version_it_belongs_to() -> None:
    cases = [p for p in (SHARED / "conformance").iterdir() if p.is_dir()]
    assert len(cases) >= 7
    for case in cases:
        told = (case / "version.txt").read_text(encoding="utf-8")
        assert re.fullmatch(r"layoutcheck (\S+), layoutcheck report 1, service v1\n", told), case
        assert f" {__version__}," in told
    assert service_version == __version__


def test_the_guide_says_what_may_change(client: TestClient) -> None:
    guide = (Path(__file__).parents[2] / "api" / "README.md").read_text(encoding="utf-8")
    part = guide.partition("## Versions\n")[2].partition("\n## ")[0]
    assert 200 < len(part.split()) < 400  # half a page
    for word in ("`/v1`", "JSON", "Python", "Deprecation", "version.txt"):
        assert word in part
