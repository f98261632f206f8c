"""An invented line in one room, with a plug for each coolant that is asked for."""

from typing import Any

PIPE = {"size": "2 in", "material": "carbon steel", "wall": "sch 40", "length": "60 ft"}


def one_line(
    coolants: tuple[str, ...] = ("carbon dioxide",),
    *,
    room: dict[str, Any] | None = None,
    **site: Any,
) -> dict[str, Any]:
    """Give the document: S --[F0]-- ... --[Fn]-- W. What is None is not stated."""
    ends = [f"J{i}" for i in range(len(coolants) + 1)]
    whole = {
        "format": "layoutcheck layout 1",
        "name": "Invented: one line",
        "junctions": [{"id": j, "elevation": "0 ft"} for j in ends],
        "pipes": [
            {"id": f"P{i}", "from": ends[i], "to": ends[i + 1], **PIPE}
            for i in range(len(coolants))
        ],
        "sources": [{"id": "main", "junction": "J0", "kind": "main", "pressure": "60 psi"}],
        "outlets": [{"id": "bleed", "junction": ends[-1], "state": "bleed"}],
        "plugs": [
            {"id": f"F{i}", "pipe": f"P{i}", "station": "30 ft", "jacket": "12 in", "coolant": c}
            for i, c in enumerate(coolants)
        ],
        "work": {"open": [{"junction": ends[-1]}], "duration": "2 h"},
    }
    usual_room = {
        "id": "room",
        "volume": "60 m3",
        "ventilation": "4 m3/s",
        "carbon_dioxide_meter": True,
        "oxygen_meter": True,
    }
    stock = {
        "coolant": "carbon dioxide",
        "cylinders": 40,
        "mass_each": "50 lb",
        "storage_temperature": "68 degF",
    }
    usual = {"water_temperature": "60 degF", "air_temperature": "68 degF", "room": "room"}
    rooms = [{**usual_room, **(room or {})}]
    return {**whole, "site": {**usual, "rooms": rooms, "stock": [stock], **site}}
