"""The command line, given anything: an exit code of the contract, and never a traceback.

Outside source: hypothesis chooses the command, its options and what is spoilt in its files.
"""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from layoutcheck.cli import main
from layoutcheck.cli.app import COMMANDS
from tests.hardening.mutations import WORDS, spoil, spoilt_bytes, spoilt_documents
from tests.hardening.seeds import SEEDS, layouts, logs, packs
from tests.sizes import some

# 130 and 141 are those of a command that was cut short, which nobody does here.
CODES = {0, 1, 2, 3}
KEPT = settings(
    max_examples=some(40),
    suppress_health_check=[HealthCheck.function_scoped_fixture],
    deadline=None,
)


def run(capfd: pytest.CaptureFixture[str], *argv: str) -> tuple[int, str, str]:
    """Run a command; check what holds for every run."""
    code = main(argv)
    out, err = capfd.readouterr()
    assert code in CODES, f"{argv}: {err[-2000:]}"
    assert "Traceback" not in out + err
    for text in (out, err):
        assert not any(ord(c) < 0x20 and c not in "\r\n" for c in text), argv
    return code, out, err


@KEPT
@given(spoilt=spoilt_documents(layouts()[0]), form=st.sampled_from(["text", "json"]))
def test_check_of_a_spoilt_layout(
    spoilt: bytes, form: str, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "layout.json"
    path.write_bytes(spoilt)
    code, out, _ = run(capfd, "check", str(path), "--format", form)
    if form == "json":
        told = json.loads(out)
        assert (code == 2) == (told["format"] == "layoutcheck refusal 1")


@KEPT
@given(spoilt=spoilt_bytes(packs()), command=st.sampled_from(["check", "takeoff"]))
def test_a_spoilt_pack(
    spoilt: bytes, command: str, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "layout.json").write_bytes(layouts()[0])
    (tmp_path / "pack.toml").write_bytes(spoilt)
    run(capfd, command, str(tmp_path / "layout.json"), "--pack", str(tmp_path / "pack.toml"))


@KEPT
@given(spoilt=spoilt_bytes(list(logs())))
def test_a_spoilt_log(spoilt: bytes, tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "layout.json").write_bytes(layouts()[0])
    (tmp_path / "log.csv").write_bytes(spoilt)
    run(capfd, "log", str(tmp_path / "layout.json"), str(tmp_path / "log.csv"))


@KEPT
@given(
    kind=st.sampled_from(["dxf", "inp", "csv", "zip"]),
    number=st.integers(0, 2**16),
    steps=st.lists(
        st.tuples(st.integers(0, 255), st.integers(0, 2**20), st.integers(0, 2**16)), max_size=2
    ),
    options=st.lists(
        st.sampled_from(["--explain", "--system=x", "--format=json", "--map=map.toml"]), max_size=3
    ),
)
def test_import_writes_a_whole_layout_or_none(
    kind: str,
    number: int,
    steps: list[Any],
    options: list[str],
    tmp_path: Path,
    capfd: pytest.CaptureFixture[str],
) -> None:
    folder = tmp_path / kind
    folder.mkdir(exist_ok=True)
    seeds = SEEDS[kind]()
    (folder / f"pipes.{kind}").write_bytes(spoil(seeds[number % len(seeds)], steps))
    (folder / "map.toml").write_bytes(SEEDS["map"]()[0])
    target = folder / "made.json"
    target.unlink(missing_ok=True)
    given_options = [o.replace("map.toml", str(folder / "map.toml")) for o in options]
    source = str(folder / f"pipes.{kind}")
    code, _, _ = run(capfd, "import", source, "-o", str(target), *given_options)
    assert target.exists() == (code == 0)
    assert {p.name for p in folder.iterdir()} <= {f"pipes.{kind}", "map.toml", "made.json"}


@settings(max_examples=some(150), suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    command=st.sampled_from(sorted(set(COMMANDS) - {"draw", "survey", "selftest"})),
    words=st.lists(
        st.one_of(
            st.sampled_from(WORDS),
            st.sampled_from(
                ["--format", "json", "--on", "2026-02-30", "--pack", "-o", "-", "--top"]
            ),
            st.text(max_size=8),
        ),
        max_size=4,
    ),
)
def test_any_words_after_a_command(
    command: str, words: list[str], tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    before = Path.cwd()
    os.chdir(tmp_path)  # a word may be the name of a file to write
    try:
        run(capfd, command, *(w for w in words if w not in {"-", "/"}))
    finally:
        os.chdir(before)


@settings(max_examples=some(60), suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(words=st.lists(st.one_of(st.sampled_from(WORDS), st.text(max_size=10)), max_size=3))
def test_any_words_at_all(words: list[str], capfd: pytest.CaptureFixture[str]) -> None:
    run(capfd, *(w for w in words if w not in {*COMMANDS, "serve"}))
