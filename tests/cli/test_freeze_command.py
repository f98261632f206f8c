"""layoutcheck freeze: the answer for people, its exit codes, its picture."""

from __future__ import annotations

from pathlib import Path

import pytest

from layoutcheck.cli import main

WORDS = ["freeze", "--size", "2 in", "--jacket", "8 in", "--water", "68 degF"]


def test_the_practice_point_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    """A 2 in line from 68 degF: about 30 minutes. Common practice, no published source.

    The jacket's conductance is fitted to that time on a jacket of four outside diameters
    (9 1/2 in); this one is a little shorter, so a few minutes more are right.
    """
    assert main([*WORDS, "--lies", "horizontal"]) == 0
    text = capsys.readouterr().out
    assert "Plug of the needed length stands: likely 32 min" in text
    assert "not a measured freeze time" in text
    assert "licensed practice" in text
    assert "Asphyxiation" in text


def test_what_can_not_close_is_an_answer(capsys: pytest.CaptureFixture[str]) -> None:
    code = main(["freeze", "--size", "12 in", "--jacket", "2 in", "--water", "100 degF"])
    assert code in {1, 3}
    assert "Outcome: " in capsys.readouterr().out


def test_no_length_of_ice_holds_any_pressure(capsys: pytest.CaptureFixture[str]) -> None:
    """5 MPa of ice in compression over a factor of 4 is 181 psi (derived by hand)."""
    assert main([*WORDS, "--pressure", "182 psi"]) == 3
    assert "No length of ice would hold" in capsys.readouterr().out


@pytest.mark.parametrize("suffix", [".svg", ".png"])
def test_the_picture_is_written_whole(tmp_path: Path, suffix: str) -> None:
    target = tmp_path / f"ice{suffix}"
    assert main([*WORDS, "-o", str(target)]) == 0
    begin = target.read_bytes()[:8]
    assert begin.startswith(b"\x89PNG" if suffix == ".png" else b"<?xml")
    assert list(tmp_path.iterdir()) == [target]


def test_faults_are_told_together(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["freeze", "--size", "2 furlongs", "--jacket", "8", "--water", "68"]) == 2
    text = capsys.readouterr().err
    assert "3 faults" in text
    assert "/jacket" in text
