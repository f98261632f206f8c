"""One broken document for each class of input error, with the place and the words expected.

Each is a small sound document (invented) with one thing done to it. Where a fault can not be
written as JSON data (a doubled key, NaN), it is done to the text.
"""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from tests.sites.builder import Document, Site, cylinders, feet, run, written

Edit = Callable[[Document], None]
TextEdit = Callable[[str], str]


@dataclass(frozen=True)
class Broken:
    """One broken document: its text, and the fault that must be told.

    pointer: the JSON Pointer of the fault. phrase: words that its problem has in it.
    """

    name: str
    text: str
    pointer: str
    phrase: str


def sound() -> Document:
    """Give the small sound document that all the broken ones are made from."""
    site = Site(name="Small sound layout (invented)", kind="riser", snap_within=4)
    for number, x in enumerate((0, 40, 80, 120), start=1):
        fitting = "tee" if number == 2 else None
        site.joint(f"J{number}", (x, 0), "0 ft", fitting=fitting)
    site.joint("J5", (40, 40), feet(96), fitting="cap")
    for number, ends in enumerate((("J1", "J2"), ("J2", "J3"), ("J3", "J4"), ("J2", "J5")), 1):
        site.pipe(f"P{number}", ends, **run("NPS 2", feet(240), "carbon steel", "sch 40"))
    site.valve("V1", "P2", feet(120), kind="gate", body=feet(7))
    site.add("fittings", "E1", kind="elbow", pipe="P3", station=feet(60))
    site.add("sources", "MAIN", junction="J1", kind="main", pressure="60 psi")
    site.add("outlets", "TAP", junction="J4")
    site.plug("F1", "P4", feet(60), feet(12))
    site.work = {"open": [{"valve": "V1"}], "duration": "2 h"}
    site.site = {"water_temperature": "55 degF", "stock": cylinders()}
    return site.document("Invented. Sound input, from which the broken ones are made.")


def _put(*path: str | int, value: Any) -> Edit:
    """Put a value at a place in the document."""

    def edit(document: Document) -> None:
        here: Any = document
        for step in path[:-1]:
            here = here[step]
        here[path[-1]] = value

    return edit


def _drop(*path: str | int) -> Edit:
    """Take a field away."""

    def edit(document: Document) -> None:
        here: Any = document
        for step in path[:-1]:
            here = here[step]
        del here[path[-1]]

    return edit


def _both(*edits: Edit) -> Edit:
    def edit(document: Document) -> None:
        for one in edits:
            one(document)

    return edit


def _append(where: str, **element: object) -> Edit:
    def edit(document: Document) -> None:
        document.setdefault(where, []).append(element)

    return edit


_P1 = ("pipes", 0)
_WAIVER = {
    "rule": "plug-loss",
    "subject": "F1",
    "reason": "a fitter stands at the main valve",
    "by": "invented site manager",
    "until": "31 March 2031",
}
_TWO_RATES = {"id": "R1", "volume": "900 ft3", "ventilation": "90 cfm", "air_changes": "7 per hour"}

