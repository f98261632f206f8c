"""heating-riser: an invented 14-floor block with a two-pipe heating riser.

One supply riser stands in the middle, a return riser on each side, and a radiator hangs between
them on each side of every floor. The base valve of the right return riser has seized open and is to
be changed. Closing valves alone does not cut it off: the plant presses from below, and the water of
fourteen floors comes round by the supply riser and the radiators from above.
"""

from __future__ import annotations

from itertools import pairwise

from tests.sites.builder import Demo, Document, Site, cylinders, feet, room, run

FLOORS = range(1, 15)
STOREY = 11 * 12
LEFT, MIDDLE, RIGHT = 40, 120, 200
ACCEPTED = "invented engineer of record, notch test of this invented heat of pipe"


def _elevation(floor: int) -> str:
    """Give the height of the branches on a floor: a foot over its slab."""
    return feet(STOREY * (floor - 1) + 12)


def _riser_size(floor: int) -> str:
    return "NPS 4" if floor <= 5 else "NPS 3" if floor <= 10 else "NPS 2"


def _return_size(floor: int) -> str:
    return "NPS 3" if floor <= 6 else "NPS 2"


def _steel(size: str, inches: float) -> Document:
    return run(size, feet(inches), "carbon steel", "sch 40")


def _floors(site: Site) -> None:
    for floor in FLOORS:
        y, height = 40 * floor, _elevation(floor)
        site.joint(f"S{floor}", (MIDDLE, y), height, fitting="tee")
        for side, x in (("L", LEFT), ("R", RIGHT)):
            where = "left" if side == "L" else "right"
            site.joint(f"{side}{floor}", (x, y), height, fitting="tee")
            middle = (x + MIDDLE) / 2
            name = f"radiator, floor {floor} {where}"
            unit = site.joint(f"{side}{floor}-RAD", (middle, y), height, fitting="other", name=name)
            flow = site.pipe(f"{side}{floor}-IN", (f"S{floor}", unit), **_steel("NPS 3/4", 174))
            back = site.pipe(
                f"{side}{floor}-OUT", (unit, f"{side}{floor}"), **_steel("NPS 3/4", 150)
            )
            site.valve(f"V-{side}{floor}-IN", flow, feet(12), kind="globe", body=feet(3))
            site.valve(f"V-{side}{floor}-OUT", back, feet(138), kind="globe", body=feet(3))
    for below, above in pairwise(FLOORS):
        site.pipe(f"S-{above}", (f"S{below}", f"S{above}"), **_steel(_riser_size(above), STOREY))
        for side in "LR":
            run = _steel(_return_size(above), STOREY)
            site.pipe(f"{side}-{above}", (f"{side}{below}", f"{side}{above}"), **run)


def _vents(site: Site) -> None:
    """Put an air vent with a cock on the top of each riser."""
    for side, x in (("L", LEFT), ("S", MIDDLE), ("R", RIGHT)):
        top = site.joint(f"{side}-TOP", (x, 592), feet(STOREY * 13 + 60))
        site.pipe(f"{side}-VENT", (f"{side}14", top), **_steel("NPS 3/4", 48))
        site.add("outlets", f"AV-{side}", junction=top, name="air vent, cock shut under it")
    site.lock_off("AV-L", "AV-S", "AV-R")


