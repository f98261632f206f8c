"""layoutcheck check: same answer by every door, exit codes, packs, waivers, screens, pipes."""

import json
import os
import pty
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest
import yaml

from layoutcheck.cli import given as command
from layoutcheck.cli import main
from layoutcheck.cli.screen import fit_for
from layoutcheck.document import parse_layout
from layoutcheck.report import check
from layoutcheck.report.model import Verdict
from layoutcheck.report.text import full_text, report_text
from tests.cli.conftest import Run, Write
from tests.cli.small_layout import small_layout
from tests.report.sample_report import with_verdict

FIXTURES = Path(__file__).parents[2] / "fixtures"
TIGHTER = 'name = "invented firm"\n[figures.flowing-line-setback]\nper_inch = "18 in"\n'
LOOSER = 'name = "invented firm"\n[figures.flowing-line-setback]\nper_inch = "3 in"\n'
WAIVER = {
    "rule": "flowing-line-setback",
    "subject": "K1",
    "reason": "invented reason",
    "by": "invented foreman",
    "until": "2026-11-30",
    "finding": "too near",
    "measured": "12 in",
    "required": "24 in",
}


def outcomes(text: str, rule: str) -> set[str]:
    return {f["outcome"] for f in json.loads(text)["findings"] if f["rule"] == rule}


# --- one answer -----------------------------------------------------------------------------------


def test_the_library_and_the_command_line_give_the_same_bytes(run: Run, write: Write) -> None:
    report = check(parse_layout(small_layout()))
    path = str(write())
    assert run("check", path, "--format", "json").out == report.to_json().encode()
    assert run("check", path).out == report_text(report).encode()
    assert run("check", path, "--full").out == full_text(report).encode()


def test_yaml_is_the_same_layout(run: Run, write: Write) -> None:
    by_yaml = write("small.yaml", yaml.safe_dump(small_layout()))
    assert run("check", str(by_yaml)).out == run("check", str(write())).out


@pytest.mark.parametrize("text", [json.dumps(small_layout()), yaml.safe_dump(small_layout())])
def test_standard_input_is_the_same_layout(
    run: Run, run_apart: Run, write: Write, text: str
) -> None:
    apart = run_apart("check", "-", "--format=json", stdin=text.encode())
    assert apart.code == 1
    assert apart.err == ""
    assert apart.out == run("check", str(write()), "--format", "json").out


def test_two_runs_give_the_same_bytes_whatever_the_hash_seed(run_apart: Run, write: Write) -> None:
    path = str(write())
    first, second = (run_apart("check", path, PYTHONHASHSEED=seed).out for seed in ("1", "2"))
    assert first == second


def test_by_how_much_and_where_instead(run: Run, write: Write) -> None:
    # The jacket's near end is 18 - 6 = 12 in from the tee; 2 x 12 = 24 in is asked for a 2 in
    # line, so it is 12 in short and goes 12 in further: 30 in from B. Derived by hand from
    # 12 in per inch of nominal size: common practice, no published source.
    flat = " ".join(run("check", str(write()), "--full").text.split())
    assert "1 ft (0.305 m) short of the 2 ft (0.610 m) needed" in flat
    assert "Way: K1 -> B" in flat


# --- exit codes -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("verdict", "code"),
    [
        (Verdict.COMPLIANT, 0),
        (Verdict.NOT_COMPLIANT, 1),
        (Verdict.UNDECIDED, 3),
        (Verdict.FAULT, 4),
    ],
)
@pytest.mark.parametrize("form", ["text", "json"])
def test_the_verdict_is_the_exit_code(
    run: Run, write: Write, monkeypatch: pytest.MonkeyPatch, verdict: Verdict, code: int, form: str
) -> None:
    monkeypatch.setattr(command, "check", lambda *_, **__: with_verdict(verdict))
    assert run("check", str(write()), "--format", form).code == code


@pytest.mark.parametrize(("name", "code"), [("sketch", 1), ("mended", 0)])
def test_a_real_sketch_and_its_mended_twin(run: Run, name: str, code: int) -> None:
    assert run("check", str(FIXTURES / f"heating-riser-{name}.json")).code == code


