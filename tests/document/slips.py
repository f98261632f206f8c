"""Slips of the keyboard that make a document unusable: each done to the small sound one.

The sound document (tests/sites/broken.py, invented): J1 to J4 in a line by P1, P2, P3, each 20 ft
of NPS 2; P4 from J2 up to J5, 8 ft above, capped. A main at J1, a tap at J4, valve V1 in P2.
"""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

from tests.sites.broken import sound
from tests.sites.builder import Document

ROOM = {"id": "R1", "volume": "28600 ft3", "floor_area": "2860 ft2", "height": "10 ft"}
TANK = {"id": "T1", "kind": "tank", "junction": "J3", "volume": "80 gal", "level": "6 ft"}
ROOF = {"id": "S2", "junction": "J4", "kind": "raised tank", "level": "40 ft"}
BOX = {"id": "O1", "outline": [[0, 0], [4, 0], [4, 3]], "bottom": "2 ft", "top": "5 ft"}
STOCK = {"coolant": "carbon dioxide", "cylinders": 2, "mass_each": "50 lb"}


def put(*path: str | int, value: Any) -> Callable[[Document], None]:
    def edit(document: Document) -> None:
        here: Any = document
        for step in path[:-1]:
            here = here.setdefault(step, {}) if isinstance(step, str) else here[step]
        here[path[-1]] = value

    return edit


def add(where: str, **element: Any) -> Callable[[Document], None]:
    def edit(document: Document) -> None:
        document.setdefault(where, []).append(element)

    return edit


def both(*edits: Callable[[Document], None]) -> Callable[[Document], None]:
    def edit(document: Document) -> None:
        for one in edits:
            one(document)

    return edit


def document(edit: Callable[[Document], None]) -> Document:
    """Give the sound document with something done to it."""
    made = copy.deepcopy(sound())
    edit(made)
    return made


SCALED = put("drawing", value={"kind": "plan", "scale": "0.5 ft"})
ELEVATION = put("drawing", value={"kind": "riser", "scale": "0.2 ft"})
_SIZED = {"outside_diameter": "2.375 in", "wall_thickness": "0.154 in"}


def room(**changes: str) -> Callable[[Document], None]:
    return put("site", "rooms", value=[{**ROOM, **changes}])


def pipe(number: int, **changes: str) -> Callable[[Document], None]:
    return lambda made: made["pipes"][number].update(changes)


