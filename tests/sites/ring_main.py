"""ring-main: an invented row of sixteen houses on a ring main with two feeds.

A tee is to be cut into the ring between houses 5 and 6. Whichever way one shuts the ring, the other
feed comes round; and the ring valve beyond house 6 lets water by.
"""

from __future__ import annotations

from tests.sites.builder import Demo, Document, Site, Spot, cylinders, feet, room, run

HOUSES = range(1, 17)
SIDE = 4
SPAN = 80
LEVEL = feet(-72)


def _steel(size: str, inches: float) -> Document:
    return run(size, feet(inches), "stainless steel", "sch 10S")


def _corner(number: int) -> tuple[Spot, Spot]:
    """Give where a ring node is drawn, and the step outward from it."""
    side, along = divmod(number - 1, SIDE)
    spots: list[tuple[Spot, Spot]] = [
        ((along * SPAN, 0), (0, -1)),
        ((SIDE * SPAN, along * SPAN), (1, 0)),
        (((SIDE - along) * SPAN, SIDE * SPAN), (0, 1)),
        ((0, (SIDE - along) * SPAN), (-1, 0)),
    ]
    return spots[side]


def _house(site: Site, number: int) -> None:
    """Lay one house: its connection with a stop valve, and three taps."""
    (x, y), (dx, dy) = _corner(number)
    node = f"N{number}"
    site.joint(node, (x, y), LEVEL, fitting="tee")
    hub = site.joint(f"H{number}", (x + 30 * dx, y + 30 * dy), LEVEL, fitting="cross")
    branch = site.pipe(f"C-{number}", (node, hub), **_steel("NPS 1", 192))
    site.valve(f"V-H{number}", branch, feet(12), kind="ball", body=feet(3))
    for key, name, shift in (("K", "kitchen", -16), ("B", "bath", 0), ("G", "garden", 16)):
        corner = (x + 30 * dx + shift * abs(dy), y + 30 * dy + shift * abs(dx))
        end = (corner[0] + 24 * dx, corner[1] + 24 * dy)
        tap = site.joint(f"H{number}-{key}", end, feet(36), name=f"{name} tap, house {number}")
        bend = [corner] if shift else []
        site.pipe(f"C-{number}-{key}", (hub, tap), via=bend, **_steel("NPS 1/2", 240))
        site.add("outlets", f"TAP-{number}{key}", junction=tap)


def _ring(site: Site) -> None:
    """Lay the ring: a washout on every odd length, a valve on every even one."""
    for number in HOUSES:
        after = number % 16 + 1
        start, stop = f"N{number}", f"N{after}"
        if number % 2 == 0:
            pipe = site.pipe(f"R-{number}", (start, stop), **_steel("NPS 3", 432))
            site.valve(f"V-{number}", pipe, feet(216), kind="gate", body=feet(8))
            continue
        (x, y), (dx, dy) = _corner(number)
        (x2, y2), _ = _corner(after)
        middle = ((x + x2) / 2, (y + y2) / 2)
        tee = site.joint(f"W{number}", middle, LEVEL, fitting="tee")
        site.pipe(f"R-{number}A", (start, tee), **_steel("NPS 3", 240))
        site.pipe(f"R-{number}B", (tee, stop), **_steel("NPS 3", 240))
        inward = (middle[0] - 14 * dx, middle[1] - 14 * dy)
        end = site.joint(f"W{number}-END", inward, LEVEL, name="washout")
        site.pipe(f"WO-{number}", (tee, end), **_steel("NPS 1", 12))
        site.add("outlets", f"WASH-{number}", junction=end, state="locked off")


def _feeds(site: Site) -> None:
    """Lay the two feeds, each with a meter and a check valve, into the ring's inside."""
    for name, node, y, step in (("A", "N3", 120, "60 psi"), ("B", "N11", 200, "58 psi")):
        end = site.joint(f"FEED-{name}", (2 * SPAN, y), LEVEL, name=f"street main {name}")
        pipe = site.pipe(f"F-{name}", (end, node), **_steel("NPS 3", 360))
        site.add("fittings", f"METER-{name}", kind="meter", pipe=pipe, station=feet(60))
        site.valve(f"CV-{name}", pipe, feet(120), kind="check", body=feet(8))
        site.valve(f"V-{name}", pipe, feet(180), kind="gate", body=feet(8))
        site.add("sources", f"MAIN-{name}", junction=end, kind="main", pressure=step)


def _building() -> Site:
    site = Site(name="Ring main, Pellow Rise (invented)", kind="riser", snap_within=6)
    for number in HOUSES:
        _house(site, number)
    _ring(site)
    _feeds(site)
    size = {"floor_area": "4200 ft2", "height": "7 ft", "volume": "29400 ft3"}
    air = {"air_changes": "10 per hour", "below_ground": True, "flood_depth": "6 in"}
    site.site = {
        "room": "walkway",
        "rooms": [room("walkway", "walk-through duct of the ring, fans on", **{**size, **air})],
        "water_temperature": "52 degF",
        "air_temperature": "60 degF",
        "clear_space": "12 in",
    }
    # Shut while freezing so that nothing passes; open again for house 5 once the ice stands.
    site.change("V-4", state={"freezing": "closed", "working": "open"}, tightness="proven")
    site.change("V-6", state="passing")
    for house in (5, 6):
        site.lock_off(f"TAP-{house}B", f"TAP-{house}G", f"TAP-{house}K")
    site.change("TAP-12G", state={"freezing": "kept open"})
    site.work = {
        "name": "cut a tee into the ring between houses 5 and 6",
        "open": [{"pipe": "R-5B", "start": feet(10), "end": feet(16)}],
        "duration": "2 h 30 min",
    }
    return site


def sketch() -> Document:
    """Give the marked-up sketch: both plugs crowd the cut."""
    site = _building()
    site.plug("WEST", "R-5A", feet(228), feet(12), name="towards house 5")
    site.plug("EAST", "R-5B", feet(28), feet(12), name="towards house 6")
    site.site["stock"] = cylinders(cylinders=2)
    site.site["rooms"][0]["carbon_dioxide_meter"] = False
    return site.document(
        "Invented site. A sketch with faults: the two plugs crowd the cut, too near each other and "
        "the shut washout; pushed water has nowhere to go, two cylinders are too few, and nobody "
        "hung up a CO2 meter."
    )


def mended() -> Document:
    """Give the corrected twin."""
    site = _building()
    site.plug("WEST", "R-5A", feet(150), feet(12), name="towards house 5")
    site.plug("EAST", "R-5B", feet(110), feet(12), name="towards house 6")
    site.change("TAP-5G", "TAP-6G", "WASH-5", state="bleed")
    site.site["stock"] = cylinders()
    return site.document(
        "Invented site. The corrected twin: the plugs keep their distance, a bleed stands in each "
        "shut section, and the ring valve before house 5 stops the flow only while freezing."
    )


DEMO = Demo(
    name="ring-main",
    sketch=sketch,
    mended=mended,
    breaks=frozenset(
        {
            "plug-spacing",
            "closed-end-setback",
            "trapped-water",
            "coolant-on-hand",
            "room-air",
        }
    ),
)