# name, what is done to the sound document, where the fault is told, words in it
_FIELDS: tuple[tuple[str, Edit, str, str], ...] = (
    ("bare-number", _put(*_P1, "length", value=24.5), "/pipes/0/length", "unit"),
    ("unknown-unit", _put(*_P1, "length", value="24 cubits"), "/pipes/0/length", "not a unit"),
    ("negative-length", _put(*_P1, "length", value="-3 ft"), "/pipes/0/length", "negative"),
    ("missing-field", _drop(*_P1, "to"), "/pipes/0/to", "required"),
    ("unknown-field", _put(*_P1, "lenght", value="3 ft"), "/pipes/0/lenght", "not a field"),
    ("bad-enum", _put("valves", 0, "state", value="ajar"), "/valves/0/state", "must be"),
    ("bad-material", _put(*_P1, "material", value="steel"), "/pipes/0/material", "more than one"),
    ("bad-size", _put(*_P1, "size", value="NPS 2 1/3"), "/pipes/0/size", "no such size"),
    ("wrong-format", _put("format", value="layoutcheck layout 9"), "/format", "must be"),
    ("empty-list", _put("pipes", value=[]), "/pipes", "at least one"),
    (
        "flat-outline",
        _put("site", "obstructions", value=[{"id": "O1", "outline": [[0, 0], [4, 0]]}]),
        "/site/obstructions/0/outline",
        "at least 3 entries",
    ),
    ("no-place", _drop("valves", 0, "station"), "/valves/0", "junction"),
    ("work-of-nothing", _put("work", "open", 0, value={}), "/work/open/0", "exactly one"),
    ("bad-date", _append("waivers", **_WAIVER), "/waivers/0/until", "day written"),
    ("hidden-direction", _put("name", value="Riser \u202e3 east"), "/name", "direction character"),
    ("no-stock", _put("site", "stock", 0, "cylinders", value=-2), "/site/stock/0/cylinders", ""),
)
_REFERENCES: tuple[tuple[str, Edit, str, str], ...] = (
    ("double-id", _put("pipes", 1, "id", value="P1"), "/pipes/1/id", "another entry"),
    (
        "double-room",
        _put("site", "rooms", value=[{"id": "R1"}, {"id": "R1"}]),
        "/site/rooms/1/id",
        "another entry",
    ),
    ("no-such-junction", _put(*_P1, "to", value="J22"), "/pipes/0/to", "does not have"),
    ("no-such-room", _put(*_P1, "room", value="cellar"), "/pipes/0/room", "does not have"),
    (
        "no-such-valve",
        _put("work", "open", 0, "valve", value="V9"),
        "/work/open/0/valve",
        "names a",
    ),
)
_BUILD: tuple[tuple[str, Edit, str, str], ...] = (
    (
        "station-past-end",
        _put("plugs", 0, "station", value="21 ft"),
        "/plugs/0/station",
        "past the end",
    ),
    (
        "too-high",
        _put("junctions", 4, "elevation", value="40 ft"),
        "/pipes/3/length",
        "shorter than",
    ),
    ("unknown-wall", _put(*_P1, "wall", value="sch 41"), "/pipes/0/wall", ""),
    ("half-a-dimension", _put(*_P1, "outside_diameter", value="2.375 in"), "/pipes/0/wall", "both"),
    (
        "two-valves-one-spot",
        _append("valves", id="V2", pipe="P2", station="10 ft"),
        "/valves/1/station",
        "body of another",
    ),
    (
        "valve-at-a-tee",
        _append("valves", id="V2", junction="J2"),
        "/valves/1/junction",
        "junction of 3 pipes",
    ),
    (
        "valve-past-end",
        _put("valves", 0, "station", value="1 in"),
        "/valves/0/station",
        "past the pipe's end",
    ),
    ("cap-in-a-pipe", _put("junctions", 2, "fitting", value="cap"), "/junctions/2/fitting", "cap"),
    (
        "work-backwards",
        _put("work", "open", 0, value={"pipe": "P3", "start": "9 ft", "end": "8 ft"}),
        "/work/open/0/end",
        "before it starts",
    ),
    (
        "point-far-away",
        _put("plugs", 0, value={"id": "F1", "point": [20, 30], "jacket": "12 in"}),
        "/plugs/0/point",
        "no pipe within",
    ),
    (
        "point-ambiguous",
        _both(
            _put("drawing", "snap_within", value=30),
            _put("plugs", 0, value={"id": "F1", "point": [60, 20], "jacket": "12 in"}),
        ),
        "/plugs/0/point",
        "equally near",
    ),
    (
        "two-air-rates",
        _put("site", "rooms", value=[_TWO_RATES]),
        "/site/rooms/0/air_changes",
        "contradicts",
    ),
)
_TEXTS: tuple[tuple[str, TextEdit, str, str], ...] = (
    ("not-json", lambda text: text.replace('"pipes":', '"pipes"', 1), "", "not JSON"),
    ("cut-short", lambda text: text[: len(text) // 2], "", "not JSON"),
    ("double-key", lambda text: text.replace("{", '{\n  "name": "first",', 1), "", "twice"),
    ("not-a-number", lambda text: text.replace("[40, 40]", "[NaN, 40]", 1), "", "NaN"),
    ("empty", lambda text: "" if text else text, "", "not JSON"),
    ("empty-object", lambda text: "{}\n" if text else text, "/pipes", "required"),
    ("a-list", lambda text: "[]\n" if text else text, "", "one object"),
)


def all_broken() -> list[Broken]:
    """Give every broken document, each with one fault."""
    made = []
    for name, edit, pointer, phrase in (*_FIELDS, *_REFERENCES, *_BUILD):
        document = copy.deepcopy(sound())
        edit(document)
        # The fault is written in plain ASCII, so that an editor shows a hidden character.
        text = written(document)
        made.append(Broken(name, text.replace("\u202e", "\\u202e"), pointer, phrase))
    for name, change, pointer, phrase in _TEXTS:
        made.append(Broken(name, change(written(sound())), pointer, phrase))
    return sorted(made, key=lambda b: b.name)


def expected(broken: list[Broken]) -> str:
    """Write the table of what each document must be told."""
    table = {f"{b.name}.json": {"pointer": b.pointer, "phrase": b.phrase} for b in broken}
    return json.dumps(table, indent=2) + "\n"
