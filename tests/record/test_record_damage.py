"""One byte of a SQLite file changed on disk: the walk finds it, or nothing of ours changed."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layoutcheck.record import Kept, Ledger
from layoutcheck.record.chain import FaultKind
from layoutcheck.record.problems import RecordProblem
from tests.record.writer import draft
from tests.sizes import some

Content = tuple[list[Kept], dict[str, bytes | None]]


def content_of(where: str) -> Content:
    ledger = Ledger(where)
    kept = list(ledger.walk())
    return kept, {d: ledger.text(d) for k in kept for d in k.entry.texts.values()}


@pytest.fixture(scope="module")
def original(tmp_path_factory: pytest.TempPathFactory) -> tuple[bytes, Content]:
    where = tmp_path_factory.mktemp("damage") / "record.sqlite"
    for number in range(4):
        Ledger(str(where)).append(draft("Ann Invented", number, 1500))
    content = content_of(str(where))
    for beside in where.parent.glob("*-*"):
        beside.unlink()
    return where.read_bytes(), content


def check_damage(original: tuple[bytes, Content], folder: Path, at: int, change: int) -> str:
    """Change one byte; tell whether that is found, refused, or of no matter."""
    whole, content = original
    file = folder / "record.sqlite"
    for beside in folder.glob("record.sqlite*"):
        beside.unlink()
    spoiled = bytearray(whole)
    spoiled[at] ^= change
    file.write_bytes(spoiled)
    try:
        found = Ledger(str(file)).verify()
    except RecordProblem:
        return "refused"
    if not found.whole:
        return "found"
    assert content_of(str(file)) == content, f"byte {at} changed by {change}: not found"
    return "of no matter"


@given(st.data())
@settings(max_examples=some(60))
def test_a_changed_byte_is_found_or_of_no_matter(
    original: tuple[bytes, Content], tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    at = data.draw(st.integers(0, len(original[0]) - 1))
    change = data.draw(st.integers(1, 255))
    check_damage(original, tmp_path_factory.mktemp("byte"), at, change)


@pytest.mark.nightly
@pytest.mark.slow
def test_changed_bytes_all_over_the_file(original: tuple[bytes, Content], tmp_path: Path) -> None:
    chance = random.Random(20261125)
    told = [
        check_damage(original, tmp_path, at, chance.randrange(1, 256))
        for at in range(0, len(original[0]), 29)
    ]
    print({answer: told.count(answer) for answer in sorted(set(told))})
    assert told.count("found") > len(told) / 4  # most of the file is texts and entries


def test_every_byte_of_a_text_counts(original: tuple[bytes, Content], tmp_path: Path) -> None:
    """In the middle of each text that is kept: this is what somebody would want to change."""
    whole, (_, texts) = original
    for number, body in enumerate(texts.values()):
        assert body is not None
        # Long texts run over several pages; their beginnings stand in one piece.
        at = whole.find(body[:60]) + 30 if len(body) > 60 else whole.find(body) + 3
        assert at > 60, number
        assert check_damage(original, tmp_path, at, 1) == "found"


def test_a_file_cut_short_is_told_as_damage(
    original: tuple[bytes, Content], tmp_path: Path
) -> None:
    file = tmp_path / "record.sqlite"
    file.write_bytes(original[0][: len(original[0]) // 2])
    found = Ledger(str(file)).verify()
    assert not found.whole
    assert FaultKind.DAMAGED in {f.kind for f in found.faults}