def _plant(site: Site) -> None:
    """Lay the basement: boilers, pumps, vessel and filling, and the branch to the shops."""
    low, high = feet(-132), feet(-48)
    for name, at, height in (
        ("HS", (MIDDLE, -80), high),
        ("HS1", (80, -80), high),
        ("HS2", (160, -80), high),
        ("HR", (MIDDLE, -160), low),
        ("HR1", (80, -160), low),
        ("HR2", (160, -160), low),
        ("PD", (MIDDLE, -190), low),
        ("PS", (MIDDLE, -250), low),
        ("PB", (MIDDLE, -280), low),
    ):
        site.joint(name, at, height, fitting="elbow" if name in {"HR1", "HR2"} else "tee")
    for n, x in ((1, 80), (2, 160)):
        site.pipe(f"HS-{n}", ("HS", f"HS{n}"), **_steel("NPS 4", 84))
        site.pipe(f"HR-{n}", ("HR", f"HR{n}"), **_steel("NPS 4", 84))
        boiler = site.pipe(f"B-{n}", (f"HR{n}", f"HS{n}"), **_steel("NPS 4", 132))
        site.add(
            "equipment", f"B{n}", kind="heater", pipe=boiler, station=feet(66), name=f"boiler {n}"
        )
        corners = [(x, -190), (x, -250)]
        pump = site.pipe(f"PU-{n}", ("PD", "PS"), via=corners, **_steel("NPS 4", 156))
        head = "40 ft of water"
        site.add("pumps", f"PU{n}", pipe=pump, station=feet(78), shutoff_head=head)
        site.valve(f"V-PU{n}-D", pump, feet(48), kind="gate", body=feet(9))
        site.valve(f"V-PU{n}-S", pump, feet(108), kind="gate", body=feet(9))
    site.pipe("HR-PD", ("HR", "PD"), **_steel("NPS 4", 36))
    site.pipe("PS-PB", ("PS", "PB"), **_steel("NPS 4", 48))


def _base(site: Site) -> None:
    """Join the risers to the plant; the base valve on the right is the one to be changed."""
    low, high = feet(-132), feet(-48)
    site.joint("SE", (MIDDLE, 0), high, fitting="elbow", name="foot of the supply riser")
    run = site.pipe("S-MAIN", ("HS", "SE"), **_steel("NPS 4", 300), room="basement")
    site.valve("V-S", run, feet(228), kind="gate", body=feet(9))
    site.pipe("S-1", ("SE", "S1"), **_steel("NPS 4", 60))
    for side, x, tee in (("L", LEFT, 80), ("R", RIGHT, 160)):
        foot = site.joint(f"{side}E", (x, -240), low, fitting="cross")
        down = site.pipe(f"{side}-1", (foot, f"{side}1"), **_steel("NPS 3", 216))
        site.valve(f"V-{side}", down, feet(36), kind="gate", body=feet(8))
        site.joint(f"{side}T", (tee, -280), low, fitting="tee")
        site.pipe(f"{side}-MAIN", (foot, f"{side}T"), via=[(x, -280)], **_steel("NPS 3", 264))
        cock = site.joint(f"{side}-DC", (x + (24 if side == "R" else -24), -240), feet(-144))
        site.pipe(f"{side}-DRAIN", (foot, cock), **_steel("NPS 1", 15))
        site.add("outlets", f"DC-{side}", junction=cock, name="drain cock", state="locked off")
        site.pipe(f"{side}-END", (f"{side}T", "PB"), **_steel("NPS 3", 60))


def _shops(site: Site) -> None:
    """Lay the heating of the shops, a loop on each side of the plant."""
    for side, x in (("L", 60), ("R", 180)):
        unit = site.joint(f"SHOP-{side}", (x, -160), feet(72), fitting="other", name="shop heater")
        header = "HS1" if side == "L" else "HS2"
        flow = _steel("NPS 2", 480)
        site.pipe(f"SHOP-{side}-IN", (header, unit), via=[(x, -80)], **flow)
        back = site.pipe(f"SHOP-{side}-OUT", (unit, f"{side}E"), via=[(x, -240)], **flow)
        site.valve(f"V-SHOP-{side}", back, feet(444), kind="ball", body=feet(6))


