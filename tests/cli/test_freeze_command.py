"""layoutcheck freeze: the answer for people, its exit codes, its picture."""

from __future__ import annotations

import re
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
    assert "Plug of the needed length stands after about 30 min (" in text
    assert "not a measured freeze time" in text
    assert "licensed practice" in text
    assert "Asphyxiation" in text


def test_the_answer_comes_first(capsys: pytest.CaptureFixture[str]) -> None:
    """Closes or not, when, what to have on hand, what decides, what is assumed; then the
    rest, the schedule after it."""
    main([*WORDS, "--lies", "horizontal"])
    first, *rest = capsys.readouterr().out.split("\n\n")[1:]
    starts = [line.strip() for line in first.splitlines()]
    order = ("Outcome:", "Plug of the", "Have on hand", "How well the jacket", "Assumed:")
    places = [next(i for i, s in enumerate(starts) if s.startswith(words)) for words in order]
    assert places == sorted(places)
    assert len(starts) <= 12
    assert "plain water, as nothing was stated" in " ".join(first.split())
    assert [part.split()[0].rstrip(",") for part in rest] == [
        "TIMES", "COOLANT", "SCHEDULE", "ASSUMED", "CAUTIONS",
    ]  # fmt: skip


def test_hot_water_in_a_riser(capsys: pytest.CaptureFixture[str]) -> None:
    """Without the column undecided, and it says what to state; with it hours, in words."""
    hot = ["freeze", "--size", "2 in", "--jacket", "12 in", "--water", "180 degF"]
    assert main(hot) == 3
    text = " ".join(capsys.readouterr().out.split())
    assert "Outcome: not known yet." in text
    assert "Not known yet: length of the water that rises to the plug from below." in text
    assert main([*hot, "--below", "10 ft"]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert re.search(r"Plug of the needed length stands after about 1 h \d+ min \(.* to \d h", text)
    assert "Warm water rises to the jacket" in text


def test_what_can_not_close_is_an_answer(capsys: pytest.CaptureFixture[str]) -> None:
    code = main(["freeze", "--size", "12 in", "--jacket", "2 in", "--water", "100 degF"])
    assert code in {1, 3}
    assert "Outcome: " in capsys.readouterr().out


def test_a_head_beyond_what_is_vouched_for(capsys: pytest.CaptureFixture[str]) -> None:
    """5 MPa of ice in compression over a factor of 4 is 181 psi (derived by hand).

    A rig held 498 psi (Liu et al., Water 16(2) 202, 2024, abstract): it is not that no ice would.
    """
    assert main([*WORDS, "--pressure", "182 psi"]) == 3
    text = " ".join(capsys.readouterr().out.split())
    assert "more than this tool trusts ice of any length to hold" in text
    assert "No length" not in text


def test_warm_cylinders_are_no_freeze(capsys: pytest.CaptureFixture[str]) -> None:
    """Over the critical point, 87.8 degF (handbook value), there is no liquid to draw."""
    assert main([*WORDS, "--cylinders", "90 degF"]) == 3
    text = " ".join(capsys.readouterr().out.split())
    assert "Outcome: not known yet. Cylinders at 90 degF (32.2 degC) hold no liquid" in text
    assert "colder than 88 degF" in text
    assert main([*WORDS, "--cylinders", "90 degF", "--coolant", "nitrogen"]) == 0


def test_each_value_out_of_bounds_has_a_right_one_of_its_own(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """In the units asked for, not in kelvin; and typed back in, the right ones end the fault."""
    wrong = ["freeze", "--size", "2 in", "--jacket", "40 ft"]
    wrong += ["--water", "200 degF", "--air", "-60 degF", "--lies", "horizontal"]
    assert main(wrong) == 2
    text = capsys.readouterr().err
    assert "3 faults" in text
    assert " K" not in text
    right = dict(re.findall(r'right: "(\w+)": "([^"]+)"', text))
    assert set(right) == {"jacket", "water_temperature", "air_temperature"}
    words = ["--water", right["water_temperature"], "--air", right["air_temperature"]]
    assert main(["freeze", "--size", "2 in", "--jacket", right["jacket"], *words]) != 2


def test_what_fills_the_pipe(capsys: pytest.CaptureFixture[str]) -> None:
    """30 vol % propylene glycol freezes at -12.8 degC (chemistry handbook, table 5.13)."""
    assert main(WORDS) == 0
    assert "plain water, as nothing was stated" in capsys.readouterr().out
    assert main([*WORDS, "--fluid", "plain water"]) == 0
    assert "as nothing was stated" not in capsys.readouterr().out
    assert main([*WORDS, "--fluid", "30 % propylene glycol by volume"]) == 3
    text = " ".join(capsys.readouterr().out.split())
    assert "begins to freeze at 8 degF" in text
    assert "Plug of the needed length" not in text
    assert main([*WORDS, "--fluid", "brine"]) == 3


def test_the_solid_length_is_not_called_stated(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(WORDS) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "stated in the input" not in text
    assert "two outside diameters, since no pressure to hold was given" in text


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


def test_beyond_what_anyone_has_done(capsys: pytest.CaptureFixture[str]) -> None:
    """24 in with dry ice is over the 12 in of known practice (own choice of limit)."""
    words = ["freeze", "--size", "24 in", "--jacket", "6 ft", "--water", "60 degF"]
    assert main([*words, "--lies", "horizontal"]) == 3
    text = " ".join(capsys.readouterr().out.split())
    assert "Outcome: not known yet. Pipe of 24 in is larger than what is known" in text