def test_a_fault_inside_is_one_plain_line(
    run: Run, write: Write, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("secret inner text")

    monkeypatch.delenv("LAYOUTCHECK_DEBUG", raising=False)
    monkeypatch.setattr(command, "check", broken)
    ran = run("check", str(write()))
    assert (ran.code, ran.out, ran.err.count("\n")) == (4, b"", 1)
    assert "Traceback" not in ran.err
    assert "secret" not in ran.err


def test_a_fault_inside_can_be_looked_at(write: Write, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LAYOUTCHECK_DEBUG", "1")
    monkeypatch.setattr(command, "check", lambda *_, **__: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        main(["check", str(write())])


def test_an_interruption_is_quiet(run: Run, write: Write, monkeypatch: pytest.MonkeyPatch) -> None:
    def stopped(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(command, "check", stopped)
    ran = run("check", str(write()))
    assert (ran.code, ran.out) == (130, b"")
    assert ran.err.strip() == ""


# --- packs and waivers ----------------------------------------------------------------------------


def test_a_tighter_pack_asks_for_more_and_is_not_called_loose(run: Run, write: Write) -> None:
    pack = str(write("tighter.toml", TIGHTER))
    ran = run("check", str(write()), "--full", "--pack", pack)
    flat = " ".join(ran.text.split())
    # 18 in for each inch of a 2 in line: 36 in, so 24 in short.
    assert "2 ft (0.610 m) short of the 3 ft (0.914 m) needed" in flat
    assert "LOOSENED" not in flat
    assert "Figures: invented firm" in flat


def test_a_looser_pack_shows_in_text_and_json(run: Run, write: Write) -> None:
    pack = str(write("looser.toml", LOOSER))
    text = run("check", str(write()), "--pack", pack).text
    assert "looser figures than the built-in ones (1)" in text
    assert "flowing-line-setback, per_inch: set to 3 in; built in: 12 in" in text
    answer = run("check", str(write()), "--pack", pack, "--format", "json").text
    assert outcomes(answer, "flowing-line-setback") == {"holds"}
    loosened = {"rule": "flowing-line-setback", "figure": "per_inch"}
    assert json.loads(answer)["pack"]["loosened"] == [
        {**loosened, "built_in": "12 in", "set_to": "3 in"}
    ]


def test_a_changed_pack_may_not_pass_for_the_built_in_one(run: Run, write: Write) -> None:
    pack = str(write("false.toml", LOOSER.replace("invented firm", "built-in")))
    ran = run("check", str(write()), "--pack", pack)
    assert ran.code == 2
    assert "give another name" in ran.err


def test_the_printed_pack_is_a_pack(run: Run, write: Write) -> None:
    pack = str(write("copy.toml", run("pack").out))
    same = run("check", str(write()), "--pack", pack, "--format", "json").out
    assert same == run("check", str(write()), "--format", "json").out


@pytest.mark.parametrize(("day", "outcome"), [("2026-11-30", "waived"), ("2026-12-01", "broken")])
def test_a_waiver_holds_to_its_last_day(run: Run, write: Write, day: str, outcome: str) -> None:
    path = str(write("waived.json", small_layout(waivers=[WAIVER])))
    answer = run("check", path, "--format", "json", "--on", day).text
    assert outcomes(answer, "flowing-line-setback") == {outcome}
    assert json.loads(answer)["judged_on"] == day


def test_a_waiver_is_judged_today_unless_a_day_is_given(run: Run, write: Write) -> None:
    path = str(write("waived.json", small_layout(waivers=[WAIVER])))
    before = date.today()
    judged = json.loads(run("check", path, "--format", "json").text)["judged_on"]
    assert before <= date.fromisoformat(judged) <= date.today()


def test_without_waivers_the_day_changes_nothing(run: Run, write: Write) -> None:
    path = str(write())
    assert run("check", path, "--on", "2031-01-01").out == run("check", path).out


# --- screens and pipes ----------------------------------------------------------------------------


def on_a_terminal(path: Path, **settings: str) -> bytes:
    """Run the check with a terminal as its output."""
    leader, follower = pty.openpty()
    script = "import sys; from layoutcheck.cli import main; sys.exit(main())"
    with subprocess.Popen(
        [sys.executable, "-c", script, "check", str(path)],
        stdout=follower,
        env={"PATH": "", "TERM": "xterm", "PYTHONUTF8": "1", **settings},
    ) as process:
        os.close(follower)
        parts = []
        try:
            while part := os.read(leader, 65536):
                parts.append(part)
        except OSError:  # Linux says EIO once the other end is closed
            pass
        process.wait(timeout=60)
    os.close(leader)
    return b"".join(parts)


@pytest.mark.parametrize("settings", [{"NO_COLOR": "1"}, {"TERM": "dumb"}])
def test_a_plain_screen_gets_no_escape(write: Write, settings: dict[str, str]) -> None:
    shown = on_a_terminal(write(), **settings)
    assert shown.startswith(b"NOT COMPLIANT")
    assert b"\x1b" not in shown


def test_a_screen_shows_the_verdict_bold_and_a_pipe_does_not(run: Run, write: Write) -> None:
    assert on_a_terminal(write()).startswith(b"\x1b[1mNOT COMPLIANT")
    assert b"\x1b" not in run("check", str(write())).out


def test_a_reader_that_goes_away_is_no_trouble(write: Write) -> None:
    script = "import sys; from layoutcheck.cli import main; sys.exit(main())"
    leader, follower = os.pipe()
    os.close(leader)
    done = subprocess.run(
        [sys.executable, "-c", script, "check", str(write())],
        stdout=follower,
        stderr=subprocess.PIPE,
        check=False,
    )
    os.close(follower)
    assert done.stderr == b""
    assert done.returncode == 141


def test_an_old_screen_gets_plain_letters(run_apart: Run, write: Write) -> None:
    path = str(write("named.json", small_layout(name="Größe – 5° …")))
    ran = run_apart("check", path, PYTHONIOENCODING="ascii", LC_ALL="C")
    assert ran.code == 1
    assert b"Gr\\xf6\\xdfe - 5deg ..." in ran.out
    assert ran.out.isascii()


def test_names_from_right_to_left_keep_the_numbers_in_place(run: Run, write: Write) -> None:
    plug = {"id": "פקק-1", "pipe": "P3", "station": "18 in", "jacket": "12 in"}
    ran = run("check", str(write("hebrew.json", small_layout(plugs=[plug]))), "--full")
    # U+2068 and U+2069 set a run apart from its neighbours (Unicode Standard Annex 9).
    assert "PLUG \u2068פקק-1\u2069: P3" in ran.text


def test_markup_in_names_is_only_text(run: Run, write: Write) -> None:
    plug = {"id": "[bold red]<b>&K1[/]", "pipe": "P3", "station": "18 in", "jacket": "12 in"}
    ran = run("check", str(write("markup.json", small_layout(plugs=[plug]))), "--full")
    assert "PLUG [bold red]<b>&K1[/]: P3" in ran.text


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp437", "utf-8", None, "no-such-code"])
def test_any_text_fits_any_screen(encoding: str | None) -> None:
    text = "a … – “x” 5° é אב12 \U0001f9ca"
    known = encoding is not None and encoding != "no-such-code"
    assert fit_for(text, encoding).encode(encoding if encoding and known else "ascii")
