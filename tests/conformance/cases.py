"""The conformance cases of shared/conformance: small invented layouts and what they must give.

The expected reports are pinned from our own run: they hold that library, command line and service,
on any machine, give the same bytes. Whether the numbers are right is tested elsewhere.
"""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from functools import partial
from pathlib import Path
from typing import Any

from layoutcheck import __version__
from layoutcheck.document import LayoutFaults, parse_layout
from layoutcheck.report import check
from layoutcheck.report.model import REPORT_FORMAT, Refusal
from layoutcheck.report.packs import read_pack_text
from layoutcheck_service import examples

FOLDER = Path(__file__).parents[2] / "shared" / "conformance"
Document = dict[str, Any]


@dataclass(frozen=True)
class Case:
    """One case: a layout, perhaps a pack and a day, and what it must give."""

    name: str
    layout: Document
    verdict: str
    pack: str | None = None
    on: str | None = None

    @property
    def folder(self) -> Path:
        return FOLDER / self.name

    def makers(self) -> dict[str, Callable[[], bytes]]:
        """Give the case's files by name, and what makes each; the answer is made anew."""
        made: dict[str, Callable[[], bytes]] = {"layout.json": partial(_text, self.layout)}
        if self.pack is not None:
            made["pack.toml"] = self.pack.encode
        if self.on is not None:
            made["on.txt"] = f"{self.on}\n".encode
        made["version.txt"] = f"layoutcheck {__version__}, {REPORT_FORMAT}, service v1\n".encode
        name = "refusal.json" if self.verdict == "unusable" else "report.json"
        return made | {name: self.answer}

    def answer(self) -> bytes:
        """Give what the library answers."""
        try:
            layout = parse_layout(self.layout)
        except LayoutFaults as error:
            return Refusal(given="layout", faults=error.faults).to_json().encode()
        pack = None if self.pack is None else read_pack_text(self.pack)
        on = None if self.on is None else date.fromisoformat(self.on)
        return check(layout, pack=pack, on=on).to_json().encode()


def _text(data: Document) -> bytes:
    return (json.dumps(data, indent=2, ensure_ascii=False) + "\n").encode()


def _mended() -> Document:
    layout = copy.deepcopy(examples.LAYOUT)
    layout["name"] = "Cold water, third floor, Larkfield House, mended"
    layout["note"] = "Invented. The plug stands clear, and a bleed lets out what the ice pushes."
    del layout["junctions"][3]["fitting"]
    layout["outlets"].append(
        {"id": "bleed", "junction": "J4", "state": {"freezing": "bleed", "working": "kept open"}}
    )
    layout["work"]["if_a_plug_goes"] = "The caretaker shuts the main's valve in the basement."
    layout["plugs"][0]["station"] = "5 ft"
    return layout


def _nothing_stated() -> Document:
    layout = _mended()
    layout["name"] = "Cold water, third floor, Larkfield House, nothing stated"
    layout["note"] = "Invented. The same site before anybody has written down its facts."
    del layout["site"], layout["work"]["if_a_plug_goes"], layout["sources"][0]["pressure"]
    return layout


def _waived(until: str) -> Document:
    layout = _mended()
    layout["name"] = "Cold water, third floor, Larkfield House, waived"
    layout["note"] = "Invented. A plug too near the flowing line, taken on by a named person."
    layout["plugs"][0]["station"] = "18 in"
    layout["waivers"] = [
        {
            "rule": "flowing-line-setback",
            "subject": "A",
            "reason": "invented: the header stands still on that night",
            "by": "J. Example",
            "until": until,
            "finding": "too near",
            "measured": "12 in",
            "required": "24 in",
        }
    ]
    return layout


def _unusable() -> Document:
    layout = _mended()
    layout["name"] = "Cold water, third floor, Larkfield House, with faults"
    layout["pipes"][2]["length"] = 24
    layout["plugs"][0]["pipe"] = "brunch"
    return layout


CASES = (
    Case("too-near", examples.LAYOUT, "not compliant"),
    Case("too-near-by-a-tighter-pack", examples.LAYOUT, "not compliant", examples.PACK),
    Case("mended", _mended(), "compliant"),
    Case("nothing-stated", _nothing_stated(), "undecided"),
    Case("waived", _waived("2027-03-31"), "compliant", on="2026-11-25"),
    Case("waiver-run-out", _waived("2026-11-24"), "not compliant", on="2026-11-25"),
    Case("unusable", _unusable(), "unusable"),
)


def makers() -> dict[Path, Callable[[], bytes]]:
    """Give every file of the cases, and what makes it; tests/refresh.py writes them."""
    return {case.folder / name: make for case in CASES for name, make in case.makers().items()}
