"""cold-riser: an invented 16-floor block with a domestic cold riser in two zones.

The low zone is fed from the main through boosters, the high zone from a tank on the roof. The zone
valve between them is shut but lets water by, and is to be changed. As long as both zones are under
pressure, water moves through it: shut is not still.
"""

from __future__ import annotations

from itertools import pairwise

from tests.sites.builder import Demo, Document, Site, cylinders, feet, room, run

FLOORS = range(1, 17)
STOREY = 126
MIDDLE = 120
ZONE = 8
DRAWN = {"K": ("kitchen tap", 12), "B": ("basin tap", 0), "C": ("cistern", -12)}


def _copper(size: str, inches: float) -> Document:
    return run(size, feet(inches), "copper", "type L")


def _height(floor: int) -> str:
    return feet(STOREY * (floor - 1) + 18)


def _flat(site: Site, floor: int, side: str) -> None:
    """Lay one flat: a branch with its stop valve, and three run-outs."""
    y, way = 40 * floor, -1 if side == "W" else 1
    x = MIDDLE + 40 * way
    flat = f"{floor}{side}"
    hub = site.joint(flat, (x, y), _height(floor), fitting="cross")
    branch = site.pipe(f"F-{flat}", (f"T{floor}", hub), **_copper("1 in", 108))
    site.valve(f"V-{flat}", branch, feet(12), kind="ball", body=feet(3))
    for key, (name, shift) in DRAWN.items():
        end = (x + 36 * way, y + shift)
        tap = site.joint(f"{flat}-{key}", end, _height(floor), name=f"{name}, flat {flat}")
        corner = [(x, y + shift)] if shift else []
        site.pipe(f"F-{flat}-{key}", (hub, tap), via=corner, **_copper("1/2 in", 96 + 2 * shift))
        site.add("outlets", f"TAP-{flat}-{key}", junction=tap)


def _riser(site: Site) -> None:
    for floor in FLOORS:
        site.joint(f"T{floor}", (MIDDLE, 40 * floor), _height(floor), fitting="cross")
        for side in "WE":
            _flat(site, floor, side)
    for below, above in pairwise(FLOORS):
        size = "3 in" if above <= 5 else "2 1/2 in" if above <= 7 else "2 in"
        site.pipe(f"R-{above}", (f"T{below}", f"T{above}"), **_copper(size, STOREY))
    site.valve("V-ZONE", f"R-{ZONE + 1}", feet(63), kind="gate", body=feet(7), state="passing")


def _foot(site: Site) -> None:
    """Lay the main, its meter, and two boosters side by side with check valves."""
    low = feet(-96)
    for name, y in (("MAIN", -200), ("BS", -120), ("BD", -40)):
        site.joint(name, (MIDDLE, y), low, fitting=None if name == "MAIN" else "tee")
    inlet = site.pipe("IN-1", ("MAIN", "BS"), **_copper("3 in", 144))
    site.add("fittings", "METER", kind="meter", pipe=inlet, station=feet(96))
    site.valve("V-MAIN", inlet, feet(60), kind="gate", body=feet(7))
    for n, x in ((1, 90), (2, 150)):
        corners = [(x, -120), (x, -40)]
        leg = site.pipe(f"BO-{n}", ("BS", "BD"), via=corners, **_copper("2 in", 120))
        site.add("pumps", f"BO{n}", pipe=leg, station=feet(54), shutoff_head="45 ft of water")
        site.valve(f"CV-{n}", leg, feet(78), kind="check", body=feet(4))
        site.valve(f"V-BO{n}", leg, feet(96), kind="ball", body=feet(4))
    site.pipe("R-1", ("BD", "T1"), **_copper("3 in", 132))
    site.add("sources", "STREET", junction="MAIN", kind="main", pressure="52 psi")


