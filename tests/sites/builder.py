"""A small builder of layout documents: what the invented sites of fixtures/ are written with.

A site file reads like a walk through the building. It puts the pipes down once, and then marks
the job twice: as a sketch with faults, and as its mended twin.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

Document = dict[str, Any]
Spot = tuple[float, float]

FORMAT = "layoutcheck layout 1"

# The order in which the lists are written, so that a document reads from pipes to plugs.
_LISTS = (
    "junctions",
    "pipes",
    "fittings",
    "valves",
    "pumps",
    "equipment",
    "sources",
    "outlets",
    "plugs",
    "waivers",
)


@dataclass(frozen=True)
class Demo:
    """One demo site: its two documents, and the rules that the sketch breaks."""

    name: str
    sketch: Callable[[], Document]
    mended: Callable[[], Document]
    breaks: frozenset[str]


def feet(length: float) -> str:
    """Write a length in inches as the trade does: 294 -> '24 ft 6 in', -48 -> '-4 ft'."""
    sign, inches = ("-" if length < 0 else ""), abs(Fraction(length).limit_denominator(16))
    whole, rest = divmod(inches, 12)
    parts = [f"{whole} ft"] if whole else []
    if rest:
        units, part = divmod(rest, 1)
        number = " ".join(str(n) for n in (units, part) if n)
        parts.append(f"{number} in")
    return sign + (" ".join(parts) or "0 in")


def metres(length: float) -> str:
    """Write a length in metres: 7.3 -> '7.3 m'."""
    return f"{round(length, 3):g} m"


def run(size: str, length: str, material: str, wall: str) -> Document:
    """Give what is said of a length of pipe."""
    return {"size": size, "material": material, "wall": wall, "length": length}


def room(own: str, name: str, **fields: object) -> Document:
    """Give a room above ground with both meters hung up, with what is otherwise."""
    usual: Document = {
        "below_ground": False,
        "flood_depth": "1 in",
        "carbon_dioxide_meter": True,
        "oxygen_meter": True,
    }
    return {"id": own, "name": name, **usual, **fields}


class Site:
    """A layout document in the making. Quantities are texts with their units, as in the file."""

    def __init__(self, *, name: str, units: str = "imperial", **drawing: object) -> None:
        self.name = name
        self.units = units
        self.drawing = drawing
        self.work: Document = {}
        self.site: Document = {}
        self._lists: dict[str, list[Document]] = {key: [] for key in _LISTS}
        self._by_id: dict[str, Document] = {}

    def add(self, where: str, own: str, /, **fields: object) -> str:
        """Put an element into one of the lists; fields that are None are left out."""
        assert own not in self._by_id, f"{own} is already there"
        element: Document = {"id": own}
        element.update({k.rstrip("_"): v for k, v in fields.items() if v is not None})
        self._lists[where].append(element)
        self._by_id[own] = element
        return own

    def change(self, *ids: str, **fields: object) -> None:
        """Set fields of elements that are there already; None takes a field away."""
        for own in ids:
            for key, value in fields.items():
                if value is None:
                    self._by_id[own].pop(key.rstrip("_"), None)
                else:
                    self._by_id[own][key.rstrip("_")] = value

    def joint(self, own: str, at: Spot | None, elevation: str, /, **fields: object) -> str:
        """Add a junction."""
        spot = None if at is None else list(at)
        return self.add("junctions", own, elevation=elevation, at=spot, **fields)

    def pipe(
        self, own: str, ends: tuple[str, str], /, *, via: Sequence[Spot] = (), **fields: object
    ) -> str:
        """Add a pipe between two junctions, with the corners of its drawn path."""
        corners = [list(v) for v in via] or None
        return self.add("pipes", own, from_=ends[0], to=ends[1], via=corners, **fields)

    def valve(self, own: str, pipe: str, station: str, /, **fields: object) -> str:
        """Add a valve that stands in a pipe; open unless stated otherwise."""
        fields = {"state": "open", **fields}
        return self.add("valves", own, pipe=pipe, station=station, **fields)

    def plug(self, own: str, pipe: str, station: str, jacket: str, /, **fields: object) -> str:
        """Mark a freeze point at a station on a pipe."""
        return self.add("plugs", own, pipe=pipe, station=station, jacket=jacket, **fields)

    def shut(self, *valves: str) -> None:
        """State that valves are closed and proven to hold."""
        self.change(*valves, state="closed", tightness="proven")

    def lock_off(self, *outlets: str) -> None:
        """State that outlets are locked off."""
        self.change(*outlets, state="locked off")

    def document(self, note: str) -> Document:
        """Give the document as it is written to the file."""
        drawing = {"drawing": self.drawing} if self.drawing else {}
        lists = {key: items for key, items in self._lists.items() if items}
        work = {"work": self.work} if self.work else {}
        head = {"format": FORMAT, "name": self.name, "note": note, "units": self.units}
        made = {**head, **drawing, **lists, **work, "site": self.site}
        copy: Document = json.loads(json.dumps(made))
        return copy


def cylinders(**changes: object) -> list[Document]:
    """Give a stock of liquid CO2 cylinders in good order, with what is otherwise."""
    good: Document = {
        "coolant": "carbon dioxide",
        "cylinders": 24,
        "mass_each": "50 lb",
        "storage_temperature": "66 degF",
        "dip_tube": True,
        "high_pressure": True,
        "upright": True,
    }
    return [{**good, **changes}]


def written(document: Document) -> str:
    """Write a document as the file holds it: one element to a line, so that changes show."""
    lines = []
    for key, value in document.items():
        if isinstance(value, list):
            rows = ",\n".join(f"    {json.dumps(row, ensure_ascii=False)}" for row in value)
            lines.append(f"  {json.dumps(key)}: [\n{rows}\n  ]")
        else:
            lines.append(f"  {json.dumps(key)}: {json.dumps(value, ensure_ascii=False)}")
    return "{\n" + ",\n".join(lines) + "\n}\n"