# The slip -> what is done, where the fault is told, and words of it. 20 ft of P1 are drawn 40 units
# long: at 0.5 ft a unit they agree. P4 is drawn 40 units high: at 0.2 ft a unit 8 ft.
REFUSED: dict[str, tuple[Callable[[Document], None], str, str]] = {
    "a source at a junction without pipe": (
        both(add("junctions", id="J44"), put("sources", 0, "junction", value="J44")),
        "/sources/0/junction",
        'the nearest ids that have pipe are "J4"',
    ),
    "an outlet at one": (
        both(add("junctions", id="J44"), put("outlets", 0, "junction", value="J44")),
        "/outlets/0/junction",
        "touches nothing",
    ),
    "a valve at one": (
        both(add("junctions", id="J44"), add("valves", id="V2", junction="J44")),
        "/valves/1/junction",
        "touches nothing",
    ),
    "a pump at one": (
        both(add("junctions", id="J44"), add("pumps", id="X", junction="J44")),
        "/pumps/0/junction",
        "touches nothing",
    ),
    "a tank at one": (
        both(add("junctions", id="J44"), add("equipment", id="T", kind="tank", junction="J44")),
        "/equipment/0/junction",
        "touches nothing",
    ),
    "work at one": (
        both(add("junctions", id="J44"), put("work", "open", value=[{"junction": "J44"}])),
        "/work/open/0/junction",
        "touches nothing",
    ),
    "a pipe back to its own junction": (pipe(0, to="J1"), "/pipes/0/to", "between two"),
    "a tap behind a cap": (
        put("outlets", 0, "junction", value="J5"),
        "/outlets/0/junction",
        "stands behind a cap",
    ),
    "a pipe that goes on in a tap": (
        put("junctions", 3, "goes_on", value="fed"),
        "/junctions/3/goes_on",
        "can not both go on",
    ),
    "a pipe that goes on from a run": (
        put("junctions", 2, "goes_on", value="dead"),
        "/junctions/2/goes_on",
        "2 pipes meet",
    ),
    "a word that is no field": (
        put("pipes", 0, "meant", value="lenght"),
        "/pipes/0/meant",
        "asked about here",
    ),
    "a volume with the unit of another": (
        room(volume="28600 m3"),
        "/site/rooms/0/volume",
        "contradicts floor_area times height",
    ),
    "air changes against the flow": (
        room(ventilation="2860 cfm", air_changes="60 per hour"),
        "/site/rooms/0/air_changes",
        "contradicts ventilation",
    ),
    "a length against a plan to scale": (
        both(SCALED, pipe(3, length="28 ft"), pipe(0, length="200 ft")),
        "/pipes/0/length",
        "contradicts the drawn path",
    ),
    "a height against an elevation to scale": (
        both(ELEVATION, put("junctions", 4, "elevation", value="18 ft")),
        "/junctions/4/elevation",
        "contradicts the drawn height",
    ),
    "a schedule against a wall": (
        pipe(0, wall="sch 80", **_SIZED),
        "/pipes/0/wall",
        "contradicts wall_thickness",
    ),
    "a size against an outside diameter": (
        pipe(0, size="NPS 3", **_SIZED),
        "/pipes/0/outside_diameter",
        "contradicts the size",
    ),
    "a size without table against it": (
        pipe(0, size="NPS 8", material="unknown", **_SIZED),
        "/pipes/0/outside_diameter",
        "contradicts the size",
    ),
    "passing and proven": (
        lambda made: made["valves"][0].update(state="passing", tightness="proven"),
        "/valves/0/tightness",
        "contradicts the state 'passing'",
    ),
    "a heater with a tank's level": (
        add("equipment", **{**TANK, "kind": "heater", "volume": None}),
        "/equipment/0/level",
        "contradicts the kind",
    ),
    "a main with a level": (
        put("sources", 0, "level", value="40 ft"),
        "/sources/0/level",
        "contradicts the kind",
    ),
    "a tank's pressure against its level": (
        both(put("outlets", value=[]), add("sources", **ROOF, pressure="60 psi")),
        "/sources/1/pressure",
        "contradicts the level",
    ),
    "kept in service, locked off": (
        both(
            put("outlets", 0, "state", value="locked off"),
            put("planning", "keep_in_service", value=["TAP"]),
        ),
        "/planning/keep_in_service/0",
        "locked off",
    ),
    "a line of stock twice": (
        put("site", "stock", value=[STOCK, STOCK]),
        "/site/stock/1",
        "twice",
    ),
    "no duration": (put("work", "duration", value="0 h"), "/work/duration", "takes time"),
    "no mass": (
        put("site", "stock", value=[{**STOCK, "mass_each": "0 lb"}]),
        "/site/stock/0/mass_each",
        "more than 0",
    ),
    "no jacket": (put("plugs", 0, "jacket", value="0 in"), "/plugs/0/jacket", "has a length"),
    "frozen water": (
        put("site", "water_temperature", value="32 degF"),
        "/site/water_temperature",
        "warmer than 0 degC",
    ),
    "frozen water in a pipe": (
        pipe(0, water_temperature="-5 degC"),
        "/pipes/0/water_temperature",
        "warmer than 0 degC",
    ),
    "a main without pressure": (
        put("sources", 0, "pressure", value="0 psi"),
        "/sources/0/pressure",
        "feeds nothing",
    ),
    "a level below its outlet": (
        both(put("outlets", value=[]), add("sources", **{**ROOF, "level": "-40 ft"})),
        "/sources/1/level",
        "below the junction",
    ),
    "a tank's level below it": (
        add("equipment", **{**TANK, "level": "-6 ft"}),
        "/equipment/0/level",
        "below the junction",
    ),
    "more free space than room": (
        both(room(), put("site", "room", value="R1"), pipe(0, clear_space="12 ft")),
        "/pipes/0/clear_space",
        "more free space",
    ),
    "a flood up to the ceiling": (
        room(flood_depth="6 ft"),
        "/site/rooms/0/flood_depth",
        "half the room's height",
    ),
    "a top under its bottom": (
        put("site", "obstructions", value=[{**BOX, "top": "1 ft"}]),
        "/site/obstructions/0/top",
        "above its bottom",
    ),
    "an outline without area": (
        put("site", "obstructions", value=[{**BOX, "outline": [[0, 0], [4, 0], [8, 0]]}]),
        "/site/obstructions/0/outline",
        "no area",
    ),
    "a leading zero": (
        put("sources", 0, "pressure", value="040 psi"),
        "/sources/0/pressure",
        "begins with a zero",
    ),
    "a leading zero of inches": (
        pipe(0, length="24 ft 06 in"),
        "/pipes/0/length",
        "begins with a zero",
    ),
    "a leading zero of a size": (pipe(0, size="DN 050"), "/pipes/0/size", "begins with a zero"),
    **{
        f"{word!r} for a name": (
            pipe(0, low_temperature_accepted_by=word),
            "/pipes/0/low_temperature_accepted_by",
            "says nothing",
        )
        for word in ("?", "-", "no", "tbd", "   ", "N/A", "xx", "...")
    },
}
