"""One entry of the record, and the hash that ties it to the one before.

The hash is SHA-256 over the entry's fields written as canonical JSON by RFC 8785 (JSON
Canonicalization Scheme). The hash of the entry before is one of the fields. The layout, the pack
and the report are in it by their own SHA-256, so their every byte counts, and an entry can be
proven to somebody who must not see the layout.
"""

from __future__ import annotations

import hashlib
from dataclasses import asdict, dataclass

import rfc8785

FORMAT = "layoutcheck record 1"
# What the first entry has in place of the hash before it.
BEGINNING = "0" * 64

NAME_LIMIT, NOTE_LIMIT = 200, 2000


@dataclass(frozen=True)
class Signer:
    """Who signs: name and role as given, a note, and the name of the service's key, if any.

    The record keeps what was stated. It does not prove that the person is who they say.
    """

    name: str
    role: str = ""
    note: str = ""
    key: str | None = None


@dataclass(frozen=True)
class Draft:
    """What is to be recorded. layout, pack and report are the exact bytes that are kept.

    layout_format: json or yaml. judged_on: the day of judgement (ISO 8601), None if none counted.
    """

    signer: Signer
    site: str
    verdict: str
    version: str
    judged_on: str | None
    layout_format: str
    layout: bytes
    pack: bytes
    report: bytes


@dataclass(frozen=True)
class Entry:
    """An entry's content: all that its hash covers.

    sequence: 1 for the first. at: UTC by the recording machine's clock, ISO 8601. layout, pack
    and report: SHA-256 of the texts kept. previous: the hash of the entry before.
    """

    sequence: int
    at: str
    name: str
    role: str
    note: str
    key: str | None
    site: str
    verdict: str
    version: str
    judged_on: str | None
    layout_format: str
    layout: str
    pack: str
    report: str
    previous: str

    @property
    def texts(self) -> dict[str, str]:
        """Give the digests of the texts that the entry keeps, by what they are."""
        return {"layout": self.layout, "pack": self.pack, "report": self.report}


@dataclass(frozen=True)
class Kept:
    """An entry as it is kept, with the hash that was kept beside it."""

    entry: Entry
    hash: str


def digest_of(text: bytes) -> str:
    """Give the SHA-256 of a text as 64 hexadecimal digits."""
    return hashlib.sha256(text).hexdigest()


def canonical(entry: Entry) -> bytes:
    """Write an entry as canonical JSON (RFC 8785): what its hash is taken of.

    Raises ValueError where a field holds what JSON can not.
    """
    try:
        return rfc8785.dumps({"format": FORMAT, **asdict(entry)})
    except (rfc8785.CanonicalizationError, UnicodeError, TypeError, AttributeError) as error:
        raise ValueError("a field holds what JSON can not") from error


def hash_of(entry: Entry) -> str:
    """Give an entry's hash as 64 hexadecimal digits. Raises ValueError as `canonical` does."""
    return digest_of(canonical(entry))


def next_entry(draft: Draft, *, last: Kept | None, at: str) -> Kept:
    """Make the entry that follows the last one; last is None for the first."""
    entry = Entry(
        sequence=1 if last is None else last.entry.sequence + 1,
        at=at,
        name=draft.signer.name,
        role=draft.signer.role,
        note=draft.signer.note,
        key=draft.signer.key,
        site=draft.site,
        verdict=draft.verdict,
        version=draft.version,
        judged_on=draft.judged_on,
        layout_format=draft.layout_format,
        layout=digest_of(draft.layout),
        pack=digest_of(draft.pack),
        report=digest_of(draft.report),
        previous=BEGINNING if last is None else last.hash,
    )
    return Kept(entry, hash_of(entry))


# A hash shortened for paper keeps 160 bits; an own choice. Derived by hand: whoever comes later
# must try about 2^160 texts to find one that fits it. Whoever prepares two texts before either is
# recorded must try about 2^80 (by the birthday bound), and 2^128 against the whole hash.
PAPER_DIGITS = 40


def for_paper(full: str) -> str:
    """Shorten a hash to what is written on paper: 40 digits in groups of four."""
    short = full[:PAPER_DIGITS]
    return " ".join(short[i : i + 4] for i in range(0, len(short), 4))
