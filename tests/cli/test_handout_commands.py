"""Sheet, log, take-off, issues and page on the command line: the library's bytes, exit codes."""

from __future__ import annotations

import zipfile
from datetime import date
from pathlib import Path

import pytest

from layoutcheck.report.handouts import make_handout
from tests.cli.conftest import Run
from tests.report.handout_sites import FIXTURES, handout, report_on, site

COMPLIANT = FIXTURES / "no-drawing-mended.json"
FAULTY = FIXTURES / "no-drawing-sketch.json"


def test_the_sheet_and_its_log_are_written_whole(run: Run, tmp_path: Path) -> None:
    sheet, log = tmp_path / "sheet.html", tmp_path / "log.csv"
    done = run("sheet", str(COMPLIANT), "-o", str(sheet), "--log-template", str(log))
    assert (done.code, done.out, done.err) == (0, b"", "")
    assert sheet.read_bytes() == handout(COMPLIANT.stem, "sheet.html")
    assert log.read_bytes() == handout(COMPLIANT.stem, "log-template.csv")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["log.csv", "sheet.html"]


@pytest.mark.slow
def test_a_printed_sheet_has_the_bytes_of_the_library(run: Run, tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.pdf"
    assert run("sheet", str(COMPLIANT), "-o", str(sheet)).code == 0
    assert sheet.read_bytes() == handout(COMPLIANT.stem, "sheet.pdf")


def test_a_faulty_sketch_gets_a_sheet_that_forbids_and_no_log(run: Run, tmp_path: Path) -> None:
    sheet, log = tmp_path / "sheet.html", tmp_path / "log.json"
    done = run("sheet", str(FAULTY), "-o", str(sheet), "--log-template", str(log))
    assert done.code == 1
    assert "DO NOT FREEZE" in sheet.read_text()
    assert not log.exists()
    assert "is not written" in done.err


@pytest.mark.parametrize(
    "argv",
    [
        ("sheet", "x.json", "-o", "sheet.txt"),
        ("sheet", "x.json", "-o", "sheet.pdf", "--log-template", "log.pdf"),
        ("sheet", "x.json"),
        ("takeoff", "x.json", "--format", "pdf"),
        ("check", "x.json", "--format", "pdf"),
        ("log", "x.json"),
    ],
)
def test_a_wrong_call_is_one_line(run: Run, argv: tuple[str, ...]) -> None:
    done = run(*argv)
    assert done.code == 2
    assert len(done.err.strip().splitlines()) == 1
    assert not done.out


@pytest.mark.parametrize("form", ["csv", "json"])
def test_take_off_goes_to_the_screen_or_to_a_file(run: Run, tmp_path: Path, form: str) -> None:
    wanted = handout(COMPLIANT.stem, f"takeoff.{form}")
    done = run("takeoff", str(COMPLIANT), "--format", form)
    assert (done.code, done.out) == (0, wanted)
    path = tmp_path / "takeoff"
    done = run("takeoff", str(COMPLIANT), "--format", form, "-o", str(path))
    assert (done.code, done.out, path.read_bytes()) == (0, b"", wanted)


@pytest.mark.parametrize(
    ("form", "what"),
    [("html", "report.html"), ("bcf", "issues.bcf"), ("bcf-2.1", "issues-2.1.bcf")],
)
def test_check_writes_pages_and_issues(run: Run, tmp_path: Path, form: str, what: str) -> None:
    path = tmp_path / "out"
    done = run("check", str(FAULTY), "--format", form, "-o", str(path), "--on", "2026-11-25")
    assert (done.code, done.out, done.err) == (1, b"", "")
    name, day = FAULTY.stem, date(2026, 11, 25)
    assert path.read_bytes() == make_handout(what, site(name), report_on(name), on=day)


def test_issues_bear_today_where_no_day_is_given(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("layoutcheck.cli.check.today", lambda: date(2026, 12, 1))
    path = tmp_path / "out"
    assert run("check", str(FAULTY), "--format", "bcf", "-o", str(path)).code == 1
    with zipfile.ZipFile(path) as files:
        markup = next(files.read(n) for n in files.namelist() if n.endswith("markup.bcf"))
    assert b"2026-12-01T00:00:00Z" in markup


def test_a_text_report_can_go_to_a_file(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "report.txt"
    assert run("check", str(COMPLIANT), "-o", str(path)).code == 0
    assert path.read_text().startswith("COMPLIANT")


def test_an_empty_log_is_undecided(run: Run, tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    log.write_bytes(handout(COMPLIANT.stem, "log-template.csv"))
    done = run("log", str(COMPLIANT), str(log))
    assert done.code == 3
    assert done.text.startswith("UNDECIDED")
    assert run("log", str(COMPLIANT), str(log), "--format", "json").text.startswith("{")


def test_a_log_that_can_not_be_read_is_refused_with_its_places(run: Run, tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    text = handout(COMPLIANT.stem, "log-template.csv").decode("utf-8-sig").splitlines()
    cells = text[1].split(",")
    cells[7] = "half past nine"
    log.write_text("\n".join([text[0], ",".join(cells), *text[2:]]))
    done = run("log", str(COMPLIANT), str(log))
    assert done.code == 2
    assert "/rows/0/began" in done.err
    assert "08:05" in done.err
    assert run("log", str(COMPLIANT), str(tmp_path / "none.csv")).code == 2
