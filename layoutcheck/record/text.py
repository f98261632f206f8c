"""A record as plain text, for people."""

from __future__ import annotations

import json
from collections.abc import Sequence

from layoutcheck.document.faults import shown
from layoutcheck.record.entry import Kept, for_paper
from layoutcheck.record.making import Again
from layoutcheck.record.model import CAUTION, LIMITS, Verification
from layoutcheck.report.cautions import CAUTIONS, DEFERENCE
from layoutcheck.report.wrap import bulleted, wrapped


def recorded_text(kept: Kept) -> str:
    """Tell that an entry is kept, and what to write on the paper sheet."""
    number = kept.entry.sequence
    lines = [f"RECORDED as entry {number}. Verdict: {_verdict(kept)}.", *_what(kept), ""]
    lines += wrapped("Write this on the sheet, and keep it where the record is not:")
    lines += [f"    entry {number}: {for_paper(kept.hash)}", ""]
    lines += [*wrapped(CAUTION), *wrapped(DEFERENCE)]
    return "\n".join(lines) + "\n"


def entry_text(kept: Kept, report: bytes | None) -> str:
    """Show one entry whole, with the cautions. report: as kept, for the digests on sheets."""
    entry = kept.entry
    lines = [f"Entry {entry.sequence}. Verdict: {_verdict(kept)}.", *_what(kept), ""]
    lines += [f"  On sheets   layout {_on_sheets(report, 'layout')}"]
    lines += [f"              figures {_on_sheets(report, 'pack')}"]
    lines += [f"  {what:<11} {_plain(digest)}" for what, digest in entry.texts.items()]
    lines += [f"  {'previous':<11} {_plain(entry.previous)}"]
    lines += [f"  {'hash':<11} {_plain(kept.hash)}"]
    lines += [f"  {'on paper':<11} {_plain(for_paper(_plain(kept.hash)))}", ""]
    lines += bulleted("CAUTIONS", CAUTIONS)
    lines += ["", *wrapped(CAUTION), *wrapped(DEFERENCE)]
    return "\n".join(lines) + "\n"


def list_text(entries: Sequence[Kept], *, total: int) -> str:
    """List entries, a block for each, the newest first."""
    if not entries:
        return f"No entry here; the record holds {total}.\n"
    lines = [f"{len(entries)} of {total} entries, the newest first.", ""]
    for kept in entries:
        lines += [f"{kept.entry.sequence}  {_verdict(kept)}", *_what(kept)]
    lines += ["", *wrapped(CAUTION), *wrapped(DEFERENCE)]
    return "\n".join(lines) + "\n"


def verified_text(found: Verification) -> str:
    """Tell whether a record is whole, what is wrong where, and what a chain can not show."""
    lines = [*wrapped(_head(found)), ""]
    for fault in found.faults:
        lines += wrapped(f"{fault.kind.upper()}: {fault.says}", indent="    ", first="  ")
    for remark in found.remarks:
        lines += wrapped(f"REMARK: {remark}", indent="    ", first="  ")
    if found.more:
        lines += ["  There are more faults than are listed."]
    for again in found.rechecks:
        if again.outcome is not Again.SAME:
            lines += wrapped(f"{again.outcome.upper()}: {again.says}", indent="    ", first="  ")
    same = sum(again.outcome is Again.SAME for again in found.rechecks)
    if found.rechecks:
        lines += [f"  {same} of {len(found.rechecks)} reports came out the same again."]
    if found.paper is not None:
        lines += [f"  Hash of the last entry, to be noted: {found.paper}"]
    lines += ["", *wrapped(LIMITS), *wrapped(CAUTION), *wrapped(DEFERENCE)]
    return "\n".join(lines) + "\n"


def _head(found: Verification) -> str:
    many = f"{found.entries} entr{'y' if found.entries == 1 else 'ies'}"
    if not found.whole:
        return f"NOT WHOLE: the record was changed. {many} read."
    if found.exit_code == 1:
        return f"NOT THE SAME: the chain of {many} is whole, but a report does not come out again."
    if found.exit_code:
        return f"UNDECIDED: the chain of {many} is whole; not every report could be made again."
    return f"WHOLE: {many}, each bears out its hash and the one before it."


def _verdict(kept: Kept) -> str:
    return _plain(kept.entry.verdict).upper()


def _what(kept: Kept) -> list[str]:
    entry = kept.entry
    role = f", {_plain(entry.role)}" if entry.role else ""
    key = f" (key {_plain(entry.key)})" if entry.key else ""
    at = _plain(entry.at)[:19].replace("T", " ")
    lines = wrapped(_plain(entry.site), indent="  ")
    lines += wrapped(f"Signed {at} UTC by {_plain(entry.name)}{role}{key}.", indent="  ")
    if entry.note:
        lines += wrapped(f"Note: {_plain(entry.note)}", indent="  ")
    day = f"; judged on {_plain(entry.judged_on)}" if entry.judged_on else ""
    return [*lines, f"  By layoutcheck {_plain(entry.version)}{day}."]


def _plain(text: str | None) -> str:
    """Show a kept text: one that was changed by hand may hold anything."""
    return shown(str(text or ""), 2000)


def _on_sheets(report: bytes | None, part: str) -> str:
    try:
        return shown(json.loads(report or b"")[part]["digest"], 71)
    except (ValueError, KeyError, TypeError):
        return "not known"
