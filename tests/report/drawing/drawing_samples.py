"""Layouts that the tests of the drawing share: an invented riser, and every demo site."""

import copy
import json
import random
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import Any

from layoutcheck.document import Layout, parse_layout
from layoutcheck.report import Report, check
from layoutcheck.report.drawing import Page, Scene, build_scene

ROOT = Path(__file__).resolve().parents[3]
SITES = sorted(p.name for p in (ROOT / "fixtures").glob("*.json"))

# A fixed day, so that no waiver runs out under the tests.
DAY = date(2026, 11, 25)


def riser(floors: int = 4, *, drawn: bool = True, station: str = "9 in") -> dict[str, Any]:
    """An invented riser: a main, a tee, a valve and a tap on each floor; work on floor 3."""
    junctions: list[dict[str, Any]] = []
    pipes: list[dict[str, Any]] = []

    def junction(name: str, feet: int, x: float) -> None:
        place = {"at": [x, feet * 4.0]} if drawn else {}
        junctions.append({"id": name, "elevation": f"{feet} ft", **place})

    def pipe(name: str, start: str, end: str, size: str, feet: int) -> None:
        pipes.append(
            {"id": name, "from": start, "to": end, "size": size, "material": "copper",
             "wall": "type L", "length": f"{feet} ft"}
        )  # fmt: skip

    junction("MAIN", 0, -40)
    junction("S0", 0, 0)
    pipe("P0", "MAIN", "S0", "NPS 3", 20)
    for n in range(1, floors + 1):
        junction(f"S{n}", 12 * n, 0)
        junction(f"B{n}", 12 * n, 30)
        junction(f"T{n}", 12 * n, 70)
        pipe(f"R{n}", f"S{n - 1}", f"S{n}", "NPS 3", 12)
        pipe(f"C{n}", f"S{n}", f"B{n}", "NPS 1 1/4", 9)
        pipe(f"D{n}", f"B{n}", f"T{n}", "NPS 1 1/4", 12)
    return {
        "format": "layoutcheck layout 1",
        "name": "Example Court riser (invented)",
        "junctions": junctions,
        "pipes": pipes,
        "valves": [
            {"id": f"V{n}", "junction": f"B{n}", "kind": "gate", "state": "open", "body": "6 in"}
            for n in range(1, floors + 1)
        ],
        "outlets": [
            {"id": f"TAP{n}", "junction": f"T{n}",
             "state": "locked off" if n == 3 else "may draw"}
            for n in range(1, floors + 1)
        ],
        "sources": [{"id": "TOWN", "junction": "MAIN", "kind": "main", "pressure": "60 psi"}],
        "work": {"open": [{"valve": "V3"}], "duration": "2 h"},
        "plugs": [{"id": "A", "pipe": "C3", "station": station, "jacket": "12 in"}],
        "site": {"water_temperature": "55 degF", "clear_space": "8 in"},
    }  # fmt: skip


@lru_cache(maxsize=32)
def site(name: str) -> tuple[Layout, Report]:
    """One demo site and its report."""
    layout = parse_layout(json.loads((ROOT / "fixtures" / name).read_text()))
    return layout, check(layout, on=DAY)


@lru_cache(maxsize=64)
def site_scene(name: str, page: Page) -> Scene:
    """The drawing of one demo site."""
    return build_scene(*site(name), page=page)


def checked(document: dict[str, Any]) -> tuple[Layout, Report]:
    """A layout and its report from a document."""
    layout = parse_layout(document)
    return layout, check(layout, on=DAY)


def shuffled(document: dict[str, Any], seed: int) -> dict[str, Any]:
    """The same document with every list in another order."""
    changed = copy.deepcopy(document)
    for value in changed.values():
        if isinstance(value, list):
            random.Random(seed).shuffle(value)
    return changed
