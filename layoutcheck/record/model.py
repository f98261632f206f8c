"""The record as other programs read it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from layoutcheck.record.chain import ChainFault, FaultKind
from layoutcheck.record.entry import Kept, for_paper
from layoutcheck.record.ledger import Verified
from layoutcheck.record.making import Again, Recheck
from layoutcheck.report.cautions import DEFERENCE

# What a record is not. It stands on everything that is printed of one.
CAUTION = (
    "A record keeps what was agreed. It does not show that the layout is safe, that the work was "
    "done as drawn, or that the signer is who they say. Recording is not a permit."
)
LIMITS = (
    "The chain shows any entry that was changed, taken out, put in or moved. It can not show that "
    "entries at the end were cut off, or that everything from some entry on was written again: "
    "only a hash noted elsewhere does. Note the newest one, and have it looked for."
)

_HASH = r"^[0-9a-f]{64}$"


class RecordPart(BaseModel):
    """What every part of a record shares."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class RecordEntry(RecordPart):
    """One entry. hash is over all other fields and `format`, as canonical JSON (RFC 8785)."""

    sequence: int = Field(ge=1, description="Number of the entry: 1 for the first.")
    at: str = Field(description="UTC by the recording machine's clock, ISO 8601.")
    name: str = Field(description="Who signed, as stated.")
    role: str
    note: str
    key: str | None = Field(description="Name of the API key that the request came with, if any.")
    site: str = Field(description="The layout's name.")
    verdict: str = Field(description="The report's verdict.")
    version: str = Field(description="The version of layoutcheck that made the report.")
    judged_on: str | None = Field(description="The day of judgement, where waivers asked for it.")
    layout_format: str = Field(description="json or yaml.")
    layout: str = Field(description="SHA-256 of the layout kept.")
    pack: str = Field(description="SHA-256 of the rule pack kept.")
    report: str = Field(description="SHA-256 of the report kept.")
    previous: str = Field(description="The hash of the entry before; zeros for the first.")
    hash: str = Field(description="SHA-256 of this entry.")

    @classmethod
    def of(cls, kept: Kept) -> RecordEntry:
        """Make it of an entry as kept; what was put in by hand is shown as far as JSON can."""
        told: dict[str, Any] = {**asdict(kept.entry), "hash": kept.hash}
        return cls.model_construct(**{name: _sayable(value) for name, value in told.items()})


def _sayable(value: object) -> Any:  # noqa: ANN401 - what a field should be, if nobody changed it
    if value is None or isinstance(value, int):
        return value
    return str(value).encode(errors="replace").decode()


def _paper(kept: Kept) -> str:
    return for_paper(str(_sayable(kept.hash)))


class RecordTexts(RecordPart):
    """The texts that an entry keeps, to the byte."""

    layout: str
    pack: str
    report: str


class RecordDetail(RecordPart):
    """One entry with its texts, and its hash in the short form for paper."""

    format: Literal["layoutcheck record 1"] = "layoutcheck record 1"
    entry: RecordEntry
    paper: str = Field(description="The hash's first 40 digits, to write on the sheet.")
    texts: RecordTexts
    caution: str = CAUTION
    deference: str = DEFERENCE


class Recorded(RecordPart):
    """The answer to a recording: the entry is kept."""

    format: Literal["layoutcheck record 1"] = "layoutcheck record 1"
    entry: RecordEntry
    paper: str = Field(description="The hash's first 40 digits, to write on the sheet.")
    caution: str = CAUTION
    deference: str = DEFERENCE

    @classmethod
    def of(cls, kept: Kept) -> Recorded:
        """Make it of an entry as kept."""
        return cls(entry=RecordEntry.of(kept), paper=_paper(kept))


class RecordPage(RecordPart):
    """Entries from the newest back. next: what to ask for as `before` to go on; None at the end."""

    format: Literal["layoutcheck record 1"] = "layoutcheck record 1"
    entries: tuple[RecordEntry, ...]
    next: int | None
    caution: str = CAUTION
    deference: str = DEFERENCE


def page_of(entries: Sequence[Kept]) -> RecordPage:
    """Make a page of entries that come from the newest back."""
    last = entries[-1].entry.sequence if entries else 1
    listed = tuple(RecordEntry.of(kept) for kept in entries)
    return RecordPage(entries=listed, next=last if last > 1 else None)


def detail_of(kept: Kept, text_of: Callable[[str], bytes | None]) -> RecordDetail:
    """Make an entry with its texts. text_of: gives a kept text; one that is gone is empty."""
    bodies = {what: text_of(digest) or b"" for what, digest in kept.entry.texts.items()}
    texts = RecordTexts(**{what: body.decode(errors="replace") for what, body in bodies.items()})
    return RecordDetail(entry=RecordEntry.of(kept), paper=_paper(kept), texts=texts)


class FaultPart(RecordPart):
    """One thing that is wrong with a record. sequence: the entry's number; None for the whole."""

    kind: FaultKind
    sequence: int | None
    says: str


class RecheckPart(RecordPart):
    """How a fresh check of an entry's layout compares with the report kept."""

    sequence: int
    outcome: Again
    says: str


class Verification(RecordPart):
    """What a walk over the whole record found.

    whole: nothing is wrong. head: the newest hash, to be noted elsewhere. more: there are more
    faults than are listed.
    """

    format: Literal["layoutcheck verification 1"] = "layoutcheck verification 1"
    whole: bool
    entries: int
    head: str | None
    paper: str | None
    faults: tuple[FaultPart, ...]
    more: bool
    remarks: tuple[str, ...] = Field((), description="No fault of the chain, but to be known.")
    rechecks: tuple[RecheckPart, ...] = ()
    limits: str = LIMITS
    caution: str = CAUTION
    deference: str = DEFERENCE

    @classmethod
    def of(cls, verified: Verified, rechecks: tuple[Recheck, ...] = ()) -> Verification:
        """Make it of a walk, and of checks run again."""
        return cls(
            whole=verified.whole,
            entries=verified.entries,
            head=verified.head,
            paper=None if verified.head is None else for_paper(verified.head),
            faults=tuple(_fault(f) for f in verified.faults),
            more=verified.more,
            remarks=verified.remarks,
            rechecks=tuple(RecheckPart(**asdict(r)) for r in rechecks),
        )

    @property
    def exit_code(self) -> int:
        """Give 0 if all holds, 1 if anything is wrong, 3 if a check could not be run again."""
        outcomes = {r.outcome for r in self.rechecks}
        if not self.whole or Again.DIFFERS in outcomes:
            return 1
        return 3 if outcomes - {Again.SAME} else 0


def _fault(fault: ChainFault) -> FaultPart:
    return FaultPart(kind=fault.kind, sequence=fault.sequence, says=fault.says)