def _filling(site: Site) -> None:
    """Hang the vessel and the filling line on one tee, and lay the drain at the lowest point."""
    low = feet(-132)
    site.joint("FT", (160, -310), low, fitting="tee")
    site.pipe("FT-1", ("RT", "FT"), **_steel("NPS 1", 12))
    site.joint("FILL", (220, -310), low, name="water main")
    fill = site.pipe("FILL-1", ("FILL", "FT"), **_steel("NPS 1", 120))
    site.valve("V-FILL", fill, feet(84), kind="gate", name="filling valve")
    site.valve("PRV", fill, feet(48), kind="pressure reducing")
    site.add("sources", "MAIN", junction="FILL", kind="main", pressure="65 psi")
    site.joint("EV", (160, -350), low, name="expansion vessel")
    site.pipe("EV-1", ("FT", "EV"), **_steel("NPS 1", 96))
    vessel = {"pressure": "78 psi", "volume": "200 gal"}
    site.add("sources", "VESSEL", junction="EV", kind="expansion vessel", **vessel)
    site.joint("DRAIN", (80, -330), feet(-144), name="drain cock")
    site.pipe("DRAIN-1", ("LT", "DRAIN"), **_steel("NPS 1", 60))
    site.add("outlets", "DC", junction="DRAIN", state="locked off")


def _rooms(site: Site) -> None:
    size = {"floor_area": "2600 ft2", "height": "11 ft", "volume": "28600 ft3"}
    low = {"air_changes": "10 per hour", "below_ground": True, "flood_depth": "9 in"}
    site.site = {
        "room": "basement",
        "rooms": [room("basement", "plant basement, fans on, gear on plinths", **{**size, **low})],
        "air_temperature": "66 degF",
        "clear_space": "8 in",
    }


def _building() -> Site:
    """Put the block together as it stands, with its valves as the caretaker left them."""
    site = Site(name="Heating riser, Halden Court (invented)", kind="riser", snap_within=6)
    _floors(site)
    _vents(site)
    _plant(site)
    _base(site)
    _shops(site)
    _filling(site)
    _rooms(site)
    site.change("R-MAIN", "R-1", covering="insulation", low_temperature_accepted_by=ACCEPTED)
    site.change("PU1", "PU2", "B1", "B2", locked_off=True)
    site.change("V-R", name="base valve, right return riser, seized open")
    site.shut("V-SHOP-R")
    site.work = {
        "name": "change the base valve of the right return riser",
        "open": [{"valve": "V-R"}],
        "duration": "3 h",
    }
    return site


def sketch() -> Document:
    """Give the marked-up sketch."""
    site = _building()
    # The lower plug hugs the tee behind which make-up water runs to the vessel.
    site.plug("F1", "R-MAIN", feet(246), feet(12), name="basement main")
    # The upper one sits almost on the valve that is to come out.
    site.plug("F2", "R-1", feet(48), feet(12), name="over the base valve")
    site.change("V-SHOP-R", tightness="not proven")
    site.site |= {"water_temperature": "95 degF", "stock": cylinders(storage_temperature="92 degF")}
    return site.document(
        "Invented site. A sketch with faults: one plug beside a line that flows, one almost on the "
        "valve to be changed, a branch valve not proven to hold, water with nowhere to go between "
        "the plugs, the riser still warm, the cylinders stored hot."
    )


def mended() -> Document:
    """Give the corrected twin."""
    site = _building()
    site.plug("F1", "R-MAIN", feet(192), feet(12), name="basement main")
    site.plug("F2", "R-1", feet(96), feet(12), name="over the base valve")
    site.change("DC-R", state={"freezing": "bleed", "working": "kept open"})
    site.site |= {"water_temperature": "64 degF", "stock": cylinders()}
    return site.document(
        "Invented site. The corrected twin: both plugs keep their distance, the drain cock between "
        "them is a bleed, the branch valve is proven, the riser has cooled, the cylinders are cool."
    )


DEMO = Demo(
    name="heating-riser",
    sketch=sketch,
    mended=mended,
    breaks=frozenset(
        {
            "flowing-line-setback",
            "straight-run",
            "barrier-in-doubt",
            "start-temperature",
            "trapped-water",
            "cylinder-temperature",
        }
    ),
)
