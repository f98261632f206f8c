"""Make what is recorded: the check is run here and now, never taken from anybody; and run again."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

import rfc8785

from layoutcheck import __version__
from layoutcheck.document import Fault, Layout, LayoutFaults, parse_layout, read_text
from layoutcheck.document.faults import pointer_to, shown
from layoutcheck.document.fields import names_somebody
from layoutcheck.record.entry import NAME_LIMIT, NOTE_LIMIT, Draft, Kept, Signer
from layoutcheck.record.problems import RecordProblem
from layoutcheck.report import Report, check
from layoutcheck.report.model import Verdict
from layoutcheck.rules.pack import pack_text
from layoutcheck.rules.registry import company_pack, figures
from layoutcheck.seen import has_unseen

_LIMITS = {"name": NAME_LIMIT, "role": NAME_LIMIT, "note": NOTE_LIMIT}
_EXAMPLES = {"name": '"A. Miller"', "role": '"site supervisor"', "note": '"as agreed on site"'}


class NotToBeSigned(RecordProblem):
    """Raised where the check itself failed: there is nothing to agree to."""


@dataclass(frozen=True)
class Agreed:
    """What somebody signs. layout_text: the bytes that were read; layout: what they say.

    layout_format: json or yaml. pack: the text of a company's pack, None for the built-in figures.
    on: the day of judgement, which only waivers need.
    """

    layout: Layout
    layout_text: bytes
    layout_format: str
    pack: str | None
    on: date | None
    signer: Signer


def draft_of(agreed: Agreed) -> tuple[Draft, Report]:
    """Check what is agreed and make the draft of its entry.

    Raises NotToBeSigned where the check ends in a fault of layoutcheck itself, and LayoutFaults
    for an unsound pack.
    """
    pack = pack_text(figures()) if agreed.pack is None else agreed.pack
    report = check(agreed.layout, pack=company_pack(pack), on=agreed.on)
    if report.verdict is Verdict.FAULT:
        raise NotToBeSigned("a rule failed by a fault of layoutcheck itself; nothing is recorded.")
    draft = Draft(
        signer=agreed.signer,
        site=report.layout.name,
        verdict=report.verdict.value,
        version=report.version,
        judged_on=None if report.judged_on is None else report.judged_on.isoformat(),
        layout_format=agreed.layout_format,
        layout=agreed.layout_text,
        pack=pack.encode(),
        report=report.to_json().encode(),
    )
    return draft, report


def layout_as_json(data: object) -> bytes:
    """Write a layout that came inside other data as canonical JSON (RFC 8785), to be kept.

    Raises LayoutFaults where it holds a number that this form can not.
    """
    try:
        return rfc8785.dumps(data)  # type: ignore[arg-type]  # parsed JSON, by its own check
    except (rfc8785.CanonicalizationError, UnicodeError):
        fault = Fault(
            pointer="",
            found="a number or text out of range",
            problem="can not be kept as canonical JSON (RFC 8785): a whole number past 2^53",
            example="40.0",
        )
        raise LayoutFaults([fault]) from None


def read_signer(data: Mapping[str, object], *, key: str | None = None) -> Signer:
    """Read who signs: name, role and note. Raises LayoutFaults with every fault.

    key: the name of the service's key that the request came with.
    """
    faults = []
    for unknown in sorted(set(data) - set(_LIMITS)):
        problem = "is not a field of a signer"
        faults.append(_fault(pointer_to(unknown), data[unknown], problem, "leave it out"))
    told = {field: data.get(field, "") for field in _LIMITS}
    for field, limit in _LIMITS.items():
        unsound = _text_problem(told[field], limit)
        if unsound is None and field == "name" and not names_somebody(str(told[field])):
            unsound = "must say who signs"
        if unsound is not None:
            faults.append(_fault(pointer_to(field), told[field], unsound, _EXAMPLES[field]))
    if faults:
        raise LayoutFaults(faults)
    return Signer(**{f: str(v).strip() for f, v in told.items()}, key=key)


def _text_problem(value: object, limit: int) -> str | None:
    if not isinstance(value, str):
        return "must be a text"
    if len(value) > limit:
        return f"must be at most {limit} characters long"
    if has_unseen(value):
        return "must be one line of plain text, without unseen characters"
    return None


def _fault(pointer: str, found: object, problem: str, example: str) -> Fault:
    told = "nothing" if found == "" else shown(found)
    return Fault(pointer=pointer, found=told, problem=problem, example=example)


class Again(StrEnum):
    """How a fresh check compares with the report that was kept."""

    SAME = "same"
    DIFFERS = "differs"
    OTHER_VERSION = "other version"
    NOT_POSSIBLE = "not possible"


@dataclass(frozen=True)
class Recheck:
    """The outcome of checking an entry's layout again."""

    sequence: int
    outcome: Again
    says: str


def recheck(kept: Kept, text_of: Callable[[str], bytes | None]) -> Recheck:
    """Check an entry's layout by its pack again, and compare the report byte for byte.

    Only the version that made a report can make it again. text_of: gives a kept text.
    """
    entry = kept.entry
    number = entry.sequence
    if entry.version != __version__:
        says = f"Entry {number} was made by version {shown(entry.version)}; this is {__version__}."
        return Recheck(number, Again.OTHER_VERSION, says)
    bodies = [text_of(d) for d in (entry.layout, entry.pack, entry.report)]
    layout, pack, report = bodies
    if layout is None or pack is None or report is None:
        return _impossible(number, "a text is not there")
    try:
        data = read_text(layout, suffix=f".{entry.layout_format}")
        on = None if entry.judged_on is None else date.fromisoformat(entry.judged_on)
        fresh = check(parse_layout(data), pack=company_pack(pack.decode()), on=on)
    except (LayoutFaults, ValueError, TypeError):
        return _impossible(number, "what it keeps can not be read")
    if fresh.to_json().encode() != report:
        says = f"Entry {number}: a fresh check gives another report than the one kept."
        return Recheck(number, Again.DIFFERS, says)
    return Recheck(number, Again.SAME, f"Entry {number}: a fresh check gives the report kept.")


def _impossible(number: int, why: str) -> Recheck:
    return Recheck(number, Again.NOT_POSSIBLE, f"Entry {number} can not be checked again: {why}.")
