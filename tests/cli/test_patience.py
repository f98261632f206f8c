"""Progress of long work: on a terminal, on standard error, and gone when the work is done."""

from __future__ import annotations

import io
import sys
import threading

import pytest

from layoutcheck.cli.patience import patience


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
