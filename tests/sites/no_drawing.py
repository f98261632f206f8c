"""no-drawing: an invented school whose cold water was only ever written down in a list.

Nothing has a position. A main runs through the crawl-way under the corridor and feeds seven risers
of three floors. The base valve of riser 4 has seized open and is to be changed with the rest of the
school in use.
"""

from __future__ import annotations

from tests.sites.builder import Demo, Document, Site, cylinders, feet, room, run

RISERS = range(1, 8)
FLOORS = range(1, 4)
TAPS = ("basin", "sink", "fountain")
LEVEL = feet(-36)


def _copper(size: str, inches: float) -> Document:
    return run(size, feet(inches), "copper", "type L")


def _riser(site: Site, riser: int) -> None:
    """Lay a riser: its foot with a valve and an elbow, three floors, three taps on each."""
    site.joint(f"M{riser}", None, LEVEL, fitting="tee")
    below = f"M{riser}"
    for floor in FLOORS:
        height = feet(144 * (floor - 1) + 12)
        top = floor == FLOORS[-1]
        fitting = "reducer" if top else "tee"
        node = site.joint(f"R{riser}-{floor}", None, height, fitting=fitting)
        length = 228 if floor == 1 else 144
        up = site.pipe(f"R{riser}-P{floor}", (below, node), **_copper("1 1/2 in", length))
        if floor == 1:
            site.valve(f"V-R{riser}", up, feet(120), kind="gate", body=feet(4))
            site.add("fittings", f"EL-R{riser}", kind="elbow", pipe=up, station=feet(180))
        below = node
        room_node = site.joint(f"C{riser}-{floor}", None, height, fitting="cross")
        branch = site.pipe(f"C{riser}-P{floor}", (node, room_node), **_copper("3/4 in", 144))
        site.valve(f"V-C{riser}-{floor}", branch, feet(12), kind="ball", body=feet(3))
        for tap in TAPS:
            end = site.joint(f"{tap}-{riser}-{floor}", None, height)
            site.pipe(f"T-{tap}-{riser}-{floor}", (room_node, end), **_copper("1/2 in", 84))
            site.add("outlets", f"TAP-{tap}-{riser}-{floor}", junction=end)


def _main(site: Site) -> None:
    site.joint("STREET", None, LEVEL, name="water main")
    site.add("sources", "MAIN", junction="STREET", kind="main", pressure="55 psi")
    before = "STREET"
    for riser in RISERS:
        pipe = site.pipe(f"M-{riser}", (before, f"M{riser}"), **_copper("2 1/2 in", 360))
        if riser == 1:
            site.add("fittings", "METER", kind="meter", pipe=pipe, station=feet(60))
            site.valve("V-MAIN", pipe, feet(96), kind="gate", body=feet(7))
        before = f"M{riser}"
    site.joint("M-END", None, LEVEL, fitting="cap")
    site.pipe("M-8", (before, "M-END"), **_copper("2 1/2 in", 48))


def _building() -> Site:
    site = Site(name="Cold water, Alderbrook School (invented)")
    for riser in RISERS:
        _riser(site, riser)
    _main(site)
    size = {"floor_area": "2600 ft2", "height": "4 ft 6 in", "volume": "11700 ft3"}
    air = {"air_changes": "12 per hour", "below_ground": True, "flood_depth": "3 in"}
    site.site = {
        "room": "crawl-way",
        "rooms": [room("crawl-way", "crawl-way, fans at both hatches", **{**size, **air})],
        "water_temperature": "57 degF",
        "air_temperature": "63 degF",
    }
    site.work = {
        "name": "change the base valve of riser 4",
        "open": [{"valve": "V-R4"}],
        "duration": "2 h",
    }
    return site


def _empty_riser(site: Site) -> None:
    """Take riser 4 out of use: every tap on it is locked off, one is a bleed."""
    for floor in FLOORS:
        site.lock_off(*(f"TAP-{tap}-4-{floor}" for tap in TAPS))
    site.change("TAP-sink-4-1", state={"freezing": "bleed", "working": "kept open"})


def sketch() -> Document:
    """Give the marked-up sketch: the riser's taps are still in use."""
    site = _building()
    site.plug("FOOT", "R4-P1", feet(18), feet(12), name="between main and base valve")
    site.site |= {"stock": cylinders(cylinders=8), "clear_space": "5 in"}
    return site.document(
        "Invented site, with no drawing positions at all. A sketch with faults: pupils can still "
        "draw from the riser that is being frozen, the plug is near the main, the crawl-way tight."
    )


def mended() -> Document:
    """Give the corrected twin."""
    site = _building()
    _empty_riser(site)
    site.plug("FOOT", "R4-P1", feet(66), feet(12), name="between main and base valve")
    site.site |= {"stock": cylinders(cylinders=8), "clear_space": "7 in"}
    return site.document(
        "Invented site, with no drawing positions at all. The corrected twin: riser 4 is out of "
        "use, one of its taps is a bleed, and the plug keeps its distance from the main in use."
    )


DEMO = Demo(
    name="no-drawing",
    sketch=sketch,
    mended=mended,
    breaks=frozenset({"no-flow-at-plug", "flowing-line-setback", "jacket-clearance"}),
)
