"""The short programs for three callers do what they say, in under thirty lines each."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from layoutcheck import check
from layoutcheck.report.takeoff import takeoff_of
from layoutcheck_service import examples
from tests.api.running import ROOT, Running, running

PROGRAMS = ROOT / "shared" / "examples"
LAYOUT = json.loads(json.dumps(examples.LAYOUT))
REF = "2O2Fr$t4X7Zf8NOew3FLOH"
LAYOUT["plugs"][0]["ref"] = REF


@pytest.fixture(scope="module")
def service() -> Iterator[Running]:
    with running(workers=1) as made:
        yield made


@pytest.fixture
def site(tmp_path: Path) -> Path:
    path = tmp_path / "site.json"
    path.write_text(json.dumps(LAYOUT), encoding="utf-8")
    return path


def ran(program: str, *arguments: str | Path) -> tuple[int, str]:
    words = [sys.executable, str(PROGRAMS / program), *map(str, arguments)]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    assert done.stderr == ""
    return done.returncode, done.stdout


def test_each_is_short() -> None:
    programs = sorted(PROGRAMS.glob("*.py"))
    assert [p.name for p in programs] == ["estimate.py", "folder.py", "issues.py"]
    for program in programs:
        assert len(program.read_text(encoding="utf-8").splitlines()) < 30


def test_a_bim_issue_writer(service: Running, site: Path, tmp_path: Path) -> None:
    code, said = ran("issues.py", service.address, site, tmp_path / "out.bcf")
    assert code == 0
    open_ones = [f for f in check(LAYOUT).findings if not f.outcome.is_fine]
    assert [line.split()[:2] for line in said.splitlines()] == [
        f"{f.outcome.value} {f.rule}".split()[:2] for f in open_ones
    ]
    assert any(line.endswith(REF) for line in said.splitlines())
    names = zipfile.ZipFile(tmp_path / "out.bcf").namelist()
    assert sum(n.endswith("markup.bcf") for n in names) == len(open_ones)


def test_an_estimator(service: Running, site: Path, tmp_path: Path) -> None:
    (tmp_path / "prices.csv").write_text("code,price\njacket,100\ncoolant-on-site,2\n")
    code, said = ran("estimate.py", service.address, site, tmp_path / "prices.csv")
    assert code == 0
    report = check(LAYOUT)
    assert report.site is not None
    lines = {x.code.value: x for x in takeoff_of(report.site, report).lines}
    # One jacket at 100, and the coolant at 2 a unit.
    coolant = lines.get("coolant-on-site")
    total = 100 * lines["jacket"].quantity + 2 * (coolant.quantity if coolant else 0.0)
    assert f"estimate {total:.2f}" in said
    assert "NOT TO BE BUILT ON" in said


def test_a_script_over_a_folder(tmp_path: Path) -> None:
    for name in ("plant-room-sketch", "plant-room-mended"):
        shutil.copy(ROOT / "fixtures" / f"{name}.json", tmp_path)
    (tmp_path / "broken.json").write_text('{"pipes": 7}', encoding="utf-8")
    code, said = ran("folder.py", tmp_path)
    assert code == 2  # one is not usable
    assert "plant-room-mended.json: compliant" in said
    assert "plant-room-sketch.json: not compliant\n  1. " in said
    assert "broken.json: not usable" in said
    assert "may go to" in said
