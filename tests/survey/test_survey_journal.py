"""The journal keeps every entry that was whole, whatever a kill did to the last one."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layoutcheck.survey.journal import Busy, Entry, Journal

ENTRIES = [Entry(f"key {n}", {"row": {"text": "ü" * n, "number": n / 3}}) for n in range(5)]


def filled(path: Path) -> bytes:
    with Journal(path) as journal:
        journal.add(ENTRIES[:2])
        journal.add(ENTRIES[2:])
    return path.read_bytes()


def test_what_was_added_is_there_when_it_is_opened_again(tmp_path: Path) -> None:
    filled(tmp_path / "j")
    with Journal(tmp_path / "j") as journal:
        assert len(journal) == len(ENTRIES)
        assert [journal.read(e.key) for e in ENTRIES] == [e.holds for e in ENTRIES]
        assert "another key" not in journal


def test_cut_anywhere_it_holds_all_whole_lines_and_takes_more(tmp_path: Path) -> None:
    whole = filled(tmp_path / "j")
    for cut in range(len(whole) + 1):
        path = tmp_path / "cut"
        path.write_bytes(whole[:cut])
        kept = whole[:cut].count(b"\n")  # the oracle: a line counts once its end is there
        with Journal(path) as journal:
            assert [e.key in journal for e in ENTRIES] == [n < kept for n in range(5)]
            journal.add(ENTRIES)
        with Journal(path) as journal:
            assert [journal.read(e.key) for e in ENTRIES] == [e.holds for e in ENTRIES]


@given(at=st.integers(0, 10_000), bit=st.integers(0, 7))
def test_a_damaged_line_is_dropped_and_no_other(
    tmp_path_factory: pytest.TempPathFactory, at: int, bit: int
) -> None:
    path = tmp_path_factory.mktemp("journal") / "j"
    whole = bytearray(filled(path))
    at %= len(whole)
    whole[at] ^= 1 << bit
    path.write_bytes(bytes(whole))
    with Journal(path) as journal:
        sound = [e for e in ENTRIES if e.key in journal]
        # A flipped line end joins two lines, or leaves the last one without an end.
        assert len(sound) >= len(ENTRIES) - 2
        assert [journal.read(e.key) for e in sound] == [e.holds for e in sound]


def test_only_one_survey_at_a_time_writes(tmp_path: Path) -> None:
    with Journal(tmp_path / "j"), pytest.raises(Busy):
        Journal(tmp_path / "j")
    with Journal(tmp_path / "j"):
        pass
