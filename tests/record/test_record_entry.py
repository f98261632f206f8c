"""What an entry's hash is taken of: canonical JSON by RFC 8785, and SHA-256 by FIPS 180-4."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, replace
from typing import Any

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from layoutcheck.record.chain import UnsoundHash, noted_hash
from layoutcheck.record.entry import (
    BEGINNING,
    Entry,
    Kept,
    canonical,
    digest_of,
    for_paper,
    hash_of,
    next_entry,
)
from tests.record.writer import draft

words = st.text(st.characters(exclude_categories=["Cs"]), max_size=30)
made = st.builds(
    Entry,
    sequence=st.integers(1, 2**31),
    **dict.fromkeys(("at", "name", "role", "note", "site", "verdict", "version"), words),
    layout_format=words,
    key=st.none() | words,
    judged_on=st.none() | words,
    **dict.fromkeys(("layout", "pack", "report", "previous"), st.text("0123456789abcdef")),
)


@given(made)
def test_it_is_what_another_writer_of_sorted_json_gives(entry: Entry) -> None:
    # Where all names are ASCII and the one number is a small integer, RFC 8785 asks for sorted
    # names, no spaces, and the shortest escapes (sections 3.2.1 to 3.2.3): what json.dumps gives.
    told: dict[str, Any] = {"format": "layoutcheck record 1", **asdict(entry)}
    plain = json.dumps(told, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    assert canonical(entry) == plain.encode()
    assert hash_of(entry) == hashlib.sha256(plain.encode()).hexdigest()


def test_the_canonical_form_is_that_of_the_standard() -> None:
    # RFC 8785, section 3.2.3: names are sorted by their UTF-16 code units.
    unsorted = {
        "\u20ac": "Euro Sign",
        "\r": "Carriage Return",
        "\ufb33": "Hebrew Letter Dalet With Dagesh",
        "1": "One",
        "\U0001f600": "Emoji: Grinning Face",
        "\u0080": "Control",
        "\u00f6": "Latin Small Letter O With Diaeresis",
    }
    assert list(json.loads(rfc8785.dumps(unsorted)).values()) == [
        "Carriage Return",
        "One",
        "Control",
        "Latin Small Letter O With Diaeresis",
        "Euro Sign",
        "Emoji: Grinning Face",
        "Hebrew Letter Dalet With Dagesh",
    ]


def test_the_digest_is_sha_256() -> None:
    # The one-block example published with FIPS 180-4.
    assert digest_of(b"abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_an_entry_of_a_known_form_keeps_its_hash() -> None:
    """Pinned from our own run: guards against a change that would break every record there is."""
    kept = next_entry(
        draft("Ann Invented", 1, 20), last=None, at="2026-11-25T12:00:00.000000+00:00"
    )
    assert kept.hash == "151f1257bf713048c24c33a1bfd89e0ed5e46f25104f4a6512e0fa12c4964763"


@given(made, words)
def test_no_other_content_has_the_same_canonical_form(entry: Entry, word: str) -> None:
    for name in asdict(entry):
        changed: dict[str, Any] = {name: entry.sequence + 1 if name == "sequence" else word}
        other = replace(entry, **changed)
        assert (canonical(other) == canonical(entry)) == (other == entry)


def test_the_next_entry_hangs_on_the_last() -> None:
    first = next_entry(draft("Ann Invented", 0, 8), last=None, at="a")
    second = next_entry(draft("Ann Invented", 1, 8), last=first, at="b")
    assert (first.entry.sequence, first.entry.previous) == (1, BEGINNING)
    assert (second.entry.sequence, second.entry.previous) == (2, first.hash)
    assert second == Kept(second.entry, hash_of(second.entry))


@pytest.mark.parametrize("value", [b"bytes", 1.5j, "\ud800", 2**60])
def test_what_json_can_not_hold_has_no_hash(value: Any) -> None:
    first = next_entry(draft("Ann Invented", 0, 8), last=None, at="a")
    with pytest.raises(ValueError, match="JSON"):
        hash_of(replace(first.entry, name=value))


def test_a_hash_on_paper_is_read_back() -> None:
    full = digest_of(b"anything")
    written = for_paper(full)
    assert len(written.split()) == 10
    for copy in (written, written.upper(), written.replace(" ", "-"), f"sha256:{full}", full[:40]):
        assert full.startswith(noted_hash(copy))


@pytest.mark.parametrize("text", ["", "12", "g" * 40, "a" * 39, "a" * 65, "é" * 41])
def test_what_is_no_noted_hash_is_refused(text: str) -> None:
    with pytest.raises(UnsoundHash, match="40 to 64"):
        noted_hash(text)
