"""The conformance cases: the whole program, from document to report, byte for byte."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import date
from functools import partial
from pathlib import Path

from layoutcheck.document import LayoutFaults, parse_layout, read_text
from layoutcheck.kept import kept
from layoutcheck.report import check
from layoutcheck.report.model import Refusal
from layoutcheck.report.packs import read_pack_text
from layoutcheck.selftest.check import Check, Reader, Reading, Status

GROUP = "WHOLE CHECKS"


def checks() -> tuple[Check, ...]:
    """Make one check for each case; where there are none, one that says so."""
    try:
        folders = sorted(p for p in kept("conformance").iterdir() if (p / "layout.json").is_file())
    except FileNotFoundError:
        folders = []
    if not folders:
        return (_check("conformance", cases_folder_is_there),)
    return tuple(_check(folder.name, partial(_read, folder)) for folder in folders)


def cases_folder_is_there() -> Iterator[Reading]:
    """Read whether the cases are installed."""
    yield Reading("conformance cases", "missing", "installed")


def _check(name: str, read: Reader) -> Check:
    return Check(
        name,
        GROUP,
        "The report of this layout has the bytes it had where it was released.",
        "shared/conformance",
        Status.PINNED,
        read,
    )


def _read(folder: Path) -> Iterator[Reading]:
    refusal = folder / "refusal.json"
    expected = (refusal if refusal.is_file() else folder / "report.json").read_text("utf-8")
    found = _answer(folder)
    if found == expected:
        yield Reading("report", "the same bytes", "the same bytes")
        return
    there, ours, theirs = _first_difference(json.loads(found), json.loads(expected), "")
    yield Reading(f"first difference at {there or 'the bytes'}", _short(ours), _short(theirs))


def _answer(folder: Path) -> str:
    pack, day = folder / "pack.toml", folder / "on.txt"
    try:
        layout = parse_layout(read_text((folder / "layout.json").read_bytes()))
    except LayoutFaults as error:
        return Refusal(given="layout", faults=error.faults).to_json()
    figures = read_pack_text(pack.read_text("utf-8")) if pack.is_file() else None
    on = date.fromisoformat(day.read_text("utf-8").strip()) if day.is_file() else None
    return check(layout, pack=figures, on=on).to_json()


def _first_difference(found: object, expected: object, place: str) -> tuple[str, object, object]:
    """Walk two documents side by side to the first place where they differ."""
    if isinstance(found, dict) and isinstance(expected, dict):
        keys = list(dict.fromkeys([*expected, *found]))
        pairs = [(str(key), found.get(key), expected.get(key)) for key in keys]
    elif isinstance(found, list) and isinstance(expected, list) and len(found) == len(expected):
        pairs = [(str(i), a, b) for i, (a, b) in enumerate(zip(found, expected, strict=True))]
    else:
        return place, found, expected
    for key, ours, theirs in pairs:
        if ours != theirs:
            return _first_difference(ours, theirs, f"{place}/{key}")
    return place, "other bytes, equal content", "the same bytes"


def _short(value: object) -> str:
    text = json.dumps(value, ensure_ascii=True)
    return text if len(text) <= 120 else f"{text[:117]}..."
