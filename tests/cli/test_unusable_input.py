"""Whatever is given, the command line says what is wrong with it, in the words of this table."""

import json
from typing import Any

import pytest

from layoutcheck.cli import files
from tests.cli.conftest import Run, Write
from tests.cli.small_layout import small_layout


def with_plug(**changes: Any) -> dict[str, Any]:
    plug = {"id": "K1", "pipe": "P3", "station": "18 in", "jacket": "12 in"}
    return small_layout(plugs=[{**plug, **changes}])


NESTED = "[" * 100_000 + "]" * 100_000

# What is given -> the places named, and words of the problem.
GIVEN: dict[str, tuple[Any, list[str], str]] = {
    "nothing": (b"", ["(whole)"], "is not JSON"),
    "not json": ("{", ["(whole)"], "line 1"),
    "not utf-8": (b'{"name": "\xff"}', ["(whole)"], "is not UTF-8 text"),
    "binary": (bytes(range(256)), ["(whole)"], "is not UTF-8 text"),
    "twice": ('{"a": 1, "a": 2}', ["(whole)"], "twice in one object"),
    "not a number": ('{"a": NaN}', ["(whole)"], "NaN"),
    "half a character": ('{"a": "\\ud800"}', ["(whole)"], "half of a character"),
    "too deep": (NESTED, ["(whole)"], "nested too deeply"),
    "a list": ("[]", ["(whole)"], "one object with named fields"),
    "old format": (small_layout(format="layoutcheck layout 0"), ["/format"], "must be"),
    "unknown field": (small_layout(plugz=[]), ["/plugz"], "is not a field"),
    "bare number": (with_plug(jacket=12), ["/plugs/0/jacket"], "unit"),
    "unknown unit": (with_plug(jacket="12 parsecs"), ["/plugs/0/jacket"], ""),
    "missing field": (
        small_layout(plugs=[{"id": "K1", "pipe": "P3", "station": "1 ft"}]),
        ["/plugs/0/jacket"],
        "is required",
    ),
    "no such pipe": (with_plug(pipe="P9"), ["/plugs/0/pipe"], ""),
    "past the end": (with_plug(station="99 ft"), ["/plugs/0/station"], ""),
    "hidden direction": (with_plug(id="K\u202e1"), ["/plugs/0/id"], "direction character"),
    "line separator": (with_plug(id="K\u20281"), ["/plugs/0/id"], "direction character"),
    "soft hyphen": (with_plug(id="K\u00ad1"), ["/plugs/0/id"], "direction character"),
    "several": (
        small_layout(name=3, plugs=[{"id": "K1"}], zebra=1),
        ["/name", "/plugs/0/jacket", "/zebra"],
        "",
    ),
}


@pytest.mark.parametrize("case", GIVEN)
def test_every_fault_is_told_on_standard_error(run: Run, write: Write, case: str) -> None:
    content, places, words = GIVEN[case]
    ran = run("check", str(write("given.json", content)))
    assert (ran.code, ran.out) == (2, b"")
    assert "Traceback" not in ran.err
    assert words in ran.err
    assert "right: " in ran.err
    for place in places:
        assert place == "(whole)" or f"\n{place}\n" in ran.err, ran.err


@pytest.mark.parametrize("case", GIVEN)
def test_a_program_gets_every_fault_as_json(run: Run, write: Write, case: str) -> None:
    content, places, words = GIVEN[case]
    ran = run("check", str(write("given.json", content)), "--format", "json")
    answer = json.loads(ran.out)
    assert (ran.code, ran.err) == (2, "")
    assert answer["format"] == "layoutcheck refusal 1"
    found = [fault["pointer"] for fault in answer["faults"]]
    assert set(found) >= {"" if p == "(whole)" else p for p in places}
    assert any(words in fault["problem"] for fault in answer["faults"])
    assert all(fault["example"] and fault["found"] for fault in answer["faults"])


@pytest.mark.parametrize("form", ["text", "json"])
def test_a_file_that_can_not_be_read(run: Run, write: Write, form: str) -> None:
    folder = write().parent
    for path, words in [
        (folder / "absent.json", "is not there"),
        (folder, "is a folder"),
        (f"{folder}/\0", "can not be read"),
        (f"{folder}/{'x' * 5000}", "can not be read"),
    ]:
        ran = run("check", str(path), "--format", form)
        assert ran.code == 2
        assert words in (ran.text if form == "json" else ran.err)


def test_a_huge_file_is_refused_before_it_is_parsed(
    run: Run, write: Write, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(files, "LARGEST", 1024 * 1024)
    ran = run("check", str(write("huge.json", b" " * (1024 * 1024 + 1))))
    assert ran.code == 2
    assert "is larger than the 1 MB" in ran.err


@pytest.mark.parametrize(
    ("pack", "words"),
    [
        ("not toml", "the pack is not TOML"),
        (b"\xff", "is not UTF-8 text"),
        ("[figures.plug-spacing]\nper_inch = 14\n", "/figures/plug-spacing/per_inch"),
        ('name = "x"\n[figures.no-such]\na = 1\n', "is not a rule with figures"),
        ("", "a pack names itself"),
    ],
)
def test_a_pack_that_can_not_be_used(run: Run, write: Write, pack: Any, words: str) -> None:
    ran = run("check", str(write()), "--pack", str(write("firm.toml", pack)))
    assert (ran.code, ran.out) == (2, b"")
    assert "pack " in ran.err
    assert words in ran.err


@pytest.mark.parametrize(
    ("argv", "words"),
    [
        ([], "LAYOUT"),
        (["-", "--zap"], "--zap"),
        (["a", "b"], "extra argument"),
        (["-", "--format", "xml"], "'text', 'json'"),
        (["-", "--on", "2026-13-01"], "2026-13-01"),
        (["-", "--on", "tomorrow"], "tomorrow"),
    ],
)
def test_a_wrong_call_is_one_line(run: Run, argv: list[str], words: str) -> None:
    ran = run("check", *argv)
    assert (ran.code, ran.out, ran.err.count("\n")) == (2, b"", 1)
    assert words in ran.err
    assert "layoutcheck check --help" in ran.err