def _roof(site: Site) -> None:
    """Lay the tank on the roof, with its valve and the cock for letting air in."""
    roof = STOREY * 16 + 48
    site.joint("RT", (MIDDLE, 680), feet(roof), fitting="tee")
    site.pipe("R-17", ("T16", "RT"), **_copper("2 in", 156))
    site.joint("TANK", (MIDDLE, 740), feet(roof + 24), name="roof tank")
    down = site.pipe("TANK-1", ("RT", "TANK"), **_copper("2 in", 120))
    site.valve("V-TANK", down, feet(72), kind="gate", body=feet(6))
    tank = {"level": feet(roof + 84), "volume": "1200 gal"}
    site.add("sources", "ROOF", junction="TANK", kind="raised tank", **tank)
    site.joint("AIR", (160, 680), feet(roof), name="air cock on the roof")
    site.pipe("AIR-1", ("RT", "AIR"), **_copper("1/2 in", 24))
    site.add("outlets", "AIR-COCK", junction="AIR", state="locked off")


def _building() -> Site:
    site = Site(name="Cold riser, Marram House (invented)", kind="riser", snap_within=6)
    _riser(site)
    _foot(site)
    _roof(site)
    # The landings' cupboards are one open shaft: water and cold gas fall to the basement.
    size = {"floor_area": "2400 ft2", "height": "12 ft", "volume": "28800 ft3"}
    low = {"air_changes": "10 per hour", "below_ground": True, "flood_depth": "4 in"}
    name = "open riser shaft, with the basement at its foot, fans on"
    site.site = {
        "room": "shaft",
        "rooms": [room("shaft", name, **{**size, **low})],
        "water_temperature": "54 degF",
        "air_temperature": "68 degF",
        "clear_space": "7 in",
    }
    site.shut(*(f"V-{floor}{side}" for floor in range(ZONE, 17) for side in "WE"))
    site.work = {
        "name": "change the zone valve that lets water by",
        "open": [{"valve": "V-ZONE"}],
        "duration": "2 h 30 min",
    }
    return site


def _give_way(site: Site) -> None:
    """Give water that the ice pushes a way out of each section."""
    # Below the lower plug a tap that runs to waste; it stands on a line in use anyway.
    site.change("TAP-5W-K", state={"freezing": "kept open"})
    for flat in ("8E", "9W"):
        site.change(f"V-{flat}", state="open", tightness=None)
        site.lock_off(f"TAP-{flat}-B", f"TAP-{flat}-C")
        site.change(f"TAP-{flat}-K", state="bleed", name=f"kitchen tap, flat {flat}, attended")
    site.change("AIR-COCK", state="bleed")


def sketch() -> Document:
    """Give the marked-up sketch: the roof tank is left on."""
    site = _building()
    site.plug("LOW", "R-8", feet(26), feet(12), name="under floor 8")
    site.plug("HIGH", "R-9", feet(90), feet(12), name="over the zone valve")
    site.change("R-8", clear_space="4 in", name="boxed in beside the lift shaft")
    site.site["stock"] = cylinders(upright=False)
    return site.document(
        "Invented site. A sketch with faults: the zone valve is shut but lets water by, so that "
        "the riser moves between main and roof tank; the plugs sit too near a tee in use and the "
        "valve, one in a narrow box, and the cylinders lie down."
    )


def mended() -> Document:
    """Give the corrected twin: with the tank shut off, the upper riser stands still."""
    site = _building()
    site.shut("V-TANK")
    _give_way(site)
    site.plug("LOW", "R-8", feet(72), feet(12), name="under floor 8")
    site.plug("HIGH", "R-10", feet(63), feet(12), name="over floor 9")
    site.change("R-8", clear_space="9 in", name="box beside the lift shaft opened")
    site.site["stock"] = cylinders()
    return site.document(
        "Invented site. The corrected twin: the roof tank is shut off and proven, so nothing moves "
        "past the zone valve that lets water by; floors 1 to 7 keep their water."
    )


DEMO = Demo(
    name="cold-riser",
    sketch=sketch,
    mended=mended,
    breaks=frozenset(
        {
            "no-flow-at-plug",
            "flowing-line-setback",
            "closed-valve-setback",
            "jacket-clearance",
            "cylinder-temperature",
        }
    ),
)
