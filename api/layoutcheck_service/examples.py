"""Worked examples of the OpenAPI document: a small invented layout and its real answers."""

from __future__ import annotations

import copy
import json
from typing import Any

from layoutcheck.report import check
from layoutcheck.report.portions import portions_json
from layoutcheck_service.envelope import read_check
from layoutcheck_service.problems import ProblemError, problem_data

# The plug stands 6 in from the tee of a flowing line, where a 2 in line asks for 24 in.
LAYOUT: dict[str, Any] = {
    "format": "layoutcheck layout 1",
    "name": "Cold water, third floor, Larkfield House",
    "note": "Invented. A plug marked too near the flowing line; the report says where it may go.",
    "junctions": [
        {"id": "J1", "elevation": "30 ft"},
        {"id": "J2", "elevation": "30 ft", "fitting": "tee"},
        {"id": "J3", "elevation": "30 ft"},
        {"id": "J4", "elevation": "30 ft", "fitting": "cap"},
    ],
    "pipes": [
        {
            "id": "header-in",
            "from": "J1",
            "to": "J2",
            "size": "NPS 3",
            "material": "copper",
            "wall": "type L",
            "length": "20 ft",
        },
        {
            "id": "header-out",
            "from": "J2",
            "to": "J3",
            "size": "NPS 3",
            "material": "copper",
            "wall": "type L",
            "length": "18 ft 6 in",
        },
        {
            "id": "branch",
            "from": "J2",
            "to": "J4",
            "size": "NPS 2",
            "material": "copper",
            "wall": "type L",
            "length": "24 ft",
            "covering": "bare",
        },
    ],
    "sources": [{"id": "main", "junction": "J1", "kind": "main", "pressure": "45 psi"}],
    "outlets": [{"id": "floors-above", "junction": "J3"}],
    "work": {"open": [{"pipe": "branch", "start": "15 ft", "end": "16 ft"}], "duration": "2 h"},
    "plugs": [{"id": "A", "pipe": "branch", "station": "1 ft", "jacket": "12 in"}],
    "site": {
        "room": "corridor",
        "rooms": [
            {
                "id": "corridor",
                "volume": "4000 ft3",
                "floor_area": "400 ft2",
                "height": "10 ft",
                "air_changes": "6 per hour",
                "below_ground": False,
                "carbon_dioxide_meter": True,
                "flood_depth": "2 in",
            }
        ],
        "clear_space": "12 in",
        "water_temperature": "60 degF",
        "air_temperature": "70 degF",
        "stock": [
            {
                "coolant": "carbon dioxide",
                "cylinders": 4,
                "mass_each": "50 lb",
                "storage_temperature": "70 degF",
                "dip_tube": True,
                "high_pressure": True,
                "upright": True,
            }
        ],
    },
}

PACK = 'name = "Larkfield rules (invented)"\n\n[figures.flowing-line-setback]\nper_inch = "14 in"\n'


def requests() -> dict[str, dict[str, Any]]:
    """Give the examples of a check's body."""
    return {
        "sketch": {
            "summary": "A sketch with one plug too near a flowing line (invented)",
            "value": {"layout": LAYOUT},
        },
        "tighter": {
            "summary": "The same, by a company's tighter pack, on a given day (invented)",
            "value": {"layout": LAYOUT, "pack": PACK, "on": "2026-11-25"},
        },
    }


def reports() -> dict[str, dict[str, Any]]:
    """Give the report that each example of a body gets, from a real run."""
    answers = {}
    for name, example in requests().items():
        asked = read_check(example["value"])
        report = check(asked.layout, pack=asked.pack, on=asked.on)
        answers[name] = {"summary": example["summary"], "value": json.loads(portions_json(report))}
    return answers


def unusable() -> dict[str, dict[str, Any]]:
    """Give the problem that a body with faults gets, from a real run."""
    broken = copy.deepcopy(LAYOUT)
    broken["pipes"][2]["length"] = 24
    broken["plugs"][0]["pipe"] = "brunch"
    pack = PACK.replace("14 in", "14")
    try:
        read_check({"layout": broken, "pack": pack})
    except ProblemError as error:
        value = problem_data(error.problem)
        return {"faults": {"summary": "A bare number, a wrong name, a bad pack", "value": value}}
    raise AssertionError("the broken example was read without a fault")
