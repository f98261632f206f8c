"""Changes of a document that change nothing of the site: the same pipes, written down otherwise.

Each function takes a document (plain data) and gives a new one. They work on the raw data with
short arithmetic of their own; lengths are read by the project's reader, which has its own tests.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Callable
from random import Random
from typing import Any

from layoutcheck.quantities import (
    parse_area,
    parse_elevation,
    parse_length,
    parse_mass,
    parse_pressure,
    parse_temperature,
    parse_volume,
)

Document = dict[str, Any]

LISTS = (
    "junctions",
    "pipes",
    "fittings",
    "valves",
    "pumps",
    "equipment",
    "sources",
    "outlets",
    "plugs",
)
REFERS = {
    "from": "junctions",
    "to": "junctions",
    "junction": "junctions",
    "pipe": "pipes",
    "valve": "valves",
    "pump": "pumps",
}
ON_PIPES = ("fittings", "valves", "pumps", "equipment", "plugs")
# Lists whose order means something.
IN_ORDER = {"via", "outline", "at", "point"}


def metres(value: float) -> str:
    return f"{value:.15f} m"


# --- order ----------------------------------------------------------------------------------------


def reordered(document: Document, seed: int) -> Document:
    """Shuffle every list whose order means nothing, and the fields of every object."""
    random = Random(seed)

    def shuffle(value: Any, key: str = "") -> Any:
        if isinstance(value, dict):
            items = list(value.items())
            random.shuffle(items)
            return {k: shuffle(v, k) for k, v in items}
        if isinstance(value, list) and key not in IN_ORDER:
            made = [shuffle(v) for v in value]
            random.shuffle(made)
            return made
        return value

    made: Document = shuffle(copy.deepcopy(document))
    return made


# --- names ----------------------------------------------------------------------------------------


def renamed(document: Document, seed: int | None) -> tuple[Document, Callable[[str], str]]:
    """Give every element a new id: in the old order (no seed), or in any order.

    Returns the document and what turns a text that speaks of new ids into one of the old.
    """
    made = copy.deepcopy(document)
    new: dict[tuple[str, str], str] = {}
    for kind in LISTS:
        ids = sorted(row["id"] for row in made.get(kind, []))
        numbers = list(range(len(ids)))
        if seed is not None:
            Random(f"{seed}{kind}").shuffle(numbers)
        for name, number in zip(ids, numbers, strict=True):
            new[kind, name] = f"{kind}~{number:05d}"
    for kind in LISTS:
        for row in made.get(kind, []):
            row["id"] = new[kind, row["id"]]
            _point(row, new)
    for row in made.get("work", {}).get("open", []):
        _point(row, new)
    planning = made.get("planning", {})
    if "keep_in_service" in planning:
        kept = planning["keep_in_service"]
        planning["keep_in_service"] = [new["outlets", name] for name in kept]
    old = {token: name for (_, name), token in new.items()}
    return made, lambda text: re.sub(r"[a-z]+~\d{5}", lambda m: old[m[0]], text)


def _point(row: Document, new: dict[tuple[str, str], str]) -> None:
    for field, kind in REFERS.items():
        if field in row:
            row[field] = new[kind, row[field]]


# --- units ----------------------------------------------------------------------------------------

_LENGTHS = {
    "length",
    "station",
    "jacket",
    "start",
    "end",
    "body",
    "clear_space",
    "outside_diameter",
    "wall_thickness",
    "scale",
    "flood_depth",
    "height",
}
_HEIGHTS = {"elevation", "bottom", "top", "level"}
_REST: dict[str, tuple[Callable[[object], float], str]] = {
    "pressure": (parse_pressure, "Pa"),
    "shutoff_head": (parse_pressure, "Pa"),
    "pressure_rating": (parse_pressure, "Pa"),
    "water_temperature": (parse_temperature, "K"),
    "air_temperature": (parse_temperature, "K"),
    "storage_temperature": (parse_temperature, "K"),
    "mass_each": (parse_mass, "kg"),
    "volume": (parse_volume, "m3"),
    "floor_area": (parse_area, "m2"),
}


def in_other_units(document: Document) -> Document:
    """Write every quantity in other units: lengths in millimetres, the rest in SI."""

    def change(value: Any, key: str = "") -> Any:
        if isinstance(value, dict):
            return {k: change(v, k) for k, v in value.items()}
        if isinstance(value, list):
            return [change(v) for v in value]
        if isinstance(value, str) and key in _LENGTHS:
            return f"{parse_length(value) * 1000:.12f} mm"
        if isinstance(value, str) and key in _HEIGHTS:
            return f"{parse_elevation(value) * 1000:.12f} mm"
        if isinstance(value, str) and key in _REST:
            parse, unit = _REST[key]
            return f"{parse(value):.12f} {unit}"
        return value

    made: Document = change(document)
    return made


# --- the drawing ----------------------------------------------------------------------------------


def mirrored(document: Document) -> Document:
    """Mirror the drawing left to right."""
    made = copy.deepcopy(document)
    for row in made["junctions"]:
        if row.get("at") is not None:
            row["at"] = _flip(row["at"])
    for row in made["pipes"]:
        if "via" in row:
            row["via"] = [
                {**v, "at": _flip(v["at"])} if isinstance(v, dict) else _flip(v) for v in row["via"]
            ]
    for row in made.get("plugs", []):
        if row.get("point") is not None:
            row["point"] = _flip(row["point"])
    for row in made.get("site", {}).get("obstructions", []):
        row["outline"] = [_flip(corner) for corner in row["outline"]]
    return made


def _flip(point: list[float]) -> list[float]:
    return [-point[0], point[1]]


# --- pipes ----------------------------------------------------------------------------------------


def reversed_pipes(document: Document, lengths: dict[str, float], turn: set[str]) -> Document:
    """Write some pipes down from their other end: stations are then measured from there."""
    made = copy.deepcopy(document)
    for row in made["pipes"]:
        if row["id"] in turn:
            row["from"], row["to"] = row["to"], row["from"]
            if "via" in row:
                row["via"] = row["via"][::-1]
    for kind in ON_PIPES:
        for row in made.get(kind, []):
            if row.get("pipe") in turn:
                row["station"] = _other_way(row["station"], lengths[row["pipe"]])
    for row in made.get("work", {}).get("open", []):
        if row.get("pipe") in turn:
            length = lengths[row["pipe"]]
            start, end = row["start"], row["end"]
            row["start"], row["end"] = _other_way(end, length), _other_way(start, length)
    return made


def _other_way(station: str, length: float) -> str:
    return metres(max(0.0, length - parse_length(station)))


def split(document: Document, lengths: dict[str, float], at: dict[str, float]) -> Document:
    """Cut pipes in two at a plain joint. at: pipe -> station (m), clear of all that stands there.

    Only for pipes without drawn corners and without a statement of flow or an opened stretch.
    """
    made = copy.deepcopy(document)
    junctions = {row["id"]: row for row in made["junctions"]}
    for row in list(made["pipes"]):
        if row["id"] not in at:
            continue
        name, station, length = row["id"], at[row["id"]], lengths[row["id"]]
        share = station / length if length else 0.0
        middle = _between(junctions[row["from"]], junctions[row["to"]], share, f"{name}/joint")
        made["junctions"].append(middle)
        second = {**row, "id": f"{name}/second", "from": middle["id"]}
        row["to"] = middle["id"]
        if "length" in row:
            row["length"], second["length"] = metres(station), metres(length - station)
        made["pipes"].append(second)
        for kind in ON_PIPES:
            for thing in made.get(kind, []):
                place = parse_length(thing["station"]) if thing.get("pipe") == name else 0.0
                if place > station:
                    thing["pipe"], thing["station"] = second["id"], metres(place - station)
    return made


def _between(low: Document, high: Document, share: float, name: str) -> Document:
    made: Document = {"id": name}
    if "elevation" in low and "elevation" in high:
        a, b = parse_elevation(low["elevation"]), parse_elevation(high["elevation"])
        made["elevation"] = metres(a + (b - a) * share)
    if low.get("at") is not None and high.get("at") is not None:
        pairs = zip(low["at"], high["at"], strict=True)
        made["at"] = [a + (b - a) * share for a, b in pairs]
    return made


def may_split(document: Document) -> list[str]:
    """Name the pipes that split() can cut.

    A pipe drawn as a point shows no direction, so a joint in it is taken as a bend.
    """
    drawn = {row["id"]: row.get("at") for row in document["junctions"]}
    opened = {row.get("pipe") for row in document.get("work", {}).get("open", [])}
    return [
        row["id"]
        for row in document["pipes"]
        if row["id"] not in opened
        and not row.get("via")
        and "flow" not in row
        and row["from"] != row["to"]
        and (drawn[row["from"]] is None or drawn[row["from"]] != drawn[row["to"]])
    ]
