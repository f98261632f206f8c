"""Small invented buildings for surveys: one riser, a valved branch to each floor, taps at the ends.

Sketch:   MAIN J0 ==R0== J1 ==R1== J2 ... JN        each branch: Jn ==Bn== Tn (tap), valve Vn on it
                          |         |
                          V1 tap    V2 tap

Nothing in them is a real building. What some of them leave unsaid is chosen by a seed.
"""

from __future__ import annotations

import json
import random
from pathlib import Path
from typing import Any

_ROOM = {
    "id": "R",
    "volume": "30000 ft3",
    "floor_area": "2600 ft2",
    "height": "11 ft",
    "air_changes": "10 per hour",
    "below_ground": False,
    "carbon_dioxide_meter": True,
    "flood_depth": "9 in",
}
_STOCK = {
    "coolant": "carbon dioxide",
    "cylinders": 20,
    "mass_each": "50 lb",
    "storage_temperature": "65 degF",
    "dip_tube": True,
    "high_pressure": True,
    "upright": True,
}
_SITE = {
    "water_temperature": "60 degF",
    "air_temperature": "66 degF",
    "clear_space": "8 in",
    "room": "R",
    "rooms": [_ROOM],
    "stock": [_STOCK],
}
_COPPER = {"material": "copper", "wall": "type L"}


# It was shut once and held; it stands open, and that is meant.
_PROVEN = {"state": "open", "tightness": "proven", "meant": ["tightness"]}


def building(seed: int, floors: int = 4) -> dict[str, Any]:
    """Give an invented building as a document; every second one states no work."""
    draw = random.Random(seed)
    levels = range(1, floors + 1)
    size = draw.choice(["NPS 1 1/4", "NPS 1 1/2", "NPS 2"])
    riser = [
        {"id": f"R{n - 1}", "from": f"J{n - 1}", "to": f"J{n}", "size": size, "length": "14 ft"}
        for n in levels
    ]
    branches = [
        {"id": f"B{n}", "from": f"J{n}", "to": f"T{n}", "size": "NPS 3/4", "length": "24 ft"}
        for n in levels
    ]
    heights = {"J0": 0, **{f"J{n}": 10 * n for n in levels}, **{f"T{n}": 10 * n for n in levels}}
    made: dict[str, Any] = {
        "format": "layoutcheck layout 1",
        "name": f"Invented building {seed}",
        "note": "Invented for a test.",
        "junctions": [
            {"id": j, "elevation": f"{h} ft"}
            | ({"fitting": "reducer"} if j == f"J{floors}" else {})
            for j, h in heights.items()
        ],
        "pipes": [p | _COPPER for p in riser + branches],
        "valves": [
            {"id": f"V{n}", "pipe": f"B{n}", "station": draw.choice(["1 ft", "16 ft"])}
            | draw.choice([{"state": "open"}, _PROVEN, {}])
            for n in levels
        ]
        + [{"id": "V0", "pipe": "R0", "station": draw.choice(["1 ft", "12 ft"]), "state": "open"}],
        "sources": [{"id": "MAIN", "junction": "J0", "kind": "main", "pressure": "55 psi"}],
        "outlets": [{"id": f"TAP{n}", "junction": f"T{n}"} for n in levels],
        "site": _SITE,
    }
    if seed % 2:
        made["work"] = {
            "open": [{"valve": "V1"}],
            "duration": "3 h",
            "if_a_plug_goes": "The invented watchman shuts the invented main.",
        }
    return made


def town(folder: Path, buildings: int, floors: int = 4) -> Path:
    """Write a folder of buildings, some in a folder below, one of them in YAML, one broken."""
    (folder / "east").mkdir(parents=True)
    for seed in range(buildings):
        place = folder / "east" if seed % 3 == 0 else folder
        text = json.dumps(building(seed, floors))
        # JSON is YAML too.
        (place / f"building-{seed:03}{'.yaml' if seed == 1 else '.json'}").write_text(text)
    (folder / "cut-short.json").write_text(json.dumps(building(0))[:-40])
    (folder / "notes.json").write_text('{"notes": "no layout at all"}')
    return folder
