"""Progress of long work: on a terminal, on standard error, and gone when the work is done."""

from __future__ import annotations

import io
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from layoutcheck.cli.files import write_file
from layoutcheck.cli.patience import patience
from tests.cli.conftest import Run
from tests.report.handout_sites import FIXTURES


class Terminal(io.StringIO):
    """A terminal that says when something was written on it."""

    def __init__(self) -> None:
        super().__init__()
        self.written = threading.Event()

    def isatty(self) -> bool:
        return True

    def write(self, text: str) -> int:
        self.written.set()
        return super().write(text)


def test_long_work_is_shown_and_wiped(monkeypatch: pytest.MonkeyPatch) -> None:
    screen = Terminal()
    monkeypatch.setattr(sys, "stderr", screen)
    with patience("checking", soon=0.001):
        assert screen.written.wait(60)  # the work lasts until something was shown
    assert "checking: 0 s" in screen.getvalue()
    last = screen.getvalue().rsplit("\r", 2)
    assert last[1].strip() == "" and last[2] == ""


def test_short_work_shows_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    screen = Terminal()
    monkeypatch.setattr(sys, "stderr", screen)
    with patience("checking", soon=3600):
        pass
    assert screen.getvalue() == ""


def test_a_pipe_gets_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    pipe = io.StringIO()
    monkeypatch.setattr(sys, "stderr", pipe)
    with patience("checking", soon=0.0):
        pass
    assert pipe.getvalue() == ""


def test_a_failure_leaves_no_line_behind(monkeypatch: pytest.MonkeyPatch) -> None:
    screen = Terminal()
    monkeypatch.setattr(sys, "stderr", screen)
    with pytest.raises(ZeroDivisionError), patience("checking", soon=0.001):
        assert screen.written.wait(60)
        raise ZeroDivisionError
    assert screen.getvalue().endswith("\r")


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (("check", "{site}", "--format", "html", "-o", "{out}.html"), ["checking", "printing"]),
        (("sheet", "{site}", "-o", "{out}.html"), ["checking", "printing"]),
        (("draw", "{site}", "-o", "{out}.svg"), ["checking", "drawing"]),
    ],
)
def test_whatever_may_take_long_says_that_it_goes_on(
    call: tuple[str, ...],
    told: list[str],
    run: Run,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Events are counted: which work was announced, in which order."""
    begun: list[str] = []

    @contextmanager
    def counted(doing: str) -> Iterator[None]:
        begun.append(doing)
        yield

    for name in ("given", call[0]):
        monkeypatch.setattr(f"layoutcheck.cli.{name}.patience", counted)
    site, out = FIXTURES / "no-drawing-mended.json", tmp_path / "out"
    assert run(*(part.format(site=site, out=out) for part in call)).code == 0
    assert begun == told


@pytest.mark.parametrize("at", ["fsync", "replace"])
def test_whoever_breaks_off_finds_the_old_file_and_nothing_half_written(
    at: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = tmp_path / "sheet.pdf"
    kept.write_bytes(b"as it was")

    def broken_off(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(f"layoutcheck.cli.files.os.{at}", broken_off)
    with pytest.raises(KeyboardInterrupt):
        write_file(str(kept), b"new and long")
    assert kept.read_bytes() == b"as it was"
    assert [p.name for p in tmp_path.iterdir()] == ["sheet.pdf"]
